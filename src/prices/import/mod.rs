//! A seller's own price feed into an offers file: streamed, checked to the last row, written whole
//! or not at all.
//!
//! Memory holds one number a part and day, never the rows: it grows with the catalogue and the days
//! of the feed, not with the feed's length.

pub(crate) mod feed;
mod figures;
mod map;
mod offer_row;
mod short_hash;
mod target;

use std::collections::HashMap;
use std::hash::Hasher as _;
use std::path::Path;

use jiff::civil::Date;

pub use map::Map;

use crate::catalogue::Catalogue;
use crate::source::{Problem, Problems};
use crate::trade::money::{Currency, Money};
use crate::words::{clip, nearest};

use feed::{Feed, Row};
use offer_row::Cells;
use short_hash::{Quick, QuickState};
use target::Target;

/// Most rows that are told one by one.
pub const MOST_TOLD: usize = 20;
/// Rows between two signs of progress.
const TICK: u64 = 16_384;

/// The result of a feed.
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

/// Rows seen before, by day and then by part: a stamp of the offer, and the feed's line, 0 for the
/// catalogue's own. A map a day, because the rows of a feed come by day: the one in use is small
/// enough to stay near at hand.
type Held = HashMap<u32, HashMap<u32, (u64, u64), QuickState>, QuickState>;

struct Import<'a> {
    catalogue: &'a Catalogue,
    map: &'a Map,
    /// What the feed may call a part, in lower case: its code in the map, our id, or its name.
    known: HashMap<String, u32, QuickState>,
    held: Held,
    done: Done,
    problems: Problems,
    more: u64,
    name: String,
    /// The row as it is written from the price on, and a code in lower case: kept between rows to
    /// spare allocations.
    line: String,
    lower: String,
    /// The last day read, as the feed writes it: most rows of a feed are of one day.
    day: Option<(String, Date)>,
}

/// Reads a feed; the new rows go to `into`, or nowhere on a dry run. `tick` is told of bytes and
/// rows from time to time.
/// Errors: everything wrong with the feed, with line numbers; nothing is written then.
pub fn import(
    catalogue: &Catalogue,
    map: &Map,
    path: &Path,
    into: Option<&Path>,
    at: &Path,
    tick: &mut dyn FnMut(u64, u64),
) -> Result<Done, Problems> {
    let mut work = Import::new(catalogue, map, path)?;
    // The copy begins before the file is looked through, so that what another import adds meanwhile
    // is noticed at the end.
    let mut target = match into {
        Some(path) => Some(Target::open(path, &map.seller)?),
        None => None,
    };
    work.held_by(at)?;
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
        work.problems
            .push(Problem::new(format!("{}: {} more rows like these", work.name, work.more)));
    }
    work.problems.or(())?;
    if let Some(target) = target.filter(|_| work.done.added > 0) {
        work.done.written = Some(target.finish()?);
    }
    Ok(work.done)
}

impl<'a> Import<'a> {
    fn new(catalogue: &'a Catalogue, map: &'a Map, path: &Path) -> Result<Self, Problems> {
        let mut known: HashMap<String, u32, QuickState> = HashMap::default();
        let mut shared = Vec::new();
        for (part, at) in catalogue.parts().zip(0u32..) {
            let name = part.name.to_lowercase();
            if known.insert(name.clone(), at).is_some() {
                shared.push(name);
            }
        }
        // A name that two parts share tells neither.
        for name in shared {
            known.remove(&name);
        }
        let ids: HashMap<&str, u32> =
            catalogue.parts().zip(0u32..).map(|(part, at)| (&*part.id, at)).collect();
        known.extend(ids.iter().map(|(id, at)| ((*id).to_owned(), *at)));
        let mut problems = Problems::default();
        for (code, id) in &map.parts {
            match ids.get(id.as_str()) {
                Some(at) => {
                    known.insert(code.to_lowercase(), *at);
                }
                None => problems.push(Problem::new(format!(
                    "{}: \"{}\" stands for {}, which the catalogue does not have",
                    map.source.name,
                    clip(code, 40),
                    clip(id, 60)
                ))),
            }
        }
        let mut codes: Vec<(String, &String)> =
            map.parts.iter().map(|(code, id)| (code.to_lowercase(), id)).collect();
        codes.sort();
        for pair in codes.windows(2) {
            if let [(a, one), (b, other)] = pair
                && a == b
                && one != other
            {
                problems.push(Problem::new(format!(
                    "{}: \"{}\" stands for two parts; capitals make no difference",
                    map.source.name,
                    clip(a, 40)
                )));
            }
        }
        problems.0.sort_by(|a, b| a.message.cmp(&b.message));
        let work = Self {
            catalogue,
            map,
            known,
            held: Held::default(),
            done: Done::default(),
            problems: Problems::default(),
            more: 0,
            name: path.display().to_string(),
            line: String::new(),
            lower: String::new(),
            day: None,
        };
        problems.or(work)
    }

    /// Takes note of the offers of this seller that are known already: the catalogue's, and those
    /// of the file that is added to.
    fn held_by(&mut self, at: &Path) -> Result<(), Problems> {
        let mut text = String::new();
        for (part, index) in self.catalogue.parts().zip(0u32..) {
            for offer in self
                .catalogue
                .offers
                .history(&part.id)
                .iter()
                .filter(|o| *o.seller == *self.map.seller)
            {
                offer_row::of_offer(offer, &mut text);
                self.hold(index, offer.seen_on, (stamp(&text), 0));
            }
        }
        for (part, day, stamp) in target::held(at, &self.map.seller)? {
            if let Some(index) = self.known.get(&part) {
                self.hold(*index, day, (stamp, 0));
            }
        }
        Ok(())
    }

    /// Takes note of an offer; gives what stood there.
    fn hold(&mut self, part: u32, day: Date, offer: (u64, u64)) -> Option<(u64, u64)> {
        self.held.entry(key(day)).or_default().insert(part, offer)
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
        let Some(part) = self.part(code) else {
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
        match self.hold(part, day, (mark, row.line)) {
            None => {
                self.done.added += 1;
                if let (Some(target), Some(part)) = (target, self.catalogue.part_at(part as usize))
                {
                    target.add(&part.id, day, &self.line)?;
                }
            }
            Some((held, 0)) if held == mark => {
                self.hold(part, day, (mark, 0));
                self.done.known += 1;
            }
            Some((held, _)) if held == mark => self.done.twice += 1,
            Some((_, line)) => {
                let before = if line == 0 {
                    "the catalogue has another offer".to_owned()
                } else {
                    format!("line {line} has another offer")
                };
                let problem = row
                    .problem(format!("{before} for {} on {day}", clip(code, 60)))
                    .help("one part has one offer a day from one seller");
                self.wrong(problem);
            }
        }
        Ok(())
    }

    /// The part that a feed's code or name stands for.
    fn part(&mut self, code: &str) -> Option<u32> {
        self.lower.clear();
        if code.is_ascii() {
            self.lower.push_str(code);
            self.lower.make_ascii_lowercase();
        } else {
            self.lower.push_str(&code.to_lowercase());
        }
        self.known.get(&self.lower).copied()
    }

    fn day(&mut self, cell: &str) -> Result<Date, String> {
        if let Some((text, day)) = &self.day
            && text == cell
        {
            return Ok(*day);
        }
        let day = figures::day(self.map, cell)?;
        self.day = Some((cell.to_owned(), day));
        Ok(day)
    }

    fn unmatched(&mut self, row: &Row<'_>, code: &str) {
        self.done.unmatched += 1;
        if self.done.examples.len() < MOST_TOLD {
            let known = self.catalogue.parts().flat_map(|p| [&*p.id, &*p.name]);
            let near = nearest(&clip(code, 80), known).map(str::to_owned);
            self.done.examples.push((row.line, clip(code, 80), near));
        }
    }

    /// Checks a row and leaves it in `line` as it is written, from the price on; gives its day.
    fn offer(&mut self, row: &Row<'_>) -> Result<Date, Problem> {
        let map = self.map;
        let wrong = |target: &str, cell: &str, why: String| {
            row.problem(format!(
                "`{}` = \"{}\": {why}",
                map.column(target).unwrap_or(""),
                clip(cell, 40)
            ))
        };
        let day = match (row.cell("seen_on"), map.seen_on) {
            (Some(cell), _) => self.day(cell).map_err(|why| wrong("seen_on", cell, why))?,
            (None, Some(day)) => day,
            (None, None) => return Err(row.problem("there is no day".to_owned())),
        };
        let currency = match (row.cell("currency"), map.currency) {
            (Some(cell), _) => Currency::from_code(cell.trim())
                .ok_or_else(|| wrong("currency", cell, "there is no such currency".to_owned()))?,
            (None, Some(currency)) => currency,
            (None, None) => return Err(row.problem("there is no currency".to_owned())),
        };
        let money = |target: &str| -> Result<Option<Money>, Problem> {
            match row.cell(target).map(str::trim) {
                None | Some("") => Ok(None),
                Some(cell) => figures::money(map, cell, currency)
                    .map(Some)
                    .map_err(|why| wrong(target, cell, why)),
            }
        };
        let price = money("price")?;
        let stock = row.cell("stock").map_or("", str::trim);
        let bundle = row.cell("bundle").map_or("", str::trim);
        let refused = if price.is_none() {
            Some(("price", "", "an offer has a price"))
        } else if price.is_some_and(|price| price.minor() == 0) {
            let cell = row.cell("price").unwrap_or("");
            Some(("price", cell, "nothing is sold for nothing"))
        } else if !stock.is_empty() && (stock.parse::<u32>().is_err() || stock.starts_with('+')) {
            Some(("stock", stock, "pieces in stock are a whole number, or nothing"))
        } else if bundle.starts_with(['=', '+', '-', '@']) {
            Some(("bundle", bundle, "this is a formula, not the name of a part"))
        } else {
            None
        };
        if let Some((target, cell, why)) = refused {
            return Err(wrong(target, cell, why.to_owned()));
        }
        let cells = Cells {
            price,
            shipping: money("shipping")?,
            stock,
            instant_off: money("instant_off")?,
            mail_rebate: money("mail_rebate")?,
            credit: money("credit")?,
            bundle,
            bundle_value: money("bundle_value")?,
        };
        cells.put(&mut self.line);
        Ok(day)
    }
}

/// A day as one number, for keys.
fn key(day: Date) -> u32 {
    (day.year().unsigned_abs() as u32) << 9
        | (day.month().unsigned_abs() as u32) << 5
        | day.day().unsigned_abs() as u32
}

fn stamp(cells: &str) -> u64 {
    let mut hasher = Quick::default();
    hasher.write(cells.as_bytes());
    hasher.finish()
}
