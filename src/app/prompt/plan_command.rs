//! From a brief to a parts list, as a command.

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::app::prompt::output::Page;
use crate::app::prompt::plan_report::PlanReport;
use crate::app::prompt::{interrupt, script_runner, watched_files};
use crate::app::report::style::Look;
use crate::build::brief::Brief;
use crate::disk;
use crate::layer::read_source;
use crate::source::{Problem, Problems};
use crate::whatif::plan::{build_file, plan, why_not};

/// How a brief is planned.
#[derive(Debug, Clone)]
pub struct PlanOptions {
    /// The brief.
    pub brief: PathBuf,
    /// Where the build goes; none to show it only.
    pub output: Option<PathBuf>,
    /// Whether a file that is there already may be written over.
    pub force: bool,
    /// A part whose absence from the answer is to be explained.
    pub why: Option<String>,
    /// Whether to say how much was looked at.
    pub effort: bool,
    /// The longest time to look.
    pub limit: Duration,
    /// No colour, no box drawing.
    pub plain: bool,
    /// A rules folder named by the user, over those found.
    pub rules: Option<PathBuf>,
    /// A catalogue folder named by the user, over those found.
    pub catalogue: Option<PathBuf>,
    /// The day that stands in for `priced_on` where a brief leaves it out.
    pub today: jiff::civil::Date,
}

/// Plans a brief; gives the exit code: 0 there is an answer, 1 there is none, 2 trouble.
pub fn run(options: &PlanOptions) -> u8 {
    let look = Look::stdout();
    let mut page = Page::new(if options.plain {
        Look { colour: false, drawing: false, ..look }
    } else {
        look
    });
    let done = planned(options, &mut page);
    let code = done.as_ref().map_or(2, |code| *code);
    let written = script_runner::write(&page, code);
    if let Err(problems) = &done {
        script_runner::refuse(options.plain, problems);
    }
    written.map_or_else(|code| code, |()| code)
}

fn planned(options: &PlanOptions, page: &mut Page) -> Result<u8, Problems> {
    if let Some(path) = options.output.as_deref().filter(|p| p.exists() && !options.force) {
        let problem =
            Problem::new(format!("{} is there already; nothing is written", path.display()));
        return Err(problem.help("name another file, or write over it with --force").into());
    }
    let source = read_source(&options.brief)?;
    let layers = watched_files::layers(
        &options.brief,
        options.catalogue.as_deref(),
        options.rules.as_deref(),
    )?;
    let kit = watched_files::load(&layers)?;
    let brief = Brief::parse(&source, kit.catalogue(), options.today)?;
    let plan = interrupt::search(options.limit, |limits| plan(&kit, &layers, &brief, limits))?;
    let (title, currency) = (brief.build.title(), &*brief.build.currency);
    let report = PlanReport { plan: &plan, title, currency, effort: options.effort };
    report.write(page);
    if let Some(part) = &options.why {
        let why = interrupt::search(options.limit, |limits| {
            why_not(&kit, &layers, &brief, part, limits)
        })?;
        report.why_not(page, part, &why);
    }
    if let (Some(path), Some(best)) = (&options.output, plan.best.first()) {
        let text = build_file(&brief, best)?;
        write(path, &text, options.force, page)?;
    }
    Ok(plan.exit_code())
}

fn write(path: &Path, text: &str, over: bool, page: &mut Page) -> Result<(), Problems> {
    disk::write_whole(path, text.as_bytes(), over)?;
    page.line(&format!("wrote {}", path.display()));
    Ok(())
}
