//! Drift: what moved since the quote, what is gone, and which single swap would put the build back
//! under its budget.

use std::collections::HashSet;
use std::sync::Arc;

use jiff::civil::Date;
use serde_json::{Value, json};

use crate::app::report::count;
use crate::app::report::style::Look;
use crate::audit::verdict::Level;
use crate::build::fields::build_field;
use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::catalogue::value::Val;
use crate::kit::{Audit, Kit};
use crate::trade::money::{Currency, Money};

use super::sheet::{Row, columns};
use crate::whatif::open_lines::with;

/// Most swaps that are audited for one build.
const MOST_SWAPS: usize = 600;
/// Most swaps that are shown.
const MOST_SHOWN: usize = 3;

/// What moved since a build was quoted.
#[derive(Debug)]
pub struct Drift {
    /// The day it is looked at.
    pub on: Date,
    /// Lines with a quote.
    pub lines: Vec<LineDrift>,
    /// Lines to be bought that hold no quote.
    pub unquoted: usize,
    /// The quoted lines as they were quoted.
    pub then: Money,
    /// The quoted lines that have an offer, as they are now.
    pub now: Money,
    /// The whole list now.
    pub total: Money,
    /// What it may cost.
    pub budget: Option<f64>,
    /// Swaps that would put it back under budget at the same findings, the smallest step first.
    pub swaps: Vec<Swap>,
    /// Whether every swap that could was looked at.
    pub all_tried: bool,
}

/// What moved on a line; amounts are of all its pieces.
#[derive(Debug)]
pub struct LineDrift {
    /// The part's id.
    pub part: Arc<str>,
    /// Its name.
    pub name: Arc<str>,
    /// As quoted.
    pub then: Money,
    /// The day of the quote.
    pub quoted_on: Date,
    /// As it is now; none when no seller has it.
    pub now: Option<Money>,
}

/// One part in place of another.
#[derive(Debug)]
pub struct Swap {
    /// What gives way.
    pub from: Arc<Part>,
    /// What comes.
    pub to: Arc<Part>,
    /// What the list would come to.
    pub total: Money,
}

impl Drift {
    /// How far the list is over its budget.
    pub fn over(&self) -> Option<f64> {
        self.budget.map(|b| self.total.to_f64() - b).filter(|over| *over > 0.000_01)
    }

    /// 1 when the quoted lines cost more, something is gone, or the list is over its budget.
    pub fn code(&self) -> u8 {
        let dearer = self.now.minor()
            > self.lines.iter().filter(|l| l.now.is_some()).map(|l| l.then.minor()).sum();
        u8::from(dearer || self.lines.iter().any(|l| l.now.is_none()) || self.over().is_some())
    }
}

/// Compares a build's quotes with the offers of a day, which is the build's pricing day by then.
pub fn drift(kit: &Kit, build: &Build) -> Drift {
    let audit = kit.audit(build);
    let resolved = audit.build();
    let zero = zero(build, resolved);
    let mut drift = Drift {
        on: build.priced_on,
        lines: Vec::new(),
        unquoted: 0,
        then: zero,
        now: zero,
        total: zero,
        budget: budget(build),
        swaps: Vec::new(),
        all_tried: true,
    };
    let add = |sum: &mut Money, money: &Money| *sum = sum.checked_add(money).unwrap_or(*sum);
    for (_, _, slot) in resolved.all().filter(|(_, _, s)| !s.owned && !s.included) {
        let (Some(part), Some(line)) = (&slot.part, build.lines.get(slot.line)) else { continue };
        let facts = resolved.facts(slot);
        let all = |each: Money| each.times(i64::from(line.count)).unwrap_or(each);
        let now = facts.price.map(all);
        if let Some(now) = &now {
            add(&mut drift.total, now);
        }
        let Some(quote) = line.quoted.filter(|q| q.price.currency() == zero.currency()) else {
            drift.unquoted += 1;
            continue;
        };
        let now = now.filter(|_| facts.sellers > 0.0);
        let then = all(quote.price);
        add(&mut drift.then, &then);
        if let Some(now) = &now {
            add(&mut drift.now, now);
        }
        drift.lines.push(LineDrift {
            part: part.id.clone(),
            name: part.name.clone(),
            then,
            quoted_on: quote.on,
            now,
        });
    }
    drift.lines.sort_by_key(|l| {
        build.lines.iter().position(|b| matches!(&b.what, What::Part(p) if p.id == l.part))
    });
    if drift.over().is_some() {
        swaps(kit, build, &audit, &mut drift);
    }
    drift
}

/// Nothing, in the build's currency; one that the table lacks has no offers, so nothing is summed
/// in it.
fn zero(build: &Build, resolved: &Resolved) -> Money {
    let any = || resolved.all().find_map(|(_, _, s)| resolved.facts(s).price).map(|m| m.currency());
    Money::zero(Currency::from_code(&build.currency).or_else(any).unwrap_or(Currency::EURO))
}

fn budget(build: &Build) -> Option<f64> {
    build_field("budget").and_then(|at| build.values.get(at as usize)).and_then(Val::as_num)
}

/// Findings that a swap may not add to; what is said of the budget is what it is to cure.
fn findings(audit: &Audit) -> HashSet<(String, Level)> {
    audit
        .findings()
        .into_iter()
        .filter(|f| {
            f.waived.is_none() && !f.rule.starts_with("value.") && !f.rule.starts_with("money.")
        })
        .map(|f| (f.rule, f.level))
        .collect()
}

fn swaps(kit: &Kit, build: &Build, audit: &Audit, drift: &mut Drift) {
    let Some(budget) = drift.budget else { return };
    let held = findings(audit);
    let broken = audit.broken().len();
    let resolved = audit.build();
    let mut steps: Vec<(i64, usize, Arc<Part>, Arc<Part>)> = Vec::new();
    for (kind, _, slot) in resolved.all().filter(|(_, _, s)| !s.owned && !s.included) {
        let (Some(from), Some(price)) = (&slot.part, resolved.facts(slot).price) else { continue };
        for to in kit.catalogue().parts_of(kind).filter(|p| p.id != from.id) {
            let next = Resolved::new(Arc::new(with(build, slot.line, to)), kit.catalogue().clone());
            let facts = next
                .slots(kind)
                .iter()
                .find(|s| s.line == slot.line && !s.included)
                .map(|s| next.facts(s));
            let Some(cost) = facts.filter(|f| f.sellers > 0.0).and_then(|f| f.price) else {
                continue;
            };
            let total = drift.total.minor() + (cost.minor() - price.minor()) * slot.count as i64;
            if Money::from_minor(total, drift.total.currency()).to_f64() <= budget + 0.000_01 {
                steps.push((total, slot.line, from.clone(), to.clone()));
            }
        }
    }
    // The smallest step down first: it is felt least.
    steps.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.3.id.cmp(&b.3.id)));
    drift.all_tried = steps.len() <= MOST_SWAPS;
    for (total, line, from, to) in steps.into_iter().take(MOST_SWAPS) {
        let audit = kit.audit(&with(build, line, &to));
        if audit.broken().len() <= broken && findings(&audit).is_subset(&held) {
            drift.swaps.push(Swap {
                from,
                to,
                total: Money::from_minor(total, drift.total.currency()),
            });
            if drift.swaps.len() >= MOST_SHOWN {
                return;
            }
        }
    }
}

/// The drift in words.
pub fn text(look: Look, file: &str, drift: &Drift) -> String {
    let mut rows: Vec<Row> = Vec::new();
    for line in &drift.lines {
        let (now, moved) = match &line.now {
            None => ("gone".to_owned(), "no seller has it".to_owned()),
            Some(now) if *now == line.then => (now.to_string(), String::new()),
            Some(now) => (now.to_string(), signed(now, &line.then)),
        };
        rows.push(vec![
            line.name.to_string(),
            line.then.to_string(),
            format!("on {}", line.quoted_on),
            now,
            moved,
        ]);
    }
    let mut out = look_head(look, &format!("{file}, prices of {}", drift.on));
    out.push_str(&columns(look, &rows, &[1, 3, 4]));
    if drift.lines.is_empty() {
        out.push_str(
            &look.paragraph("No line holds a quote: `dryfit prices quote BUILD` writes them."),
        );
    } else {
        let kept: i64 =
            drift.lines.iter().filter(|l| l.now.is_some()).map(|l| l.then.minor()).sum();
        let kept = Money::from_minor(kept, drift.then.currency());
        let moved =
            if kept == drift.now { "unchanged".to_owned() } else { signed(&drift.now, &kept) };
        let gone = drift.lines.iter().filter(|l| l.now.is_none()).count();
        let gone = if gone > 0 {
            format!("; {} gone, quoted at {}", count(gone, "line"), minus(&drift.then, &kept))
        } else {
            String::new()
        };
        out.push_str(
            &look.paragraph(&format!(
                "Quoted lines: {kept} then, {} now, {moved}{gone}.",
                drift.now
            )),
        );
    }
    if drift.unquoted > 0 && !drift.lines.is_empty() {
        out.push_str(
            &look.paragraph(&format!("Without a quote: {}.", count(drift.unquoted, "line"))),
        );
    }
    out.push_str(&budget_words(look, drift));
    out
}

fn look_head(look: Look, text: &str) -> String {
    crate::app::report::escape::indented(
        &crate::app::report::escape::inert(text),
        "",
        "  ",
        look.width,
    )
}

fn minus(a: &Money, b: &Money) -> Money {
    a.checked_sub(b).unwrap_or(*a)
}

fn signed(now: &Money, then: &Money) -> String {
    let by = minus(now, then);
    if by.is_negative() { by.to_string() } else { format!("+{by}") }
}

fn budget_words(look: Look, drift: &Drift) -> String {
    let Some(budget) = drift.budget else {
        return look.paragraph(&format!("The list comes to {}.", drift.total));
    };
    let code = drift.total.currency();
    let Some(over) = drift.over() else {
        return look
            .paragraph(&format!("The list comes to {} of {budget:.2} {code}.", drift.total));
    };
    let mut out = look.paragraph(&format!(
        "The list comes to {}, {over:.2} {code} over the budget of {budget:.2} {code}.",
        drift.total
    ));
    if drift.swaps.is_empty() {
        let tried = if drift.all_tried { "No single swap" } else { "None of the nearest swaps" };
        out.push_str(&look.paragraph(&format!("{tried} puts it back under at the same findings.")));
    } else {
        out.push_str(&look.paragraph("Back under it at the same findings, one swap:"));
        for swap in &drift.swaps {
            let saved = minus(&drift.total, &swap.total);
            out.push_str(&look.paragraph(&format!(
                "  {} ({}) in place of {}: {saved} less, {} in all",
                swap.to.name, swap.to.id, swap.from.name, swap.total
            )));
        }
    }
    out
}

/// The drift as JSON.
pub fn value(file: &str, drift: &Drift) -> Value {
    json!({
        "file": file,
        "on": drift.on.to_string(),
        "currency": drift.total.currency().code(),
        "lines": drift.lines.iter().map(|l| json!({
            "part": &*l.part, "quoted": amount(&l.then), "quoted_on": l.quoted_on.to_string(),
            "now": l.now.as_ref().map(amount), "gone": l.now.is_none(),
        })).collect::<Vec<_>>(),
        "unquoted": drift.unquoted,
        "quoted_total": amount(&drift.then),
        "now_total": amount(&drift.now),
        "total": amount(&drift.total),
        "budget": drift.budget,
        "over": drift.over().map(|o| format!("{o:.2}")),
        "swaps": drift.swaps.iter().map(|s| json!({ "from": &*s.from.id, "to": &*s.to.id,
        "total": amount(&s.total) })).collect::<Vec<_>>(),
    })
}

/// An amount without its currency, exact, as text: JSON numbers are not.
pub(super) fn amount(money: &Money) -> String {
    money.to_string().split(' ').next().unwrap_or("").to_owned()
}

/// The drift of several builds for spreadsheets: a row a line.
pub fn csv(builds: &[Value]) -> String {
    let mut rows: Vec<Row> = vec![
        ["file", "part", "quoted", "quoted_on", "now", "currency"].map(str::to_owned).to_vec(),
    ];
    let text = |value: Option<&Value>| value.and_then(Value::as_str).unwrap_or("").to_owned();
    for build in builds {
        for line in build.get("lines").and_then(Value::as_array).into_iter().flatten() {
            rows.push(vec![
                text(build.get("file")),
                text(line.get("part")),
                text(line.get("quoted")),
                text(line.get("quoted_on")),
                text(line.get("now")),
                text(build.get("currency")),
            ]);
        }
    }
    super::sheet::csv(&rows)
}
