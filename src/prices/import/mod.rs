//! A seller's own price feed into an offers file: streamed, checked to the last row, written whole or not at all.
//!
//! Memory holds one number a part and day, never the rows: it grows with the catalogue and the days of the feed, not with the feed's length.

pub(crate) mod feed;
mod figures;
mod map;
mod target;

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::Path;

use jiff::civil::Date;

pub use map::Map;

use crate::catalogue::Catalogue;
use crate::catalogue::offers::Offer;
use crate::report::count;
use crate::report::style::Look;
use crate::source::{Problem, Problems, clip, nearest};
use crate::trade::money::{Currency, Money};

use super::check::amount;
use feed::{Feed, Row};
use target::Target;

/// Most rows that are told one by one.
const MOST_TOLD: usize = 20;
/// Rows between two signs of progress.
const TICK: u64 = 16_384;

/// What came of a feed.
#[derive(Debug, Default)]
pub struct Done {
    /// Rows read, without the head.
    pub rows: u64,
    /// Rows that are new.
    pub added: u64,
    /// Rows that the catalogue had already.
    pub known: u64,
    /// Rows that stood in the feed before, word for word.
    pub twice: u64,
    /// Rows of parts that the catalogue does not have.
    pub unmatched: u64,
    /// The first few of them: line, what the feed calls it, what it may be.
    pub examples: Vec<(u64, String, Option<String>)>,
    /// Whether the last row lacks its line end.
    pub unended: bool,
    /// Where the rows were written; none on a dry run.
    pub written: Option<String>,
}

/// Rows seen before: part and day to a stamp of the offer, and the feed's line, 0 for the catalogue's own.
type Held = HashMap<(u32, Date), (u64, u64)>;

struct Import<'a> {
    catalogue: &'a Catalogue,
    map: &'a Map,
    /// What the feed may call a part: our id, its code in the map, its name in lower case.
    ids: HashMap<String, u32>,
    names: HashMap<String, u32>,
    held: Held,
    done: Done,
    problems: Problems,
    more: u64,
    name: String,
    /// The row as it is written, kept between rows to spare allocations.
    line: Vec<String>,
}

/// Reads a feed; the new rows go to `into`, or nowhere on a dry run. `tick` is told of bytes and rows from time to time.
///
/// # Errors
/// Everything wrong with the feed, with line numbers; nothing is written then.
pub fn import(catalogue: &Catalogue, map: &Map, path: &Path, into: Option<&Path>, at: &Path, tick: &mut dyn FnMut(u64, u64)) -> Result<Done, Problems> {
    let mut work = Import::new(catalogue, map, path)?;
    work.held_by(at)?;
    let mut target = match into {
        Some(path) => Some(Target::open(path)?),
        None => None,
    };
    let mut feed = Feed::open(path, map)?;
    loop {
        if work.done.rows % TICK == 0 {
            tick(feed.bytes(), work.done.rows);
        }
        let Some(row) = feed.next() else { break };
        work.done.rows += 1;
        match row {
            Ok(row) => work.row(row, target.as_mut())?,
            Err(problem) => work.wrong(problem),
        }
        if feed.broken() {
            break;
        }
    }
    work.done.unended = feed.unended();
    if let Some(problem) = feed.unclosed() {
        work.wrong(problem);
    }
    if work.more > 0 {
        work.problems.push(Problem::new(format!("{}: {} more rows like these", work.name, work.more)));
    }
    work.problems.or(())?;
    if let Some(target) = target.filter(|_| work.done.added > 0) {
        work.done.written = Some(target.finish()?);
    }
    Ok(work.done)
}

impl<'a> Import<'a> {
    fn new(catalogue: &'a Catalogue, map: &'a Map, path: &Path) -> Result<Self, Problems> {
        let (mut ids, mut names) = (HashMap::new(), HashMap::new());
        for (part, at) in catalogue.parts.iter().zip(0u32..) {
            ids.insert(part.id.to_string(), at);
            names.insert(part.name.to_lowercase(), at);
        }
        let mut problems = Problems::default();
        for (code, id) in &map.parts {
            match ids.get(id.as_str()).copied() {
                Some(at) => {
                    ids.insert(code.clone(), at);
                }
                None => problems.push(Problem::new(format!(
                    "{}: \"{}\" stands for {}, which the catalogue does not have",
                    map.source.name,
                    clip(code, 40),
                    clip(id, 60)
                ))),
            }
        }
        problems.0.sort_by(|a, b| a.message.cmp(&b.message));
        let work = Self {
            catalogue,
            map,
            ids,
            names,
            held: HashMap::new(),
            done: Done::default(),
            problems: Problems::default(),
            more: 0,
            name: path.display().to_string(),
            line: Vec::new(),
        };
        problems.or(work)
    }

    /// Takes note of the offers of this seller that are known already: the catalogue's, and those of the file that is added to.
    fn held_by(&mut self, at: &Path) -> Result<(), Problems> {
        for (part, index) in self.catalogue.parts.iter().zip(0u32..) {
            for offer in self.catalogue.offers.history(&part.id).iter().filter(|o| *o.seller == *self.map.seller) {
                self.held.insert((index, offer.seen_on), (stamp(&cells(offer)), 0));
            }
        }
        for (part, day, stamp) in target::held(at, &self.map.seller)? {
            if let Some(index) = self.ids.get(&part) {
                self.held.insert((*index, day), (stamp, 0));
            }
        }
        Ok(())
    }

    fn wrong(&mut self, problem: Problem) {
        if self.problems.0.len() < MOST_TOLD {
            self.problems.push(problem);
        } else {
            self.more += 1;
        }
    }

    fn row(&mut self, row: Row<'_>, target: Option<&mut Target>) -> Result<(), Problems> {
        let code = row.cell("part").unwrap_or("").trim();
        let Some(part) = self.ids.get(code).copied().or_else(|| self.names.get(&code.to_lowercase()).copied()) else {
            self.unmatched(&row, code);
            return Ok(());
        };
        let day = match self.offer(&row) {
            Ok(day) => day,
            Err(problem) => {
                self.wrong(problem);
                return Ok(());
            }
        };
        let mark = stamp(&self.line);
        match self.held.insert((part, day), (mark, row.line)) {
            None => {
                self.done.added += 1;
                if let (Some(target), Some(part)) = (target, self.catalogue.parts.get(part as usize)) {
                    target.add(&part.id, &self.map.seller, day, &self.line)?;
                }
            }
            Some((held, 0)) if held == mark => {
                self.held.insert((part, day), (mark, 0));
                self.done.known += 1;
            }
            Some((held, _)) if held == mark => self.done.twice += 1,
            Some((_, line)) => {
                let before = if line == 0 { "the catalogue has another offer".to_owned() } else { format!("line {line} has another offer") };
                let problem = row.problem(format!("{before} for {} on {day}", clip(code, 60))).help("one part has one offer a day from one seller");
                self.wrong(problem);
            }
        }
        Ok(())
    }

    fn unmatched(&mut self, row: &Row<'_>, code: &str) {
        self.done.unmatched += 1;
        if self.done.examples.len() < MOST_TOLD {
            let known = self.catalogue.parts.iter().flat_map(|p| [&*p.id, &*p.name]);
            let near = nearest(&clip(code, 80), known).map(str::to_owned);
            self.done.examples.push((row.line, clip(code, 80), near));
        }
    }

    /// Checks a row and leaves it in `line` as it is written, from the price on; gives its day.
    fn offer(&mut self, row: &Row<'_>) -> Result<Date, Problem> {
        let map = self.map;
        let wrong = |target: &str, cell: &str, why: String| row.problem(format!("`{}` = \"{}\": {why}", map.column(target).unwrap_or(target), clip(cell, 40)));
        let day = match (row.cell("seen_on"), map.seen_on) {
            (Some(cell), _) => figures::day(map, cell).map_err(|why| wrong("seen_on", cell, why))?,
            (None, Some(day)) => day,
            (None, None) => return Err(row.problem("there is no day".to_owned())),
        };
        let currency = match (row.cell("currency"), map.currency) {
            (Some(cell), _) => Currency::from_code(cell.trim()).ok_or_else(|| wrong("currency", cell, "there is no such currency".to_owned()))?,
            (None, Some(currency)) => currency,
            (None, None) => return Err(row.problem("there is no currency".to_owned())),
        };
        let money = |target: &str| -> Result<Option<Money>, Problem> {
            match row.cell(target).map(str::trim) {
                None | Some("") => Ok(None),
                Some(cell) => figures::money(map, cell, currency).map(Some).map_err(|why| wrong(target, cell, why)),
            }
        };
        let price = money("price")?.ok_or_else(|| wrong("price", "", "an offer has a price".to_owned()))?;
        if price.minor() == 0 {
            return Err(wrong("price", row.cell("price").unwrap_or(""), "nothing is sold for nothing".to_owned()));
        }
        let stock = row.cell("stock").map_or("", str::trim);
        if !stock.is_empty() && stock.parse::<u32>().is_err() {
            return Err(wrong("stock", stock, "pieces in stock are a whole number, or nothing".to_owned()));
        }
        let bundle = row.cell("bundle").map_or("", str::trim);
        if bundle.starts_with(['=', '+', '-', '@']) {
            return Err(wrong("bundle", bundle, "this is a formula, not the name of a part".to_owned()));
        }
        let text = |money: Option<Money>| money.as_ref().map_or_else(String::new, amount);
        self.line.clear();
        self.line.extend([amount(&price), currency.code().to_owned(), text(money("shipping")?), stock.to_owned(), text(money("instant_off")?)]);
        self.line.extend([text(money("mail_rebate")?), text(money("credit")?), bundle.to_owned(), text(money("bundle_value")?)]);
        Ok(day)
    }
}

/// The cells of an offer from the price on, as they are written.
fn cells(offer: &Offer) -> Vec<String> {
    let text = |money: &Option<Money>| money.as_ref().map_or_else(String::new, amount);
    let (bundle, value) = offer.bundle.as_ref().map_or_else(Default::default, |(b, v)| (b.to_string(), text(v)));
    let stock = offer.stock.map_or_else(String::new, |n| n.to_string());
    let (price, code) = (amount(&offer.price), offer.price.currency().code().to_owned());
    vec![price, code, text(&offer.shipping), stock, text(&offer.instant_off), text(&offer.mail_rebate), text(&offer.credit), bundle, value]
}

fn stamp(cells: &[String]) -> u64 {
    let mut hasher = DefaultHasher::new();
    cells.hash(&mut hasher);
    hasher.finish()
}

/// What came of a feed, in words.
pub fn words(look: Look, feed: &str, done: &Done) -> String {
    let mut out = look.paragraph(&format!("{feed}: {}", count(done.rows as usize, "row")));
    let tally =
        [(done.added, "new"), (done.known, "known already"), (done.twice, "written twice in the feed"), (done.unmatched, "of parts not in the catalogue")];
    for (n, what) in tally.iter().filter(|(n, _)| *n > 0) {
        out.push_str(&look.paragraph(&format!("{n} {what}")));
    }
    for (line, code, near) in &done.examples {
        let near = near.as_ref().map_or_else(String::new, |n| format!(", near {n}"));
        out.push_str(&look.paragraph(&format!("  line {line}: {code}{near}")));
    }
    if done.unmatched > done.examples.len() as u64 {
        out.push_str(&look.paragraph(&format!("  and {} more", done.unmatched - done.examples.len() as u64)));
    }
    if done.unended {
        out.push_str(&look.paragraph("The last row does not end its line: if the feed was cut short there, its last figure is wrong."));
    }
    out.push_str(&look.paragraph(&match &done.written {
        Some(path) => format!("Written to {path}."),
        None if done.added == 0 => "Nothing to write.".to_owned(),
        None => "A dry run: nothing is written; `--write` writes.".to_owned(),
    }));
    out
}
