//! The page of an edition: builds side by side, what changed, and the history of their totals.

use serde::Serialize;

use super::changes::changes;
use super::chart::Group;
use super::record::{Edition, Editions, Entry, Line};
use crate::app::counted::capitalised;
use crate::app::report::sheet::draw::Picture;
use crate::app::report::sheet::{environment, letterhead};
use crate::audit::wording::figure;
use crate::source::Problem;
use crate::words::clip;

/// Builds in one table.
const ABREAST: usize = 4;
/// Longest name on the page.
const NAME: usize = 120;
/// Most days of the history that are shown.
const DAYS: usize = 24;
/// Ids of the charts.
const CHARTS: [&str; 6] = ["chart-1", "chart-2", "chart-3", "chart-4", "chart-5", "chart-6"];

#[derive(Debug, Serialize)]
struct Page {
    version: &'static str,
    title: String,
    running: String,
    on: String,
    builds: Vec<Build>,
    tables: Vec<Table>,
    charts: Vec<Picture>,
    before: Option<String>,
    moved: Vec<Moved>,
    withdrawn: Vec<String>,
    history: Vec<Table>,
    earlier: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Build {
    number: usize,
    title: String,
    name: String,
}

/// Some builds beside each other.
#[derive(Debug, Serialize)]
struct Table {
    heads: Vec<String>,
    rows: Vec<(String, Vec<Vec<Cell>>)>,
}

#[derive(Debug, Default, Serialize)]
struct Cell {
    words: String,
    link: Option<String>,
    /// What is beside it, such as a price.
    more: String,
}

/// What changed in a build.
#[derive(Debug, Serialize)]
struct Moved {
    title: String,
    is_new: bool,
    rows: Vec<(String, String, String)>,
    total: String,
    note: String,
}

fn cell(words: impl Into<String>) -> Vec<Cell> {
    vec![Cell { words: words.into(), ..Cell::default() }]
}

/// Writes the page.
/// Errors: the page's own template fails, which no input should bring about.
pub(super) fn page(title: &str, editions: &Editions, groups: &[Group]) -> Result<String, Problem> {
    let Some((edition, earlier)) = editions.editions.split_last() else {
        return Err(Problem::new("there is no build to publish"));
    };
    let before = earlier.last();
    let withdrawn = before.map_or_else(Vec::new, |b| {
        let gone = b.builds.iter().filter(|e| !edition.builds.iter().any(|n| n.name == e.name));
        gone.map(|e| clip(&e.title, NAME)).collect()
    });
    let pictures = groups.iter().zip(CHARTS).filter_map(|(group, id)| group.picture(id));
    let page = Page {
        version: env!("CARGO_PKG_VERSION"),
        title: clip(title, NAME),
        running: letterhead::in_style(&format!("{title}, {}", edition.on)),
        on: edition.on.to_string(),
        builds: numbered(edition)
            .map(|(number, e)| Build { number, title: clip(&e.title, NAME), name: e.name.clone() })
            .collect(),
        tables: tables(edition),
        charts: pictures.collect(),
        before: before.map(|b| b.on.to_string()),
        moved: edition.builds.iter().filter_map(|e| moved(e, before)).collect(),
        withdrawn,
        history: history(editions, edition),
        earlier: earlier.iter().rev().map(|e| e.on.to_string()).collect(),
    };
    let failed = |e: &minijinja::Error| Problem::new(format!("the page's template fails: {e}"));
    environment()
        .and_then(|env| env.get_template("edition.html")?.render(&page))
        .map_err(|e| failed(&e))
}

fn numbered(edition: &Edition) -> impl Iterator<Item = (usize, &Entry)> {
    edition.builds.iter().enumerate().map(|(at, e)| (at + 1, e))
}

/// Builds beside each other, a few to a table: what they come to, then their parts by kind.
fn tables(edition: &Edition) -> Vec<Table> {
    let all: Vec<(usize, &Entry)> = numbered(edition).collect();
    all.chunks(ABREAST).map(table).collect()
}

fn table(some: &[(usize, &Entry)]) -> Table {
    let number = |n: Option<f64>| n.map_or_else(|| "–".to_owned(), |n| figure(n, "", ""));
    let row = |head: &str, of: &dyn Fn(&Entry) -> Vec<Cell>| {
        (head.to_owned(), some.iter().map(|(_, e)| of(e)).collect())
    };
    let mut rows: Vec<(String, Vec<Vec<Cell>>)> = vec![
        row("Verdict", &|e| {
            vec![Cell { words: e.verdict.clone(), more: e.tally.clone(), ..Cell::default() }]
        }),
        row("Total", &|e| cell(e.price())),
        row("of it shipping", &|e| cell(e.money(e.shipping))),
        row("of it monitor", &|e| {
            cell(e.monitor.map_or_else(|| "no monitor on the list".to_owned(), |m| e.number(m)))
        }),
        row("Performance index", &|e| {
            let purpose = if e.purpose.is_empty() { "" } else { &e.purpose };
            let more = format!("for {}", clip(purpose, 40));
            let more = if purpose.is_empty() { String::new() } else { more };
            vec![Cell { words: number(e.index), more, ..Cell::default() }]
        }),
        row("Index per 100 of price", &|e| cell(number(e.per_100))),
        row("Electricity for a year", &|e| {
            cell(e.yearly.map_or_else(|| "–".to_owned(), |n| e.number(n)))
        }),
    ];
    let mut kinds: Vec<(&str, &str)> = Vec::new();
    for line in some.iter().flat_map(|(_, e)| &e.lines) {
        if !kinds.iter().any(|(kind, _)| *kind == line.kind) {
            kinds.push((&line.kind, &line.kind_title));
        }
    }
    for (kind, title) in kinds {
        let of = |e: &Entry| {
            let lines: Vec<Cell> =
                e.lines.iter().filter(|l| l.kind == kind).map(|l| part(e, l)).collect();
            if lines.is_empty() { cell("–") } else { lines }
        };
        rows.push(row(&capitalised(title), &of));
    }
    let heads = some.iter().map(|(n, e)| format!("{n} {}", clip(&e.title, NAME))).collect();
    Table { heads, rows }
}

fn part(entry: &Entry, line: &Line) -> Cell {
    let name = clip(&line.name, NAME);
    let words = if line.count > 1 { format!("{} × {name}", line.count) } else { name };
    let more = match (line.owned, line.sum) {
        (true, _) => "the customer's own".to_owned(),
        (_, Some(sum)) if line.seller.is_empty() => entry.money(sum),
        (_, Some(sum)) => format!("{}, {}", entry.money(sum), clip(&line.seller, 60)),
        _ => "no offer".to_owned(),
    };
    Cell { words, link: line.link.clone(), more }
}

/// What changed in a build since the last edition; nothing where there was none.
fn moved(entry: &Entry, before: Option<&Edition>) -> Option<Moved> {
    let before = before?;
    let signed = |minor: i64| {
        let sign = if minor > 0 { "+" } else { "" };
        format!("{sign}{}", entry.money(minor))
    };
    let was = before.builds.iter().find(|e| e.name == entry.name);
    let mut moved = Moved {
        title: clip(&entry.title, NAME),
        is_new: was.is_none(),
        rows: Vec::new(),
        total: String::new(),
        note: String::new(),
    };
    if let Some(was) = was {
        moved.rows = changes(was, entry)
            .into_iter()
            .map(|c| (clip(&c.what, 2 * NAME), clip(&c.why, 3 * NAME), signed(c.effect)))
            .collect();
        if was.currency == entry.currency {
            let gap = entry.delivered.saturating_sub(was.delivered);
            let (was, is) = (was.money(was.delivered), entry.money(entry.delivered));
            moved.total = signed(gap);
            moved.note = format!("{was} then, {is} now");
        } else {
            moved.note = format!("priced in {} then, in {} now", was.currency, entry.currency);
        }
        if was.verdict != entry.verdict {
            let words = format!("; {} then, {} now", was.verdict, entry.verdict);
            moved.note.push_str(&words);
        }
    }
    Some(moved)
}

/// The totals of each build on the days of the editions, the newest first.
fn history(editions: &Editions, edition: &Edition) -> Vec<Table> {
    if editions.editions.len() < 2 {
        return Vec::new();
    }
    let all: Vec<(usize, &Entry)> = numbered(edition).collect();
    let of_chunk = |some: &[(usize, &Entry)]| Table {
        heads: some.iter().map(|(n, e)| format!("{n} {}", clip(&e.title, NAME))).collect(),
        rows: editions
            .editions
            .iter()
            .rev()
            .take(DAYS)
            .map(|then| {
                let at = |name: &str| then.builds.iter().find(|e| e.name == name);
                let price = |e: &Entry| at(&e.name).map_or_else(|| "–".to_owned(), Entry::price);
                (then.on.to_string(), some.iter().map(|(_, e)| cell(price(e))).collect())
            })
            .collect(),
    };
    all.chunks(ABREAST).map(of_chunk).collect()
}
