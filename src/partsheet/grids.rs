//! Tables within a page whose heads are labels of fields: `| +12 V | +5 V |` and below it what each
//! has, as a line for each value.

use crate::intake::RawTable;

/// A page with each such table as lines of a label and what it says. Every line stays the line
/// that it was.
pub(super) fn turned(text: &str, knows: &dyn Fn(&str) -> bool) -> String {
    let mut out: Vec<String> = Vec::new();
    let mut heads: Vec<String> = Vec::new();
    for line in text.lines() {
        let cells = cells(line);
        let rule = line.contains('-') && cells.iter().all(|c| c.chars().all(|c| "-: ".contains(c)));
        let labels = cells.iter().skip(1).filter(|c| !c.is_empty());
        let (known, all) = (labels.clone().filter(|c| knows(c)).count(), labels.count());
        if all > 2 && known * 3 > all * 2 && cells.first().is_none_or(String::is_empty) {
            heads = cells;
            out.push(String::new());
        } else if !heads.is_empty() && rule {
            out.push(String::new());
        } else if !heads.is_empty() && (2..=heads.len()).contains(&cells.len()) {
            out.push(said(&heads, &cells));
        } else {
            heads.clear();
            out.push(line.to_owned());
        }
    }
    out.join("\n")
}

/// The table within a page that has a column for each of several models: a line that names them,
/// and below it lines of labels.
pub(super) fn of_models(text: &str, knows: &dyn Fn(&str) -> bool) -> Option<RawTable> {
    let lines: Vec<&str> = text.lines().collect();
    let all: Vec<Vec<String>> = lines.iter().map(|line| cells(line)).collect();
    let names = |c: &Vec<String>| {
        let first = c.first().map_or("", String::as_str);
        c.len() > 2 && (first.is_empty() || super::heads("name_heads", first))
    };
    all.iter().enumerate().filter(|(_, head)| names(head)).find_map(|(at, head)| {
        let below = all.get(at + 1..)?.iter().zip(at + 2..);
        let rule = |c: &Vec<String>| c.iter().all(|c| c.chars().all(|c| "-: ".contains(c)));
        let below = below.take_while(|(c, _)| c.len() == head.len() || c.is_empty() || rule(c));
        let rows: Vec<(usize, Vec<String>)> =
            below.filter(|(c, _)| !rule(c)).map(|(c, line)| (line, c.clone())).collect();
        let known = rows.iter().filter_map(|(_, c)| c.first()).filter(|c| knows(c)).count();
        let above = lines.get(..at)?.join(", ");
        let table = RawTable { above, heads: head.clone(), rows };
        (table.rows.len() > 2 && known * 2 > table.rows.len()).then_some(table)
    })
}

/// The cells of a line, the first empty where a table's corner is.
fn cells(line: &str) -> Vec<String> {
    let trim = |cells: std::str::Split<'_, char>| cells.map(|c| c.trim().to_owned()).collect();
    match line.trim().strip_prefix('|') {
        Some(inner) => trim(inner.strip_suffix('|').unwrap_or(inner).split('|')),
        None if line.contains('\t') => trim(line.trim_end().split('\t')),
        None => {
            let parts = line.trim_end().split("  ").map(|c| c.trim().to_owned());
            let mut cells: Vec<String> = parts.filter(|c| !c.is_empty()).collect();
            if line.starts_with("  ") {
                cells.insert(0, String::new());
            }
            cells
        }
    }
}

/// What a row says below each head, in one line; an empty cell goes with the one before it.
fn said(heads: &[String], cells: &[String]) -> String {
    let mut out: Vec<(String, &str)> = Vec::new();
    for (head, cell) in heads.iter().zip(cells).skip(1) {
        match out.last_mut().filter(|_| cell.is_empty()) {
            Some((label, _)) => {
                *label = format!("{} + {}", label, head).replace('+', " + ");
                *label = label.split_whitespace().collect::<Vec<_>>().join(" ");
                *label = label.replace("+ + ", "+ ").trim_start_matches("+ ").to_owned();
            }
            None => out.push((head.clone(), cell)),
        }
    }
    // What is said of −12 V is said of no field.
    let minus = |label: &str| label.starts_with(['-', '−', '–']);
    let said = out.iter().filter(|(label, cell)| !cell.is_empty() && !minus(label));
    said.map(|(label, cell)| format!("{label}: {cell}")).collect::<Vec<_>>().join(" | ")
}
