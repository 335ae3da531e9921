//! Searches of a list as commands: one question, one answer.

use std::path::Path;

use jiff::civil::Date;

use crate::app::args::BaseArgs;
use crate::app::args::searches::{FitArgs, HowArgs, MendArgs, MixArgs, StepsArgs};
use crate::app::commands::kit_beside;
use crate::app::interrupt;
use crate::app::prompt::build_file::OnDisk;
use crate::app::prompt::search_commands::{Searched, mend_code, way, weighed};
use crate::app::prompt::search_report::{self, How};
use crate::app::prompt::{change_report, line_lookup, script_runner};
use crate::app::report::page::Page;
use crate::app::report::search_json;
use crate::kit::Kit;
use crate::layer::read_source;
use crate::source::{Problem, Problems, Source};
use crate::whatif::diff::{LineView, between};
use crate::whatif::edit::apply;
use crate::whatif::mend::{Mend, edits};
use crate::whatif::trial::Snapshot;

/// A list with the kit that it is audited with.
struct List {
    kit: Kit,
    now: Snapshot,
    today: Date,
}

impl List {
    fn read(path: &Path, base: &BaseArgs) -> Result<Self, Problems> {
        let (source, kit, today) = (read_source(path)?, kit_beside(path, base)?, base.today());
        let mut now = Snapshot::of(&kit, &source, today)?;
        std::mem::take(&mut now.unread).or(Self { kit, now, today })
    }

    fn searched(&self, how: &HowArgs) -> Searched<'_> {
        let (limit, trust) = (how.limit.time(), how.trust.trust_unknown);
        Searched { kit: &self.kit, list: &self.now, limit, trust, json: how.shown.json() }
    }

    fn line(&self, name: &str) -> Result<(usize, LineView), Problem> {
        let words: Vec<String> = name.split_whitespace().map(str::to_owned).collect();
        line_lookup::one(&self.now, self.kit.catalogue(), &words, &mut |_, _| None)
    }
}

/// `dryfit mend`: 0 nothing stops the list or there is a way, 1 no changes clear it, 2 trouble.
pub(crate) fn mend(args: &MendArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let searched = list.searched(&args.how);
        let found = searched.mend()?;
        let code = mend_code(&list.now, &found);
        if searched.json || code != 0 || found.stops.is_empty() || !(args.write || args.diff) {
            let document = || search_json::mend(&list.now, &found, code);
            searched.answer(page, document, |page, _| {
                let make = &["`--write` makes the first", "`--way 2` the second"];
                let how = How { make, all: (!args.all).then_some("`--all`") };
                search_report::mend(page, &list.now, &found, how);
            });
        }
        if !found.ways.is_empty() && (args.write || args.diff) {
            make(args, &list, &found, page)?;
        }
        Ok(code)
    })
}

/// Makes the changes of one way in the file, or shows them as a patch.
fn make(args: &MendArgs, list: &List, found: &Mend, page: &mut Page) -> Result<(), Problems> {
    let changes = &way(found, args.way as usize)?.changes;
    let old = &list.now.source;
    let text = apply(&old.text, &edits(changes))?;
    if args.diff {
        change_report::text_diff(page, &old.text, &text, (&old.name, &old.name));
        return Ok(());
    }
    interrupt::may_write()?;
    let mut file = OnDisk::read(&args.list)?;
    let changed = || Problem::new(format!("{} changed since it was read", args.list.display()));
    if read_source(&args.list)?.text != old.text {
        return Err(changed().help("run it again").into());
    }
    file.save(&text, false, "run it again")?;
    if !args.how.shown.json() {
        let is = Snapshot::of(&list.kit, &Source::new(old.name.clone(), text), list.today)?;
        change_report::change(page, &between(&list.now, &is));
        page.line(&format!("wrote {}", args.list.display()));
    }
    Ok(())
}

pub(crate) fn fit(args: &FitArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let line = list.line(&args.line)?;
        list.searched(&args.how).fit(page, line, args.by.as_deref(), args.all)?;
        Ok(0)
    })
}

pub(crate) fn steps(args: &StepsArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let one = args.line.as_deref().map(|name| list.line(name)).transpose()?.map(|(at, _)| at);
        list.searched(&args.how).steps(page, one);
        Ok(0)
    })
}

pub(crate) fn mix(args: &MixArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let mut theirs = Snapshot::of(&list.kit, &read_source(&args.other)?, list.today)?;
        std::mem::take(&mut theirs.unread).or(())?;
        let by = weighed(&list.kit, args.by.as_deref())?;
        let searched = list.searched(&args.how);
        let found = searched.mix(theirs.build(), by.as_ref())?;
        if searched.json {
            let named = by.as_ref().map(|b| (b.id.as_str(), &*b.unit));
            let document = search_json::mix(&list.now, &theirs, named, &found);
            page.json(&search_json::trusting(document, searched.trust));
        } else {
            let names = (&*list.now.source.name, &*theirs.source.name);
            let named = by.as_ref().map(|b| (&*b.name, &*b.unit));
            search_report::mix(page, &found, named, names, &list.now.build().currency);
        }
        Ok(0)
    })
}
