//! Lists of parts: filtered and sorted by an expression, fitting a build or not.

use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;

use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::kit::filters::{CompiledFilter, FilterValue};
use crate::source::{Problem, Problems, Source};
use crate::trade::money::Money;

use crate::whatif::open_lines::nth_of;
use crate::whatif::present_stops::Measure;

/// What is asked of a list.
#[derive(Debug, Default)]
pub struct Query<'a> {
    /// Keep parts for which this holds.
    pub filter: Option<&'a str>,
    /// Keep these parts only, by their ids.
    pub among: Option<Vec<Arc<str>>>,
    /// Sort by this, the least first.
    pub by: Option<&'a str>,
    /// The greatest first.
    pub down: bool,
}

/// The result.
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
    /// Rules that may stop the build with it, as nobody said a fact of the part.
    pub left_open: Vec<String>,
}

/// The parts of a kind, in a build when one is given: there each takes the first line of its kind,
/// or a new one.
/// Errors: the kind does not exist, or an expression is wrong.
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
    let among = |part: &Arc<Part>| query.among.as_ref().is_none_or(|ids| ids.contains(&part.id));
    for part in catalogue.parts_of(kind).filter(|part| among(part)) {
        let placed = base.with_part(line, part);
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
        let audited = measure.as_ref().map(|m| (m, kit.audit(&resolved.build)));
        let (stopped_by, left_open) = audited
            .map(|(m, audit)| (m.over(&audit), m.left_open(&audit, |at| at == line)))
            .unwrap_or_default();
        parts.push(Listed { part: part.clone(), price, key, held, more, stopped_by, left_open });
    }
    // The cheapest first where nothing else is asked; what has no price stands last.
    let price = |l: &Listed| (l.price.is_none(), l.price.map_or(0, |p| p.minor()));
    parts.sort_by(|a, b| {
        let of_price = price(a).cmp(&price(b));
        let first = if by.is_some() { order(&a.key, &b.key, query.down) } else { of_price };
        first.then_with(|| a.part.id.cmp(&b.part.id))
    });
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
    let resolved = Resolved::new(Arc::new(build.with_part(line, part)), kit.catalogue().clone());
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
