//! Build files beside each other, and what differs between two, as a command.

use std::path::{Path, PathBuf};

use crate::app::prompt::output::Page;
use crate::app::prompt::{CompareOptions, change_report, script_runner, watched_files};
use crate::app::report::abreast::abreast;
use crate::app::report::style::Look;
use crate::kit::Audit;
use crate::layer::read_source;
use crate::source::Problems;
use crate::whatif::diff::between;
use crate::whatif::trial::Snapshot;

/// Shows builds beside each other, and for two of them what differs; gives the exit code: 0 the
/// same, 1 different, 2 trouble.
pub fn compare(builds: &[PathBuf], options: &CompareOptions) -> u8 {
    let look = Look::stdout();
    let look = if options.plain { Look { colour: false, drawing: false, ..look } } else { look };
    let mut page = Page::new(look);
    match differences(builds, options, look, &mut page) {
        Ok(same) => {
            let code = u8::from(!same);
            script_runner::write(&page, code).map_or_else(|code| code, |()| code)
        }
        Err(problems) => {
            script_runner::refuse(options.plain, &problems);
            2
        }
    }
}

fn differences(
    builds: &[PathBuf],
    options: &CompareOptions,
    look: Look,
    page: &mut Page,
) -> Result<bool, Problems> {
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
    if same {
        return Ok(true);
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
        change_report::whole_change(page, &between(was, is), true);
        let names = (&*was.source.name, &*is.source.name);
        change_report::text_diff(page, &was.source.text, &is.source.text, names);
    }
    Ok(false)
}
