//! What the prompt shows of a trial: changes, lines, measures, text.

use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::prompt::line_lookup::{label, names, placed};
use crate::app::report::page::Page;
use crate::app::report::style::Role;
use crate::audit::finding::Brief;
use crate::build::orders::line_costs;
use crate::kit::{Measure, Ruling};
use crate::level::Level;
use crate::whatif::diff::{Change, LineChange, LineView, Moved, views};
use crate::whatif::text_diff::{DiffLine, unified};
use crate::whatif::trial::Snapshot;

/// Share of its value by which a measure must move to be shown after every change.
const SMALL: f64 = 0.01;
/// Columns before the words of a finding.
const BEFORE: usize = 17;
/// Lines that the report on a change takes at most, what may be done next included.
const MOST_LINES: usize = 12;
/// Measures that it shows for certain.
const MOST_MEASURES: usize = 4;

/// A finding to tell of: which of two counts it belongs to, raised or cleared, its colour, its
/// word, what it said before where its level differs, and the finding.
struct Told<'a> {
    count: usize,
    role: &'static str,
    word: &'static str,
    was: Option<&'a Brief>,
    is: &'a Brief,
}

/// A change in at most `MOST_LINES` lines: what changed on the list, what it raised and cleared,
/// which measures moved, and what it has come to. What has no room is counted.
pub fn change(page: &mut Page, change: &Change) {
    head(page, change);
    if !change.says_more_than_text() {
        return;
    }
    let mut room = MOST_LINES.saturating_sub(page.text.lines().count() + 3);
    let telling = |m: &&Moved| m.better.is_some() && m.share >= SMALL;
    let moved_most: Vec<&Moved> = change.measures.iter().filter(telling).collect();
    let kept = moved_most.len().min(MOST_MEASURES).min(room / 2);
    let mut left_out = [0usize; 2];
    let mut shown = Vec::new();
    for told in worst_first(change) {
        let mut row = Page::new(page.look);
        row.say(&" ".repeat(BEFORE)).ended(Role::Plain, &message(told.is), &told.is.rule, BEFORE);
        let lines = row.text.lines().count();
        // What came matters more than how far a figure moved.
        let reserved = if told.count == 0 { kept.min(1) } else { kept };
        if left_out != [0, 0] || lines + reserved > room {
            left_out[told.count] += 1;
        } else {
            room -= lines;
            shown.push(Told { was: None, ..told });
        }
    }
    let moved = moved_most.get(..moved_most.len().min(room)).unwrap_or(&[]);
    let quiet = change.shifted.iter().filter(|(was, is)| eased(was, is).is_none()).count();
    let advice = |found: &[Brief]| found.iter().filter(|f| f.level == Level::Advice).count();
    let also = [
        (left_out[0], "more raised"),
        (left_out[1], "more cleared"),
        (advice(&change.raised), "advice raised"),
        (advice(&change.cleared), "advice cleared"),
        (quiet, "with new figures"),
        (change.measures.len() - moved.len(), "more moved"),
    ];
    let also = also.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}"));
    rest(page, change, &shown, moved, also.collect());
}

/// A change in full, with every finding and measure that moved.
pub fn whole_change(page: &mut Page, change: &Change) {
    head(page, change);
    if change.says_more_than_text() {
        let moved: Vec<&Moved> = change.measures.iter().collect();
        rest(page, change, &told(change, true), &moved, Vec::new());
    }
}

/// What changed on the list and in the rules.
fn head(page: &mut Page, change: &Change) {
    let arrow = page.arrow();
    let lines = change.lines.iter().map(|line| line_change(line, arrow));
    let fields =
        change.fields.iter().map(|f| json!({ "name": f.name, "from": f.from, "to": f.to }));
    let about = json!({
        "lines": lines.collect::<Vec<_>>(),
        "fields": fields.collect::<Vec<_>>(),
        "broken": change.broken.0,
        "mended": change.broken.1,
        "changes": change.says_more_than_text(),
        "text_differs": change.text_differs,
    });
    page.fill("change_head.txt", "", about);
}

/// Findings and measures that are told, and what the list has come to.
fn rest(page: &mut Page, change: &Change, told: &[Told<'_>], moved: &[&Moved], also: Vec<String>) {
    let found = |of: &Told<'_>| {
        let was = of.was.map(|was| format!("was {}: {}", was.level, was.message));
        json!({ "word": of.word, "role": of.role, "level": of.is.level.to_string(),
        "message": message(of.is), "rule": &*of.is.rule, "was": was })
    };
    let moved = moved.iter().map(|m| {
        let role = m.better.map_or("strong", |better| if better { "good" } else { "stop" });
        json!({ "name": &*m.name, "from": m.from, "to": m.to, "by": m.difference, "role": role })
    });
    let ruling = change.ruling.unwrap_or(Ruling::Build);
    let about = json!({
        "found": told.iter().map(found).collect::<Vec<_>>(),
        "moved": moved.collect::<Vec<_>>(),
        "also": also,
        "verdict": ruling.words(),
        "verdict_role": Role::of_verdict(ruling).name(),
        "counts": counts_in_words(change.counts, change.to_look_up),
        "paid": change.paid,
        "was": (change.total.0 != change.total.1).then_some(&change.total.0),
    });
    page.fill("change.txt", "", about);
}

/// Findings to tell of: what went, what came and what changed; those that changed in their figures
/// only where all of them are wanted.
fn told(change: &Change, all: bool) -> Vec<Told<'_>> {
    let cleared = change.cleared.iter().map(|is| Told {
        count: 1,
        role: "good",
        word: "cleared",
        was: None,
        is,
    });
    let raised = change.raised.iter().map(|is| Told {
        count: 0,
        role: is.level.word(),
        word: "raised",
        was: None,
        is,
    });
    let shifted = change.shifted.iter().filter_map(|(was, is)| {
        let (word, role) = eased(was, is).or(all.then_some(("changed", "plain")))?;
        let count = usize::from(role == "good");
        Some(Told { count, role, word, was: (was.level != is.level).then_some(was), is })
    });
    cleared.chain(raised).chain(shifted).collect()
}

/// Stops and cautions to tell of after a change, the worst first, raised before cleared.
fn worst_first(change: &Change) -> Vec<Told<'_>> {
    let mut all = told(change, false);
    all.retain(|of| of.is.level > Level::Advice);
    all.sort_by_key(|of| (std::cmp::Reverse(of.is.level), of.count));
    all
}

fn message(found: &Brief) -> String {
    format!("{}{}", found.message, if found.waived { " (waived)" } else { "" })
}

/// A line that changed: the word for that, what stands before the part's name, and behind it.
fn line_change(change: &LineChange, arrow: &str) -> Value {
    let (word, lead, name, more) = match change {
        LineChange::Swapped(from, to) => {
            let lead = format!("#{} {} {arrow} ", to.number, from.name);
            ("swapped", lead, to.name.clone(), altered(from, to))
        }
        LineChange::Altered(from, to) => {
            let chosen = |v: &LineView| v.chosen.clone().unwrap_or_else(|| "none".to_owned());
            let other = match from.chosen == to.chosen {
                true => String::new(),
                false => format!("; {} {arrow} {}", chosen(from), chosen(to)),
            };
            let more = format!("{other}{}", altered(from, to));
            ("changed", format!("#{} ", to.number), to.name.clone(), more)
        }
        LineChange::Added(line) => ("added", String::new(), label(line), String::new()),
        LineChange::Dropped(line) => ("dropped", String::new(), label(line), String::new()),
        LineChange::Boxed(came, name, _) => {
            let (word, now) = if *came { ("added", "now") } else { ("dropped", "no longer") };
            let lead = format!("{name}, {now} included with another part");
            (word, lead, String::new(), String::new())
        }
    };
    json!({ "word": word, "lead": lead, "name": name, "more": more })
}

/// What else changed on a line, each with a comma before it.
fn altered(from: &LineView, to: &LineView) -> String {
    let text = |v: &Option<Arc<str>>| v.as_deref().unwrap_or("none").to_owned();
    let whose = |v: &LineView| if v.owned { "the customer's" } else { "to buy" }.to_owned();
    let boxed = |v: &LineView| if v.included { "counted" } else { "left out" }.to_owned();
    let all =
        |v: &LineView| [v.count.to_string(), text(&v.mount), text(&v.flow), whose(v), boxed(v)];
    let keys = ["count", "mount", "flow", "from", "included parts:"];
    let values = keys.iter().zip(all(from).into_iter().zip(all(to)));
    let differ = values.filter(|(_, (was, is))| was != is);
    differ.map(|(key, (was, is))| format!(", {key} {was} to {is}")).collect()
}

/// The word for a finding whose level or waiver changed, and its colour; none where only its
/// figures did.
fn eased(was: &Brief, is: &Brief) -> Option<(&'static str, &'static str)> {
    match (is.level.cmp(&was.level), was.waived, is.waived) {
        (_, false, true) => Some(("waived", "good")),
        (_, true, false) => Some(("raised", is.level.word())),
        (std::cmp::Ordering::Less, ..) => Some(("eased", "good")),
        (std::cmp::Ordering::Greater, ..) => Some(("worse", is.level.word())),
        _ => None,
    }
}

/// How many findings there are, in the words of every report; facts to look up where nothing stops
/// the list.
pub fn counts_in_words([stops, cautions, advice]: [usize; 3], to_look_up: usize) -> Vec<String> {
    let facts = if stops == 0 { to_look_up } else { 0 };
    [(stops, "stop"), (cautions, "caution"), (facts, "fact to look up"), (advice, "advice")]
        .into_iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, noun)| count(n, noun))
        .collect()
}

/// Findings in force by level: stops, cautions, advice.
pub fn counts(snapshot: &Snapshot) -> [usize; 3] {
    [Level::Stop, Level::Caution, Level::Advice]
        .map(|level| snapshot.briefs.iter().filter(|f| f.level == level && !f.waived).count())
}

/// The lines of the build, numbered.
pub fn lines(page: &mut Page, snapshot: &Snapshot) {
    let resolved = snapshot.audit.build();
    let costs = line_costs(resolved);
    let line = |view: &LineView| {
        let price = match (view.owned, &view.part, costs.get(view.number - 1).copied().flatten()) {
            (true, ..) => "owned".to_owned(),
            (_, None, None) => "open".to_owned(),
            (_, _, None) => "no price".to_owned(),
            (_, _, Some(cost)) => cost.to_string(),
        };
        let without = if view.included { "" } else { ", without its included parts" };
        json!({ "number": view.number, "part": view.part.as_deref().unwrap_or("open"),
        "is_open": view.part.is_none(), "price": price, "names": names(view),
        "extras": format!("{}{without}", placed(view, ", ")) })
    };
    let boxed = resolved.all().filter(|(_, _, s)| s.included).filter_map(|(_, _, s)| {
        s.part.as_ref().map(|part| format!("{} (with #{})", part.id, s.line + 1))
    });
    let paid = resolved.paid();
    let about = json!({
        "lines": views(snapshot).iter().map(line).collect::<Vec<_>>(),
        "boxed": boxed.collect::<Vec<_>>(),
        "paid": paid.to_string(),
        "unpriced": paid.unpriced,
    });
    page.fill("lines.txt", "", about);
}

/// Measures with a word in their name; gives how many there were.
pub fn measures(page: &mut Page, snapshot: &Snapshot, pattern: Option<&str>) -> usize {
    let low = pattern.map(str::to_lowercase);
    let fits = |m: &&Measure| {
        let texts = [&m.id, &m.name, &m.title];
        low.as_deref().is_none_or(|low| texts.iter().any(|text| text.to_lowercase().contains(low)))
    };
    let shown = snapshot.measures.iter().filter(fits).map(|m| {
        json!({ "id": &*m.id, "words": m.words, "title": &*m.title, "applies": m.value.is_some() })
    });
    let shown: Vec<Value> = shown.collect();
    let found = shown.len();
    page.fill("measures.txt", "", json!({ "measures": shown }));
    found
}

/// The unified diff of two texts.
pub fn text_diff(page: &mut Page, old: &str, new: &str, names: (&str, &str)) {
    let lines = unified(old, new);
    if lines.is_empty() {
        return;
    }
    page.put(Role::Out, &format!("--- {}", names.0)).end();
    page.put(Role::In, &format!("+++ {}", names.1)).end();
    for line in lines {
        match line {
            DiffLine::Head(a, b, c, d) => {
                page.put(Role::Faint, &format!("@@ -{a},{b} +{c},{d} @@")).end();
            }
            DiffLine::NoEnd => {
                page.put(Role::Faint, "\\ no line end here").end();
            }
            DiffLine::Line(sign, pieces) => {
                let (role, mark) = match sign {
                    '-' => (Role::Out, Role::OutMark),
                    '+' => (Role::In, Role::InMark),
                    _ => (Role::Plain, Role::Plain),
                };
                page.put(role, &sign.to_string());
                for (marked, text) in pieces {
                    page.put(if marked { mark } else { role }, &text);
                }
                page.verbatim();
            }
        }
    }
}
