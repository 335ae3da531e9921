//! From a brief to a parts list, as a command.

use std::path::PathBuf;
use std::time::Duration;

use crate::app::interrupt;
use crate::app::prompt::output::Page;
use crate::app::prompt::plan_report::PlanReport;
use crate::app::prompt::{script_runner, watched_files};
use crate::app::report::search_json;
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
    /// JSON, for a program.
    pub json: bool,
    /// A rules folder named by the user, over those found.
    pub rules: Option<PathBuf>,
    /// A catalogue folder named by the user, over those found.
    pub catalogue: Option<PathBuf>,
    /// The day that stands in for `priced_on` where a brief leaves it out.
    pub today: jiff::civil::Date,
}

/// Plans a brief; gives the exit code: 0 there is an answer, 1 there is none, 2 trouble.
pub fn run(options: &PlanOptions) -> u8 {
    script_runner::once(options.plain, |page| planned(options, page))
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
    let why = options.why.as_deref().map(|part| {
        let why = interrupt::search(options.limit, |limits| {
            why_not(&kit, &layers, &brief, part, limits)
        })?;
        Ok::<_, Problems>((part, why))
    });
    let why = why.transpose()?;
    let report = PlanReport {
        plan: &plan,
        title: brief.build.title(),
        currency: &brief.build.currency,
        effort: options.effort,
    };
    if options.json {
        page.json(&search_json::plan(&brief, &plan, why.as_ref().map(|(p, w)| (*p, w))));
    } else {
        report.write(page);
        if let Some((part, why)) = &why {
            report.why_not(page, part, why);
        }
    }
    if let (Some(path), Some(best)) = (&options.output, plan.best.first()) {
        interrupt::may_write()?;
        disk::write_whole(path, build_file(&brief, best)?.as_bytes(), options.force)?;
        if !options.json {
            page.line(&format!("wrote {}", path.display()));
        }
    }
    Ok(plan.exit_code())
}
