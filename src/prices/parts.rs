//! Lists of parts: filtered and sorted by an expression, fitting a build or not.

use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;
use serde_json::{Value, json};

use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::report::count;
use crate::report::style::Look;
use crate::rules::wants::{Answered, Asked};
use crate::source::{Problem, Problems, Source};
use crate::trade::money::Money;

use super::check::amount;
use super::sheet::{self, Row, columns};
use crate::whatif::open::{Measure, nth_of, with};

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

/// One part of the list.
#[derive(Debug)]
pub struct Listed {
    /// The part.
    pub part: Arc<Part>,
    /// Its price on the day.
    pub price: Option<Money>,
    /// What the sort key gave.
    pub key: Option<Answered>,
    /// Rules that would stop the build with it.
    pub stopped_by: Vec<String>,
}

/// The parts of a kind, in a build when one is given: there each takes the first line of its kind, or a new one.
///
/// # Errors
/// The kind does not exist, or an expression is wrong.
pub fn listed(kit: &Kit, kind: &str, query: &Query<'_>, build: Option<&Build>, day: Date) -> Result<Vec<Listed>, Problems> {
    let catalogue = kit.catalogue();
    let Some(kind) = catalogue.kind_id(kind) else {
        return Err(Problem::new(format!("there is no kind `{kind}`")).suggest(kind, catalogue.kinds.iter().map(|k| &*k.name)).into());
    };
    let ask = |text: Option<&str>| text.map(|t| kit.asked(kind, t).map_err(|p| Problems::from(*p))).transpose();
    let (filter, by) = (ask(query.filter)?, ask(query.by)?);
    let (base, line) = stage(kit, kind, build, day)?;
    let measure = build.map(|_| Measure::of(&kit.audit(&opened(&base, line, kind))));
    let mut list = Vec::new();
    for part in catalogue.parts_of(kind) {
        let placed = with(&base, line, part);
        let resolved = Rc::new(Resolved::new(Arc::new(placed), catalogue.clone()));
        let nth = nth_of(&resolved, kind, line);
        if let Some(filter) = &filter
            && !holds(kit, filter, &resolved, nth)?
        {
            continue;
        }
        let key = by.as_ref().map(|b| kit.answer(b, &resolved, nth).map_err(|p| Problems::from(*p))).transpose()?;
        let price = resolved.slot(kind, nth).and_then(|s| resolved.facts(s).price);
        let stopped_by = measure.as_ref().map_or_else(Vec::new, |m| m.over(&kit.audit(&resolved.build)));
        list.push(Listed { part: part.clone(), price, key, stopped_by });
    }
    if by.is_some() {
        list.sort_by(|a, b| order(&a.key, &b.key, query.down).then_with(|| a.part.id.cmp(&b.part.id)));
    }
    Ok(list)
}

fn holds(kit: &Kit, filter: &Asked, build: &Rc<Resolved>, nth: u16) -> Result<bool, Problems> {
    match kit.answer(filter, build, nth).map_err(|p| Problems::from(*p))? {
        Answered::Flag(flag) => Ok(flag),
        Answered::Absent => Ok(false),
        _ => Err(Problem::new("the filter is a question, answered by yes or no").help("compare something: `price < 100`; what to sort by comes second").into()),
    }
}

/// Parts that leave the key out come last, whichever way the list runs.
fn order(a: &Option<Answered>, b: &Option<Answered>, down: bool) -> std::cmp::Ordering {
    use std::cmp::Ordering::{Equal, Greater, Less};
    let turned = |o: std::cmp::Ordering| if down { o.reverse() } else { o };
    match (a, b) {
        (Some(Answered::Number(a)), Some(Answered::Number(b))) => turned(a.total_cmp(b)),
        (Some(Answered::Text(a)), Some(Answered::Text(b))) => turned(a.cmp(b)),
        (Some(Answered::Flag(a)), Some(Answered::Flag(b))) => turned(b.cmp(a)),
        (Some(Answered::Absent) | None, Some(Answered::Absent) | None) => Equal,
        (Some(Answered::Absent) | None, _) => Greater,
        (_, Some(Answered::Absent) | None) => Less,
        _ => Equal,
    }
}

/// The build that each part is put in, and the line it takes.
fn stage(kit: &Kit, kind: KindId, build: Option<&Build>, day: Date) -> Result<(Build, usize), Problems> {
    let catalogue = kit.catalogue();
    let lone = |part: &Arc<Part>| kit.read(&Source::new("<list>", format!("[[line]]\npart = \"{}\"\n", part.id)), day);
    let Some(first) = catalogue.parts_of(kind).next() else { return Err(Problem::new("the catalogue has no part of this kind").into()) };
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

fn key_words(key: &Option<Answered>) -> String {
    match key {
        Some(Answered::Number(n)) => {
            let text = format!("{n:.4}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
        Some(Answered::Text(text)) => text.clone(),
        Some(Answered::Flag(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(Answered::Absent) => "not given".to_owned(),
        None => String::new(),
    }
}

/// The list for people. Without `all`, parts that would stop the build are only counted.
pub fn text(look: Look, list: &[Listed], all: bool) -> String {
    let shown: Vec<&Listed> = list.iter().filter(|l| all || l.stopped_by.is_empty()).collect();
    let row = |l: &&Listed| -> Row {
        let price = l.price.map_or_else(|| "no offer".to_owned(), |p| p.to_string());
        let stopped = if l.stopped_by.is_empty() { String::new() } else { format!("stopped by {}", l.stopped_by.join(", ")) };
        vec![l.part.id.to_string(), l.part.name.to_string(), price, key_words(&l.key), stopped]
    };
    let mut out = columns(look, &shown.iter().map(row).collect::<Vec<_>>(), &[2, 3]);
    let hidden = list.len() - shown.len();
    let more = if hidden > 0 { format!("; {hidden} more would stop the build, --all lists them") } else { String::new() };
    out.push_str(&format!("\n{}{more}\n", count(shown.len(), "part")));
    out
}

/// The list for spreadsheets.
pub fn csv(list: &[Listed]) -> String {
    let mut rows: Vec<Row> = vec![["part", "name", "price", "currency", "key", "stopped_by"].map(str::to_owned).to_vec()];
    for l in list {
        let (price, code) = l.price.map_or_else(Default::default, |p| (amount(&p), p.currency().code().to_owned()));
        rows.push(vec![l.part.id.to_string(), l.part.name.to_string(), price, code, key_words(&l.key), l.stopped_by.join(" ")]);
    }
    sheet::csv(&rows)
}

/// The list for programs: format `dryfit-parts`, version 1.
pub fn json(list: &[Listed]) -> Value {
    let key = |key: &Option<Answered>| match key {
        Some(Answered::Number(n)) => json!(n),
        Some(Answered::Text(text)) => json!(text),
        Some(Answered::Flag(flag)) => json!(flag),
        Some(Answered::Absent) | None => Value::Null,
    };
    let one = |l: &Listed| json!({ "part": &*l.part.id, "name": &*l.part.name, "price": l.price.as_ref().map(amount), "key": key(&l.key), "stopped_by": l.stopped_by });
    json!({ "format": "dryfit-parts", "version": 1, "parts": list.iter().map(one).collect::<Vec<_>>() })
}
