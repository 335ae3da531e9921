//! What the heading of a section says of the rows below it: "What I have:", "Not needed".

use std::ops::Range;

use super::interpret::{Interpreter, names_kinds};
use super::items::items;
use super::matching::Found;
use super::rows::RawRow;
use super::strip::is_talk;
use super::words::{cut, plain, word_ranges, words};
use super::{Row, State};
use crate::build::read::MAX_COUNT;
use crate::source::Problem;

/// Words of the longest heading that has no colon.
const LONGEST_TITLE: usize = 7;

/// What the rows of a section have in common.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Section {
    /// Nothing.
    #[default]
    Plain,
    /// The customer has all of it.
    Owned,
    /// Nobody wants any of it.
    Out,
}

impl Interpreter<'_> {
    /// The rows that a raw row comes to: one, or one for each part in it.
    ///
    /// # Errors
    /// A count that no list has.
    pub(crate) fn rows(
        &mut self,
        raw: &RawRow,
        next: Option<&RawRow>,
    ) -> Result<Vec<Row>, Problem> {
        let mut rows = self.rows_of(raw, next)?;
        self.times = if raw.below { self.times } else { times(raw) };
        for row in rows.iter_mut().filter(|r| raw.below && r.state != State::Ignored) {
            row.count = row.count.saturating_mul(self.times).min(MAX_COUNT);
        }
        if self.times > 1 && !raw.below {
            return Ok(vec![Row::ignored(raw)]);
        }
        let asks_nothing = rows.iter().all(|r| r.state == State::Ignored);
        if asks_nothing && !raw.columns && self.heads(raw, next) {
            self.common = common(&raw.text, raw.head);
        } else if raw.parted && !raw.listed && !raw.head && is_talk(&raw.text) {
            // What the writer says behind a blank line ends a section without bullets.
            self.common = Section::Plain;
        }
        match self.common {
            Section::Plain => {}
            Section::Owned => {
                rows.iter_mut().for_each(|r| r.owned |= r.state != State::Ignored);
            }
            Section::Out => rows = vec![Row::ignored(raw)],
        }
        Ok(rows)
    }

    /// "Staying: my Skerry Ness and both Silt 2 TB", "screen and keyboard are there already": a row
    /// without that, all of it owned.
    pub(super) fn staying(&self, raw: &RawRow) -> Option<RawRow> {
        let owned = |text: &str, listed| {
            let text = text.trim().to_owned();
            Some(RawRow { text, owned: true, listed, ..raw.clone() })
        };
        let stays = |l: &str| {
            (words().has("owned", l) || words().has("have", l)) && !words().has("labels", l)
        };
        if let Some((_, rest)) = raw.text.split_once(':').filter(|(l, _)| stays(&plain(l))) {
            return owned(rest, raw.listed);
        }
        // "Screen she has, keyboard too"; "has" alone is no claim of what stands before it.
        let has = |r: &Range<usize>| {
            r.start > 0 && raw.text.get(r.clone()).is_some_and(|t| t.contains(' '))
        };
        let claims = words().find("owned", &raw.text).into_iter();
        let claim = claims.chain(words().find("have", &raw.text).into_iter().filter(has)).next()?;
        let rest = cut(&raw.text, claim, " ");
        let list = items(self.lexicon, &rest);
        let bare = list.iter().all(|i| i.filler || i.prose || i.names_kind() && !i.has_digit());
        let several = names_kinds(&list) > 1 && !words().says("against", &raw.text);
        if bare && several { owned(&rest, true) } else { None }
    }

    /// Whether a line heads a section: it ends in a colon or is marked as a heading, or is a short
    /// line without a part behind a blank one, with rows below it.
    fn heads(&self, raw: &RawRow, next: Option<&RawRow>) -> bool {
        if raw.head || !raw.listed && raw.text.trim_end().ends_with(':') {
            return true;
        }
        let short = word_ranges(&raw.text).len() <= LONGEST_TITLE
            && !raw.text.trim_end().ends_with(['.', '!', '?', ',']);
        let figures = raw.text.contains(|c: char| c.is_ascii_digit());
        let follows = next.is_some_and(|n| !n.parted);
        let sure = || matches!(self.find(raw, &items(self.lexicon, &raw.text)), Found::Sure(_));
        raw.parted && !raw.listed && short && follows && !figures && !sure()
    }
}

/// How many a row heads that others stand below: "three PCs, each with".
fn times(raw: &RawRow) -> u32 {
    let text = raw.text.trim_end_matches([':', ' ', '.', '…']);
    let ends = words().find("each_has", text).pop().is_some_and(|r| r.end == text.len());
    let first = text.split_whitespace().next().unwrap_or("");
    super::count::spoken(first).filter(|_| ends && raw.listed).unwrap_or(1)
}

/// What a heading says of all that is below it. In the head of a table "have" names a column.
fn common(text: &str, table: bool) -> Section {
    let low = text.to_lowercase();
    let says = |set: &str| words().says(set, &low);
    // "No" alone heads a column; "not needed" and "do not need" say what to leave out.
    let out = |set: &str| {
        let phrases = words().find(set, &low);
        phrases.into_iter().any(|r| low.get(r).is_some_and(|phrase| phrase.contains(' ')))
    };
    // "What I have", but not "what I have put together".
    let bare = low.trim_end_matches([':', ' ', '.']);
    let has = || {
        let last = words().find("have", bare).pop();
        !table && last.is_some_and(|r| r.end == bare.len())
    };
    let owned = || {
        let verb =
            |r: &Range<usize>| bare.get(r.clone()).is_some_and(|p| words().has("have_verbs", p));
        words().find("owned", bare).iter().any(|r| r.end == bare.len() || !verb(r))
    };
    if out("none") || out("cancelled") || Interpreter::put_off(&low) {
        Section::Out
    } else if !says("to_get") && (owned() || has()) {
        Section::Owned
    } else {
        Section::Plain
    }
}
