//! The ways that `mend` found, in words.

use crate::app::counted::count;
use crate::app::prompt::output::{Page, Role};
use crate::app::prompt::search_report::{cannot, left_out, signed};
use crate::audit::wording::figure;
use crate::whatif::mend::{Mend, MendChange, MendLoss, MendNearest, MendWay};
use crate::words::some_of;

/// Raised cautions that are named of a way.
const RAISED: usize = 3;

/// How the reader goes on from the ways that mend a list.
#[derive(Clone, Copy)]
pub(super) struct How {
    /// What makes one of them.
    pub(super) make: &'static str,
    /// What shows those that cost much more of the parts chosen; none where they are shown.
    pub(super) all: Option<&'static str>,
}

/// The fewest changes that clear every stop.
pub(super) fn mend(page: &mut Page, mend: &Mend, how: How, currency: &str) {
    if mend.stops.is_empty() {
        page.put(Role::Good, "no stops").say(": there is nothing to mend").end();
        return;
    }
    let stops = format!("{} to clear: {}", count(mend.stops.len(), "stop"), mend.stops.join(", "));
    page.flow(Role::Plain, &stops, 2);
    left_out(page, mend.left_out.iter());
    let shown = |way: &&MendWay| way.offered || how.all.is_none();
    for (at, way) in mend.ways.iter().filter(shown).enumerate() {
        page.cell(Role::Strong, &format!("{}", at + 1), 2);
        way_line(page, way, currency);
    }
    let least = count(mend.least, "change");
    let sure = match (mend.ways.is_empty(), mend.proven) {
        (false, true) => "no shorter, less harmful or cheaper fix exists (proven)".to_owned(),
        (false, false) => {
            format!("the search was ended early: a better fix may exist, of {least} at least")
        }
        (true, false) => {
            format!("no fix was found before the search was ended; it takes {least} at least")
        }
        (true, true) => "no changes clear them".to_owned(),
    };
    if !mend.ways.is_empty() {
        page.flow(Role::Faint, &format!("{sure}; {}", how.make), 2);
        let rest = mend.ways.iter().filter(|way| !shown(way)).count();
        if let (Some(all), 1..) = (how.all, rest) {
            let cost = if rest == 1 { "fix costs" } else { "fixes cost" };
            let text = format!(
                "{rest} cheaper {cost} much more of the parts chosen; {all} shows {}",
                if rest == 1 { "it" } else { "them" }
            );
            page.flow(Role::Faint, &text, 2);
        }
        return;
    }
    let why = match mend.conflict.is_empty() {
        true => String::new(),
        false => format!(": {}", cannot(&mend.conflict, mend.conflict_smallest)),
    };
    page.flow(Role::Wrong, &format!("{sure}{why}"), 2);
    for found in &mend.in_the_way {
        page.say("  ").put(Role::Strong, &found.rule);
        page.say(" ").flow(Role::Plain, &found.message, 4);
    }
    if let Some(near) = &mend.nearest {
        nearest(page, near);
    }
    if !mend.unsold.is_empty() {
        let names: Vec<&str> = mend.unsold.iter().map(|p| &*p.name).collect();
        let text = format!("{} would, and no seller has it in stock", names.join(" and "));
        page.flow(Role::Plain, &text, 2);
    }
}

/// The cheapest list that only some rules stop.
fn nearest(page: &mut Page, nearest: &MendNearest) {
    let found = if nearest.proven { "" } else { " that was found" };
    let rules = nearest.without.join(" and ");
    let list = format!("without {rules}, the cheapest list of these lines{found}");
    page.flow(Role::Plain, &format!("{list} costs {}:", nearest.total), 2);
    for found in &nearest.findings {
        page.say("  ").put(Role::Strong, &found.rule);
        page.say(" ").flow(Role::Plain, &found.message, 4);
    }
}

fn way_line(page: &mut Page, way: &MendWay, currency: &str) {
    let arrow = page.arrow();
    let changes: Vec<String> =
        way.changes.iter().map(|c| mend_change(c, arrow, currency)).collect();
    let raises = match way.raises.len() {
        0 => String::new(),
        n => {
            let rules = some_of(way.raises.iter().map(|r| &**r), RAISED);
            format!("; raises caution{} {rules}", if n == 1 { "" } else { "s" })
        }
    };
    let total = format!("{} ({})", way.total, signed(way.more));
    let words = format!("{}{raises}; {total}", changes.join(", "));
    page.flow(Role::Plain, &words, 5);
}

fn mend_change(change: &MendChange, arrow: &str, currency: &str) -> String {
    let place = |mount: &Option<std::sync::Arc<str>>, flow: &Option<std::sync::Arc<str>>| {
        let words = [mount, flow].into_iter().flatten().map(|w| format!(" {w}"));
        words.collect::<String>()
    };
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

/// A loss in words: `500 GB less`, `index 20 less`.
pub(crate) fn loss(loss: &MendLoss, currency: &str) -> String {
    let Some(to) = loss.to else { return format!("{} not stated", loss.name) };
    let much = figure((loss.from - to).abs(), &loss.unit, currency);
    let way = if to < loss.from { "less" } else { "more" };
    if loss.unit.is_empty() {
        format!("{} {much} {way}", loss.name)
    } else {
        format!("{much} {way}")
    }
}
