//! Dated prices: `offers/*.csv`, several sellers, with their history.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use jiff::civil::Date;

use super::field_reader::Texts;
use crate::source::{Problem, Problems, Source, Span};
use crate::trade::money::Money;
use crate::words::clip;

/// The columns of an offers file, in the order they are written.
pub const COLUMNS: &[&str] = &[
    "part",
    "seller",
    "seen_on",
    "price",
    "currency",
    "shipping",
    "stock",
    "instant_off",
    "mail_rebate",
    "credit",
    "bundle",
    "bundle_value",
];

/// The column that an offers file may have beside these: where the offer is to be seen.
pub const LINK: &str = "link";
/// Longest link, in bytes.
const MAX_LINK: usize = 2_000;

/// A price seen on a day.
#[derive(Debug, Clone)]
pub struct Offer {
    /// Part id.
    pub part: Arc<str>,
    /// Who sells it.
    pub seller: Arc<str>,
    /// The day it was seen.
    pub seen_on: Date,
    /// Price each, before any discount.
    pub price: Money,
    /// Shipping for an order of this alone, if stated.
    pub shipping: Option<Money>,
    /// Pieces in stock; `None` when not stated.
    pub stock: Option<u32>,
    /// Taken off at the till.
    pub instant_off: Option<Money>,
    /// Paid back by post.
    pub mail_rebate: Option<Money>,
    /// Credit for a later purchase.
    pub credit: Option<Money>,
    /// What comes with it, and its stated value.
    pub bundle: Option<(Arc<str>, Option<Money>)>,
    /// Where it is to be seen: an address of `https` or `http`.
    pub link: Option<Arc<str>>,
    /// The file.
    source: Arc<Source>,
    /// Its row, and the places of part and price among the cells.
    row: Span,
    columns: (usize, usize),
}

impl Offer {
    /// The file, and the price in its row, for pointers.
    pub fn place(&self) -> (Arc<Source>, Span) {
        (self.source.clone(), cell_span(&self.source.text, self.row, self.columns.1))
    }

    /// The file, and the part's id in its row.
    pub fn head(&self) -> (Arc<Source>, Span) {
        (self.source.clone(), cell_span(&self.source.text, self.row, self.columns.0))
    }

    /// What is paid at the till for one.
    pub fn till(&self) -> Money {
        match &self.instant_off {
            Some(off) => self.price.checked_sub(off).unwrap_or(self.price),
            None => self.price,
        }
    }
}

/// Where the columns of a file stand.
type Columns = [Option<usize>; 13];

/// All offers, by part.
#[derive(Debug, Default)]
pub struct Offers {
    by_part: HashMap<Arc<str>, OfPart>,
}

/// The offers of a part.
#[derive(Debug, Default)]
struct OfPart {
    /// Those in files that the program carries.
    waiting: Vec<Waiting>,
    /// Those of other files.
    read: Vec<Offer>,
    /// All of them, once they are asked for, where some waited.
    all: OnceLock<Vec<Offer>>,
}

/// The row of a file that the program carries, read when it is asked for.
#[derive(Debug)]
struct Waiting {
    source: Arc<Source>,
    columns: Arc<Columns>,
    row: Span,
}

impl Offers {
    /// The newest offer of each seller at or before a day, sellers in order of name.
    pub fn on(&self, part: &str, day: Date) -> Vec<&Offer> {
        let mut newest: Vec<&Offer> = Vec::new();
        for offer in self.history(part).iter().filter(|o| o.seen_on <= day) {
            match newest.iter_mut().find(|o| o.seller == offer.seller) {
                Some(held) if held.seen_on <= offer.seen_on => *held = offer,
                Some(_) => {}
                None => newest.push(offer),
            }
        }
        newest.sort_by(|a, b| a.seller.cmp(&b.seller));
        newest
    }

    /// Every offer of a part, oldest first.
    pub fn history(&self, part: &str) -> &[Offer] {
        self.by_part.get(part).map_or(&[], OfPart::history)
    }

    /// How many offers there are.
    pub fn len(&self) -> usize {
        self.by_part.values().map(|of| of.waiting.len() + of.read.len()).sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.by_part.is_empty()
    }

    /// Part ids that have offers.
    pub fn parts(&self) -> impl Iterator<Item = &Arc<str>> {
        self.by_part.keys()
    }

    /// Reads one file's rows; of a file that the program carries, whose rows are known to be good,
    /// only which parts they are of.
    pub(crate) fn read(
        &mut self,
        source: &Arc<Source>,
        carried: bool,
        texts: &mut Texts,
        problems: &mut Problems,
    ) {
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(source.text.as_bytes());
        let Some(at) = columns(&mut reader, source, problems) else { return };
        // Without quotes, a row is a line.
        if carried && at[0] == Some(0) && !source.text.contains('"') {
            return self.find_rows(source, at, texts);
        }
        let mut row = csv::StringRecord::new();
        let mut said = 0;
        loop {
            let start = reader.position().byte() as usize;
            match reader.read_record(&mut row) {
                Ok(false) => break,
                Ok(true) => {}
                Err(error) => return problems.push(broken(source, &error)),
            }
            let span = row_span(source, row.position().map_or(start, |p| p.byte() as usize));
            match (Row { row: &row, at: &at, source, span, texts }).offer() {
                Ok(offer) => self.of(offer.part.clone()).read.push(offer),
                Err(problem) if said < 20 => {
                    said += 1;
                    problems.push(problem);
                }
                Err(_) => {}
            }
        }
    }

    fn find_rows(&mut self, source: &Arc<Source>, at: Columns, texts: &mut Texts) {
        let columns = Arc::new(at);
        let mut start = 0;
        let mut header = true;
        for line in source.text.split_inclusive('\n') {
            let (from, row) = (start, line.trim_end());
            start += line.len();
            if row.is_empty() || row.starts_with('#') || std::mem::take(&mut header) {
                continue;
            }
            let part = texts.get(row.split(',').next().unwrap_or("").trim());
            let (source, columns) = (source.clone(), columns.clone());
            let row = Span::new(from, from + row.len());
            self.of(part).waiting.push(Waiting { source, columns, row });
        }
    }

    fn of(&mut self, part: Arc<str>) -> &mut OfPart {
        self.by_part.entry(part).or_default()
    }

    pub(crate) fn sort(&mut self) {
        self.by_part.values_mut().for_each(|of| in_order(&mut of.read));
    }
}

/// Oldest first, sellers of a day in order of name.
fn in_order(offers: &mut [Offer]) {
    offers.sort_by(|a, b| a.seen_on.cmp(&b.seen_on).then_with(|| a.seller.cmp(&b.seller)));
}

impl OfPart {
    fn history(&self) -> &[Offer] {
        if self.waiting.is_empty() {
            return &self.read;
        }
        self.all.get_or_init(|| {
            let mut texts = Texts::default();
            let rows = self.waiting.iter().filter_map(|row| row.offer(&mut texts));
            let mut all: Vec<Offer> = rows.chain(self.read.iter().cloned()).collect();
            in_order(&mut all);
            all
        })
    }
}

impl Waiting {
    /// The offer; none only of a row that is wrong, and no row that waits is.
    fn offer(&self, texts: &mut Texts) -> Option<Offer> {
        let (source, span) = (&self.source, self.row);
        // A row without quotes: a reader of its own would cost more than the row.
        let row: csv::StringRecord = source.slice(span).split(',').map(str::trim).collect();
        Row { row: &row, at: &self.columns, source, span, texts }.offer().ok()
    }
}

/// Where the columns stand, by the file's first row.
fn columns(
    reader: &mut csv::Reader<&[u8]>,
    source: &Arc<Source>,
    problems: &mut Problems,
) -> Option<Columns> {
    let header = match reader.headers() {
        Ok(header) => header,
        Err(error) => {
            problems.push(broken(source, &error));
            return None;
        }
    };
    let mut at = [None; 13];
    for (index, name) in header.iter().enumerate() {
        match COLUMNS.iter().chain([&LINK]).position(|c| *c == name) {
            Some(column) => at[column] = Some(index),
            None => problems.push(
                Problem::new(format!("an offers file has no column `{}`", clip(name, 40)))
                    .at(source, first_line(source), "in this header")
                    .suggest(name, COLUMNS.iter().copied().chain([LINK])),
            ),
        }
    }
    if let Some((missing, _)) = COLUMNS.iter().zip(at).take(5).find(|(_, at)| at.is_none()) {
        problems.push(Problem::new(format!("{} has no column `{missing}`", source.name)).at(
            source,
            first_line(source),
            "in this header",
        ));
        return None;
    }
    Some(at)
}

fn first_line(source: &Source) -> Span {
    row_span(source, 0)
}

fn row_span(source: &Source, start: usize) -> Span {
    let rest = source.text.get(start..).unwrap_or("");
    let skipped = rest.len() - rest.trim_start_matches(['\r', '\n']).len();
    let line = rest.get(skipped..).unwrap_or("").lines().next().unwrap_or("");
    Span::new(start + skipped, start + skipped + line.trim_end().len())
}

fn broken(source: &Arc<Source>, error: &csv::Error) -> Problem {
    let at = error.position().map_or(0, |p| p.byte() as usize);
    Problem::new(format!("{} is not well-formed CSV", source.name)).at(
        source,
        row_span(source, at),
        "this row cannot be read",
    )
}

struct Row<'a> {
    row: &'a csv::StringRecord,
    at: &'a Columns,
    source: &'a Arc<Source>,
    span: Span,
    texts: &'a mut Texts,
}

impl Row<'_> {
    fn cell(&self, column: usize) -> &str {
        self.at.get(column).copied().flatten().and_then(|at| self.row.get(at)).unwrap_or("")
    }

    /// Where a column that must be there stands.
    fn column(&self, column: usize) -> usize {
        self.at.get(column).copied().flatten().unwrap_or(usize::MAX)
    }

    fn wrong(&self, column: usize, why: &str) -> Problem {
        let name = COLUMNS.get(column).copied().unwrap_or(LINK);
        Problem::new(format!("`{name}` = \"{}\": {why}", clip(self.cell(column), 40))).at(
            self.source,
            self.span,
            "in this row",
        )
    }

    fn money(&self, column: usize, currency: &str) -> Result<Option<Money>, Problem> {
        let cell = self.cell(column);
        if cell.is_empty() {
            return Ok(None);
        }
        let money = Money::parse(&format!("{cell} {currency}"))
            .map_err(|e| self.wrong(column, &e.to_string()))?;
        if money.is_negative() {
            return Err(self.wrong(column, "a price is not negative"));
        }
        if !money.is_price() {
            return Err(self.wrong(column, "no price is as large as this"));
        }
        Ok(Some(money))
    }

    /// The link, which only a browser may follow: no other scheme, and nothing that could end the
    /// place it is written in.
    fn link(&mut self) -> Result<Option<Arc<str>>, Problem> {
        let link = self.cell(COLUMNS.len()).to_owned();
        if link.is_empty() {
            return Ok(None);
        }
        let lower = link.to_ascii_lowercase();
        let rest = lower.strip_prefix("https://").or_else(|| lower.strip_prefix("http://"));
        let named = rest.is_some_and(|r| r.starts_with(|c: char| c.is_ascii_alphanumeric()));
        let plain = |b: u8| b.is_ascii_graphic() && !b"\"'<>\\^`{|}()".contains(&b);
        if !named || !link.bytes().all(plain) || link.len() > MAX_LINK {
            let why = "a link begins with https:// or http:// and has no spaces or quotes";
            return Err(self.wrong(COLUMNS.len(), why));
        }
        Ok(Some(self.texts.get(&link)))
    }

    fn offer(&mut self) -> Result<Offer, Problem> {
        let seen_on: Date =
            self.cell(2).parse().map_err(|_| self.wrong(2, "a day is written YYYY-MM-DD"))?;
        let currency = self.cell(4).to_owned();
        let price =
            self.money(3, &currency)?.ok_or_else(|| self.wrong(3, "an offer has a price"))?;
        let stock = match self.cell(6) {
            "" => None,
            text => Some(
                text.parse::<u32>()
                    .map_err(|_| self.wrong(6, "pieces in stock are a whole number, or nothing"))?,
            ),
        };
        if self.cell(0).is_empty() || self.cell(1).is_empty() {
            return Err(self.wrong(0, "an offer names its part and its seller"));
        }
        let (part, seller, bundle) =
            (self.cell(0).to_owned(), self.cell(1).to_owned(), self.cell(10).to_owned());
        let bundle_value = self.money(11, &currency)?;
        Ok(Offer {
            part: self.texts.get(&part),
            seller: self.texts.get(&seller),
            seen_on,
            price,
            shipping: self.money(5, &currency)?,
            stock,
            instant_off: self.money(7, &currency)?,
            mail_rebate: self.money(8, &currency)?,
            credit: self.money(9, &currency)?,
            bundle: (!bundle.is_empty()).then(|| (self.texts.get(&bundle), bundle_value)),
            link: self.link()?,
            source: self.source.clone(),
            row: self.span,
            columns: (self.column(0), self.column(3)),
        })
    }
}

/// The span of one cell of a row; the row's own when it is not found.
fn cell_span(text: &str, row: Span, index: usize) -> Span {
    let Some(line) = text.get(row.start()..row.end()) else { return row };
    let (mut start, mut at, mut quoted) = (0, 0, false);
    for (offset, byte) in line.bytes().chain([b',']).enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b',' if !quoted && at == index => {
                return Span::new(row.start() + start, row.start() + offset);
            }
            b',' if !quoted => {
                at += 1;
                start = offset + 1;
            }
            _ => {}
        }
    }
    row
}

#[cfg(test)]
#[path = "../../tests/unit/catalogue/offers.rs"]
mod tests;
