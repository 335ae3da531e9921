//! Build files beside each other, and what differs between two, as a command.

use std::path::{Path, PathBuf};

use crate::app::args::BaseArgs;
use crate::app::args::searches::ShownArgs;
use crate::app::commands::kit_beside;
use crate::app::prompt::{change_report, script_runner};
use crate::app::report::abreast::abreast;
use crate::app::report::page::Page;
use crate::app::report::search_json;
use crate::kit::Audit;
use crate::layer::read_source;
use crate::source::{Problem, Problems};
use crate::whatif::diff::between;
use crate::whatif::trial::Snapshot;

/// Shows builds beside each other, and for two of them what differs; gives the exit code: 0 the
/// same, 1 different, 2 trouble.
pub(crate) fn compare(builds: &[PathBuf], base: &BaseArgs, shown: ShownArgs) -> u8 {
    script_runner::once(shown.plain, |page| differences(builds, base, shown, page))
}

fn differences(
    builds: &[PathBuf],
    base: &BaseArgs,
    shown: ShownArgs,
    page: &mut Page,
) -> Result<u8, Problems> {
    let kit = kit_beside(builds.first().map_or(Path::new("."), PathBuf::as_path), base)?;
    let mut shots = Vec::with_capacity(builds.len());
    let mut unread = Vec::new();
    for path in builds {
        let mut shot = Snapshot::of(&kit, &read_source(path)?, base.today())?;
        unread.append(&mut shot.unread.0);
        shots.push(shot);
    }
    // A line whose wants cannot be read would be compared as if nothing could stand there.
    let shots = Problems(unread).or(shots)?;
    let same = shots.windows(2).all(|two| match two {
        [was, is] => between(was, is).is_empty(),
        _ => true,
    });
    let code = u8::from(!same);
    if shown.json() {
        let [was, is] = shots.as_slice() else {
            let problem = Problem::new("JSON tells what differs between two builds");
            return Err(problem.help("name two, or leave out --format json").into());
        };
        page.json(&search_json::compare(was, is, &between(was, is), code));
        return Ok(code);
    }
    if same {
        return Ok(code);
    }
    let names = builds.iter().map(|p| {
        p.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
    });
    let beside: Vec<(String, &Audit)> = names.zip(shots.iter().map(|s| &s.audit)).collect();
    for line in abreast(page.look, &beside).lines() {
        page.say(line).verbatim();
    }
    if let [was, is] = shots.as_slice() {
        page.line("");
        change_report::whole_change(page, &between(was, is));
        let names = (&*was.source.name, &*is.source.name);
        change_report::text_diff(page, &was.source.text, &is.source.text, names);
    }
    Ok(code)
}
