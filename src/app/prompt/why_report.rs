//! What the prompt shows for `why`.

use crate::app::counted::count;
use crate::app::prompt::output::{Page, Role};
use crate::audit::finding::{Finding, MAX_POINTERS, Pointer};
use crate::audit::wording::figure;
use crate::whatif::why::{MOST_SHOWN, Operand, Question, Read, Said, Test, Turn, Why};
use crate::words::and;

/// Most questions shown unless all are asked for.
const MOST_STEPS: usize = 24;
/// Most findings whose proof is shown.
pub(super) const MOST_PROVED: usize = 3;
/// Most parts of a line shown when all are asked for.
const MOST_PARTS: usize = 40;

/// Writes why a rule says what it says.
pub(super) fn why(page: &mut Page, proofs: &[Finding], why: &Why, currency: &str, all: bool) {
    page.put(Role::Strong, &why.rule).say(" ").flow(Role::Plain, &why.title, 2);
    page.say("  ").put(Role::Faint, &format!("written at {}", why.written)).end();
    said(page, why, currency);
    proofs.iter().for_each(|finding| proof(page, finding, proofs.len() > 1));
    questions(page, &why.steps, all);
    if let Some((formula, values)) = &why.formula {
        page.say("It gives ").flow(Role::Strong, formula, 5);
        values.iter().for_each(|v| read(page, v));
    }
    if let Some((margin, unit)) = &why.margin {
        page.line(&format!("Margin: {}", figure(*margin, unit, currency)));
    }
    if matches!(why.said, Said::Found(_) | Said::Silent) {
        turns(page, why, currency, all);
    }
    if !why.basis.is_empty() {
        page.say("Basis: ").flow(Role::Faint, &why.basis, 2);
    }
}

/// The facts that prove a finding, as one sentence; none where they are too many to name.
fn proof(page: &mut Page, finding: &Finding, several: bool) {
    let of = |p: &Pointer| format!("{} is {}", p.place, p.value);
    let facts: Vec<String> = finding.pointers.iter().map(of).collect();
    let sentence = match facts.as_slice() {
        [] => return,
        _ if facts.len() >= MAX_POINTERS => return,
        [only] => format!("{only}: this alone decides it, whatever the other facts are."),
        all => format!("{}: with these it holds, whatever the other facts are.", and(all)),
    };
    let lead = if several { format!("{} ", finding.message) } else { String::new() };
    page.say("Proof: ").flow(Role::Plain, &format!("{lead}{sentence}"), 2);
}

fn said(page: &mut Page, why: &Why, currency: &str) {
    match &why.said {
        Said::Found(findings) => {
            for found in findings {
                let level = found.level.to_string();
                page.say("  ").put(Role::Level(found.level), &level).say(" ").flow(
                    Role::Plain,
                    &found.message,
                    4,
                );
                if let Some(waiver) = &found.waived {
                    page.say("    ").flow(
                        Role::Faint,
                        &format!(
                            "waived by {} until {}: {}",
                            waiver.by, waiver.until, waiver.reason
                        ),
                        4,
                    );
                }
            }
        }
        Said::Silent => {
            page.say("  ").put(Role::Good, "found nothing").end();
        }
        Said::Number(number, unit) => {
            let words =
                number.map_or_else(|| "does not apply".to_owned(), |n| figure(n, unit, currency));
            page.say("  ").put(Role::Strong, &words).end();
        }
        Said::Waits(kind) => {
            page.line(&format!("  waits for the open {kind} line"));
        }
        Said::Off(reason) => {
            page.line(&format!("  switched off: {reason}"));
        }
        Said::Broken(problem) => {
            page.problem(problem);
        }
    }
}

fn questions(page: &mut Page, steps: &[Question], all: bool) {
    if steps.is_empty() {
        page.line("It asked nothing of the build.");
        return;
    }
    // What was decided on is kept, and what led there: the last questions count most.
    let first_deciding = steps.iter().position(|s| s.decides).unwrap_or(steps.len() - 1);
    let from = if all || steps.len() <= MOST_STEPS {
        0
    } else {
        (steps.len() - MOST_STEPS).min(first_deciding.saturating_sub(4))
    };
    let to = if all { steps.len() } else { steps.len().min(from + MOST_STEPS) };
    page.line(&format!("It asked {}:", count(steps.len(), "question")));
    if from > 0 {
        page.put(
            Role::Faint,
            &format!("  {from} before these are left out; `why … all` shows them"),
        )
        .end();
    }
    for (at, step) in steps.iter().enumerate().take(to).skip(from) {
        question(page, at + 1, step);
    }
    if to < steps.len() {
        page.put(
            Role::Faint,
            &format!("  {} after these are left out; `why … all` shows them", steps.len() - to),
        )
        .end();
    }
}

fn question(page: &mut Page, number: usize, step: &Question) {
    let lead = format!("{number:>3}. ");
    let role = if step.decides { Role::Strong } else { Role::Plain };
    page.say(&lead);
    let mut words = test(step);
    if step.decides {
        words.push_str("  (this decides)");
    }
    page.flow(role, &words, 5);
    let mut place = step.script.clone();
    if let Some(measure) = &step.measure {
        place = format!("in measure {measure}{}{place}", if place.is_empty() { "" } else { ", " });
    }
    if !place.is_empty() {
        page.say("     ")
            .put(
                Role::Faint,
                &format!("asked {}{place}", if step.measure.is_some() { "" } else { "at " }),
            )
            .end();
    }
    step.reads.iter().for_each(|r| read(page, r));
}

pub(crate) fn test(asked: &Question) -> String {
    let yes = asked.yes;
    let word = if yes { "yes" } else { "no" };
    let side = |o: &Operand| match &o.name {
        Some(name) => format!("{name} ({})", o.value),
        None => o.value.clone(),
    };
    let pair = |a: &Operand, held: &str, not: &str, b: &Operand| {
        format!("{} {} {}", side(a), if yes { held } else { not }, side(b))
    };
    match &asked.test {
        Test::Has(kind, 1) => format!("is there a {kind}? {word}"),
        Test::Has(kind, nth) => format!("is there a {kind} {nth}? {word}"),
        Test::Chosen(line) => format!("is the part of {line} chosen? {word}"),
        Test::Lines(kind, count) => format!("lines of {kind}: {count}"),
        Test::Present(value) => format!("is {value} given? {word}"),
        Test::Truth(value) => format!("{value}: {word}"),
        Test::Less(a, b) => pair(a, "<", ">=", b),
        Test::LessEqual(a, b) => pair(a, "<=", ">", b),
        Test::Equal(a, b) => pair(a, "=", "≠", b),
        Test::Contains(list, item) => pair(list, "holds", "does not hold", item),
        Test::Entries(list, count) => format!("entries of {list}: {count}"),
        Test::Placed(assignment, count) => format!("{assignment}: {count} placed"),
        Test::Value(o) => format!("{} is {}", o.name.as_deref().unwrap_or(""), o.value),
    }
}

fn read(page: &mut Page, read: &Read) {
    page.say("     ").put(Role::Part, &read.place).say(" = ").put(Role::Number, &read.value);
    if !read.at.is_empty() {
        page.put(Role::Faint, &format!("  {}", read.at));
    }
    page.end();
}

fn turns(page: &mut Page, why: &Why, currency: &str, all: bool) {
    let silent = matches!(why.said, Said::Silent);
    let turning: Vec<&Turn> = why.turns.iter().filter(|t| t.count > 0).collect();
    if why.turns.is_empty() {
        page.line("The rule read no part of this list, so no swap changes it.");
        return;
    }
    if turning.is_empty() {
        let tried = count(why.tried.0, "part");
        page.line(&format!(
            "No single swap changes it ({tried} tried on {}).",
            count(why.turns.len(), "line")
        ));
    } else {
        page.line(if silent {
            "Single swaps that would raise a finding:"
        } else {
            "Single swaps that would clear it:"
        });
    }
    for turn in turning {
        page.say(&format!("  #{} ", turn.line))
            .put(Role::Strong, &turn.name)
            .say(&format!(": {} of {} {} parts", turn.count, turn.of, turn.kind))
            .end();
        let most = if all { MOST_PARTS } else { MOST_SHOWN };
        for choice in turn.parts.iter().take(most) {
            let price = choice.price.map(|p| figure(p, "money", currency));
            let mut words = format!("  {}", price.unwrap_or_else(|| "no price".to_owned()));
            let named = choice.left.iter().zip(["stop", "caution", "advice"]);
            let left: Vec<String> =
                named.filter(|(n, _)| **n > 0).map(|(n, word)| count(*n, word)).collect();
            if !left.is_empty() {
                let verb = if silent { "raises" } else { "leaves" };
                words.push_str(&format!("  {verb} {}", left.join(", ")));
            }
            for (verb, rules) in [("causes", &choice.stops), ("leaves open", &choice.opens)] {
                if !rules.is_empty() {
                    words.push_str(&format!("  but {verb} {}", rules.join(", ")));
                }
            }
            page.say("     ").put(Role::Part, &choice.name).flow(Role::Plain, &words, 9);
        }
        if turn.count > most {
            page.put(Role::Faint, &format!("     and {} more", turn.count - most)).end();
        }
    }
    if !why.tried.1 {
        page.put(
            Role::Faint,
            &format!("  tried only {}; others may do it too", count(why.tried.0, "part")),
        )
        .end();
    }
}
