//! Where a row says that its parts are fitted, and which way they blow: "2x Lull 120 front intake",
//! "Lull 120, 2 in front and one at the back".

use std::cmp::Reverse;
use std::ops::Range;

use super::Row;
use super::count::before;
use super::facts;
use super::interpret::Interpreter;
use super::items::items;
use super::rows::RawRow;
use super::strip::tidy;
use super::words::{plain, word_ranges, words};
use crate::build::read::MAX_COUNT;
use crate::source::Problem;

/// A place that a row gives.
#[derive(Default)]
pub(super) struct Place {
    mount: Option<String>,
    flow: Option<String>,
    /// How many go there, where the row says so for this place.
    count: Option<u32>,
}

/// What a row says of the places of its parts.
#[derive(Default)]
pub(super) struct Fitted {
    /// The row without it.
    pub(super) rest: String,
    places: Vec<Place>,
}

/// A phrase that says a place or a way.
struct Mark<'w> {
    range: Range<usize>,
    mount: Option<&'w str>,
    flow: Option<&'w str>,
}

impl Interpreter<'_> {
    /// The places that a row gives, if its part is of a kind that is mounted.
    pub(super) fn fitted(&self, raw: &RawRow, text: &str) -> Result<Fitted, Problem> {
        let none = || Fitted { rest: text.to_owned(), ..Fitted::default() };
        let Some((places, rest)) = self.places(text) else { return Ok(none()) };
        let bare = self.without_asides(&self.strip(raw, &rest)?.text);
        let list = items(self.lexicon, &bare);
        let found = self.kind_found(&self.find(raw, &list));
        let of_words = || facts::kind_of(self.catalogue, self.lexicon, &list, self.hint(raw));
        let kind = found.or_else(of_words).and_then(|at| self.catalogue.kinds.get(usize::from(at)));
        Ok(if kind.is_some_and(|k| k.mounted) { Fitted { rest, places } } else { none() })
    }

    /// The phrases of places and ways in a text, in their order, without what is a part of another.
    /// Two may share a word: "blowing in front".
    fn marks(&self, text: &str) -> Vec<Mark<'_>> {
        let mut marks = Vec::new();
        for mount in self.catalogue.words("mount") {
            let found = said(text, &format!("mount_{mount}"));
            for range in found {
                marks.extend(way_behind(text, &range));
                marks.push(Mark { range, mount: Some(mount), flow: None });
            }
        }
        for flow in ["in", "out"] {
            let found = said(text, &format!("flow_{flow}"));
            marks.extend(found.map(|range| Mark { range, mount: None, flow: Some(flow) }));
        }
        marks.sort_by_key(|mark| (mark.range.start, Reverse(mark.range.end)));
        let mut end = 0;
        marks.retain(|mark| {
            let reaches = mark.range.end > end;
            end = end.max(mark.range.end);
            reaches
        });
        let starts: Vec<usize> = marks.iter().map(|mark| mark.range.start).collect();
        marks.retain(|mark| !praises(text, &mark.range, &starts));
        marks
    }

    /// A text without where its parts are fitted; none where it does not say.
    pub(super) fn without_places(&self, text: &str) -> Option<String> {
        Some(self.places(text)?.1)
    }

    /// The places that a text gives, and the text without them. None where it gives none, or
    /// several without saying how many go to each.
    fn places(&self, text: &str) -> Option<(Vec<Place>, String)> {
        let marks = self.marks(text);
        let mut cut: Vec<Range<usize>> = marks.iter().map(|m| m.range.clone()).collect();
        let several = marks.iter().filter(|m| m.mount.is_some()).count() > 1;
        let mut places: Vec<Place> = Vec::new();
        for mark in marks {
            let new = mark.mount.is_some() && places.last().is_none_or(|p| p.mount.is_some());
            if new || places.is_empty() {
                places.push(Place::default());
            }
            let place = places.last_mut()?;
            if mark.flow.is_some() && place.flow.is_some() {
                return None;
            }
            place.flow = mark.flow.map(str::to_owned).or(place.flow.take());
            place.mount = mark.mount.map(str::to_owned).or(place.mount.take());
            let counted = if new || mark.flow.is_none() { before(text, &mark.range) } else { None };
            if let Some((count, range, alone)) = counted
                && (several || alone)
            {
                place.count = Some(count);
                cut.push(range);
            }
        }
        if places.is_empty() || places.iter().skip(1).any(|p| p.count.is_none()) {
            return None;
        }
        let mut rest = without(text, cut);
        // "Fans, two in front and one at the back" leaves an "and" behind.
        while let Some(last) = word_ranges(&rest).pop()
            && words().has("joining", &plain(rest.get(last.clone())?))
        {
            rest.replace_range(last, "");
        }
        Some((places, rest))
    }
}

impl Fitted {
    /// A row for each place, from the row that the text without them comes to. What has no place is
    /// a row without one; where more are placed than the row has, no place is taken. Either says
    /// so.
    pub(super) fn rows(self, whole: &str, given: Option<u32>, row: Row) -> Vec<Row> {
        if self.places.is_empty() {
            return vec![row];
        }
        let row = Row { text: tidy(whole), ..row };
        let sum = self.places.iter().filter_map(|p| p.count).sum::<u32>();
        let all = self.places.iter().all(|p| p.count.is_some());
        let given = given.filter(|given| all && *given != sum);
        if sum > MAX_COUNT || given.is_some_and(|given| given < sum) {
            return vec![Row { placed: Some((sum, row.count)), ..row }];
        }
        let rest = given.map(|given| Row {
            count: given - sum,
            placed: Some((sum, given)),
            ..row.clone()
        });
        let at = |place: Place| Row {
            count: place.count.unwrap_or(row.count),
            mount: place.mount,
            flow: place.flow,
            ..row.clone()
        };
        self.places.into_iter().map(at).chain(rest).collect()
    }
}

/// "Front in, rear out": the way that a word behind a place gives, where its clause ends there.
fn way_behind(text: &str, place: &Range<usize>) -> Option<Mark<'static>> {
    let behind = text.get(place.end..)?;
    let word = word_ranges(behind).into_iter().next()?;
    let ends = behind.get(word.end..)?.trim_start();
    let alone = ends.is_empty() || ends.starts_with([',', ';', ')', '|', '/', '+', '.']);
    let said = plain(behind.get(word.clone())?);
    let sets = [("ends_in", "in"), ("ends_out", "out")];
    let (_, flow) = sets.into_iter().find(|(set, _)| alone && words().has(set, &said))?;
    let range = place.end + word.start..place.end + word.end;
    Some(Mark { range, mount: None, flow: Some(flow) })
}

/// Whether a word of a place praises: "top" before what it is said of, and before an exclamation
/// mark, but not before another place or way, which begin at `marks`.
fn praises(text: &str, range: &Range<usize>, marks: &[usize]) -> bool {
    if !text.get(range.clone()).is_some_and(|word| words().has("praise", &plain(word))) {
        return false;
    }
    let behind = text.get(range.end..).unwrap_or("");
    let rest = behind.trim_start();
    let mut next = word_ranges(behind).into_iter().map(|r| (r.start + range.end, r));
    let joins = |r: &Range<usize>| {
        behind.get(r.clone()).is_some_and(|word| words().has("joining", &plain(word)))
    };
    let place = next.find(|(_, r)| !joins(r)).is_some_and(|(at, _)| marks.contains(&at));
    let labels = || {
        let stop = rest.find([':', ',', ';', '(']).filter(|at| rest.get(*at..*at + 1) == Some(":"));
        stop.is_some_and(|at| !rest.get(..at).is_some_and(|t| t.contains(char::is_numeric)))
    };
    let priced = || super::price::amounts(rest, false).first().is_some_and(|a| a.range.start == 0);
    let followed = rest.starts_with(char::is_alphanumeric) && !place && !labels() && !priced();
    rest.starts_with('!') || followed
}

/// Where a text says a phrase of a set. What stands within a longer phrase, as "top" in "top
/// price", is not said.
fn said(text: &str, set: &str) -> impl Iterator<Item = Range<usize>> + use<> {
    let fillers = words().find("filler", text);
    let longer = move |range: &Range<usize>| {
        fillers
            .iter()
            .any(|f| f.len() > range.len() && f.start <= range.start && range.end <= f.end)
    };
    words().find(set, text).into_iter().filter(move |range| !longer(range))
}

/// A text with a blank in place of each range, in whatever order they come and wherever they meet.
fn without(text: &str, mut ranges: Vec<Range<usize>>) -> String {
    ranges.sort_by_key(|range| range.start);
    let (mut rest, mut end) = (String::new(), 0);
    for range in ranges {
        rest.push_str(text.get(end..range.start).unwrap_or(""));
        rest.push(' ');
        end = end.max(range.end);
    }
    rest + text.get(end..).unwrap_or("")
}
