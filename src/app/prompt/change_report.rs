//! What the prompt shows of a trial: changes, lines, measures, text.

use crate::app::counted::count;
use crate::app::prompt::line_lookup::label;
use crate::app::prompt::output::{Page, Role};
use crate::app::report::escape::width;
use crate::audit::finding::Brief;
use crate::audit::wording::figure;
use crate::level::Level;
use crate::whatif::diff::{Change, LineChange, LineView, Moved, views};
use crate::whatif::text_diff::{DiffLine, unified};
use crate::whatif::trial::Snapshot;
use crate::whatif::why::price;

/// Most columns of a name before it is cut.
const WIDE_NAME: usize = 34;
/// Most columns of a value before it pushes the others aside.
const WIDE_VALUE: usize = 14;
/// Share of its value by which a measure must move to be shown after every change.
const SMALL: f64 = 0.01;
/// Columns of the first word of a change report.
const HEAD: usize = 8;

/// A change in a few lines: what came, what went, and what moved of the measures that tell better
/// from worse; the rest is counted only.
pub fn change(page: &mut Page, change: &Change) {
    whole_change(page, change, false);
}

/// A change, with every measure that moved when `all` is set.
pub fn whole_change(page: &mut Page, change: &Change, all: bool) {
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
        page.line(if change.patch.is_empty() {
            "nothing changes"
        } else {
            "only the text changes, not what it says"
        });
        return;
    }
    for found in &change.cleared {
        finding(page, Role::Good, "cleared", found);
    }
    for found in &change.raised {
        finding(page, Role::Level(found.level), "raised", found);
    }
    for (was, is) in &change.shifted {
        shifted(page, was, is);
    }
    for message in &change.broken.0 {
        page.cell(Role::Wrong, "broken", HEAD).flow(Role::Plain, message, HEAD + 1, HEAD + 1);
    }
    for message in &change.broken.1 {
        page.cell(Role::Good, "mended", HEAD).flow(Role::Plain, message, HEAD + 1, HEAD + 1);
    }
    moved(page, &change.measures, all);
    closing(page, change);
}

fn line_change(page: &mut Page, change: &LineChange) {
    let arrow = page.arrow();
    match change {
        LineChange::Swapped(from, to) => {
            page.cell(Role::Plain, "swapped", HEAD).say(&format!(
                "#{} {} {arrow} ",
                to.number,
                from.part.as_deref().unwrap_or(&from.name)
            ));
            page.put(Role::Strong, to.part.as_deref().unwrap_or(&to.name))
                .put(Role::Faint, &format!(" ({})", to.name))
                .say(&altered(from, to))
                .end();
        }
        LineChange::Altered(from, to) => {
            page.cell(Role::Plain, "changed", HEAD)
                .say(&format!("#{} ", to.number))
                .put(Role::Strong, to.part.as_deref().unwrap_or(&to.name));
            page.say(&altered(from, to)).end();
        }
        LineChange::Added(line) => {
            page.cell(Role::Plain, "added", HEAD)
                .put(Role::Strong, &label(line))
                .put(Role::Faint, &format!(" ({})", line.name))
                .end();
        }
        LineChange::Dropped(line) => {
            page.cell(Role::Plain, "dropped", HEAD)
                .put(Role::Strong, &label(line))
                .put(Role::Faint, &format!(" ({})", line.name))
                .end();
        }
        LineChange::Boxed(came, name, id) => {
            page.cell(Role::Plain, if *came { "boxed" } else { "unboxed" }, HEAD)
                .say(&format!(
                    "{id} ({name}), {} a box",
                    if *came { "which comes in" } else { "which came in" }
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
    say("what comes in the box:", boxed(from), boxed(to));
    words
}

fn finding(page: &mut Page, role: Role, word: &str, found: &Brief) {
    let waived = if found.waived { " (waived)" } else { "" };
    let level = found.level.to_string();
    page.cell(role, word, HEAD)
        .cell(Role::Level(found.level), &level, 7)
        .put(Role::Strong, &found.rule)
        .say(waived)
        .say(" ");
    let used = HEAD + 1 + 8 + width(&found.rule) + waived.len() + 1;
    page.flow(Role::Plain, &found.message, used, HEAD + 1);
}

fn shifted(page: &mut Page, was: &Brief, is: &Brief) {
    let (word, role) = match (is.level.cmp(&was.level), was.waived, is.waived) {
        (_, false, true) => ("waived", Role::Good),
        (_, true, false) => ("raised", Role::Level(is.level)),
        (std::cmp::Ordering::Less, ..) => ("eased", Role::Good),
        (std::cmp::Ordering::Greater, ..) => ("worse", Role::Level(is.level)),
        _ => ("still", Role::Plain),
    };
    finding(page, role, word, is);
    if was.level != is.level {
        page.say(&" ".repeat(HEAD + 1)).flow(
            Role::Faint,
            &format!("was {}: {}", was.level, was.message),
            HEAD + 1,
            HEAD + 1,
        );
    }
}

/// Measures that moved, in columns.
fn moved(page: &mut Page, measures: &[Moved], all: bool) {
    let (shown, small): (Vec<&Moved>, Vec<&Moved>) =
        measures.iter().partition(|m| all || (m.has_direction && m.share >= SMALL));
    let arrow = page.arrow();
    let wide = |of: &dyn Fn(&Moved) -> usize, most: usize| {
        shown.iter().map(|m| of(m)).max().unwrap_or(0).min(most)
    };
    let (name, from, to) = (
        wide(&|m| width(&m.id), WIDE_NAME),
        wide(&|m| width(&m.from), WIDE_VALUE),
        wide(&|m| width(&m.to), WIDE_VALUE),
    );
    let narrow = page.look.width < name + from + to + 24;
    let word = |at: usize| if at == 0 { "moved" } else { "" };
    for (at, measure) in shown.iter().enumerate() {
        if narrow {
            page.line(&format!(
                "{}{} {} {arrow} {} {}",
                if at == 0 { "moved " } else { "  " },
                measure.id,
                measure.from,
                measure.to,
                measure.difference
            ));
            continue;
        }
        page.cell(Role::Plain, word(at), HEAD)
            .cell(Role::Plain, &measure.id, name)
            .cell(Role::Plain, &right(&measure.from, from), from)
            .say(&format!("{arrow} "));
        page.cell(Role::Strong, &right(&measure.to, to), to)
            .put(Role::Faint, &measure.difference)
            .end();
    }
    if !small.is_empty() {
        let text = if shown.is_empty() {
            format!("{} changed; `diff` shows all", count(small.len(), "measure"))
        } else {
            format!("and {} changed; `diff` shows all", count(small.len(), "other measure"))
        };
        page.cell(Role::Plain, word(shown.len()), HEAD).flow(
            Role::Faint,
            &text,
            HEAD + 1,
            HEAD + 1,
        );
    }
}

fn right(text: &str, wide: usize) -> String {
    format!("{}{text}", " ".repeat(wide.saturating_sub(width(text))))
}

/// How many findings stand, and the price.
fn closing(page: &mut Page, change: &Change) {
    page.cell(Role::Plain, "now", HEAD);
    tally(page, change.counts, change.to_look_up);
    page.say(&format!("; {}", change.total.1));
    if change.total.0 != change.total.1 {
        page.put(Role::Faint, &format!(" (was {})", change.total.0));
    }
    page.end();
}

/// Findings by level, in a few words.
pub fn tally(page: &mut Page, counts: [usize; 3], to_look_up: usize) {
    let [stops, cautions, advice] = counts;
    match stops {
        0 if to_look_up > 0 => page.put(
            Role::Level(Level::Caution),
            &format!("not settled, {} to look up", count(to_look_up, "fact")),
        ),
        0 => page.put(Role::Good, "nothing stops it"),
        n => page.put(Role::Level(Level::Stop), &count(n, "stop")),
    };
    for (n, noun) in [(cautions, "caution"), (advice, "advice")] {
        if n > 0 {
            page.say(&format!(", {}", count(n, noun)));
        }
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
    let currency = &snapshot.build().currency;
    let prices: Vec<String> = views
        .iter()
        .map(|v| match (v.owned, &v.part, price(snapshot.audit.build(), v.number - 1)) {
            (true, ..) => "owned".to_owned(),
            (_, None, _) => "open".to_owned(),
            (_, _, None) => "no price".to_owned(),
            (_, _, Some(each)) => figure(each * f64::from(v.count), "money", currency),
        })
        .collect();
    let number = views.len().to_string().len() + 1;
    let part = views.iter().map(|v| width(v.part.as_deref().unwrap_or("open"))).max().unwrap_or(0);
    let money = prices.iter().map(|p| width(p)).max().unwrap_or(0);
    let narrow = page.look.width < number + part + money + 16;
    for (view, price) in views.iter().zip(&prices) {
        page.cell(Role::Faint, &right(&format!("#{}", view.number), number), number);
        if narrow {
            let id = view.part.as_deref().unwrap_or(&view.name);
            page.flow(
                Role::Plain,
                &format!("{id} {price} {}", extras(view)),
                number + 1,
                number + 1,
            );
            continue;
        }
        page.cell(Role::Part, view.part.as_deref().unwrap_or("open"), part).cell(
            Role::Plain,
            &right(price, money),
            money,
        );
        page.flow(
            Role::Plain,
            &format!(" {}{}", view.name, extras(view)),
            number + part + money + 4,
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
        page.flow(Role::Plain, &format!("In the boxes: {}", boxed.join(", ")), 0, 2);
    }
    let resolved = snapshot.audit.build();
    let unpriced = resolved.unpriced();
    page.say(&format!("To buy: {}", figure(resolved.total(), "money", currency)));
    if unpriced > 0.0 {
        page.say(&format!(", and {} without a price", count(unpriced as usize, "line")));
    }
    page.end();
}

fn extras(view: &LineView) -> String {
    let mut words = String::new();
    if view.count > 1 {
        words.push_str(&format!(" x{}", view.count));
    }
    for (key, value) in [("mount", &view.mount), ("flow", &view.flow)] {
        if let Some(value) = value {
            words.push_str(&format!(", {key} {value}"));
        }
    }
    if !view.included {
        words.push_str(", without what is in its box");
    }
    words
}

/// Measures with a word in their name; gives how many there were.
pub fn measures(page: &mut Page, snapshot: &Snapshot, pattern: Option<&str>) -> usize {
    let fits = |id: &str, title: &str| {
        pattern.is_none_or(|p| {
            id.to_lowercase().contains(&p.to_lowercase())
                || title.to_lowercase().contains(&p.to_lowercase())
        })
    };
    let shown: Vec<_> = snapshot.measures.iter().filter(|m| fits(&m.id, &m.title)).collect();
    let name = shown.iter().map(|m| width(&m.id)).max().unwrap_or(0).min(WIDE_NAME);
    let value = shown.iter().map(|m| width(&m.words)).max().unwrap_or(0);
    for measure in &shown {
        let role = if measure.value.is_some() { Role::Strong } else { Role::Faint };
        page.cell(Role::Plain, &measure.id, name).cell(role, &right(&measure.words, value), value);
        page.flow(Role::Faint, &format!(" {}", measure.title), name + value + 3, name + value + 3);
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
