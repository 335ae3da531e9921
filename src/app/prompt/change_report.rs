//! What the prompt shows of a trial: changes, lines, measures, text.

use crate::app::counted::count;
use crate::app::prompt::line_lookup::{label, names, placed};
use crate::app::prompt::output::{Page, Role, safe};
use crate::app::report::escape::{width, wrap};
use crate::audit::finding::Brief;
use crate::build::orders::line_costs;
use crate::kit::{Measure, Ruling};
use crate::level::Level;
use crate::whatif::diff::{Change, LineChange, LineView, Moved, views};
use crate::whatif::text_diff::{DiffLine, unified};
use crate::whatif::trial::Snapshot;

/// Most columns of a name before it is cut.
const WIDE_NAME: usize = 34;
/// Most columns of a value before it pushes the others aside.
const WIDE_VALUE: usize = 14;
/// Share of its value by which a measure must move to be shown after every change.
const SMALL: f64 = 0.01;
/// Columns of the first word of a change report.
const HEAD: usize = 8;
/// Columns of a finding's level in it.
const LEVEL: usize = 7;

/// Lines that the report on a change takes at most, what may be done next included.
const MOST_LINES: usize = 12;
/// Measures that it shows for certain.
const MOST_MEASURES: usize = 4;

/// A change in at most `MOST_LINES` lines: what changed on the list, what it raised and cleared,
/// which measures moved, and what it has come to. What has no room is counted.
pub fn change(page: &mut Page, change: &Change) {
    if !of_the_list(page, change) {
        return;
    }
    let used = page.text.lines().count();
    let mut room = MOST_LINES.saturating_sub(used + 3);
    let telling = |m: &&Moved| m.better.is_some() && m.share >= SMALL;
    let moved_most: Vec<&Moved> = change.measures.iter().filter(telling).collect();
    let kept = moved_most.len().min(MOST_MEASURES).min(room / 2);
    let mut left_out = [0usize; 2];
    let mut rows = String::new();
    let mut full = false;
    for (at, role, word, found) in told(change) {
        let mut row = Page::new(page.look);
        finding(&mut row, role, word, found);
        let lines = row.text.lines().count();
        // What came matters more than how far a figure moved.
        let reserved = if at == 0 { kept.min(1) } else { kept };
        full |= lines + reserved > room;
        if full {
            left_out[at] += 1;
        } else {
            room -= lines;
            rows.push_str(&row.text);
        }
    }
    page.text.push_str(&rows);
    let shown = moved_most.len().min(room);
    measures_in_columns(page, moved_most.get(..shown).unwrap_or(&[]));
    let quiet = change.shifted.iter().filter(|(was, is)| eased(was, is).is_none()).count();
    let advice = |found: &[Brief]| found.iter().filter(|f| f.level == Level::Advice).count();
    also(
        page,
        &[
            (left_out[0], "more raised"),
            (left_out[1], "more cleared"),
            (advice(&change.raised), "advice raised"),
            (advice(&change.cleared), "advice cleared"),
            (quiet, "with new figures"),
            (change.measures.len() - shown, "more moved"),
        ],
    );
    closing(page, change);
}

/// Findings to tell of after a change, the worst first, raised before cleared: which of the two
/// counts it belongs to, its colour, its word, and the finding.
fn told(change: &Change) -> Vec<(usize, Role, &'static str, &Brief)> {
    let mut all: Vec<(usize, Role, &'static str, &Brief)> = Vec::new();
    all.extend(change.raised.iter().map(|f| (0, Role::Level(f.level), "raised", f)));
    all.extend(change.cleared.iter().map(|f| (1, Role::Good, "cleared", f)));
    all.extend(change.shifted.iter().filter_map(|(was, is)| {
        let (word, role) = eased(was, is)?;
        Some((usize::from(role == Role::Good), role, word, is))
    }));
    all.retain(|(.., f)| f.level > Level::Advice);
    all.sort_by_key(|(at, _, _, f)| (std::cmp::Reverse(f.level), *at));
    all
}

/// What was left out, counted, in one line.
fn also(page: &mut Page, counts: &[(usize, &str)]) {
    let words: Vec<String> =
        counts.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect();
    if !words.is_empty() {
        let text = format!("{}; `diff` shows all", words.join(", "));
        page.cell(Role::Plain, "also", HEAD).flow(Role::Faint, &text, HEAD + 1);
    }
}

/// What changed on the list and in the rules; whether anything but the text did.
fn of_the_list(page: &mut Page, change: &Change) -> bool {
    for line in &change.lines {
        line_change(page, line);
    }
    let arrow = page.arrow();
    for field in &change.fields {
        page.cell(Role::Plain, "set", HEAD)
            .put(Role::Strong, &field.name)
            .say(&format!(" {} {arrow} ", field.from))
            .put(Role::Strong, &field.to)
            .end();
    }
    if !change.says_more_than_text() {
        page.line(match change.text_differs {
            true => "no finding, price or measure changes",
            false => "nothing changes",
        });
        return false;
    }
    for message in &change.broken.0 {
        page.cell(Role::Wrong, "broken", HEAD).flow(Role::Plain, message, HEAD + 1);
    }
    for message in &change.broken.1 {
        page.cell(Role::Good, "mended", HEAD).flow(Role::Plain, message, HEAD + 1);
    }
    true
}

/// A change in full, with every finding and measure that moved.
pub fn whole_change(page: &mut Page, change: &Change) {
    if !of_the_list(page, change) {
        return;
    }
    for found in &change.cleared {
        finding(page, Role::Good, "cleared", found);
    }
    for found in &change.raised {
        finding(page, Role::Level(found.level), "raised", found);
    }
    for (was, is) in &change.shifted {
        let (word, role) = eased(was, is).unwrap_or(("changed", Role::Plain));
        finding(page, role, word, is);
        if was.level != is.level {
            page.say(&" ".repeat(HEAD + 1)).flow(
                Role::Faint,
                &format!("was {}: {}", was.level, was.message),
                HEAD + 1,
            );
        }
    }
    measures_in_columns(page, &change.measures.iter().collect::<Vec<_>>());
    closing(page, change);
}

fn line_change(page: &mut Page, change: &LineChange) {
    let arrow = page.arrow();
    match change {
        LineChange::Swapped(from, to) => {
            page.cell(Role::Plain, "swapped", HEAD)
                .say(&format!("#{} {} {arrow} ", to.number, from.name));
            page.put(Role::Strong, &to.name).say(&altered(from, to)).end();
        }
        LineChange::Altered(from, to) => {
            page.cell(Role::Plain, "changed", HEAD)
                .say(&format!("#{} ", to.number))
                .put(Role::Strong, &to.name);
            if from.chosen != to.chosen {
                let chosen = |v: &LineView| v.chosen.clone().unwrap_or_else(|| "none".to_owned());
                page.say(&format!("; {} {arrow} {}", chosen(from), chosen(to)));
            }
            page.say(&altered(from, to)).end();
        }
        LineChange::Added(line) => {
            page.cell(Role::Plain, "added", HEAD).put(Role::Strong, &label(line)).end();
        }
        LineChange::Dropped(line) => {
            page.cell(Role::Plain, "dropped", HEAD).put(Role::Strong, &label(line)).end();
        }
        LineChange::Boxed(came, name, _) => {
            page.cell(Role::Plain, if *came { "added" } else { "dropped" }, HEAD)
                .say(&format!(
                    "{name}, {} included with another part",
                    if *came { "now" } else { "no longer" }
                ))
                .end();
        }
    }
}

/// What else changed on a line, each with a comma before it.
fn altered(from: &LineView, to: &LineView) -> String {
    let mut words = String::new();
    let text = |v: &Option<std::sync::Arc<str>>| v.as_deref().unwrap_or("none").to_owned();
    let mut say = |key: &str, was: String, is: String| {
        if was != is {
            words.push_str(&format!(", {key} {was} to {is}"));
        }
    };
    say("count", from.count.to_string(), to.count.to_string());
    say("mount", text(&from.mount), text(&to.mount));
    say("flow", text(&from.flow), text(&to.flow));
    let whose = |v: &LineView| if v.owned { "the customer's" } else { "to buy" }.to_owned();
    say("from", whose(from), whose(to));
    let boxed = |v: &LineView| if v.included { "counted" } else { "left out" }.to_owned();
    say("included parts:", boxed(from), boxed(to));
    words
}

/// A finding as one sentence with its rule small at the end.
fn finding(page: &mut Page, role: Role, word: &str, found: &Brief) {
    let waived = if found.waived { " (waived)" } else { "" };
    let (message, level) = (format!("{}{waived}", found.message), found.level.to_string());
    page.cell(role, word, HEAD).cell(Role::Level(found.level), &level, LEVEL);
    let indent = HEAD + LEVEL + 2;
    let room = page.look.width.saturating_sub(indent);
    let lines = wrap(&safe(&message), room);
    let last = lines.last().map_or(0, |l| width(l));
    if room < 24 || last + 2 + width(&found.rule) > room {
        page.flow(Role::Plain, &message, indent);
        if page.look.width >= indent + width(&found.rule) {
            page.say(&" ".repeat(page.look.width - width(&found.rule)));
        } else {
            page.say("  ");
        }
        page.put(Role::Faint, &found.rule).end();
        return;
    }
    for (at, line) in lines.iter().enumerate() {
        if at > 0 {
            page.end().say(&" ".repeat(indent));
        }
        page.say(line);
    }
    page.say(&" ".repeat(room - last - width(&found.rule))).put(Role::Faint, &found.rule).end();
}

/// The word for a finding whose level or waiver changed, and its colour; none where only its
/// figures did.
fn eased(was: &Brief, is: &Brief) -> Option<(&'static str, Role)> {
    match (is.level.cmp(&was.level), was.waived, is.waived) {
        (_, false, true) => Some(("waived", Role::Good)),
        (_, true, false) => Some(("raised", Role::Level(is.level))),
        (std::cmp::Ordering::Less, ..) => Some(("eased", Role::Good)),
        (std::cmp::Ordering::Greater, ..) => Some(("worse", Role::Level(is.level))),
        _ => None,
    }
}

/// Measures that moved, in columns; green for the better, red for the worse.
fn measures_in_columns(page: &mut Page, shown: &[&Moved]) {
    let arrow = page.arrow();
    let wide = |of: &dyn Fn(&Moved) -> usize, most: usize| {
        shown.iter().map(|m| of(m)).max().unwrap_or(0).min(most)
    };
    let (name, from, to) = (
        wide(&|m| width(&m.name), WIDE_NAME),
        wide(&|m| width(&m.from), WIDE_VALUE),
        wide(&|m| width(&m.to), WIDE_VALUE),
    );
    let by = wide(&|m| width(&m.difference), WIDE_VALUE);
    let narrow = page.look.width < HEAD + name + from + to + by + 7;
    let word = |at: usize| if at == 0 { "moved" } else { "" };
    for (at, measure) in shown.iter().enumerate() {
        let role = match measure.better {
            Some(true) => Role::Good,
            Some(false) => Role::Level(Level::Stop),
            None => Role::Strong,
        };
        if narrow {
            let Moved { name, from, to, difference, .. } = measure;
            let head = if at == 0 { "moved " } else { "  " };
            let text = format!("{name} {from} {arrow} {to} {difference}");
            page.say(head).flow(role, &text, 2);
            continue;
        }
        page.cell(Role::Plain, word(at), HEAD)
            .cell(Role::Plain, &measure.name, name)
            .right(Role::Plain, &measure.from, from)
            .say(&format!("{arrow} "));
        page.right(role, &measure.to, to).put(role, &measure.difference).end();
    }
}

/// How many findings stand, and the price.
fn closing(page: &mut Page, change: &Change) {
    page.cell(Role::Plain, "now", HEAD);
    let ruling = change.ruling.unwrap_or(Ruling::Build);
    tally(page, ruling, change.counts, change.to_look_up);
    page.say(&format!("; {}", change.paid));
    if change.total.0 != change.total.1 {
        page.put(Role::Faint, &format!(" (was {})", change.total.0));
    }
    page.end();
}

/// The verdict and how many findings there are, in the words of every report.
pub fn tally(page: &mut Page, ruling: Ruling, counts: [usize; 3], to_look_up: usize) {
    page.put(verdict_role(ruling), ruling.words());
    let [stops, cautions, advice] = counts;
    let facts = if stops == 0 { to_look_up } else { 0 };
    let words: Vec<String> =
        [(stops, "stop"), (cautions, "caution"), (facts, "fact to look up"), (advice, "advice")]
            .into_iter()
            .filter(|(n, _)| *n > 0)
            .map(|(n, noun)| count(n, noun))
            .collect();
    if !words.is_empty() {
        page.say(&format!(": {}", words.join(", ")));
    }
}

pub(super) fn verdict_role(ruling: Ruling) -> Role {
    match ruling {
        Ruling::Stop => Role::Level(Level::Stop),
        Ruling::Broken => Role::Wrong,
        Ruling::Open | Ruling::Care => Role::Level(Level::Caution),
        Ruling::Build => Role::Good,
    }
}

/// Findings in force by level: stops, cautions, advice.
pub fn counts(snapshot: &Snapshot) -> [usize; 3] {
    [Level::Stop, Level::Caution, Level::Advice]
        .map(|level| snapshot.briefs.iter().filter(|f| f.level == level && !f.waived).count())
}

/// The lines of the build, numbered.
pub fn lines(page: &mut Page, snapshot: &Snapshot) {
    let views = views(snapshot);
    let costs = line_costs(snapshot.audit.build());
    let prices: Vec<String> = views
        .iter()
        .map(|v| match (v.owned, &v.part, costs.get(v.number - 1).copied().flatten()) {
            (true, ..) => "owned".to_owned(),
            (_, None, None) => "open".to_owned(),
            (_, _, None) => "no price".to_owned(),
            (_, _, Some(cost)) => cost.to_string(),
        })
        .collect();
    let number = views.len().to_string().len() + 1;
    let part = views.iter().map(|v| width(v.part.as_deref().unwrap_or("open"))).max().unwrap_or(0);
    let money = prices.iter().map(|p| width(p)).max().unwrap_or(0);
    let narrow = page.look.width < number + part + money + 16;
    for (view, price) in views.iter().zip(&prices) {
        page.right(Role::Faint, &format!("#{}", view.number), number);
        if narrow {
            let id = view.part.clone().unwrap_or_else(|| names(view));
            page.flow(Role::Plain, &format!("{id} {price} {}", extras(view)), number + 1);
            continue;
        }
        page.cell(Role::Part, view.part.as_deref().unwrap_or("open"), part).right(
            Role::Plain,
            price,
            money,
        );
        page.flow(
            Role::Plain,
            &format!(" {}{}", names(view), extras(view)),
            number + part + money + 4,
        );
    }
    let boxed: Vec<String> = snapshot
        .audit
        .build()
        .all()
        .filter(|(_, _, s)| s.included)
        .filter_map(|(_, _, s)| s.part.as_ref().map(|p| format!("{} (with #{})", p.id, s.line + 1)))
        .collect();
    if !boxed.is_empty() {
        page.flow(Role::Plain, &format!("Included: {}", boxed.join(", ")), 2);
    }
    let resolved = snapshot.audit.build();
    let paid = resolved.paid();
    page.say(&format!("To buy: {paid}"));
    if paid.unpriced > 0 {
        page.say(&format!(", and {} without a price", count(paid.unpriced as usize, "line")));
    }
    page.end();
}

fn extras(view: &LineView) -> String {
    let mut words = placed(view, ", ");
    if !view.included {
        words.push_str(", without its included parts");
    }
    words
}

/// Measures with a word in their name; gives how many there were.
pub fn measures(page: &mut Page, snapshot: &Snapshot, pattern: Option<&str>) -> usize {
    let low = pattern.map(str::to_lowercase);
    let fits = |m: &&Measure| {
        let texts = [&m.id, &m.name, &m.title];
        low.as_deref().is_none_or(|low| texts.iter().any(|text| text.to_lowercase().contains(low)))
    };
    let shown: Vec<_> = snapshot.measures.iter().filter(fits).collect();
    let name = shown.iter().map(|m| width(&m.id)).max().unwrap_or(0).min(WIDE_NAME);
    let value = shown.iter().map(|m| width(&m.words)).max().unwrap_or(0);
    for measure in &shown {
        let role = if measure.value.is_some() { Role::Strong } else { Role::Faint };
        page.cell(Role::Plain, &measure.id, name).right(role, &measure.words, value);
        page.flow(Role::Faint, &format!(" {}", measure.title), name + value + 3);
    }
    shown.len()
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
