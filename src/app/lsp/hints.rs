//! Hints within the text: the verdict on the first line, price and draw behind each part.

use lsp_types::{InlayHint, InlayHintKind, InlayHintLabel};
use serde_json::{Value, json};

use super::cursor_requests::Here;
use super::hover;
use super::requests::At;
use super::server::Failure;
use crate::app::counted::count;
use crate::app::report::Audited;
use crate::audit::wording::figure;
use crate::kit::asked_first;
use crate::level::Level;

/// The hints of a list; the lines that are wanted, or all.
pub(super) fn hints(here: &Here<'_>, at: &At) -> Result<Value, Failure> {
    let Some(view) = &here.view else { return Ok(json!([])) };
    let reads = here.doc.seen.as_ref().is_some_and(|seen| seen.outcome.is_ok());
    let mut hints = Vec::new();
    if let Some(audited) = &view.audited {
        let end = here.doc.lines.bytes_of(here.text(), 0).end;
        let before = if reads { "" } else { " (before the text broke off)" };
        hints.push(hint(here, end, format!("{}{before}", verdict(audited))));
    }
    // Places of a text that reads no more may have moved.
    if reads {
        hints.extend(lines(here));
    }
    if let Some(range) = at.range {
        hints.retain(|h| range.start <= h.position && h.position <= range.end);
    }
    Ok(json!(hints))
}

fn hint(here: &Here<'_>, offset: usize, label: String) -> InlayHint {
    InlayHint {
        position: here.doc.lines.position(here.text(), offset, here.encoding),
        label: InlayHintLabel::String(label),
        kind: Some(InlayHintKind::TYPE),
        text_edits: None,
        tooltip: None,
        padding_left: Some(true),
        padding_right: None,
        data: None,
    }
}

/// The verdict in a line, with the total, the draw and how much was found.
pub(super) fn verdict(audited: &Audited) -> String {
    let mut words = vec![audited.ruling.words().to_owned(), audited.paid.to_string()];
    let draw = audited.measure(hover::DRAW);
    words.extend(draw.map(|m| m.words.clone()));
    for level in [Level::Stop, Level::Caution] {
        let number = audited.at(level).count();
        if number > 0 {
            words.push(count(number, &level.to_string()));
        }
    }
    match asked_first(&audited.questions) {
        0 => {}
        n => words.push(format!("{} to look up", count(n, "fact"))),
    }
    words.join(" · ")
}

fn lines(here: &Here<'_>) -> Vec<InlayHint> {
    let Some(view) = &here.view else { return Vec::new() };
    let build = &view.build;
    let mut hints = Vec::new();
    for (at, line) in build.build.lines.iter().enumerate() {
        let span = line.spans.part;
        if span.is_empty() {
            continue;
        }
        let chosen = view.audited.as_ref().and_then(|a| a.chosen.iter().find(|c| c.line == at));
        let slot = build.slot_of_line(at);
        let mut words = Vec::new();
        match (chosen, slot) {
            (Some(choice), _) => {
                words.push(choice.part.id.to_string());
                words.extend(choice.price.times(i64::from(line.count)).ok().map(|p| p.to_string()));
            }
            (None, Some(slot)) if slot.part.is_some() => {
                match build.facts(slot).price.filter(|_| !slot.owned) {
                    Some(price) => {
                        let all = price.times(slot.count as i64).ok();
                        words.extend(all.map(|price| price.to_string()));
                    }
                    None if slot.owned => words.push("owned".to_owned()),
                    None => words.push("no offer".to_owned()),
                }
                let watts = hover::draw(here, slot).filter(|watts| *watts > 0.0);
                words.extend(watts.map(|watts| figure(watts, "W", "")));
            }
            _ => {}
        }
        if !words.is_empty() {
            hints.push(hint(here, span.end(), words.join(" · ")));
        }
    }
    hints
}
