//! A list as understood, written as a build file.

use std::fmt::Write as _;

use jiff::civil::Date;

use super::{Fact, Row, State, whole};
use crate::catalogue::Catalogue;
use crate::trade::money::Money;
use crate::words::{acts, clip};

/// Letters of a title.
const MOST_OF_A_TITLE: usize = 80;

/// Writes the build file: every row in its order, what it said as a comment, what was not
/// understood as an unknown part.
pub(crate) fn written(catalogue: &Catalogue, rows: &[Row], name: &str, on: Date) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "# From {}. What each row said is above its line.", one_line(name));
    if let Some(title) = whole::title(catalogue, rows) {
        let _ = writeln!(out, "\ntitle = {}", text(&clip(&title, MOST_OF_A_TITLE)));
    }
    let currency = currency_of(rows);
    if let Some((line, amount)) = whole::budget(rows) {
        let _ = writeln!(
            out,
            "\n# Line {line} says what the list may cost: take this out if that is not meant.\n\
             budget = {}",
            text(&amount)
        );
    }
    purpose(&mut out, catalogue, rows);
    if let Some(line) = whole::quiet(rows) {
        let _ = writeln!(
            out,
            "\n# Line {line} wishes for quiet: take the # off and say how loud it may be at 1 m.\n\
             # noise_max_db = 30"
        );
    }
    for row in rows {
        let _ = writeln!(out, "\n# {}: {}", row.line, one_line(&row.text));
        if row.state == State::Ignored {
            continue;
        }
        if row.state == State::Unsure {
            let _ = writeln!(out, "# Which is meant? Put one of these in, as part = \"…\":");
            for (id, _) in row.candidates.iter().take(5) {
                let name = catalogue.part(id).map_or("", |p| &*p.name);
                let _ = writeln!(out, "#   part = {}   # {}", text(id), one_line(name));
            }
        }
        if row.kind.is_none() && row.part.is_none() {
            of_no_kind(&mut out, row);
            continue;
        }
        doubts(&mut out, row, &currency);
        line(&mut out, row, &currency, on);
    }
    out
}

/// What the list is for, where its sentences say it; of several a person chooses.
fn purpose(out: &mut String, catalogue: &Catalogue, rows: &[Row]) {
    let said = whole::purposes(catalogue, rows);
    if let [(line, purpose)] = said.as_slice() {
        let _ = writeln!(
            out,
            "\n# Line {line} says what the PC is for: take this out if that is not meant.\n\
             purpose = {}",
            text(purpose)
        );
    } else if !said.is_empty() {
        out.push_str(
            "\n# The PC is for several things: take the # off the one that counts most.\n",
        );
        for (line, purpose) in said {
            let _ = writeln!(out, "# purpose = {}   # line {line}", text(purpose));
        }
    }
}

/// What is odd about a row's prices and places.
fn doubts(out: &mut String, row: &Row, currency: &str) {
    if row.two_prices {
        let _ = writeln!(out, "# Two prices stand in this row; neither was taken.");
    }
    if let Some(sum) = &row.of_all {
        let _ = writeln!(
            out,
            "# {sum} {} is taken as the price of all {}: for one it is far over the \
             catalogue's.",
            row.currency.as_deref().unwrap_or(currency),
            row.count
        );
    }
    if let Some((placed, all)) = row.placed {
        let _ = writeln!(out, "# The row says where {placed} go, and has {all}: put in the rest.");
    }
    if let Some(sum) = &row.uneven_sum {
        let _ = writeln!(
            out,
            "# {sum} {currency} for {} is no whole price each: put in what one costs.",
            row.count
        );
    }
}

fn line(out: &mut String, row: &Row, currency: &str, on: Date) {
    out.push_str("[[line]]\n");
    what(out, row);
    if row.count != 1 {
        let _ = writeln!(out, "count = {}", row.count);
    }
    if row.owned {
        out.push_str("owned = true\n");
    }
    for (key, value) in [("mount", row.mount.as_deref()), ("flow", row.flow.as_deref())] {
        if let Some(value) = value {
            let _ = writeln!(out, "{key} = {}", text(value));
        }
    }
    price(out, row, currency, on);
    if let Some(note) = &row.note {
        let _ = writeln!(out, "note = {}", text(note));
    }
}

fn of_no_kind(out: &mut String, row: &Row) {
    let name = text(row.name.as_deref().unwrap_or(&row.text));
    let _ = writeln!(
        out,
        "# The row does not say which kind of part it is: put a kind in and take the # off.\n\
         # [[line]]\n# kind = \"…\"\n# name = {name}\n# count = {}",
        row.count
    );
}

fn what(out: &mut String, row: &Row) {
    let kind = row.kind.as_deref().unwrap_or("");
    match (row.state, &row.part) {
        (State::Matched, Some(part)) => {
            let _ = writeln!(out, "part = {}", text(part));
        }
        (State::Open, _) => {
            let _ = writeln!(out, "any = {}", text(kind));
            if !row.wants.is_empty() {
                let wants: Vec<String> = row.wants.iter().map(|w| text(w)).collect();
                let _ = writeln!(out, "wants = [{}]", wants.join(", "));
            }
        }
        _ => {
            let _ = writeln!(out, "kind = {}", text(kind));
            let _ = writeln!(out, "name = {}", text(row.name.as_deref().unwrap_or(&row.text)));
            if !row.facts.is_empty() {
                let facts: Vec<String> = row
                    .facts
                    .iter()
                    .map(|(name, fact)| format!("{name} = {}", fact_text(fact)))
                    .collect();
                let _ = writeln!(out, "facts = {{ {} }}", facts.join(", "));
            }
        }
    }
}

fn fact_text(fact: &Fact) -> String {
    match fact {
        Fact::Number(number) => number.to_string(),
        Fact::Word(word) => text(word),
        Fact::Yes => "true".to_owned(),
    }
}

/// The customer's price, when its currency is the list's.
fn price(out: &mut String, row: &Row, currency: &str, on: Date) {
    let Some(price) = &row.price else { return };
    let own = row.currency.as_deref().unwrap_or(currency);
    let amount = format!("{price} {own}");
    if own == currency && Money::parse(&amount).is_ok() {
        let _ = writeln!(out, "quoted = {{ price = {}, on = {on} }}", text(&amount));
    } else {
        let _ = writeln!(
            out,
            "# The row's price is {}, and the list is in {currency}.",
            one_line(&amount)
        );
    }
}

/// The currency of most rows.
pub(crate) fn currency_of(rows: &[Row]) -> String {
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for code in rows.iter().filter_map(|r| r.currency.as_deref()) {
        match counts.iter_mut().find(|(c, _)| *c == code) {
            Some((_, n)) => *n += 1,
            None => counts.push((code, 1)),
        }
    }
    counts.iter().max_by_key(|(_, n)| *n).map_or("EUR", |(c, _)| c).to_owned()
}

/// A TOML text of one line, in which nothing acts on a terminal or on the order of letters.
fn text(value: &str) -> String {
    if !value.chars().any(acts) {
        return toml_edit::value(value).to_string().trim().to_owned();
    }
    let mut out = String::from("\"");
    for c in value.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if acts(c) => {
                let _ = write!(out, "\\U{:08X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out + "\""
}

/// Fit for a comment: one line, nothing in it that acts, not endless.
fn one_line(value: &str) -> String {
    let clean: String = value.chars().map(|c| if acts(c) { ' ' } else { c }).collect();
    clip(&clean.split_whitespace().collect::<Vec<_>>().join(" "), 160)
}
