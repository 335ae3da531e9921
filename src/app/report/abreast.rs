//! Builds beside each other at a terminal: what they come to, then their parts by kind.

use std::sync::Arc;

use crate::app::prices::priced_lines::{PricedLine, lines};
use crate::app::report::escape::{inert, width, wrap};
use crate::app::report::style::Look;
use crate::app::report::{Audited, glance};
use crate::audit::wording::figure;
use crate::build::orders::orders;
use crate::kit::Audit;
use crate::words::clip;

/// A figure whose unit is in the row's head.
fn bare(figure: String) -> String {
    let number = figure.split_once(" index").map(|(number, _)| number.to_owned());
    number.unwrap_or(figure)
}

/// Columns of the first column where room is short.
const HEAD: usize = 16;
/// Narrowest column of a build.
const NARROW: usize = 19;
/// Longest name of a part.
const NAME: usize = 80;

/// A row: what it is about, and what each build says.
struct Row {
    head: String,
    cells: Vec<String>,
}

/// Builds beside each other, as many abreast as the page has room for; what is the same in all of
/// them is one sentence.
pub(crate) fn abreast(look: Look, builds: &[(String, &Audit)]) -> String {
    let rows = rows(builds);
    let names: Vec<String> = builds.iter().map(|(name, _)| inert(&clip(name, NAME))).collect();
    let room = look.width.saturating_sub(HEAD);
    let most = (room / (NARROW + 2)).clamp(1, builds.len().max(1));
    let blocks = builds.len().div_ceil(most).max(1);
    // Blocks alike in size.
    let each = builds.len().div_ceil(blocks).max(1);
    // As wide as its longest entry, where the builds keep their room.
    let longest = rows.iter().map(|row| width(&inert(&row.head))).max().unwrap_or(0) + 2;
    let head = longest.min(look.width.saturating_sub(each * (NARROW + 2)).max(HEAD));
    let room = look.width.saturating_sub(head);
    let (alike, differing): (Vec<&Row>, Vec<&Row>) =
        rows.iter().partition(|row| row.cells.windows(2).all(|two| two.first() == two.last()));
    let mut out = String::new();
    for start in (0..builds.len()).step_by(each) {
        let wide = (room / each.min(builds.len() - start)).saturating_sub(2).min(44);
        let some = |of: &[String]| of.iter().skip(start).take(each).cloned().collect::<Vec<_>>();
        out.push_str(&row("", head, &some(&names), wide));
        for r in &differing {
            out.push_str(&row(&r.head, head, &some(&r.cells), wide));
        }
        out.push('\n');
    }
    let same: Vec<String> = alike
        .iter()
        .filter_map(|r| Some(format!("{} {}", r.head, r.cells.first().filter(|c| *c != "–")?)))
        // Lines of one kind are set below each other in a cell.
        .map(|words| words.replace('\n', ", "))
        .collect();
    if !same.is_empty() {
        let words = format!("The same in all: {}.", same.join("; "));
        out.push_str(&look.hanging(&words));
    }
    out
}

/// One row, its cells wrapped beside each other.
fn row(title: &str, head: usize, cells: &[String], wide: usize) -> String {
    let mut columns = vec![wrap(&inert(title), head - 2)];
    columns.extend(cells.iter().map(|cell| {
        let pieces = cell.split('\n').flat_map(|piece| wrap(&inert(piece), wide));
        pieces.collect::<Vec<_>>()
    }));
    let high = columns.iter().map(Vec::len).max().unwrap_or(0);
    let mut out = String::new();
    for at in 0..high {
        let mut line = String::new();
        for (column, room) in
            columns.iter().zip([head].into_iter().chain(std::iter::repeat(wide + 2)))
        {
            let text = column.get(at).map_or("", String::as_str);
            line.push_str(text);
            line.push_str(&" ".repeat(room.saturating_sub(width(text))));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// A build's audit, and its lines with their prices.
type Told = (Audited, Vec<PricedLine>);

fn rows(builds: &[(String, &Audit)]) -> Vec<Row> {
    let told: Vec<Told> = builds
        .iter()
        .map(|(_, audit)| {
            let build = audit.build();
            let orders = orders(build);
            (Audited::new(audit), lines(build, &orders))
        })
        .collect();
    let row = |head: &str, of: &dyn Fn(&Told) -> String| Row {
        head: head.to_owned(),
        cells: told.iter().map(of).collect(),
    };
    let measure = |audited: &Audited, id: &str| {
        let found = audited.measure(id)?;
        Some(figure(found.value?, &found.unit, &audited.currency))
    };
    let mut rows = vec![
        row("verdict", &|t| {
            format!("{}\n{}", glance::verdict(&t.0).words(), glance::counts(&t.0, false))
        }),
        row("total", &|t| t.0.paid.to_string()),
    ];
    // Each build may have rules of its own.
    let mut compared: Vec<(Arc<str>, Arc<str>)> = Vec::new();
    for measure in told.iter().flat_map(|t| &t.0.measures).filter(|m| m.compared) {
        if !compared.iter().any(|(id, _)| *id == measure.id) {
            compared.push((measure.id.clone(), measure.name.clone()));
        }
    }
    for (id, name) in &compared {
        rows.push(row(name, &|t| measure(&t.0, id).map_or_else(|| "–".to_owned(), bare)));
    }
    let mut kinds: Vec<(&str, &str)> = Vec::new();
    for line in told.iter().flat_map(|t| &t.1) {
        if !kinds.iter().any(|(kind, _)| *kind == &*line.kind.0) {
            kinds.push((&line.kind.0, &line.kind.1));
        }
    }
    for (kind, title) in kinds {
        let of = |t: &Told| {
            let parts: Vec<String> = t.1.iter().filter(|l| *l.kind.0 == *kind).map(part).collect();
            if parts.is_empty() { "–".to_owned() } else { parts.join("\n") }
        };
        rows.push(row(title, &of));
    }
    rows
}

fn part(line: &PricedLine) -> String {
    let name = clip(&line.name, NAME).replace('\n', " ");
    let pieces = if line.count > 1 { format!("{} × ", line.count) } else { String::new() };
    let price = match (line.owned, line.sum) {
        (true, _) => ", own".to_owned(),
        (_, Some(sum)) => format!(" {sum}"),
        _ => ", no offer".to_owned(),
    };
    format!("{pieces}{name}{price}")
}
