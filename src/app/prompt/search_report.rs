//! What searches found, as the templates of their pages are given it.

use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::prompt::line_lookup::label;
use crate::app::prompt::search_commands::LineSteps;
use crate::app::report::json::join;
use crate::app::report::page::Page;
use crate::app::report::search_json::{self, levels, money};
use crate::app::report::style::Role;
use crate::audit::wording::figure;
use crate::build::brief::Brief;
use crate::build::{Line, What};
use crate::rules::loader::Better;
use crate::trade::money::Money;
use crate::whatif::fit::{Fit, FitMeasure, FitRow, Step, share};
use crate::whatif::mend::{Mend, MendChange, MendLoss, MendLossWords, MendWay};
use crate::whatif::mix::{Mix, Mixture};
use crate::whatif::plan::{Plan, WhyNot};
use crate::whatif::trial::Snapshot;

/// Rows shown before the rest is only counted.
pub const MOST_ROWS: usize = 12;
/// Measures told of one row.
const MOST_MOVED: usize = 3;
/// Trade-offs shown of all that nothing else beats.
const MOST_TRADE_OFFS: usize = 6;

pub(crate) fn signed(money: Money) -> String {
    if money.minor() > 0 { format!("+{money}") } else { money.to_string() }
}

/// What open lines are judged with while other lines are looked at, and whether facts that nobody
/// said are trusted.
pub(super) fn open_lines(page: &mut Page, list: &Snapshot, trusting: bool) {
    trusted(page, trusting);
    for choice in &list.chosen {
        let (line, part) = (choice.line_words(), &choice.part);
        let text = format!("The {line} is judged with {} ({}).", part.name, part.id);
        page.flow(Role::Faint, &text, 2);
    }
    for problem in list.left.iter().chain(&list.unread.0) {
        page.flow(Role::Wrong, &format!("{}.", problem.message), 2);
    }
}

/// Says that an answer trusts facts that nobody said.
pub(super) fn trusted(page: &mut Page, trusting: bool) {
    if trusting {
        let words = "Facts of parts that nobody said are taken to fit (--trust-unknown): look them \
                     up before you order.";
        page.flow(Role::Level(crate::level::Level::Caution), words, 2);
    }
}

/// What could stand on a line. With `all`, beaten rows and advice too; with `by`, in order of a
/// measure.
pub(super) fn fit(page: &mut Page, fit: &Fit, by: Option<usize>, all: bool, currency: &str) {
    let mut rows: Vec<&FitRow> = fit.rows.iter().filter(|r| all || !r.beaten).collect();
    let kept = rows.len();
    // What nobody sells is seldom what is looked for.
    if rows.iter().any(|row| row.more.is_some()) {
        rows.retain(|row| all || row.more.is_some());
    }
    let unsold = kept - rows.len();
    if let Some((at, told)) = by.and_then(|at| fit.measures.get(at).map(|t| (at, t))) {
        let value = |row: &FitRow| {
            let moved = row.moved.iter().find(|(m, ..)| *m == at);
            let to = moved.map_or(0.0, |(_, from, to)| to - from);
            if told.better == Better::More { -to } else { to }
        };
        rows.sort_by(|a, b| value(a).total_cmp(&value(b)));
    }
    let all_rows = rows.len();
    rows.truncate(if all { usize::MAX } else { MOST_ROWS });
    let shown = rows.iter().map(|row| {
        join(search_json::row(fit, row), json!({ "figures": figures(fit, row, by, all) }))
    });
    let about = json!({
        "now": fit.now.as_ref().map(|part| &*part.name),
        "none": fit.rows.is_empty(),
        "none_fits": fit.now.is_none() && fit.complete && !fit.rows.iter().any(FitRow::fits),
        "rows": shown.collect::<Vec<_>>(),
        "all": all,
        "rest": all_rows - rows.len(),
        "unsold": unsold,
        "beaten": fit.rows.len() - kept,
        "waiting": levels(&fit.waiting),
        "complete": fit.complete,
    });
    page.fill("fit.txt", currency, about);
}

/// The measures that move with a part, what moves most first; the one asked for before all.
fn figures(fit: &Fit, row: &FitRow, by: Option<usize>, all: bool) -> Vec<Value> {
    // What is made of the price says again what the price says.
    let told = |at: usize| fit.measures.get(at).filter(|t| by == Some(at) || !t.of_prices);
    let moved = row.moved.iter().filter_map(|(at, from, to)| {
        let share = if by == Some(*at) { f64::INFINITY } else { share(*from, *to) };
        Some((share, told(*at)?, from, to))
    });
    let mut moved: Vec<_> = moved.collect();
    moved.sort_by(|a, b| b.0.total_cmp(&a.0));
    moved.truncate(if all { usize::MAX } else { MOST_MOVED });
    let words = |(_, told, from, to): (f64, &FitMeasure, &f64, &f64)| {
        json!({ "name": &*told.name, "unit": &*told.unit, "from": from,
    "to": to })
    };
    moved.into_iter().map(words).collect()
}

/// The next steps up and down of some lines.
pub(super) fn every_step(page: &mut Page, found: &[LineSteps], currency: &str) {
    let step = |fit: &Fit, step: &Step| {
        let bought = step.buys.iter().take(MOST_MOVED).filter_map(|gain| {
            let told = fit.measures.get(gain.measure)?;
            Some(json!({ "name": &*told.name, "unit": &*told.unit, "from": gain.from,
            "to": gain.to, "each": gain.each }))
        });
        let words = |all: &[MendLoss], turned| -> Vec<String> {
            all.iter().map(|l| ranked(l, currency, turned)).collect()
        };
        let told = json!({
            "bought": bought.collect::<Vec<_>>(),
            "better": words(&step.better, true),
            "worse": words(&step.worse, false),
        });
        join(search_json::step(fit, step), told)
    };
    let line = |one: &LineSteps| {
        let steps = |all: &[Step]| all.iter().map(|s| step(&one.fit, s)).collect::<Vec<_>>();
        json!({ "label": label(&one.line), "complete": one.fit.complete,
        "waiting": levels(&one.fit.waiting), "up": steps(&one.up), "down": steps(&one.down) })
    };
    let lines: Vec<Value> = found.iter().map(line).collect();
    page.fill("steps.txt", currency, json!({ "lines": lines }));
}

/// Mixtures of two lists; `measure` is the name and the unit of what the price is weighed against.
pub(super) fn mix(
    page: &mut Page,
    mix: &Mix,
    measure: Option<(&str, &str)>,
    (ours, theirs): (&str, &str),
    currency: &str,
) {
    let side = |line: &Option<Line>| line.as_ref().map_or_else(|| "nothing".to_owned(), line_words);
    let mixture = |found: &Mixture| {
        let taken = (0..mix.differences.len()).filter(|at| found.taken & (1 << at) != 0);
        json!({ "taken": taken.map(letter).collect::<Vec<_>>(), "on_front": found.on_front,
        "value": found.value, "total": found.total.to_string() })
    };
    let path = mix.path.as_ref().map(|path| path.iter().map(|at| letter(*at)).collect::<Vec<_>>());
    let differences = mix.differences.iter().enumerate().map(|(at, of)| {
        json!({ "letter": letter(at), "ours": side(&of.ours), "theirs": side(&of.theirs) })
    });
    let about = json!({
        "ours": ours,
        "theirs": theirs,
        "measure": measure.map(|(name, _)| name),
        "unit": measure.map_or("", |(_, unit)| unit),
        "differences": differences.collect::<Vec<_>>(),
        "passing": mix.passing.iter().map(mixture).collect::<Vec<_>>(),
        "count": mix.count,
        "counted": mix.counted,
        "complete": mix.complete,
        "path": path,
        "path_proven": mix.path_proven,
        "left_out": mix.left_out,
    });
    page.fill("mix.txt", currency, about);
}

/// What a difference is called: a, b, c, as far as lists go.
fn letter(at: usize) -> Option<char> {
    char::from_digit(10 + (at % 26) as u32, 36)
}

fn line_words(line: &Line) -> String {
    let What::Part(part) = &line.what else { return "open".to_owned() };
    let count = if line.count > 1 { format!(" x{}", line.count) } else { String::new() };
    format!("{}{count}{}", part.name, place(&line.mount, &line.flow))
}

fn place(mount: &Option<Arc<str>>, flow: &Option<Arc<str>>) -> String {
    [mount, flow].into_iter().flatten().map(|word| format!(" {word}")).collect()
}

/// How the reader goes on from the ways that mend a list.
#[derive(Clone, Copy)]
pub(super) struct How {
    /// What makes the first of them, and where there are more, another.
    pub(super) make: &'static [&'static str],
    /// What shows those that cost much more of the parts chosen; none where they are shown.
    pub(super) all: Option<&'static str>,
}

/// The fewest changes that clear every stop.
pub(super) fn mend(page: &mut Page, list: &Snapshot, mend: &Mend, how: How) {
    let currency = &list.build().currency;
    let arrow = page.arrow();
    let way = |way: &MendWay| {
        let changes = way.changes.iter().map(|c| mend_change(c, arrow, currency));
        json!({ "changes": changes.collect::<Vec<_>>(), "raises": way.raises,
        "total": way.total.to_string(), "more": money(&way.more) })
    };
    let shown = mend.ways.iter().filter(|way| way.offered || how.all.is_none());
    let ways: Vec<_> = shown.map(way).collect();
    let about = json!({
        "mend": search_json::mend(list, mend, 0),
        "make": how.make.iter().copied().take(ways.len()).collect::<Vec<_>>().join(", "),
        "ways": ways,
        "all": how.all,
        "nearest_total": mend.nearest.as_ref().map(|near| near.total.to_string()),
        "unsold": mend.unsold.iter().map(|part| &*part.name).collect::<Vec<_>>(),
    });
    page.fill("mend.txt", currency, about);
}

fn mend_change(change: &MendChange, arrow: &str, currency: &str) -> String {
    match change {
        MendChange::Swap { line, from, to, losses } => {
            let losses: Vec<String> = losses.iter().map(|l| loss(l, currency)).collect();
            let losses = match losses.is_empty() {
                true => String::new(),
                false => format!(" ({})", losses.join(", ")),
            };
            format!("#{} {} {arrow} {}{losses}", line + 1, from.name, to.name)
        }
        MendChange::Count { line, part, from, to } => {
            format!("#{} {} x{from} {arrow} x{to}", line + 1, part.name)
        }
        MendChange::Place { line, part, mount, flow } => {
            format!("#{} {} {arrow}{}", line + 1, part.name, place(mount, flow))
        }
        MendChange::Drop { line, part } => format!("drop #{} {}", line + 1, part.name),
        MendChange::Add { part, mount, flow } => format!("add {}{}", part.name, place(mount, flow)),
    }
}

/// A loss in words: `500 GB less`, `games index 20 less`, `cores -2`, `no Wi-Fi`.
pub(crate) fn loss(loss: &MendLoss, currency: &str) -> String {
    ranked(loss, currency, false)
}

/// In what a part is worse than another, or, `turned`, in what the other is better: `500 GB more`.
fn ranked(loss: &MendLoss, currency: &str, turned: bool) -> String {
    let words = &loss.words;
    let Some(to) = loss.to else {
        return format!("{words} {}", if turned { "stated" } else { "not stated" });
    };
    let much = figure((loss.from - to).abs(), &loss.unit, currency);
    let (way, sign) = if (to < loss.from) != turned { ("less", "-") } else { ("more", "+") };
    match loss.worded {
        MendLossWords::Flag => format!("{}{words}", if turned { "" } else { "no " }),
        MendLossWords::Counted => format!("{words} {sign}{much}"),
        MendLossWords::Named => format!("{words} {much} {way}"),
        _ => format!("{much} {way}"),
    }
}

/// What a brief leads to, and how much was looked at where that is asked for; `why` is a part with
/// why it is not in the answer.
pub(super) fn plan(
    page: &mut Page,
    brief: &Brief,
    plan: &Plan,
    why: Option<(&str, &WhyNot)>,
    effort: bool,
) {
    page.put(Role::Strong, brief.build.title()).end();
    for problem in plan.empty.iter().chain(&plan.broken) {
        page.problem(problem);
    }
    let spread = plan.spread(MOST_TRADE_OFFS).into_iter().map(search_json::answer);
    let looked = plan.effort;
    let effort = effort.then(|| {
        json!({ "builds": big(looked.builds), "boxes": looked.boxes, "audits": looked.audits,
        "runs": looked.runs })
    });
    let about = json!({ "plan": search_json::plan(brief, plan, why), "effort": effort,
    "spread": spread.collect::<Vec<_>>() });
    page.fill("plan.txt", &brief.build.currency, about);
}

fn big(n: f64) -> String {
    if n < 1e6 {
        format!("{n}")
    } else {
        format!("{:.1}e{}", n / 10f64.powf(n.log10().floor()), n.log10().floor())
    }
}
