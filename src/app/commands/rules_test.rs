//! `dryfit rules test`: runs the cases of a folder, writes new expected findings into them, and
//! tries whether they notice wrongs.

use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use crate::app::args::rules::{TestArgs, TestFormat};
use crate::app::commands::Page;
use crate::app::commands::rules::{rules_folder, test_layers};
use crate::app::interrupt;
use crate::app::report::style::Look;
use crate::app::writing::new_findings::{self, Rewritten};
use crate::app::writing::{mutate, outcome, watch};
use crate::cases;
use crate::disk;
use crate::kit::Layers;
use crate::layer::read_source;
use crate::source::{Problem, Problems};
use crate::words::clip;

/// How often the mutation pass says how far it is.
const TELL_EVERY: Duration = Duration::from_secs(5);

/// 0 all as expected, 1 some not, 2 a rule file or case file is broken.
pub(crate) fn test(args: &TestArgs, page: &mut Page) -> Result<u8, Problems> {
    let (only, case) = (args.only.as_deref(), args.case.as_deref());
    let layers = test_layers(args.folder.as_deref(), &args.base)?;
    if args.mutate {
        return mutated(args, &layers, page);
    }
    let mut report = cases::run_named(&layers, only, case)?;
    if let Some(text) = case.filter(|_| report.cases == 0 && report.good()) {
        page.note_aside(&format!("No case has `{}` in its name.", clip(text, 60)));
        return Ok(1);
    }
    // Where a rule file is broken, its cases say nothing of what should be written.
    let new = match report.failures.is_empty() || !report.broken.is_empty() {
        true => Vec::new(),
        false => new_findings::rewritten(&layers, only, case)?,
    };
    let written = args.write && !new.is_empty();
    if written {
        write(&new)?;
        let layers = test_layers(args.folder.as_deref(), &args.base)?;
        report = cases::run_named(&layers, only, case)?;
    }
    match args.format {
        TestFormat::Text => {
            let changes = outcome::changes(&new, written);
            let text = outcome::text(Look::stdout(), &report);
            page.write(&match written {
                true => format!("{changes}\n{text}"),
                false => format!("{text}{changes}"),
            });
        }
        TestFormat::Json => page.json(&outcome::json(&report, &new, written)),
    }
    Ok(report.exit_code())
}

/// Writes cases files, each unless it changed meanwhile.
fn write(new: &[Rewritten]) -> Result<(), Problems> {
    interrupt::may_write()?;
    for file in new {
        let path = Path::new(&file.source.name);
        if !path.is_file() {
            let problem = Problem::new(format!("{} is no file here", file.source.name));
            return Err(problem.help("name a folder of rules: dryfit rules test FOLDER").into());
        }
        let same = || match read_source(path)?.text == file.source.text {
            true => Ok(()),
            false => {
                let problem = Problem::new(format!("{} changed meanwhile", file.source.name));
                Err(problem.help("nothing was written to it: run the cases again"))
            }
        };
        disk::write_checked(path, file.text.as_bytes(), same)?;
    }
    Ok(())
}

fn mutated(args: &TestArgs, layers: &Layers, page: &mut Page) -> Result<u8, Problems> {
    let last = Mutex::new(Instant::now());
    let told = |done: usize, of: usize| {
        if let Ok(mut last) = last.try_lock()
            && last.elapsed() > TELL_EVERY
        {
            *last = Instant::now();
            page_aside(&format!("{done} of {of}\n"));
        }
    };
    let mutation = mutate::mutate(layers, args.only.as_deref(), 1, &told)?;
    match args.format {
        TestFormat::Text => page.write(&mutate::text(Look::stdout(), &mutation)),
        TestFormat::Json => page.json(&mutate::json(&mutation)),
    }
    Ok(u8::from(mutation.share() < args.at_least))
}

/// How far a long pass is, for a person who waits.
fn page_aside(text: &str) {
    use std::io::{IsTerminal as _, Write as _};
    let mut aside = std::io::stderr();
    if aside.is_terminal() {
        let _ = aside.write_all(text.as_bytes());
    }
}

/// Runs the cases again whenever a file of the folder changes.
pub(crate) fn again(args: TestArgs, page: &mut Page) -> Result<u8, Problems> {
    let folder = args.folder.clone().or_else(|| args.base.rules.clone()).or_else(rules_folder);
    let folder = folder.ok_or_else(|| {
        Problem::new("there is no rules folder here to watch")
            .help("name one, or make one with: dryfit rules new NAME")
    })?;
    let mut code = 0;
    interrupt::watching();
    watch::watch(&[folder], || {
        code = test(&args, page).unwrap_or_else(|problems| page.refuse(&problems));
        page.write("\nwatching; Ctrl-C ends it\n");
        page.flush()
    });
    Ok(code)
}
