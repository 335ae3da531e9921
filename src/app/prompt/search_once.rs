//! Searches of a list as commands: one question, one answer.

use std::path::Path;

use jiff::civil::Date;

use crate::app::args::BaseArgs;
use crate::app::args::searches::{FitArgs, HowArgs, MendArgs, MixArgs, StepsArgs};
use crate::app::commands::kit_beside;
use crate::app::interrupt;
use crate::app::prompt::build_file::OnDisk;
use crate::app::prompt::output::Page;
use crate::app::prompt::search_commands::{every_step, ordered_by, small_enough, way, weighed};
use crate::app::prompt::search_report::{self, How};
use crate::app::prompt::{change_report, line_lookup, script_runner};
use crate::app::report::search_json;
use crate::kit::Kit;
use crate::layer::read_source;
use crate::source::{Problem, Problems, Source};
use crate::whatif::diff::{LineView, between};
use crate::whatif::edit::apply;
use crate::whatif::fit;
use crate::whatif::mend::{self, Mend, edits};
use crate::whatif::mix;
use crate::whatif::search::SearchLimits;
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

    fn line(&self, name: &str) -> Result<(usize, LineView), Problem> {
        let words: Vec<String> = name.split_whitespace().map(str::to_owned).collect();
        line_lookup::one(&self.now, self.kit.catalogue(), &words, &mut |_, _| None)
    }
}

/// Runs a search as long as it may take, trusting facts that nobody said or not.
fn within<T>(how: &HowArgs, run: impl FnOnce(SearchLimits<'_>) -> T) -> T {
    let trust = how.trust.trust_unknown;
    interrupt::search(how.limit.time(), |limits| run(limits.trusting(trust)))
}

/// `dryfit mend`: 0 nothing stops the list or there is a way, 1 no changes clear it, 2 trouble.
pub(crate) fn mend(args: &MendArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let build = list.now.build();
        let found = within(&args.how, |limits| mend::mend(&list.kit, build, limits));
        small_enough(&found)?;
        let stays = found.ways.is_empty() && !found.stops.is_empty();
        let code = u8::from(stays || !list.now.left.is_empty() && found.stops.is_empty());
        if args.how.shown.json() {
            page.json(&search_json::trusting(
                search_json::mend(&list.now, &found, code),
                args.how.trust.trust_unknown,
            ));
        } else if code != 0 || found.stops.is_empty() || !(args.write || args.diff) {
            search_report::open_lines(page, &list.now, args.how.trust.trust_unknown);
            let make = "`--write` makes the first, `--way 2` the second";
            let how = How { make, all: (!args.all).then_some("`--all`") };
            search_report::mend(page, &list.now, &found, how);
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
        let (at, view) = list.line(&args.line)?;
        let build = list.now.build();
        let found = within(&args.how, |limits| fit::fit(&list.kit, build, at, limits));
        let by = ordered_by(&list.kit, &found, args.by.as_deref())?;
        if args.how.shown.json() {
            page.json(&search_json::trusting(
                search_json::fit(&list.now, &view, &found),
                args.how.trust.trust_unknown,
            ));
        } else {
            search_report::open_lines(page, &list.now, args.how.trust.trust_unknown);
            search_report::fit(page, &found, by, args.all, &build.currency);
        }
        Ok(0)
    })
}

pub(crate) fn steps(args: &StepsArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let one = args.line.as_deref().map(|name| list.line(name)).transpose()?.map(|(at, _)| at);
        let found = within(&args.how, |limits| every_step(&list.kit, &list.now, one, limits));
        if args.how.shown.json() {
            page.json(&search_json::trusting(
                search_json::steps(&list.now, &found),
                args.how.trust.trust_unknown,
            ));
        } else {
            search_report::open_lines(page, &list.now, args.how.trust.trust_unknown);
            search_report::every_step(page, &found, &list.now.build().currency);
        }
        Ok(0)
    })
}

pub(crate) fn mix(args: &MixArgs) -> u8 {
    script_runner::once(args.how.shown.plain, |page| {
        let list = List::read(&args.list, &args.how.base)?;
        let mut theirs = Snapshot::of(&list.kit, &read_source(&args.other)?, list.today)?;
        std::mem::take(&mut theirs.unread).or(())?;
        let by = weighed(&list.kit, args.by.as_deref())?;
        let build = list.now.build();
        let found = within(&args.how, |limits| {
            mix::mix(&list.kit, build, theirs.build(), by.as_ref().map(|b| b.rule), limits)
        })?;
        if args.how.shown.json() {
            let named = by.as_ref().map(|b| (b.id.as_str(), &*b.unit));
            page.json(&search_json::trusting(
                search_json::mix(&list.now, &theirs, named, &found),
                args.how.trust.trust_unknown,
            ));
        } else {
            let names = (&*list.now.source.name, &*theirs.source.name);
            let named = by.as_ref().map(|b| (&*b.name, &*b.unit));
            search_report::mix(page, &found, named, names, &build.currency);
        }
        Ok(0)
    })
}
