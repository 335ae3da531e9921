//! Build files beside each other, and what differs between two, as a command.

use std::path::{Path, PathBuf};

use crate::app::prompt::output::Page;
use crate::app::prompt::{CompareOptions, change_report, script_runner, watched_files};
use crate::app::report::abreast::abreast;
use crate::app::report::search_json;
use crate::app::report::style::Look;
use crate::kit::Audit;
use crate::layer::read_source;
use crate::source::{Problem, Problems};
use crate::whatif::diff::between;
use crate::whatif::trial::Snapshot;

/// Shows builds beside each other, and for two of them what differs; gives the exit code: 0 the
/// same, 1 different, 2 trouble.
pub fn compare(builds: &[PathBuf], options: &CompareOptions) -> u8 {
    let look = Look::stdout();
    let look = if options.plain { Look { colour: false, drawing: false, ..look } } else { look };
    script_runner::once(options.plain, |page| differences(builds, options, look, page))
}

fn differences(
    builds: &[PathBuf],
    options: &CompareOptions,
    look: Look,
    page: &mut Page,
) -> Result<u8, Problems> {
    let first = builds.first().map_or(Path::new("."), PathBuf::as_path);
    let kit = watched_files::load(&watched_files::layers(
        first,
        options.catalogue.as_deref(),
        options.rules.as_deref(),
    )?)?;
    let mut shots = Vec::with_capacity(builds.len());
    for path in builds {
        shots.push(Snapshot::of(&kit, &read_source(path)?, options.today)?);
    }
    let same = shots.windows(2).all(|two| match two {
        [was, is] => between(was, is).is_empty(),
        _ => true,
    });
    let code = u8::from(!same);
    if options.json {
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
    for line in abreast(look, &beside).lines() {
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
