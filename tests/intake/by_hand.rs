//! Lists as real people would write them, in forms that no generator makes, and the truth of each.

use std::collections::BTreeMap;

use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::intake::{Aliases, Fact, Intake, Row, State, read_bytes};

use super::catalogue;
use crate::common::by_hand;

/// A row as a careful reader understands it; see `truth.toml`.
struct Truth<'a> {
    line: usize,
    what: &'a str,
    count: u32,
    price: Option<&'a str>,
    currency: Option<&'a str>,
    owned: bool,
}

fn truth(text: &str) -> Truth<'_> {
    let (line, rest) = text.split_once(' ').expect("a line and what it is");
    let cut = rest.find('}').map_or_else(|| rest.find(' ').unwrap_or(rest.len()), |at| at + 1);
    let (what, rest) = rest.split_at(cut);
    let mut words: Vec<&str> = rest.split_whitespace().collect();
    let owned = words.last() == Some(&"owned");
    words.retain(|w| *w != "owned");
    let count = words.first().and_then(|w| w.strip_prefix('x')).and_then(|n| n.parse().ok());
    words.drain(..usize::from(count.is_some()));
    Truth {
        line: line.parse().expect("a line"),
        what,
        count: count.unwrap_or(1),
        price: words.first().copied(),
        currency: words.get(1).copied().filter(|c| *c != "-"),
        owned,
    }
}

/// What stands between the braces, in order.
fn inside(what: &str) -> Vec<String> {
    let inner = what.split_once('{').map_or("", |(_, rest)| rest.trim_end_matches('}'));
    let mut all: Vec<String> =
        inner.split(';').map(|s| s.trim().to_owned()).filter(|s| !s.is_empty()).collect();
    all.sort();
    all
}

fn facts(row: &Row) -> Vec<String> {
    let value = |fact: &Fact| match fact {
        Fact::Number(number) => number.to_string(),
        Fact::Word(word) => word.clone(),
        Fact::Yes => "true".to_owned(),
    };
    let mut all: Vec<String> =
        row.facts.iter().map(|(name, fact)| format!("{name} = {}", value(fact))).collect();
    all.sort();
    all
}

/// Whether a row is what the truth says of it.
fn is(truth: &Truth<'_>, row: &Row) -> bool {
    let first: Vec<&str> = row.candidates.iter().take(3).map(|(id, _)| id.as_str()).collect();
    let kind = |what: &str| what.split(['{', ':']).nth(1).unwrap_or("").to_owned();
    let what = truth.what;
    let shown = if let Some(id) = what.strip_prefix('~') {
        row.part.as_deref() == Some(id) || row.state == State::Unsure && first.contains(&id)
    } else if let Some(ids) = what.strip_prefix('?') {
        row.state == State::Unsure && ids.split('|').all(|id| first.contains(&id))
    } else if what.starts_with("open:") {
        let mut wants = row.wants.clone();
        wants.sort();
        row.state == State::Open
            && row.kind.as_deref() == Some(&*kind(what))
            && wants == inside(what)
    } else if what.starts_with("new:") {
        row.state == State::Unknown
            && row.kind.as_deref().unwrap_or("-") == kind(what)
            && facts(row) == inside(what)
    } else if what.starts_with("loose:") {
        row.state != State::Matched
    } else if what.starts_with("no:") {
        matches!(row.state, State::Unsure | State::Unknown)
    } else {
        row.state == State::Matched && row.part.as_deref() == Some(what)
    };
    shown
        && row.count == truth.count
        && row.price.as_deref() == truth.price
        && (truth.price.is_none() || row.currency.as_deref() == truth.currency)
        && row.owned == truth.owned
}

/// What is said of the whole list and is not read so: "budget 900.00 EUR", "for games", "called Office PCs".
fn whole_list(intake: &Intake<'_>, name: &str, rows: &[Row], truths: &[String]) -> Vec<String> {
    let list = intake.list(rows, name, jiff::civil::date(2030, 1, 1));
    let budget = || intake.budget(rows).map_or("none".to_owned(), |(_, amount)| amount);
    let purposes = || intake.purposes(rows).into_iter().map(|(_, p)| p).collect::<Vec<_>>();
    let is = |(what, rest): (&str, &str)| match what {
        "budget" => budget() == rest,
        "for" => purposes().contains(&rest),
        // "quiet 12": that line wishes for it.
        "quiet" => list.contains(&format!("\n# Line {rest} wishes for quiet")),
        "called" => list.contains(&format!("\ntitle = \"{rest}\"\n")),
        _ => true,
    };
    let wrong = truths.iter().filter(|text| text.split_once(' ').is_some_and(|two| !is(two)));
    wrong.map(|text| format!("{name}: {text}, not {} {:?}", budget(), purposes())).collect()
}

/// What goes wrong with one list: its rows in order, none left over on either side.
fn wrong(catalogue: &Catalogue, folder: &str, name: &str, truths: &[String]) -> Vec<String> {
    let bytes = std::fs::read(format!("{folder}/{name}")).expect("the list is there");
    let text = read_bytes(&bytes, name).expect("it is a list");
    let intake = Intake::new(catalogue, Aliases::default());
    let mut rows = intake.read(&text).expect("it is read");
    let mut out = whole_list(&intake, name, &rows, truths);
    rows.retain(|r| r.state != State::Ignored);
    for text in truths.iter().filter(|t| t.starts_with(|c: char| c.is_ascii_digit())) {
        let truth = truth(text);
        let on_line = |r: &Row| r.line == truth.line;
        let found = rows
            .iter()
            .position(|r| on_line(r) && is(&truth, r))
            .or_else(|| rows.iter().position(on_line));
        match found.map(|at| rows.remove(at)) {
            Some(row) if is(&truth, &row) => {}
            None if truth.what.starts_with("loose:") => {}
            row => out.push(format!("{name}: {text}\n  is read as {row:?}")),
        }
    }
    out.extend(rows.iter().map(|row| format!("{name}: no row of the list: {row:?}")));
    out
}

#[test]
fn lists_written_by_hand() {
    let catalogue = catalogue();
    let folder = by_hand::folder("intake");
    let truths = std::fs::read_to_string(format!("{folder}/truth.toml")).expect("it is there");
    let truths: BTreeMap<String, Vec<String>> = toml::from_str(&truths).expect("it is TOML");
    let files = std::fs::read_dir(&folder);
    let files = files.expect("the folder is there").flatten();
    let names: Vec<String> = files.map(|f| f.file_name().to_string_lossy().into_owned()).collect();
    for name in names.iter().filter(|n| *n != "truth.toml") {
        assert!(truths.contains_key(name), "{name} has no truth");
    }
    let faults: Vec<String> =
        truths.iter().flat_map(|(name, rows)| wrong(&catalogue, &folder, name, rows)).collect();
    let rows: usize = truths.values().map(Vec::len).sum();
    assert!(faults.is_empty(), "{} of {rows} rows:\n{}", faults.len(), faults.join("\n"));
}
