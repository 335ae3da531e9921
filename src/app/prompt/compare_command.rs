//! What differs between two build files, as a command.

use std::path::Path;

use crate::app::prompt::output::Page;
use crate::app::prompt::{CompareOptions, change_report, script_runner, watched_files};
use crate::app::report::style::Look;
use crate::layer::read_source;
use crate::source::Problems;
use crate::whatif::diff::between;
use crate::whatif::trial::Snapshot;

/// Says what differs between two builds; gives the exit code: 0 the same, 1 different, 2 trouble.
pub fn compare(a: &Path, b: &Path, options: &CompareOptions) -> u8 {
    let look = Look::stdout();
    let mut page = Page::new(if options.plain {
        Look { colour: false, drawing: false, ..look }
    } else {
        look
    });
    match differences(a, b, options, &mut page) {
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
    a: &Path,
    b: &Path,
    options: &CompareOptions,
    page: &mut Page,
) -> Result<bool, Problems> {
    let (old, new) = (read_source(a)?, read_source(b)?);
    let kit = watched_files::load(&watched_files::layers(
        a,
        options.catalogue.as_deref(),
        options.rules.as_deref(),
    )?)?;
    let (was, is) =
        (Snapshot::of(&kit, &old, options.today)?, Snapshot::of(&kit, &new, options.today)?);
    let change = between(&was, &is);
    if change.is_empty() {
        return Ok(true);
    }
    change_report::whole_change(page, &change, true);
    change_report::text_diff(page, &old.text, &new.text, (&old.name, &new.name));
    Ok(false)
}
