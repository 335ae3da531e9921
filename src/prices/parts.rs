//! Lists of parts: filtered and sorted by an expression, fitting a build or not.

use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;
use serde_json::{Value, json};

use crate::app::report::count;
use crate::app::report::escape::indented;
use crate::app::report::style::Look;
use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::rules::filters::{CompiledFilter, FilterValue};
use crate::source::{Problem, Problems, Source, clip};
use crate::trade::money::Money;

use super::check::amount;
use super::sheet::{self, Row, columns};
use crate::whatif::open_lines::{Measure, nth_of, with};

/// What is asked of a list.
#[derive(Debug, Default)]
pub struct Query<'a> {
    /// Keep parts for which this holds.
    pub filter: Option<&'a str>,
    /// Sort by this, the least first.
    pub by: Option<&'a str>,
    /// The greatest first.
    pub down: bool,
}

/// What came of it.
#[derive(Debug)]
pub struct List {
    /// The parts, in order.
    pub parts: Vec<Listed>,
    /// The day the prices are of.
    pub priced_on: Date,
    /// What they are sorted by, as it was asked.
    pub by: Option<String>,
}

/// One part of the list.
#[derive(Debug)]
pub struct Listed {
    /// The part.
    pub part: Arc<Part>,
    /// Its price on the day.
    pub price: Option<Money>,
    /// What the sort key gave.
    pub key: Option<FilterValue>,
    /// Whether the build holds it there now.
    pub held: bool,
    /// What the build would cost more with it, all pieces together; none where the build holds
    /// nothing there that has a price.
    pub more: Option<Money>,
    /// Rules that would stop the build with it.
    pub stopped_by: Vec<String>,
}

/// The parts of a kind, in a build when one is given: there each takes the first line of its kind,
/// or a new one.
///
/// # Errors
/// The kind does not exist, or an expression is wrong.
pub fn listed(
    kit: &Kit,
    kind: &str,
    query: &Query<'_>,
    build: Option<&Build>,
    day: Date,
) -> Result<List, Problems> {
    let catalogue = kit.catalogue();
    let Some(kind) = catalogue.kind_id(kind) else {
        return Err(Problem::new(format!("there is no kind `{kind}`"))
            .suggest(kind, catalogue.kinds.iter().map(|k| &*k.name))
            .into());
    };
    let ask = |text: Option<&str>| {
        text.map(|t| kit.asked(kind, t).map_err(|p| Problems::from(*p))).transpose()
    };
    let (filter, by) = (ask(query.filter)?, ask(query.by)?);
    let (base, line) = stage(kit, kind, build, day)?;
    let measure = build.map(|_| Measure::of(&kit.audit(&opened(&base, line, kind))));
    let mut parts = Vec::new();
    let held = build.and_then(|_| held(&base, line));
    let was = held
        .as_ref()
        .and_then(|(part, count)| Some((price(kit, &base, line, kind, part)?, *count)));
    for part in catalogue.parts_of(kind) {
        let placed = with(&base, line, part);
        let resolved = Rc::new(Resolved::new(Arc::new(placed), catalogue.clone()));
        let nth = nth_of(&resolved, kind, line);
        if let Some(filter) = &filter
            && !holds(kit, filter, &resolved, nth)?
        {
            continue;
        }
        let key = by
            .as_ref()
            .map(|b| kit.answer(b, &resolved, nth).map_err(|p| Problems::from(*p)))
            .transpose()?;
        let price = resolved.slot(kind, nth).and_then(|s| resolved.facts(s).price);
        let more = price.zip(was).and_then(|(now, (was, count))| {
            now.checked_sub(&was).and_then(|d| d.times(count)).ok()
        });
        let held = held.as_ref().is_some_and(|(held, _)| held.id == part.id);
        let stopped_by =
            measure.as_ref().map_or_else(Vec::new, |m| m.over(&kit.audit(&resolved.build)));
        parts.push(Listed { part: part.clone(), price, key, held, more, stopped_by });
    }
    if by.is_some() {
        parts.sort_by(|a, b| {
            order(&a.key, &b.key, query.down).then_with(|| a.part.id.cmp(&b.part.id))
        });
    }
    Ok(List { parts, priced_on: base.priced_on, by: query.by.map(str::to_owned) })
}

/// The part that a line holds, and its pieces.
fn held(build: &Build, line: usize) -> Option<(Arc<Part>, i64)> {
    let line = build.lines.get(line)?;
    match &line.what {
        What::Part(part) => Some((part.clone(), i64::from(line.count))),
        What::Open { .. } => None,
    }
}

fn price(kit: &Kit, build: &Build, line: usize, kind: KindId, part: &Arc<Part>) -> Option<Money> {
    let resolved = Resolved::new(Arc::new(with(build, line, part)), kit.catalogue().clone());
    resolved.slot(kind, nth_of(&resolved, kind, line)).and_then(|slot| resolved.facts(slot).price)
}

fn holds(
    kit: &Kit,
    filter: &CompiledFilter,
    build: &Rc<Resolved>,
    nth: u16,
) -> Result<bool, Problems> {
    match kit.answer(filter, build, nth).map_err(|p| Problems::from(*p))? {
        FilterValue::Flag(flag) => Ok(flag),
        FilterValue::Absent => Ok(false),
        _ => Err(Problem::new("the filter is a question, answered by yes or no")
            .help("compare something: `price < 100`; what to sort by comes second")
            .into()),
    }
}

/// Parts that leave the key out come last, whichever way the list runs.
fn order(a: &Option<FilterValue>, b: &Option<FilterValue>, down: bool) -> std::cmp::Ordering {
    use std::cmp::Ordering::{Equal, Greater, Less};
    let turned = |o: std::cmp::Ordering| if down { o.reverse() } else { o };
    match (a, b) {
        (Some(FilterValue::Number(a)), Some(FilterValue::Number(b))) => turned(a.total_cmp(b)),
        (Some(FilterValue::Text(a)), Some(FilterValue::Text(b))) => turned(a.cmp(b)),
        (Some(FilterValue::Flag(a)), Some(FilterValue::Flag(b))) => turned(b.cmp(a)),
        (Some(FilterValue::Absent) | None, Some(FilterValue::Absent) | None) => Equal,
        (Some(FilterValue::Absent) | None, _) => Greater,
        (_, Some(FilterValue::Absent) | None) => Less,
        _ => Equal,
    }
}

/// The build that each part is put in, and the line it takes.
fn stage(
    kit: &Kit,
    kind: KindId,
    build: Option<&Build>,
    day: Date,
) -> Result<(Build, usize), Problems> {
    let catalogue = kit.catalogue();
    let lone = |part: &Arc<Part>| {
        kit.read(&Source::new("<list>", format!("[[line]]\npart = \"{}\"\n", part.id)), day)
    };
    let Some(first) = catalogue.parts_of(kind).next() else {
        return Err(Problem::new("the catalogue has no part of this kind").into());
    };
    let alone = lone(first)?;
    let Some(build) = build else { return Ok((alone, 0)) };
    let mut build = build.clone();
    let held = build.of_kind(kind).next().map(|(line, _)| line);
    if let Some(line) = held {
        if let Some(slot) = build.lines.get_mut(line) {
            slot.owned = false;
            slot.stated = None;
        }
        return Ok((build, line));
    }
    build.lines.extend(alone.lines);
    let line = build.lines.len().saturating_sub(1);
    Ok((build, line))
}

/// The same build with that line open: what stops it then does not come from the line.
fn opened(build: &Build, line: usize, kind: KindId) -> Build {
    let mut build = build.clone();
    if let Some(slot) = build.lines.get_mut(line) {
        slot.what = What::Open { kind, wants: Vec::new() };
    }
    build
}

/// Numbers get as many decimals as the one that needs most, so that they stand under one another:
/// four at the most, two from a hundred on.
fn key_words(list: &[&Listed]) -> Vec<String> {
    let decimals = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => {
            let text = if n.abs() >= 100.0 { format!("{n:.2}") } else { format!("{n:.4}") };
            text.trim_end_matches('0').split_once('.').map_or(0, |(_, d)| d.len())
        }
        _ => 0,
    };
    // One decimal is mostly half of an amount of money.
    let most = match list.iter().map(|l| decimals(&l.key)).max() {
        Some(1) => 2,
        most => most.unwrap_or(0),
    };
    let words = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => format!("{n:.most$}"),
        Some(FilterValue::Text(text)) => text.clone(),
        Some(FilterValue::Flag(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(FilterValue::Absent) => "not given".to_owned(),
        None => String::new(),
    };
    list.iter().map(|l| words(&l.key)).collect()
}

/// What stands over the key: a measure's name, or the expression as far as there is room.
fn heading(by: &str) -> String {
    clip(by.strip_prefix("measure(\"").and_then(|m| m.strip_suffix("\")")).unwrap_or(by), 24)
}

/// The list for people. Without `all`, parts that would stop the build are only counted; where
/// there is no room, names give way to ids.
pub fn text(look: Look, list: &List, all: bool) -> String {
    let shown: Vec<&Listed> =
        list.parts.iter().filter(|l| all || l.stopped_by.is_empty()).collect();
    // Sorted by price, the key would say the price twice.
    let by = list.by.as_deref().filter(|by| *by != "price");
    let in_build = shown.iter().any(|l| l.more.is_some() || l.held);
    let stopped = shown.iter().any(|l| !l.stopped_by.is_empty());
    let mut rows = vec![
        ["part", "name", "price", "change", &by.map_or_else(String::new, heading), ""]
            .map(str::to_owned),
    ];
    for (l, key) in shown.iter().zip(key_words(&shown)) {
        let price = l.price.map_or_else(|| "no offer".to_owned(), |p| p.to_string());
        let change = match (&l.more, l.held) {
            (_, true) => "held now".to_owned(),
            (Some(more), _) if more.is_negative() => more.to_string(),
            (Some(more), _) => format!("+{more}"),
            (None, _) => String::new(),
        };
        let stop = if l.stopped_by.is_empty() {
            String::new()
        } else {
            format!("stopped by {}", l.stopped_by.join(", "))
        };
        rows.push([l.part.id.to_string(), l.part.name.to_string(), price, change, key, stop]);
    }
    let laid = |names: bool| {
        let kept = [true, names, true, in_build, by.is_some(), stopped];
        let right: Vec<usize> = (2..5)
            .filter(|at| kept.get(*at) == Some(&true))
            .map(|at| kept.iter().take(at).filter(|k| **k).count())
            .collect();
        let cut = |row: &[String; 6]| {
            row.iter().zip(kept).filter(|(_, kept)| *kept).map(|(cell, _)| cell.clone()).collect()
        };
        columns(look, &rows.iter().map(cut).collect::<Vec<Row>>(), &right)
    };
    let mut out = String::new();
    if !shown.is_empty() {
        let full = laid(true);
        let fits = full.lines().count() == rows.len();
        out = if fits { full } else { laid(false) } + "\n";
    }
    let hidden = list.parts.len() - shown.len();
    let more = if hidden > 0 {
        format!("; {hidden} more would stop the build, --all lists them")
    } else {
        String::new()
    };
    out.push_str(&indented(
        &format!("{}{more}. Prices of {}.", count(shown.len(), "part"), list.priced_on),
        "",
        "  ",
        look.width,
    ));
    out
}

/// The list for spreadsheets.
pub fn csv(list: &List) -> String {
    let mut rows: Vec<Row> = vec![
        ["part", "name", "price", "currency", "more", "key", "stopped_by"]
            .map(str::to_owned)
            .to_vec(),
    ];
    let all: Vec<&Listed> = list.parts.iter().collect();
    for (l, key) in list.parts.iter().zip(key_words(&all)) {
        let (price, code) =
            l.price.map_or_else(Default::default, |p| (amount(&p), p.currency().code().to_owned()));
        let more = l.more.as_ref().map_or_else(String::new, amount);
        rows.push(vec![
            l.part.id.to_string(),
            l.part.name.to_string(),
            price,
            code,
            more,
            key,
            l.stopped_by.join(" "),
        ]);
    }
    sheet::csv(&rows)
}

/// The list for programs: format `dryfit-parts`, version 1.
pub fn json(list: &List) -> Value {
    let key = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => json!(n),
        Some(FilterValue::Text(text)) => json!(text),
        Some(FilterValue::Flag(flag)) => json!(flag),
        Some(FilterValue::Absent) | None => Value::Null,
    };
    let one = |l: &Listed| {
        json!({
            "part": &*l.part.id, "name": &*l.part.name, "price": l.price.as_ref().map(amount),
            "key": key(&l.key),
            "held": l.held, "more": l.more.as_ref().map(amount), "stopped_by": l.stopped_by,
        })
    };
    let parts: Vec<Value> = list.parts.iter().map(one).collect();
    json!({ "format": "dryfit-parts", "version": 1, "priced_on": list.priced_on.to_string(),
    "by": list.by, "parts": parts })
}
