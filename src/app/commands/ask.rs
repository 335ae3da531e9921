//! `dryfit ask`: the facts to look up, those that decide most first.

use serde_json::{Value, json};

use crate::app::args::AskArgs;
use crate::app::commands::{self, kit_beside};
use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::app::report::unsettled;
use crate::kit::{Audit, Decides, Fits, Question};
use crate::layer::read_source;
use crate::source::Problems;
use crate::whatif::open_lines::settle;

/// `dryfit ask LIST`: the code is the audit's own.
pub(crate) fn ask(args: &AskArgs, page: &mut commands::Page) -> Result<u8, Problems> {
    let source = read_source(&args.list)?;
    let kit = kit_beside(&args.list, &args.base)?;
    let build = kit.read(&source, args.base.today())?;
    let audit = kit.audit(&settle(&kit, &build)?.build);
    if args.json {
        page.json(&document(&audit));
    } else {
        page.write(&text(&audit));
    }
    Ok(audit.exit_code())
}

fn text(audit: &Audit) -> String {
    let questions = audit.questions();
    let first = questions.iter().filter(|question| question.after.is_none());
    let first = first.map(|q| json!({ "words": unsettled::question(q), "usual": q.usual }));
    let mut ruled_out: Vec<String> = audit.off().into_iter().map(|(rule, _)| rule).collect();
    ruled_out.dedup();
    let about = json!({ "verdict": audit.ruling().words(), "ruled_out": ruled_out,
    "questions": first.collect::<Vec<_>>(), "later": unsettled::later(&questions) });
    Page::new(Look::stdout()).filled("ask.txt", "", about)
}

pub(crate) fn document(audit: &Audit) -> Value {
    json!({
        "format": "dryfit-questions",
        "version": 1,
        "verdict": audit.ruling().key(),
        "questions": audit.questions().iter().map(question).collect::<Vec<_>>(),
    })
}

pub(crate) fn question(question: &Question) -> Value {
    json!({
        "place": question.place,
        "part": question.part_id,
        "name": question.part,
        "field": question.field,
        "unit": question.unit,
        "meaning": question.meaning,
        "usual": question.usual.as_ref().map(|(value, basis)| json!({
            "value": value, "basis": basis,
        })),
        "after": question.after,
        "decides": question.decides.iter().map(decides).collect::<Vec<_>>(),
    })
}

fn decides(decides: &Decides) -> Value {
    let fits = decides.fits.as_ref().map(|fits| match fits {
        Fits::Between(lo, hi) => json!({ "at_least": lo, "at_most": hi }),
        Fits::Words(words) => json!({ "words": words }),
    });
    json!({ "rule": decides.rule, "level": decides.level, "fits": fits })
}
