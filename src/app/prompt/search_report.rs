//! What searches found, in words: fits, steps, mends, mixtures and plans.

use crate::app::prompt::output::{Page, Role};
use crate::app::report::escape::width;
use crate::audit::wording::figure;
use crate::build::Line;
use crate::level::Level;
use crate::trade::money::Money;
use crate::whatif::fit::{Fit, Row, Step, is_money, share};
use crate::whatif::mend::{Mend, Way};
use crate::whatif::mix::{Difference, Mix, Mixture};
use crate::whatif::plan::{Answer, Plan};
use crate::words::count;

/// Rows shown before the rest is only counted.
pub(crate) const MOST_ROWS: usize = 12;
/// Measures told of one row.
const MOST_MOVED: usize = 3;

fn signed(money: Money) -> String {
    if money.minor() > 0 { format!("+{money}") } else { money.to_string() }
}

fn right(text: &str, wide: usize) -> String {
    format!("{}{text}", " ".repeat(wide.saturating_sub(width(text))))
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

/// What could stand on a line. With `all`, beaten rows and advice too; with `by`, in order of a
/// measure.
pub(super) fn fit(
    page: &mut Page,
    fit: &Fit,
    by: Option<usize>,
    all: bool,
    currency: &std::sync::Arc<str>,
) {
    let mut rows: Vec<&Row> = fit.rows.iter().filter(|r| all || !r.beaten).collect();
    if let Some((at, told)) = by.and_then(|at| fit.measures.get(at).map(|t| (at, t))) {
        let value = |row: &Row| {
            let to =
                row.moved.iter().find(|(m, ..)| *m == at).map_or(0.0, |(_, from, to)| to - from);
            if told.better == crate::rules::loader::Better::More { -to } else { to }
        };
        rows.sort_by(|a, b| value(a).total_cmp(&value(b)));
    }
    if let Some(now) = &fit.now {
        page.say("now ")
            .put(Role::Part, &now.id)
            .put(Role::Faint, &format!(" ({})", now.name))
            .end();
    }
    if fit.rows.is_empty() {
        page.line("no other part of this kind is in the catalogue");
        return;
    }
    let shown = if all { rows.len() } else { rows.len().min(MOST_ROWS) };
    let id = rows.iter().take(shown).map(|r| width(&r.part.id)).max().unwrap_or(0);
    let more = |row: &Row| row.more.map_or_else(|| "no offer".to_owned(), signed);
    let money = rows.iter().take(shown).map(|r| width(&more(r))).max().unwrap_or(0);
    for row in rows.iter().take(shown) {
        page.cell(Role::Part, &row.part.id, id).cell(
            Role::Number,
            &right(&more(row), money),
            money,
        );
        let indent = id + money + 3;
        page.flow(Role::Plain, &row_words(fit, row, by, all, currency), indent, indent);
    }
    let (rest, beaten) = (rows.len() - shown, fit.rows.len() - rows.len());
    if rest > 0 {
        page.line(&format!("and {rest} more that raise more or cost more; `all` shows them"));
    }
    if beaten > 0 {
        page.line(&format!(
            "{} left out: another costs no more, raises no more and is no worse in \
         any measure; `all` shows them",
            count(beaten, "part")
        ));
    }
}

fn row_words(
    fit: &Fit,
    row: &Row,
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
    if !row.broken.is_empty() {
        words.push(format!("breaks {}", row.broken.join(", ")));
    }
    if !raised.is_empty() {
        words.push(format!("raises {raised}"));
    }
    if !cleared.is_empty() {
        words.push(format!("clears {cleared}"));
    }
    let mut moved: Vec<(f64, String)> = row
        .moved
        .iter()
        .filter_map(|(at, from, to)| {
            // What is made of the price says again what the price says.
            let told = fit
                .measures
                .get(*at)
                .filter(|t| by == Some(*at) || !t.id.starts_with("value.") || !is_money(t))?;
            let sign = if to > from { "+" } else { "-" };
            // The measure that was asked for comes first.
            let share = if by == Some(*at) { f64::INFINITY } else { share(*from, *to) };
            Some((
                share,
                format!("{} {sign}{}", told.id, figure((to - from).abs(), &told.unit, currency)),
            ))
        })
        .collect();
    moved.sort_by(|a, b| b.0.total_cmp(&a.0));
    words.extend(moved.into_iter().take(if all { usize::MAX } else { MOST_MOVED }).map(|(_, w)| w));
    if words.is_empty() { "changes nothing else".to_owned() } else { words.join("; ") }
}

/// The next steps up and down of a line.
pub(super) fn steps(page: &mut Page, name: &str, up: &[Step], down: &[Step]) {
    page.put(Role::Strong, name).end();
    if up.is_empty() && down.is_empty() {
        page.line("  no step up or down that raises no stop");
        return;
    }
    for (word, steps) in [("up", up), ("down", down)] {
        for step in steps {
            let more = step.row.more.map_or_else(String::new, signed);
            page.say("  ")
                .cell(Role::Plain, word, 4)
                .put(Role::Part, &step.row.part.id)
                .say(" ")
                .put(Role::Number, &more);
            let mut words: Vec<String> = step
                .buys
                .iter()
                .take(MOST_MOVED)
                .map(|gain| match &gain.each {
                    Some(each) => format!("{} {} ({each} a unit)", gain.id, gain.change),
                    None => format!("{} {}", gain.id, gain.change),
                })
                .collect();
            let raised: Vec<String> = by_level(&step.row.raised)
                .into_iter()
                .filter(|(l, _)| *l == Level::Caution)
                .map(|(_, w)| w)
                .collect();
            words.extend(raised.iter().map(|w| format!("raises {w}")));
            let used = 8 + width(&step.row.part.id) + width(&more);
            page.flow(
                Role::Plain,
                &format!(
                    ": {}",
                    if words.is_empty() {
                        "nothing else changes".to_owned()
                    } else {
                        words.join("; ")
                    }
                ),
                used,
                8,
            );
        }
    }
}

/// The fewest swaps that clear every stop.
pub(super) fn mend(page: &mut Page, mend: &Mend) {
    if mend.stops.is_empty() {
        page.put(Role::Good, "nothing stops it").say(", so there is nothing to mend").end();
        return;
    }
    page.flow(
        Role::Plain,
        &format!("{} to clear: {}", count(mend.stops.len(), "stop"), mend.stops.join(", ")),
        0,
        2,
    );
    left_out(page, mend.left_out.iter());
    if mend.ways.is_empty() {
        if mend.conflict.is_empty() {
            page.line("no way was found before the search was ended");
        } else {
            page.flow(
                Role::Wrong,
                &format!("no swaps clear them: {}", cannot(&mend.conflict, mend.conflict_smallest)),
                0,
                2,
            );
        }
        return;
    }
    for (at, way) in mend.ways.iter().enumerate() {
        page.cell(Role::Strong, &format!("{}", at + 1), 2);
        way_line(page, way);
    }
    let sure = if mend.proven {
        "fewer swaps do not do, and none as few are cheaper"
    } else {
        "the search was ended early: fewer or cheaper swaps may do"
    };
    page.flow(Role::Faint, &format!("{}; `mend 1` makes the first", sure), 0, 2);
}

fn way_line(page: &mut Page, way: &Way) {
    let arrow = page.arrow();
    let swaps: Vec<String> = way
        .swaps
        .iter()
        .map(|(line, from, to)| format!("#{} {} {arrow} {}", line + 1, from.id, to.id))
        .collect();
    page.flow(
        Role::Plain,
        &format!("{}; {} ({})", swaps.join(", "), way.total, signed(way.more)),
        3,
        5,
    );
}

fn cannot(rules: &[String], smallest: bool) -> String {
    match rules {
        [one] => format!("{one} cannot be met by itself"),
        _ => format!(
            "{} cannot all be met{}",
            rules.join(", "),
            if smallest { "; no smaller set is to blame" } else { "" }
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
        0,
        2,
    );
    left_out(page, mix.left_out.iter());
    for (at, difference) in mix.differences.iter().enumerate() {
        let arrow = page.arrow();
        page.cell(Role::Strong, &letter(at), 2).flow(
            Role::Plain,
            &difference_words(difference, arrow),
            3,
            5,
        );
    }
    if let Some((id, unit)) = measure {
        page.put(Role::Faint, &format!("What nothing else beats, {id} against the price:")).end();
        front(page, mix, unit, currency);
    } else {
        let cheapest: Vec<&Mixture> = mix.passing.iter().take(1).collect();
        cheapest.iter().for_each(|m| mixture(page, 1, m, mix.differences.len(), "", currency));
    }
    match &mix.path {
        Some(path) => {
            let words: Vec<String> = path.iter().map(|at| letter(*at)).collect();
            page.flow(
                Role::Plain,
                &format!(
                    "A way from {ours} to {theirs} that never raises a stop: {}",
                    words.join(", ")
                ),
                0,
                2,
            );
        }
        None if mix.complete => {
            page.line("No way of single steps leads from one to the other without a stop.");
        }
        None => {}
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
        3,
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
    format!("{}{count}{place}", part.id)
}

/// Rules that no build was held to.
fn left_out<'a>(page: &mut Page, rules: impl Iterator<Item = &'a String>) {
    let rules: Vec<&str> = rules.map(String::as_str).collect();
    if !rules.is_empty() {
        page.flow(
            Role::Wrong,
            &format!(
                "No build is held to {}, which breaks on all that were \
         tried: mend the rule and look again.",
                rules.join(", ")
            ),
            0,
            2,
        );
    }
}

/// What a brief leads to.
pub(super) fn plan(page: &mut Page, plan: &Plan, title: &str, effort: bool) {
    page.put(Role::Strong, title).end();
    for problem in plan.empty.iter().chain(&plan.broken) {
        page.problem(problem);
    }
    left_out(page, plan.left_out.iter());
    if let Some((best, others)) = plan.best.split_first() {
        best_answer(page, plan, best);
        if !others.is_empty() {
            page.put(Role::Strong, "The next best").end();
            for (at, answer) in others.iter().enumerate() {
                page.cell(Role::Strong, &(at + 2).to_string(), 2);
                page.flow(
                    Role::Plain,
                    &format!("{}: {}", values(plan, answer), against(best, answer, page.arrow())),
                    3,
                    5,
                );
            }
        }
        reasons(page, plan);
        if plan.front.len() > 1 {
            let sure = if plan.front_proven { "" } else { ", as far as was looked" };
            page.put(
                Role::Strong,
                &format!("What nothing else beats{sure}: {}", plan.goals.join(" against ")),
            )
            .end();
            for answer in plan.front.iter().take(MOST_ROWS * 2) {
                let differs = against(best, answer, page.arrow());
                page.say("   ").flow(
                    Role::Plain,
                    &format!("{}: {differs}", values(plan, answer)),
                    3,
                    5,
                );
            }
            if plan.front.len() > MOST_ROWS * 2 {
                page.line(&format!("   and {} more", plan.front.len() - MOST_ROWS * 2));
            }
        }
    } else if !plan.conflict.is_empty() {
        page.flow(
            Role::Wrong,
            &format!(
                "Nothing can satisfy this brief: {}.",
                cannot(&plan.conflict, plan.conflict_smallest)
            ),
            0,
            2,
        );
    } else if plan.empty.is_empty() {
        page.flow(Role::Wrong, "Nothing was found before the search was ended.", 0, 2);
    }
    if !effort {
        return;
    }
    let effort = plan.effort;
    page.flow(
        Role::Faint,
        &format!(
            "{} builds looked at in {}: {} audited one by one, {} scripts run.",
            big(effort.builds),
            count(effort.boxes as usize, "box").replace("boxs", "boxes"),
            effort.audits,
            effort.runs
        ),
        0,
        2,
    );
}

fn big(n: f64) -> String {
    if n < 1e6 {
        format!("{n}")
    } else {
        format!("{:.1}e{}", n / 10f64.powf(n.log10().floor()), n.log10().floor())
    }
}

fn values(plan: &Plan, answer: &Answer) -> String {
    let named = plan.goals.iter().zip(&answer.words).map(|(goal, words)| {
        if goal == "price" { words.clone() } else { format!("{goal} {}", bare(goal, words)) }
    });
    named.collect::<Vec<_>>().join(", ")
}

fn best_answer(page: &mut Page, plan: &Plan, best: &Answer) {
    let sure = if plan.proven { "proven to be the best" } else { "the best so far" };
    page.put(Role::Strong, &format!("The best: {}", values(plan, best)))
        .say(&format!(", {sure}"))
        .end();
    if let Some(bound) = plan.bound.as_ref().filter(|_| !plan.proven) {
        page.line(&format!("   what was not looked at could reach {bound} at the most"));
    }
    let id = best.parts.iter().map(|(p, ..)| width(&p.id)).max().unwrap_or(0);
    let price = |m: &Option<Money>| m.as_ref().map_or_else(|| "owned".to_owned(), Money::to_string);
    let money = best
        .parts
        .iter()
        .map(|(.., m)| width(&price(m)))
        .max()
        .unwrap_or(0)
        .max(width(&best.total.to_string()));
    for (part, pieces, cost) in &best.parts {
        let pieces = if *pieces > 1 { format!(" x{pieces}") } else { String::new() };
        page.say("   ").cell(Role::Part, &part.id, id).cell(
            Role::Number,
            &right(&price(cost), money),
            money,
        );
        page.flow(Role::Plain, &format!("{}{pieces}", part.name), id + money + 5, id + money + 5);
    }
    page.say("   ")
        .cell(Role::Plain, "total", id)
        .put(Role::Number, &right(&best.total.to_string(), money))
        .end();
}

/// In which parts an answer differs from the best.
fn against(best: &Answer, answer: &Answer, arrow: &str) -> String {
    let pairs = best.parts.iter().zip(&answer.parts).filter(|(a, b)| a.0.id != b.0.id);
    let words: Vec<String> = pairs.map(|(a, b)| format!("{} {arrow} {}", a.0.id, b.0.id)).collect();
    if words.is_empty() { "the best itself".to_owned() } else { words.join(", ") }
}

fn reasons(page: &mut Page, plan: &Plan) {
    if plan.reasons.is_empty() {
        return;
    }
    page.put(Role::Strong, "What each wish and rule costs").end();
    for reason in &plan.reasons {
        let arrow = page.arrow();
        let swaps: Vec<String> =
            reason.swaps.iter().map(|(_, now, then)| format!("{now} {arrow} {then}")).collect();
        let goal = plan.goals.get(reason.goal).map_or("", String::as_str);
        let gain = if goal == "price" {
            format!("{} less", reason.words)
        } else {
            format!("{goal} better by {}", bare(goal, &reason.words))
        };
        let same = match plan.goals.get(..reason.goal) {
            None | Some([]) => String::new(),
            Some(before) => format!(" at the same {}", before.join(" and ")),
        };
        page.say("   ").flow(
            Role::Plain,
            &format!("without {}: {gain}{same} ({})", reason.name, swaps.join(", ")),
            3,
            5,
        );
    }
}

/// A number without its unit where the name says it already: `value.index 168`, not `168 index`.
fn bare<'a>(goal: &str, words: &'a str) -> &'a str {
    words
        .rsplit_once(' ')
        .filter(|(_, unit)| goal.rsplit('.').next() == Some(unit))
        .map_or(words, |(number, _)| number)
}
