//! What a brief leads to, in words.

use crate::app::counted::count;
use crate::app::prompt::output::{Page, Role};
use crate::app::prompt::search_report::{cannot, left_out};
use crate::app::report::escape::width;
use crate::audit::wording::figure;
use crate::level::Level;
use crate::trade::money::Money;
use crate::whatif::plan::{
    Plan, PlanAim, PlanAnswer, PlanCost, PlanUnsold, PlanWayOut, PlanWish, WhyNot,
};
use crate::words::and;

/// Trade-offs shown of all that nothing else beats.
const MOST_TRADE_OFFS: usize = 6;

pub(super) struct PlanReport<'a> {
    pub(super) plan: &'a Plan,
    pub(super) title: &'a str,
    pub(super) currency: &'a str,
    /// Whether to say how much was looked at.
    pub(super) effort: bool,
}

pub(super) fn wish(wish: &PlanWish) -> String {
    match wish {
        PlanWish::Want(text) => format!("the want `{text}`"),
        PlanWish::Budget => "the budget".to_owned(),
        PlanWish::Rule(id) => format!("rule {id}"),
        PlanWish::NoCaution(id) => format!("no caution of {id}"),
    }
}

/// `the caution of memory.channels`, `the cautions of heat.cooler and memory.channels`.
fn level_rules(rules: &[String]) -> String {
    match rules {
        [one] => format!("the caution of {one}"),
        many => format!("the cautions of {}", many.join(" and ")),
    }
}

impl PlanReport<'_> {
    /// Writes what a brief leads to.
    pub(super) fn write(&self, page: &mut Page) {
        let plan = self.plan;
        page.put(Role::Strong, self.title).end();
        for problem in plan.empty.iter().chain(&plan.broken) {
            page.problem(problem);
        }
        left_out(page, plan.left_out.iter());
        if let Some((best, others)) = plan.best.split_first() {
            self.best(page, best);
            self.cautions(page);
            self.others(page, best, others);
            self.costs(page);
            self.front(page, best);
        } else if !plan.conflict.is_empty() {
            let names: Vec<String> = plan.conflict.iter().map(wish).collect();
            let why = cannot(&names, plan.conflict_smallest);
            page.flow(Role::Wrong, &format!("Nothing can satisfy this brief: {why}."), 2);
            self.ways_out(page);
        } else if plan.empty.is_empty() {
            page.flow(Role::Wrong, "Nothing was found before the search was ended.", 2);
        }
        if let Some(unsold) = &plan.unsold {
            self.unsold(page, unsold);
        }
        if self.effort {
            let effort = plan.effort;
            let text = format!(
                "{} builds searched in {}: {} audited one by one, {} scripts run.",
                big(effort.builds),
                count(effort.boxes as usize, "search node"),
                effort.audits,
                effort.runs
            );
            page.flow(Role::Faint, &text, 2);
        }
    }

    fn figure(&self, goal: usize, value: f64) -> String {
        let aim = self.plan.goals.get(goal);
        bare(aim, &figure(value, aim.map_or("", |a| &a.unit), self.currency)).to_owned()
    }

    fn values(&self, answer: &PlanAnswer) -> String {
        let named = answer.values.iter().enumerate().map(|(goal, value)| {
            let words = self.figure(goal, *value);
            match self.plan.goals.get(goal).map(|a| a.name.as_str()) {
                None | Some("price") => words,
                Some(name) => format!("{name} {words}"),
            }
        });
        named.collect::<Vec<_>>().join(", ")
    }

    /// By how much a goal moves: `12.00 EUR less`, `value.index better by 3`.
    fn gain(&self, goal: usize, gain: f64, better: bool) -> String {
        let words = self.figure(goal, gain.abs());
        match self.plan.goals.get(goal).map(|a| a.name.as_str()) {
            None | Some("price") => format!("{words} {}", if better { "less" } else { "more" }),
            Some(name) => format!("{name} {} by {words}", if better { "better" } else { "worse" }),
        }
    }

    /// What the goals before one come to: ` at the same value.index`.
    fn same(&self, goal: usize) -> String {
        match self.plan.goals.get(..goal) {
            None | Some([]) => String::new(),
            Some(before) => {
                let names: Vec<&str> = before.iter().map(|a| a.name.as_str()).collect();
                format!(" at the same {}", names.join(" and "))
            }
        }
    }

    fn best(&self, page: &mut Page, best: &PlanAnswer) {
        let sure = if self.plan.proven { "proven to be the best" } else { "the best so far" };
        page.put(Role::Strong, &format!("The best: {}", self.values(best)))
            .say(&format!(", {sure}"))
            .end();
        if let Some(bound) = self.plan.bound.filter(|_| !self.plan.proven) {
            let bound = self.figure(0, bound);
            page.line(&format!("   what was not looked at could reach {bound} at the most"));
        }
        let price =
            |m: &Option<Money>| m.as_ref().map_or_else(|| "owned".to_owned(), Money::to_string);
        let id = best.parts.iter().map(|(p, ..)| width(&p.id)).max().unwrap_or(0);
        let total = best.total.money.to_string();
        let prices = best.parts.iter().map(|(.., m)| width(&price(m)));
        let money = prices.max().unwrap_or(0).max(width(&total));
        for (part, pieces, cost) in &best.parts {
            let pieces = if *pieces > 1 { format!(" x{pieces}") } else { String::new() };
            page.say("   ").cell(Role::Part, &part.id, id).right(Role::Number, &price(cost), money);
            let indent = id + money + 5;
            page.flow(Role::Plain, &format!("{}{pieces}", part.name), indent);
        }
        if best.total.shipping.minor() != 0 {
            let shipping = best.total.shipping.to_string();
            page.say("   ").cell(Role::Plain, "shipping", id).right(Role::Number, &shipping, money);
            page.end();
        }
        page.say("   ").cell(Role::Plain, "total", id).right(Role::Number, &total, money).end();
        remains(page, best);
        if let (Some(more), [_, ..]) = (&self.plan.spared_for, &*self.plan.spared) {
            let words = match more.minor() {
                0 => "as cheap as with".to_owned(),
                _ => format!("{more} more than with"),
            };
            let cautions = level_rules(&self.plan.spared);
            page.flow(Role::Plain, &format!("   {words} {cautions}, all else as good"), 3);
        }
    }

    /// What it takes to be rid of the cautions of the best.
    fn cautions(&self, page: &mut Page) {
        if !self.plan.cautioned {
            return;
        }
        let sure = match self.plan.cautions.iter().all(|c| c.proven) {
            true => "No list without cautions meets this brief. To be rid of each:",
            false => "No list without cautions was found. To be rid of each, as far as searched:",
        };
        page.put(Role::Strong, sure).end();
        for cost in &self.plan.cautions {
            let PlanWish::NoCaution(rule) = &cost.of else { continue };
            let words = match cost.gain {
                None if cost.proven => "no list that meets this brief is without it".to_owned(),
                None => "not found before the search was ended".to_owned(),
                Some((_, 0.0)) => format!("costs nothing ({})", swaps(page, cost)),
                Some((goal, gain)) => {
                    format!("{} ({})", self.gain(goal, gain, gain > 0.0), swaps(page, cost))
                }
            };
            page.say("   ").flow(Role::Plain, &format!("{rule}: {words}"), 5);
        }
    }

    fn others(&self, page: &mut Page, best: &PlanAnswer, others: &[PlanAnswer]) {
        if others.is_empty() {
            return;
        }
        page.put(Role::Strong, "The next best").end();
        for (at, answer) in others.iter().enumerate() {
            page.cell(Role::Strong, &(at + 2).to_string(), 2);
            self.row(page, best, answer);
        }
    }

    /// An answer in a row: its values, how it differs from the best, what remains.
    fn row(&self, page: &mut Page, best: &PlanAnswer, answer: &PlanAnswer) {
        let differs = against(best, answer, page.arrow());
        let cautions = answer.remains.iter().filter(|f| f.level == Level::Caution).count();
        let cautions = match cautions {
            0 => String::new(),
            n => format!("; {}", count(n, "caution")),
        };
        let words = format!("{}: {differs}{cautions}", self.values(answer));
        page.flow(Role::Plain, &words, 5);
    }

    fn costs(&self, page: &mut Page) {
        let plan = self.plan;
        if plan.costs.is_empty() && plan.costs_proven {
            return;
        }
        let sure = if plan.costs_proven { "" } else { ", as far as searched" };
        page.put(Role::Strong, &format!("What each wish and policy costs{sure}")).end();
        for cost in &plan.costs {
            let Some((goal, gain)) = cost.gain else { continue };
            let of = match &cost.of {
                PlanWish::NoCaution(rule) => format!("with the caution of {rule}"),
                other => format!("without {}", wish(other)),
            };
            let least = if cost.proven { "" } else { " at least" };
            let words = format!(
                "{of}: {}{least}{} ({})",
                self.gain(goal, gain, true),
                self.same(goal),
                swaps(page, cost)
            );
            page.say("   ").flow(Role::Plain, &words, 5);
        }
        if plan.costs.is_empty() {
            page.line("   none was found before the search was ended");
        }
    }

    fn front(&self, page: &mut Page, best: &PlanAnswer) {
        let plan = self.plan;
        if plan.front.len() < 2 && plan.front_proven {
            return;
        }
        let sure = if plan.front_proven { "" } else { ", as far as searched" };
        let names: Vec<&str> = plan.goals.iter().map(|a| a.name.as_str()).collect();
        let head = format!("The best trade-offs{sure}: {}", names.join(" against "));
        page.put(Role::Strong, &head).end();
        let shown = plan.spread(MOST_TRADE_OFFS);
        for answer in &shown {
            page.say("   ");
            self.row(page, best, answer);
        }
        let rest = plan.front.len() - shown.len();
        if rest > 0 {
            let words = format!("and {rest} more between these; `--format json` has them all");
            page.say("   ").flow(Role::Faint, &words, 5);
        }
    }

    /// The least changes of the brief that make a list possible.
    fn ways_out(&self, page: &mut Page) {
        let plan = self.plan;
        let none = match (plan.ways_out.is_empty(), plan.ways_out_proven) {
            (true, true) => "Other wants or more money do not help: the rules refuse every list.",
            (true, false) => {
                "What would make it possible was not found before the search was ended."
            }
            (false, _) => "",
        };
        if !none.is_empty() {
            page.flow(Role::Plain, none, 2);
            return;
        }
        page.put(Role::Strong, "What would make it possible").end();
        for way in &plan.ways_out {
            page.say("   ").flow(Role::Plain, &way_out(way), 5);
        }
    }

    fn unsold(&self, page: &mut Page, unsold: &PlanUnsold) {
        let ids: Vec<&str> = unsold.parts.iter().map(|p| &*p.id).collect();
        let what = match unsold.gain {
            None => "a list would meet this brief".to_owned(),
            Some((goal, gain)) => format!("{}{}", self.gain(goal, gain, true), self.same(goal)),
        };
        let words = format!(
            "Out of stock everywhere, so not chosen: {}. With {}: {what}.",
            ids.join(", "),
            if ids.len() == 1 { "it" } else { "them" }
        );
        page.flow(Role::Plain, &words, 2);
    }

    pub(super) fn why_not(&self, page: &mut Page, part: &str, why: &WhyNot) {
        let words = match why {
            WhyNot::InAnswer => format!("{part} is in the best list."),
            WhyNot::NoLine => format!("{part} has no open line: the brief needs none of its kind."),
            WhyNot::Unmet(wants) => {
                let wants: Vec<String> = wants.iter().map(|w| format!("`{w}`")).collect();
                format!("{part} does not meet the line's own wants: {}.", wants.join(", "))
            }
            WhyNot::NoSeller => format!("No seller has {part} in stock on the pricing day."),
            WhyNot::Refused(wishes, smallest) => {
                let names: Vec<String> = wishes.iter().map(wish).collect();
                format!("No list with {part} meets this brief: {}.", cannot(&names, *smallest))
            }
            WhyNot::Worse { goal, by, proven, with, swaps } => {
                let arrow = page.arrow();
                let swaps: Vec<String> =
                    swaps.iter().map(|(a, b)| format!("{} {arrow} {}", a.id, b.id)).collect();
                let by = match *by == 0.0 {
                    true => "as good".to_owned(),
                    false => format!("{}{}", self.gain(*goal, *by, *by < 0.0), self.same(*goal)),
                };
                let most = if *proven { "" } else { " at the most" };
                format!(
                    "The best list with {part}: {by}{most} ({}; {}).",
                    self.values(with),
                    swaps.join(", ")
                )
            }
            WhyNot::Unfinished => "The search was ended before this could be said.".to_owned(),
        };
        page.flow(Role::Plain, &words, 2);
    }
}

/// A change of the brief in words, with what the list then costs.
fn way_out(way: &PlanWayOut) -> String {
    let sure = if way.proven { "" } else { ", as far as searched" };
    let total = &way.total.money;
    let wants: Vec<String> =
        way.of.iter().filter(|of| **of != PlanWish::Budget).map(wish).collect();
    let mut parts = Vec::new();
    match &way.reach {
        _ if wants.is_empty() => {}
        None => parts.push(format!("without {}", and(&wants))),
        Some(reach) => {
            // As it is, not rounded: it can be put in the brief.
            let value = reach.value;
            let (to, end) = match reach.more {
                true => (format!("lowered to `>= {value}`"), "most"),
                false => (format!("raised to `<= {value}`"), "least"),
            };
            parts.push(format!("{} {to}, the {end} that is possible", and(&wants)));
        }
    }
    if way.of.contains(&PlanWish::Budget) {
        let over = way.over.as_ref().map_or_else(String::new, |over| format!(" ({over} more)"));
        parts.push(format!("a budget of {total}{over}"));
        return parts.join(", with ") + sure;
    }
    format!("{}: the list costs {total}{sure}", parts.join(", with "))
}

/// What rules still find: cautions in full, advice counted.
fn remains(page: &mut Page, best: &PlanAnswer) {
    for found in best.remains.iter().filter(|f| f.level > Level::Advice) {
        let level = found.level.to_string();
        page.say("   ")
            .put(Role::Level(found.level), &level)
            .say(" ")
            .put(Role::Strong, &found.rule);
        page.say(" ").flow(Role::Plain, &found.message, 5);
    }
    let advice: Vec<&str> =
        best.remains.iter().filter(|f| f.level == Level::Advice).map(|f| &*f.rule).collect();
    if !advice.is_empty() {
        let words = format!("advice {}", advice.join(", "));
        page.say("   ").flow(Role::Faint, &words, 5);
    }
    if best.remains.is_empty() {
        page.say("   ").put(Role::Good, "no findings remain").end();
    }
}

fn swaps(page: &Page, cost: &PlanCost) -> String {
    let arrow = page.arrow();
    let swaps: Vec<String> =
        cost.swaps.iter().map(|(now, then)| format!("{} {arrow} {}", now.id, then.id)).collect();
    swaps.join(", ")
}

/// In which parts an answer differs from the best.
fn against(best: &PlanAnswer, answer: &PlanAnswer, arrow: &str) -> String {
    let pairs = best.parts.iter().zip(&answer.parts).filter(|(a, b)| a.0.id != b.0.id);
    let words: Vec<String> = pairs.map(|(a, b)| format!("{} {arrow} {}", a.0.id, b.0.id)).collect();
    if words.is_empty() { "the best itself".to_owned() } else { words.join(", ") }
}

/// A number without its unit where the name says it already: `value.index 168`, not `168 index`.
fn bare<'a>(aim: Option<&PlanAim>, words: &'a str) -> &'a str {
    let said = |unit: &str| aim.is_some_and(|a| a.name.rsplit('.').next() == Some(unit));
    words.rsplit_once(' ').filter(|(_, unit)| said(unit)).map_or(words, |(number, _)| number)
}

fn big(n: f64) -> String {
    if n < 1e6 {
        format!("{n}")
    } else {
        format!("{:.1}e{}", n / 10f64.powf(n.log10().floor()), n.log10().floor())
    }
}
