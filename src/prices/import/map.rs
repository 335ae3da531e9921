//! The map of a feed: which column is what, and how its figures and days are written.

use std::collections::HashMap;
use std::sync::Arc;

use jiff::civil::Date;

use crate::catalogue::declared::{Declared, Reading, Row, Takes, key, needed};
use crate::catalogue::field_reader::{found, key_span, sound};
use crate::source::{Problem, Problems, Source, Span};
use crate::trade::money::Currency;
use crate::words::clip;

/// What a column may be mapped to.
pub(super) const TARGETS: &[&str] = &[
    "part",
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
/// A map.
const MAP: Declared = Declared {
    of: "a map",
    keys: &[
        needed("seller", Takes::Text, "whose feed it is"),
        key("currency", Takes::Text, "code of every price, where no column gives it"),
        key("seen_on", Takes::Day, "the day of the feed, where no column gives it"),
        key("delimiter", Takes::Text, "the separator of cells; a comma when left out"),
        key("decimal", Takes::Text, "the decimal sign; a point when left out"),
        key("thousands", Takes::Text, "the thousands separator, where the feed has one"),
        key(
            "price_in",
            Takes::Words(&["whole", "minor"]),
            "\"whole\" units of the currency, or its \"minor\" ones",
        ),
        key(
            "date",
            Takes::Text,
            "how a day is written, such as \"DD.MM.YYYY\"; YYYY-MM-DD when left out",
        ),
        key("columns", Takes::Other, "our column = \"theirs\""),
        key("parts", Takes::Other, "\"their code\" = \"kind/name\""),
    ],
};

/// How a feed is read.
#[derive(Debug)]
pub struct Map {
    /// Whose feed it is.
    pub seller: String,
    /// The currency where no column gives it.
    pub currency: Option<Currency>,
    /// The day where no column gives it.
    pub seen_on: Option<Date>,
    /// Between cells.
    pub delimiter: u8,
    /// Before decimals.
    pub decimal: char,
    /// Between thousands.
    pub thousands: Option<char>,
    /// Whether prices are in the smallest unit.
    pub minor: bool,
    /// How a day is written.
    pub date: String,
    /// The feed's name of each target.
    pub columns: [Option<String>; TARGETS.len()],
    /// Their codes and our parts.
    pub parts: HashMap<String, String>,
    /// The file, for problems.
    pub source: Arc<Source>,
}

impl Map {
    /// The feed's name of a target.
    pub(super) fn column(&self, target: &str) -> Option<&str> {
        let at = TARGETS.iter().position(|t| *t == target)?;
        self.columns.get(at).and_then(|c| c.as_deref())
    }

    /// Reads a map.
    pub fn read(source: &Arc<Source>) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        let Some(parsed) = sound(source, &mut problems) else { return Err(problems) };
        let mut reading = Reading { source, catalogue: None, problems: &mut problems };
        let row = MAP.check(parsed.get_ref(), Span::default(), &mut reading);
        let map = Reader { row, reading }.map();
        problems.or(map)
    }
}

struct Reader<'a> {
    row: Row<'a, 'a>,
    reading: Reading<'a>,
}

impl Reader<'_> {
    fn wrong(
        &mut self,
        span: Span,
        message: impl Into<String>,
        label: impl Into<String>,
        help: &str,
    ) {
        self.reading.wrong("wrong-map", span, message, label, help);
    }

    /// A text as it is written, blanks included.
    fn text(&self, key: &str) -> Option<(String, Span)> {
        let text = self.row.get(key)?.get_ref().as_str()?;
        Some((text.to_owned(), self.row.span(key)))
    }

    fn sign(&mut self, key: &str) -> Option<char> {
        let (text, span) = self.text(key)?;
        let mut chars = text.chars();
        match (chars.next(), chars.next()) {
            (Some(sign), None) if !sign.is_ascii_digit() => Some(sign),
            _ => {
                self.wrong(
                    span,
                    format!("`{key}` is one sign"),
                    "not one sign",
                    "write it in quotes: \",\"",
                );
                None
            }
        }
    }

    fn map(&mut self) -> Map {
        let seller = self.seller();
        let map = Map {
            currency: self.currency(),
            seen_on: self.row.day("seen_on"),
            delimiter: self.sign("delimiter").and_then(|c| u8::try_from(c).ok()).unwrap_or(b','),
            decimal: self.sign("decimal").unwrap_or('.'),
            thousands: self.sign("thousands"),
            minor: self.row.text("price_in") == Some("minor"),
            date: self.text("date").map_or_else(|| "YYYY-MM-DD".to_owned(), |(s, _)| s),
            columns: self.columns(),
            parts: self.pairs("parts").into_iter().map(|(k, v, _)| (k, v)).collect(),
            source: self.reading.source.clone(),
            seller,
        };
        self.whole(&map);
        map
    }

    /// Without blanks around it, as an offers file is read: else no row would be known again.
    fn seller(&mut self) -> String {
        let (seller, span) = self
            .text("seller")
            .map_or((String::new(), Span::default()), |(s, span)| (s.trim().to_owned(), span));
        if let Some(sign) = seller.chars().next().filter(|c| ['=', '+', '-', '@'].contains(c)) {
            let help = "a spreadsheet would take it for a formula: write it otherwise";
            self.wrong(span, format!("a seller's name does not begin with {sign}"), "here", help);
        }
        seller
    }

    /// What a map cannot do without.
    fn whole(&mut self, map: &Map) {
        for target in ["part", "price"] {
            if map.column(target).is_none() {
                self.wrong(
                    Span::default(),
                    format!("this map gives no column for `{target}`"),
                    "here",
                    "under [columns], write our name = \"the feed's name\"",
                );
            }
        }
        for (target, given) in
            [("seen_on", map.seen_on.is_some()), ("currency", map.currency.is_some())]
        {
            if map.column(target).is_none() && !given {
                self.wrong(
                    Span::default(),
                    format!("this map says nothing of `{target}`"),
                    "here",
                    "give it once for the whole feed, or its column under [columns]",
                );
            }
        }
        if Some(map.decimal) == map.thousands {
            self.wrong(
                Span::default(),
                "decimals and thousands cannot have the same sign",
                "here",
                "one of `decimal` and `thousands` is another",
            );
        }
        let marks: Vec<char> = map.date.chars().filter(|c| c.is_ascii_alphabetic()).collect();
        if !["YYYYMMDD", "DDMMYYYY", "MMDDYYYY"]
            .contains(&marks.iter().collect::<String>().as_str())
        {
            self.wrong(
                Span::default(),
                format!("`date` = \"{}\" is no way of writing a day", clip(&map.date, 20)),
                "here",
                "write it with YYYY, MM and DD, such as \"DD.MM.YYYY\"",
            );
        }
    }

    fn currency(&mut self) -> Option<Currency> {
        let (code, span) = self.text("currency")?;
        let currency = Currency::from_code(&code);
        if currency.is_none() {
            self.wrong(
                span,
                format!("there is no currency {}", clip(&code, 20)),
                "unknown",
                "write its three letters in capitals, such as EUR",
            );
        }
        currency
    }

    fn pairs(&mut self, key: &str) -> Vec<(String, String, Span)> {
        let Some(value) = self.row.get(key) else { return Vec::new() };
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(
                value.span().into(),
                format!("`{key}` must be a table"),
                format!("this is {}", found(value.get_ref())),
                "write its entries under a heading in brackets",
            );
            return Vec::new();
        };
        let mut pairs = Vec::new();
        for (key, value) in table {
            match value.get_ref().as_str() {
                Some(text) => {
                    pairs.push((key.get_ref().to_string(), text.to_owned(), key_span(key)))
                }
                None => self.wrong(
                    value.span().into(),
                    "this must be a text",
                    format!("this is {}", found(value.get_ref())),
                    "write it in quotes",
                ),
            }
        }
        pairs
    }

    fn columns(&mut self) -> [Option<String>; TARGETS.len()] {
        let mut columns = [const { None }; TARGETS.len()];
        for (key, name, span) in self.pairs("columns") {
            match TARGETS.iter().position(|t| *t == key).and_then(|at| columns.get_mut(at)) {
                Some(slot) => *slot = Some(name),
                None => {
                    let problem = Problem::new(format!("an offer has no `{}`", clip(&key, 40)))
                        .code("unknown-key")
                        .at(self.reading.source, span, "unknown");
                    self.reading.problems.push(problem.suggest(&key, TARGETS.iter().copied()));
                }
            }
        }
        columns
    }
}
