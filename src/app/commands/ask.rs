//! `dryfit ask`: the facts to look up, those that decide most first.

use serde_json::{Value, json};

use crate::app::args::AskArgs;
use crate::app::commands::{Page, kit_beside};
use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::app::report::unsettled;
use crate::kit::{Audit, Decides, Fits, Question};
use crate::layer::read_source;
use crate::source::Problems;
use crate::whatif::open_lines::settle;

/// `dryfit ask LIST`: the code is the audit's own.
pub(crate) fn ask(args: &AskArgs, page: &mut Page) -> Result<u8, Problems> {
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
    let look = Look::stdout();
    let questions = audit.questions();
    let mut out = look.paragraph(&format!(
        "{}: {}",
        audit.ruling().words(),
        match questions.len() {
            0 => "nothing to look up".to_owned(),
            n => format!("{} to look up", count(n, "fact")),
        }
    ));
    for question in &questions {
        out.push_str(&look.paragraph(&format!("  {}", unsettled::question(question))));
        if let Some((usual, basis)) = &question.usual {
            out.push_str(&look.paragraph(&format!("    usually {usual} ({basis})")));
        }
    }
    let off = audit.off();
    let mut rules: Vec<&str> = off.iter().map(|(rule, _)| rule.as_str()).collect();
    rules.dedup();
    if !rules.is_empty() {
        let rules = rules.join(", ");
        out.push_str(
            &look.paragraph(&format!("  stops ruled out, as long as parts are as usual: {rules}")),
        );
    }
    out
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
