//! From a brief to a parts list, as a command.

use crate::app::args::PlanArgs;
use crate::app::batch;
use crate::app::interrupt;
use crate::app::left_out;
use crate::app::prompt::{script_runner, search_report};
use crate::app::report::page::Page;
use crate::app::report::search_json;
use crate::build::brief::Brief;
use crate::disk;
use crate::layer::read_source;
use crate::source::Problems;
use crate::whatif::plan::{self, build_file, why_not};

/// Plans a brief; gives the exit code: 0 there is an answer, 1 there is none, 2 trouble.
pub(crate) fn plan(args: &PlanArgs) -> u8 {
    script_runner::once(args.shown.plain, |page| planned(args, page))
}

fn planned(args: &PlanArgs, page: &mut Page) -> Result<u8, Problems> {
    if let Some(path) = &args.output {
        disk::must_be_new(path, args.force, "name another file, or write over it with --force")?;
    }
    let source = read_source(&args.brief)?;
    let layers = batch::layers(&args.brief, &args.base)?;
    let kit = left_out::kit(&layers)?;
    let brief = Brief::parse(&source, kit.catalogue(), args.base.today())?;
    let (limit, trust) = (args.limit.time(), args.trust.trust_unknown);
    let plan = interrupt::search(limit, |limits| {
        plan::plan(&kit, &layers, &brief, limits.trusting(trust))
    })?;
    let why = args.why.as_deref().map(|part| {
        let why = interrupt::search(limit, |limits| {
            why_not(&kit, &layers, &brief, part, limits.trusting(trust))
        })?;
        Ok::<_, Problems>((part, why))
    });
    let why = why.transpose()?;
    let why = why.as_ref().map(|(part, why)| (*part, why));
    if args.shown.json() {
        let document = search_json::plan(&brief, &plan, why);
        page.json(&search_json::trusting(document, trust));
    } else {
        search_report::trusted(page, trust);
        search_report::plan(page, &brief, &plan, why, args.effort);
    }
    if let (Some(path), Some(best)) = (&args.output, plan.best.first()) {
        interrupt::may_write()?;
        disk::write_whole(path, build_file(&brief, best)?.as_bytes(), args.force)?;
        if !args.shown.json() {
            page.line(&format!("wrote {}", path.display()));
        }
    }
    Ok(plan.exit_code())
}
