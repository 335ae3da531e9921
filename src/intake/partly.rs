//! Rows of which the customer has some: "4x Lull 120, two of them already here".

use std::ops::Range;

use super::Row;
use super::count::before;
use super::segments::to_clause_end;
use super::strip::tidy;
use super::words::{word_ranges, words};

/// What a row says of the pieces that the customer has.
pub(super) struct Partly {
    /// The row without their count.
    pub(super) rest: String,
    have: u32,
    whole: String,
}

/// How many of a row's pieces the customer has, if it says so beside a count of all, or its note
/// does.
pub(super) fn partly(text: &str, note: &str) -> Option<Partly> {
    said(text).or_else(|| {
        let noted = said(&format!("{text}, {note}")).filter(|_| !note.is_empty());
        noted.map(|p| Partly { rest: text.to_owned(), whole: tidy(text), ..p })
    })
}

fn said(text: &str) -> Option<Partly> {
    let owned = || words().find("owned", text).into_iter();
    owned().chain(words().find("have", text)).next()?;
    let of_them = words().find("of_them", text).into_iter().find_map(|phrase| {
        let (have, count) = match before(text, &phrase) {
            Some((have, count, _)) => (have, count),
            None => behind(text, &phrase)?,
        };
        Some((have, count.start.min(phrase.start)..count.end.max(phrase.end)))
    });
    let alone = || {
        owned().find_map(|phrase| {
            let (have, count, alone) = before(text, &phrase)?;
            (alone && count.start > 0).then_some((have, count))
        })
    };
    // "Have 2 already", and not "have 2x Lull 120".
    let had = || {
        words().find("have", text).into_iter().find_map(|phrase| {
            let (have, count) = behind(text, &phrase)?;
            let low = text.to_lowercase();
            let rest = low.get(count.end..)?;
            let already = words().begins("already", rest.trim_start()).unwrap_or(0);
            let end = count.end
                + if already > 0 { rest.len() - rest.trim_start().len() + already } else { 0 };
            let rest = low.get(end..)?.trim_start();
            // "We have one, so just one more"
            let so = rest.split(' ').next().is_some_and(|w| words().has("so_many", w));
            let end = if so { end + to_clause_end(low.get(end..)?).len() } else { end };
            let ends = so || rest.is_empty() || rest.starts_with([')', ',', '.', ';']);
            (ends && phrase.start > 0).then_some((have, count.start..end))
        })
    };
    let (have, cut) = of_them.or_else(alone).or_else(had)?;
    let rest = format!("{} {}", text.get(..cut.start)?, text.get(cut.end..)?);
    Some(Partly { rest, have, whole: tidy(text) })
}

impl Partly {
    /// The row as what is bought and what the customer has.
    pub(super) fn rows(self, given: Option<u32>, rows: Vec<Row>) -> Vec<Row> {
        let rows: Vec<Row> =
            rows.into_iter().map(|row| Row { text: self.whole.clone(), ..row }).collect();
        let all: u32 = rows.iter().map(|row| row.count).sum();
        if let ([row], None) = (rows.as_slice(), given)
            && row.owned
        {
            return vec![Row { count: self.have, ..row.clone() }];
        }
        if self.have >= all || !rows.iter().all(|row| row.owned) {
            return rows;
        }
        // Of pieces at several places the last are the customer's: they are alike.
        let mut bought = all - self.have;
        let parted = |row: Row| {
            let new = bought.min(row.count);
            bought -= new;
            let have = Row { count: row.count - new, price: None, currency: None, ..row.clone() };
            [Row { count: new, owned: false, ..row }, have]
        };
        rows.into_iter().flat_map(parted).filter(|row| row.count > 0).collect()
    }
}

/// The count at once behind a phrase: "davon 2".
fn behind(text: &str, phrase: &Range<usize>) -> Option<(u32, Range<usize>)> {
    let rest = text.get(phrase.end..)?;
    let first = word_ranges(rest).into_iter().next()?;
    let count = super::count::spoken(rest.get(first.clone())?)?;
    let blank = rest.get(..first.start)?.trim().is_empty();
    blank.then_some((count, phrase.end + first.start..phrase.end + first.end))
}
