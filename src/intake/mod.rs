//! Reading lists of any form: pastes, tables, pages, workbooks. Rows become lines of a build.
//!
//! A row is *matched* when one part is meant and there is no doubt, *unsure* when several may be,
//! *open* when it names no part on purpose, *unknown* when the catalogue lacks it, *ignored* when
//! it asks for nothing.

mod aliases;
mod aligned;
mod bare_price;
mod bytes;
mod called;
mod changes;
mod count;
mod delimited;
mod described;
mod digits;
mod exported;
mod facts;
mod fitted;
mod html;
mod interpret;
mod items;
mod labels;
mod lexicon;
mod list;
mod matching;
mod named;
mod not_asked;
mod packs;
mod partly;
mod prefixes;
mod price;
mod prose;
mod rows;
mod said_more;
mod sections;
mod segments;
mod set_price;
mod strip;
mod sums;
mod tokens;
mod told;
mod whole;
mod words;
mod workbook;

pub use aliases::Aliases;
pub use bytes::{Text, read_bytes};
pub use facts::Fact;
pub use rows::{Cells, RawRow};

use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Kind, KindId};
use crate::source::Problem;
use interpret::Interpreter;
use lexicon::Lexicon;
pub(crate) use tokens::{compact as compact_text, folded as folded_text};
pub(crate) use told::sentences;
pub(crate) use words::{plain as plain_text, umlauts_spelled};

/// Most rows of one list.
pub(crate) const MAX_ROWS: usize = 5_000;

/// Most sentences beside a list that name a part and are no rows of it.
const LEAST_TOLD: usize = 2;

/// What became of a row.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum State {
    /// One part, and no doubt.
    Matched,
    /// Several parts may be meant.
    Unsure,
    /// No part on purpose: a kind with wants.
    Open,
    /// A part that the catalogue lacks.
    Unknown,
    /// Nothing that is asked for.
    #[default]
    Ignored,
}

impl State {
    /// The state's word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Matched => "matched",
            Self::Unsure => "unsure",
            Self::Open => "open",
            Self::Unknown => "unknown",
            Self::Ignored => "ignored",
        }
    }
}

/// A row of a list, as understood.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Row {
    /// The line it starts on, from 1.
    pub line: usize,
    /// What it says.
    pub text: String,
    /// What was made of the row.
    pub state: State,
    /// The part, `kind/id`, when it is matched.
    pub part: Option<String>,
    /// The kind's word, when it is known.
    pub kind: Option<String>,
    /// How many parts (kits of memory).
    pub count: u32,
    /// The price of one with two decimals, as the customer gave it.
    pub price: Option<String>,
    /// The price's currency, if the row names one.
    pub currency: Option<String>,
    /// Whether the customer has it already.
    pub owned: bool,
    /// Where it is to be fitted: a row of the table of mounts.
    pub mount: Option<String>,
    /// Which way it is to blow: `in` or `out`.
    pub flow: Option<String>,
    /// What an open line must meet, as expressions.
    pub wants: Vec<String>,
    /// What the row calls a part that is not matched.
    pub name: Option<String>,
    /// What the row says of such a part.
    pub facts: Vec<(String, Fact)>,
    /// Parts that may be meant with a score of 0 to 1, the best first.
    pub candidates: Vec<(String, f64)>,
    /// What an open row wishes for that no field holds, in its own words.
    pub note: Option<String>,
    /// Whether two amounts stood in the row and neither was taken.
    pub two_prices: bool,
    /// What the row gives as its price, where the catalogue's prices say that it is that of all.
    pub of_all: Option<String>,
    /// How many pieces the row gives places for, and how many it has, where those differ.
    pub placed: Option<(u32, u32)>,
    /// The row's sum, where it cannot be parted evenly among its count.
    pub uneven_sum: Option<String>,
}

impl Row {
    pub(crate) fn ignored(raw: &RawRow) -> Self {
        let text = raw.text.trim().to_owned();
        Self { line: raw.line, text, count: 1, ..Self::default() }
    }
}

/// A reader of lists against one catalogue: build it once, read many lists.
#[derive(Debug)]
pub struct Intake<'a> {
    catalogue: &'a Catalogue,
    lexicon: Lexicon,
    aliases: Aliases,
}

impl<'a> Intake<'a> {
    /// A reader for a catalogue, with what people decided before.
    #[must_use]
    pub fn new(catalogue: &'a Catalogue, aliases: Aliases) -> Self {
        Self { catalogue, lexicon: Lexicon::of(catalogue), aliases }
    }

    /// Reads a list.
    ///
    /// # Errors
    /// Nothing in it, too many rows, or a count that no list has.
    pub fn read(&self, text: &Text) -> Result<Vec<Row>, Problem> {
        if let Text::Plain(text) = text
            && text.parse::<toml::Table>().is_ok_and(|t| t.contains_key("line"))
        {
            return Err(Problem::new("this is a build already, not a customer's list")
                .help("`dryfit audit` and `dryfit try` read it as it is"));
        }
        if let Text::Plain(text) = text
            && let Some(rows) = exported::own(self.catalogue, text)
        {
            return rows;
        }
        let is_kind = |cell: &str| interpret::heading(&self.lexicon, cell).is_some();
        let raw = match text {
            Text::Plain(text) => rows::rows(text, &is_kind),
            Text::Table(table) => rows::of_table(table.clone(), &is_kind),
        };
        let raw: Vec<RawRow> = raw.into_iter().flat_map(rows::in_pieces).collect();
        if raw.len() > MAX_ROWS {
            let message =
                format!("the list has {} rows; {MAX_ROWS} is the most that is read", raw.len());
            return Err(Problem::new(message)
                .help("no parts list is so long: cut it, or name another file"));
        }
        let marked = raw.iter().filter(|r| r.listed).count() >= 2;
        let mut reader = Interpreter {
            catalogue: self.catalogue,
            lexicon: &self.lexicon,
            aliases: &self.aliases,
            marked,
            numbered: rows::counts_up(raw.iter().filter_map(|r| r.text.split_whitespace().next())),
            below_row: false,
            section: None,
            common: sections::Section::default(),
            times: 1,
            told: false,
            untold: 0,
        };
        let mut out = reader.all(&raw)?;
        // A list told in sentences: more parts stand in such than in rows.
        let sure = out.iter().filter(|(_, row)| row.state == State::Matched).count();
        if reader.untold > LEAST_TOLD && reader.untold >= sure {
            (reader.told, reader.section, reader.times) = (true, None, 1);
            out = reader.all(&raw)?;
        }
        reader.doubted(&raw, &mut out);
        Ok(without_history(&raw, out))
    }

    /// Parts of a kind, or of any, that a text may name or describe, the best first; and whether
    /// there is no doubt. "550 gold" describes one power supply.
    #[must_use]
    pub fn parts_named(&self, text: &str, kind: Option<KindId>) -> (Vec<usize>, bool) {
        let list = items::items(&self.lexicon, text);
        let of_kind = |c: &matching::Candidate| {
            let part = self.lexicon.parts.get(c.part);
            kind.is_none_or(|kind| part.is_some_and(|p| p.kind == kind.0))
        };
        let near = match matching::look_up(&self.lexicon, &list, &[]) {
            matching::Found::Sure(one) if of_kind(&one) => return (vec![one.part], true),
            matching::Found::Unsure(many) => many,
            _ => Vec::new(),
        };
        let fitting = matching::fitting(&self.lexicon, &list, kind.map(|k| k.0));
        if fitting.is_empty() {
            return (near.into_iter().filter(of_kind).map(|c| c.part).collect(), false);
        }
        let sole = kind.is_some() && fitting.len() == 1;
        (fitting, sole)
    }

    /// What words and figures say of a part of a kind, by field.
    pub(crate) fn said_of(&self, kind: &Kind, text: &str) -> Vec<(String, Fact)> {
        let place = self.catalogue.kind_id(&kind.name);
        let list = items::items(&self.lexicon, text);
        place.map(|k| facts::facts(self.catalogue, k.0, &list)).unwrap_or_default()
    }

    /// What the whole list may cost, with its currency, and the line that says so.
    #[must_use]
    pub fn budget(&self, rows: &[Row]) -> Option<(usize, String)> {
        whole::budget(rows)
    }

    /// What the PC is for by the catalogue's purposes, each with the line that says so.
    #[must_use]
    pub fn purposes(&self, rows: &[Row]) -> Vec<(usize, &str)> {
        whole::purposes(self.catalogue, rows)
    }

    /// The list as a build file.
    #[must_use]
    pub fn list(&self, rows: &[Row], name: &str, on: jiff::civil::Date) -> String {
        list::written(self.catalogue, rows, name, on)
    }
}

/// Without the older list that a mail or post quotes, where the writer gives one of his own: the
/// newer is meant, and a quoted list alone is the list. Without what is below the greeting at the
/// end, but for a part that is sure.
fn without_history(raw: &[RawRow], rows: Vec<(usize, Row)>) -> Vec<Row> {
    let asked = |r: &Row| !matches!(r.state, State::Ignored | State::Unknown);
    let count = |which: &dyn Fn(&RawRow) -> bool| {
        let of = |at: usize| raw.get(at).is_some_and(which);
        rows.iter().filter(|(at, r)| asked(r) && of(*at)).count()
    };
    let (own, older) = (count(&|r| !r.quoted && !r.signed), count(&|r| r.quoted));
    let replaced = own >= 2 && own * 2 >= older;
    let closed = own > count(&|r| r.signed && !r.quoted);
    let senders = senders(raw);
    // "> Whelk Disc", and below it "gladly": that one is asked for.
    let agreed = |at: usize| {
        let answer = raw.get(at + 1).filter(|r| !r.quoted && !r.parted);
        let bare = |r: &RawRow| words::plain(r.text.trim_end_matches(['.', '!', ' ']));
        answer.is_some_and(|r| words::words().has("agrees", &bare(r)))
    };
    let out = |at: usize, row: &Row| {
        raw.get(at).is_some_and(|r| {
            let name = words::plain(&r.text);
            !r.listed && !name.is_empty() && name.split(' ').all(|w| senders.iter().any(|s| s == w))
                || r.quoted && replaced && !agreed(at)
                || r.signed && !r.quoted && !r.listed && closed && row.state != State::Matched
        })
    };
    let ignored =
        |row: Row| Row { state: State::Ignored, part: None, candidates: Vec::new(), ..row };
    rows.into_iter().map(|(at, row)| if out(at, &row) { ignored(row) } else { row }).collect()
}

/// The words of the names that a mail is from.
fn senders(raw: &[RawRow]) -> Vec<String> {
    let name = |row: &RawRow| {
        let (head, rest) = row.text.split_once(':')?;
        let from = words::words().has("mail_from", &words::plain(head));
        let (name, _) = rest.split_once('<').filter(|_| from && row.head)?;
        Some(words::plain(name).split(' ').map(str::to_owned).collect::<Vec<_>>())
    };
    raw.iter().filter_map(name).flatten().collect()
}

/// A figure in a text: its number, and what it may be in the units that fields declare.
pub(crate) struct Figure {
    pub(crate) number: Option<f64>,
    pub(crate) readings: Vec<(String, f64)>,
}

/// The figures of a text, in order.
pub(crate) fn figures(text: &str) -> Vec<Figure> {
    let list = lexicon::merge_units(tokens::tokens(text));
    let figure = |t: &tokens::Token| t.number.is_some() || !t.readings.is_empty();
    list.into_iter()
        .filter(figure)
        .map(|t| Figure {
            number: t.number,
            readings: t.readings.into_iter().map(|r| (r.unit, r.value)).collect(),
        })
        .collect()
}

/// The units that a spelling may stand for.
pub(crate) fn units_of(word: &str) -> Vec<String> {
    let word = folded_text(word.trim_matches([' ', ')', '(']));
    words::words().units(&word).iter().map(|(unit, _)| unit.clone()).collect()
}

/// A table with its heads: rows by the line they start on.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct RawTable {
    /// What stands above it.
    pub(crate) above: String,
    pub(crate) heads: Vec<String>,
    pub(crate) rows: Vec<(usize, Vec<String>)>,
}

/// The table of a text, if it is one of several columns and rows.
pub(crate) fn table_of(text: &str) -> Option<RawTable> {
    let cells = if html::is_html(text) { html::cells(text) } else { delimited::cells(text)? };
    headed(cells)
}

/// A page's text as lines, whether it is HTML or not.
pub(crate) fn page_text(text: &str) -> std::borrow::Cow<'_, str> {
    if html::is_html(text) { html::plain(text).into() } else { text.into() }
}

fn headed(mut cells: Vec<Cells>) -> Option<RawTable> {
    cells.retain(|r| r.cells.iter().any(|c| !c.trim().is_empty()));
    let first =
        cells.iter().position(|r| r.cells.iter().filter(|c| !c.trim().is_empty()).count() > 2)?;
    let title = cells.iter().take(first).flat_map(|r| &r.cells).map(|c| c.trim());
    let above = title.filter(|c| !c.is_empty()).collect::<Vec<_>>().join(", ");
    let mut rows = cells.into_iter().skip(first);
    let heads = rows.next()?.cells;
    let rows: Vec<(usize, Vec<String>)> = rows.map(|r| (r.line, r.cells)).collect();
    (!rows.is_empty()).then_some(RawTable { above, heads, rows })
}

impl Text {
    /// The workbook's table.
    pub(crate) fn table(&self) -> Option<RawTable> {
        match self {
            Self::Table(cells) => headed(cells.clone()),
            Self::Plain(_) => None,
        }
    }
}
