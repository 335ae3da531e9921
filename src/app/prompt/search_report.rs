//! What searches found, in words: fits, steps and mixtures.

use crate::app::counted::count;
use crate::app::prompt::line_lookup::label;
use crate::app::prompt::output::{Page, Role};
use crate::app::prompt::search_commands::LineSteps;
use crate::app::report::escape::width;
use crate::audit::wording::figure;
use crate::build::Line;
use crate::level::Level;
use crate::trade::money::Money;
use crate::whatif::fit::{Fit, FitRow, Step, share};
use crate::whatif::mix::{Difference, Mix, Mixture};
use crate::whatif::trial::Snapshot;
use crate::words::{and, some_of};

/// Rows shown before the rest is only counted.
pub const MOST_ROWS: usize = 12;
/// Measures told of one row.
const MOST_MOVED: usize = 3;
/// Rules named of those that wait for facts.
const MOST_WAITING: usize = 4;

pub(crate) fn signed(money: Money) -> String {
    if money.minor() > 0 { format!("+{money}") } else { money.to_string() }
}

fn level_word(level: Level, rules: usize) -> &'static str {
    match (level, rules) {
        (Level::Stop, 1) => "stop",
        (Level::Stop, _) => "stops",
        (Level::Caution, 1) => "caution",
        (Level::Caution, _) => "cautions",
        (Level::Advice, _) => "advice",
    }
}

/// Findings by level with the rules' names: `stop fit.socket; cautions power.headroom,
/// heat.cooler`.
fn by_level(found: &[(String, Level)]) -> Vec<(Level, String)> {
    let of = |level: Level| {
        let rules: Vec<&str> =
            found.iter().filter(|(_, l)| *l == level).map(|(r, _)| r.as_str()).collect();
        (!rules.is_empty())
            .then(|| (level, format!("{} {}", level_word(level, rules.len()), rules.join(", "))))
    };
    [Level::Stop, Level::Caution, Level::Advice].into_iter().filter_map(of).collect()
}

/// What open lines are judged with while other lines are looked at, and whether facts that nobody
/// said are trusted.
pub(super) fn open_lines(page: &mut Page, list: &Snapshot, trusting: bool) {
    trusted(page, trusting);
    for choice in &list.chosen {
        let text = format!(
            "The open {} line (#{}) is judged with {} ({}).",
            choice.title,
            choice.line + 1,
            choice.part.name,
            choice.part.id
        );
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
        page.flow(Role::Level(Level::Caution), words, 2);
    }
}

/// What could stand on a line. With `all`, beaten rows and advice too; with `by`, in order of a
/// measure.
pub(super) fn fit(
    page: &mut Page,
    fit: &Fit,
    by: Option<usize>,
    all: bool,
    currency: &std::sync::Arc<str>,
) {
    let mut rows: Vec<&FitRow> = fit.rows.iter().filter(|r| all || !r.beaten).collect();
    let beaten = fit.rows.len() - rows.len();
    // What nobody sells is seldom what is looked for.
    let unsold = if all { 0 } else { rows.iter().filter(|r| r.more.is_none()).count() };
    if unsold < rows.len() {
        rows.retain(|row| all || row.more.is_some());
    }
    if let Some((at, told)) = by.and_then(|at| fit.measures.get(at).map(|t| (at, t))) {
        let value = |row: &FitRow| {
            let to =
                row.moved.iter().find(|(m, ..)| *m == at).map_or(0.0, |(_, from, to)| to - from);
            if told.better == crate::rules::loader::Better::More { -to } else { to }
        };
        rows.sort_by(|a, b| value(a).total_cmp(&value(b)));
    }
    if let Some(now) = &fit.now {
        page.say("now ").put(Role::Part, &now.name).end();
    }
    if fit.rows.is_empty() {
        page.line(match fit.complete {
            true => "no other part of this kind is in the catalogue",
            false => "the search was ended before any other part was looked at",
        });
        return;
    }
    if fit.now.is_none() && fit.complete && !fit.rows.iter().any(FitRow::fits) {
        page.put(Role::Wrong, "no part fits this line").say("; the nearest come first").end();
    }
    let shown = if all { rows.len() } else { rows.len().min(MOST_ROWS) };
    let name = rows.iter().take(shown).map(|r| width(&r.part.name)).max().unwrap_or(0);
    let more = |row: &FitRow| row.more.map_or_else(|| "no offer".to_owned(), signed);
    let money = rows.iter().take(shown).map(|r| width(&more(r))).max().unwrap_or(0);
    for row in rows.iter().take(shown) {
        page.cell(Role::Part, &row.part.name, name).right(Role::Number, &more(row), money);
        let indent = name + money + 3;
        page.flow(Role::Plain, &row_words(fit, row, by, all, currency), indent);
    }
    let (rest, unsold) = (rows.len() - shown, fit.rows.len() - beaten - rows.len());
    if rest > 0 {
        page.line(&format!("and {rest} more that raise more or cost more; `all` shows them"));
    }
    if unsold > 0 {
        page.line(&format!("{} without an offer; `all` shows them", count(unsold, "part")));
    }
    if beaten > 0 {
        page.line(&format!(
            "{} left out: another costs no more, raises no more and is no worse in \
         any measure; `all` shows them",
            count(beaten, "part")
        ));
    }
    waiting(page, fit, 0);
    if !fit.complete {
        page.line("the search was ended early: not every part was looked at");
    }
}

fn row_words(
    fit: &Fit,
    row: &FitRow,
    by: Option<usize>,
    all: bool,
    currency: &std::sync::Arc<str>,
) -> String {
    let mut words = Vec::new();
    let told = |found: &[(String, Level)]| {
        by_level(found)
            .into_iter()
            .filter(|(l, _)| all || *l > Level::Advice)
            .map(|(_, w)| w)
            .collect::<Vec<_>>()
            .join("; ")
    };
    let (raised, cleared) = (told(&row.raised), told(&row.cleared));
    if !row.unmet.is_empty() {
        let wants: Vec<String> = row.unmet.iter().map(|want| format!("`{want}`")).collect();
        words.push(format!("does not meet {}", wants.join(" and ")));
    }
    if !row.broken.is_empty() {
        words.push(format!("breaks {}", row.broken.join(", ")));
    }
    if !raised.is_empty() {
        words.push(format!("raises {raised}"));
    }
    if !row.opened.is_empty() {
        words.push(left_open(&row.opened));
    }
    if !cleared.is_empty() {
        words.push(format!("clears {cleared}"));
    }
    let mut moved: Vec<(f64, String)> = row
        .moved
        .iter()
        .filter_map(|(at, from, to)| {
            // What is made of the price says again what the price says.
            let told = fit.measures.get(*at).filter(|t| by == Some(*at) || !t.of_prices)?;
            // The measure that was asked for comes first.
            let share = if by == Some(*at) { f64::INFINITY } else { share(*from, *to) };
            Some((share, format!("{} {}", told.name, change(*from, *to, &told.unit, currency))))
        })
        .collect();
    moved.sort_by(|a, b| b.0.total_cmp(&a.0));
    words.extend(moved.into_iter().take(if all { usize::MAX } else { MOST_MOVED }).map(|(_, w)| w));
    match words.is_empty() {
        true if fit.waiting.is_empty() => "changes nothing else".to_owned(),
        true => "changes nothing that is known".to_owned(),
        false => words.join("; "),
    }
}

/// Rules of the line that wait for facts, whatever part stands on it.
fn waiting(page: &mut Page, fit: &Fit, indent: usize) {
    if fit.waiting.is_empty() {
        return;
    }
    let rules = some_of(fit.waiting.iter().map(|(rule, _)| rule.as_str()), MOST_WAITING);
    let (count, wait) = match fit.waiting.len() {
        1 => ("1 rule".to_owned(), "waits"),
        n => (format!("{n} rules"), "wait"),
    };
    let words = format!(
        "{count} about it {wait} for facts, whatever part stands here: {rules}; `ask` lists the \
         facts"
    );
    page.say(&" ".repeat(indent)).flow(Role::Level(Level::Caution), &words, indent + 2);
}

/// What is not settled with a part, as nobody said a fact of it.
fn left_open(opened: &[(String, Level)]) -> String {
    let words: Vec<String> = by_level(opened).into_iter().map(|(_, words)| words).collect();
    format!("leaves open {}", words.join("; "))
}

fn change(from: f64, to: f64, unit: &str, currency: &str) -> String {
    format!("{}{}", if to > from { "+" } else { "-" }, figure((to - from).abs(), unit, currency))
}

/// The next steps up and down of some lines.
pub(super) fn every_step(page: &mut Page, found: &[LineSteps], currency: &str) {
    for one in found {
        steps(page, &label(&one.line), &one.fit, (&one.up, &one.down), currency);
    }
}

/// What a step buys, and what one unit of it costs.
fn bought(fit: &Fit, step: &Step, currency: &str) -> Vec<String> {
    step.buys
        .iter()
        .take(MOST_MOVED)
        .filter_map(|gain| Some((gain, fit.measures.get(gain.measure)?)))
        .map(|(gain, told)| {
            let each = gain.each.map_or_else(String::new, |each| {
                let unit = if told.unit.is_empty() { "1" } else { &told.unit };
                format!(" ({} per {unit})", figure(each, "money", currency))
            });
            format!("{} {}{each}", told.name, change(gain.from, gain.to, &told.unit, currency))
        })
        .collect()
}

fn steps(page: &mut Page, name: &str, fit: &Fit, (up, down): (&[Step], &[Step]), currency: &str) {
    page.put(Role::Strong, name).end();
    if !fit.complete {
        page.line("  the search was ended early: nearer steps may do");
    } else if up.is_empty() && down.is_empty() {
        page.line("  no step up or down that raises no stop");
    }
    for (word, steps) in [("up", up), ("down", down)] {
        for step in steps {
            let more = step.row.more.map_or_else(String::new, signed);
            page.say("  ")
                .cell(Role::Plain, word, 4)
                .put(Role::Part, &step.row.part.name)
                .say(" ")
                .put(Role::Number, &more);
            let mut words = bought(fit, step, currency);
            let raised: Vec<String> = by_level(&step.row.raised)
                .into_iter()
                .filter(|(l, _)| *l == Level::Caution)
                .map(|(_, w)| w)
                .collect();
            words.extend(raised.iter().map(|w| format!("raises {w}")));
            if !step.row.opened.is_empty() {
                words.push(left_open(&step.row.opened));
            }
            page.flow(
                Role::Plain,
                &format!(
                    ": {}",
                    if words.is_empty() {
                        match fit.waiting.is_empty() {
                            true => "nothing else changes",
                            false => "nothing that is known changes",
                        }
                        .to_owned()
                    } else {
                        words.join("; ")
                    }
                ),
                8,
            );
        }
    }
    if !up.is_empty() || !down.is_empty() {
        waiting(page, fit, 2);
    }
}

pub(super) fn cannot(rules: &[String], smallest: bool) -> String {
    match rules {
        [one] => format!("{one} cannot be met by itself"),
        _ => format!(
            "{} cannot all be met{}",
            and(rules),
            if smallest {
                "; no smaller set is to blame"
            } else {
                "; a smaller set may be to blame"
            }
        ),
    }
}

/// Mixtures of two lists.
pub(super) fn mix(
    page: &mut Page,
    mix: &Mix,
    measure: Option<(&str, &str)>,
    names: (&str, &str),
    currency: &std::sync::Arc<str>,
) {
    if mix.differences.is_empty() {
        page.line("the two lists hold the same parts: there is nothing to mix");
        return;
    }
    let (ours, theirs) = names;
    page.flow(
        Role::Plain,
        &if mix.counted {
            format!(
                "{ours} and {theirs} differ in {}: {} of {} pass",
                count(mix.differences.len(), "line"),
                mix.passing.len(),
                count(mix.count as usize, "mixture")
            )
        } else {
            format!(
                "{ours} and {theirs} differ in {}, which makes {}",
                count(mix.differences.len(), "line"),
                count(mix.count as usize, "mixture")
            )
        },
        2,
    );
    left_out(page, mix.left_out.iter());
    for (at, difference) in mix.differences.iter().enumerate() {
        let arrow = page.arrow();
        page.cell(Role::Strong, &letter(at), 2).flow(
            Role::Plain,
            &difference_words(difference, arrow),
            5,
        );
    }
    if let Some((id, unit)) = measure {
        let sure = if mix.complete { "" } else { ", as far as searched" };
        page.put(Role::Faint, &format!("Best trade-offs{sure}, {id} against the price:")).end();
        front(page, mix, unit, currency);
    } else {
        let cheapest: Vec<&Mixture> = mix.passing.iter().take(1).collect();
        cheapest.iter().for_each(|m| mixture(page, 1, m, mix.differences.len(), "", currency));
    }
    crossing(page, mix, names);
}

/// The way across, and what was not looked at.
fn crossing(page: &mut Page, mix: &Mix, (ours, theirs): (&str, &str)) {
    match &mix.path {
        Some(path) => {
            let words: Vec<String> = path.iter().map(|at| letter(*at)).collect();
            page.flow(
                Role::Plain,
                &format!(
                    "A way from {ours} to {theirs} that never raises a stop: {}",
                    words.join(", ")
                ),
                2,
            );
        }
        None if mix.complete && mix.path_proven => {
            page.line("No series of single changes leads from one to the other without a stop.");
        }
        None => {
            page.line("No way from one to the other was found before the search was ended.");
        }
    }
    if !mix.complete {
        page.line("The search was ended early; other mixtures may pass.");
    }
}

fn front(page: &mut Page, mix: &Mix, unit: &str, currency: &std::sync::Arc<str>) {
    let front: Vec<&Mixture> = mix.passing.iter().filter(|m| m.on_front).collect();
    if front.is_empty() {
        page.line("  nothing: the measure does not apply, or nothing passes");
    }
    for (at, found) in front.iter().enumerate() {
        mixture(page, at + 1, found, mix.differences.len(), unit, currency);
    }
}

fn mixture(
    page: &mut Page,
    number: usize,
    found: &Mixture,
    differences: usize,
    unit: &str,
    currency: &std::sync::Arc<str>,
) {
    let taken: Vec<String> =
        (0..differences).filter(|at| found.taken & (1 << at) != 0).map(letter).collect();
    let value =
        found.value.map_or_else(String::new, |v| format!(", {}", figure(v, unit, currency)));
    let words = match (taken.len(), differences) {
        (0, _) => "as it is".to_owned(),
        (a, b) if a == b => "the other list".to_owned(),
        _ => format!("with {}", taken.join(", ")),
    };
    page.cell(Role::Strong, &number.to_string(), 2).flow(
        Role::Plain,
        &format!("{}{value}: {words}", found.total),
        5,
    );
}

/// What a difference is called: a, b, c, as far as lists go.
fn letter(at: usize) -> String {
    char::from_digit(10 + (at % 26) as u32, 36).map_or_else(String::new, String::from)
}

fn difference_words(difference: &Difference, arrow: &str) -> String {
    match (&difference.ours, &difference.theirs) {
        (Some(a), Some(b)) => format!("{} {arrow} {}", line_words(a), line_words(b)),
        (Some(a), None) => format!("{} {arrow} nothing", line_words(a)),
        (None, Some(b)) => format!("nothing {arrow} {}", line_words(b)),
        (None, None) => String::new(),
    }
}

fn line_words(line: &Line) -> String {
    let crate::build::What::Part(part) = &line.what else { return "open".to_owned() };
    let count = if line.count > 1 { format!(" x{}", line.count) } else { String::new() };
    let place = [&line.mount, &line.flow]
        .into_iter()
        .flatten()
        .map(|w| format!(" {w}"))
        .collect::<String>();
    format!("{}{count}{place}", part.name)
}

/// Rules that no build was held to.
pub(super) fn left_out<'a>(page: &mut Page, rules: impl Iterator<Item = &'a String>) {
    let rules: Vec<&str> = rules.map(String::as_str).collect();
    if !rules.is_empty() {
        page.flow(
            Role::Wrong,
            &format!(
                "No build is held to {}, which breaks on all that were \
         tried: mend the rule and look again.",
                rules.join(", ")
            ),
            2,
        );
    }
}
