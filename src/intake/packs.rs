//! Packs: of modules, `2x16 GB`, and of what is sold several at a time, "3er-Pack".

use std::ops::Range;

use super::count::{pack_ahead, spoken};
use super::interpret::Interpreter;
use super::items::{Item, items};
use super::matching::{Candidate, Found, fitting};
use super::rows::RawRow;
use super::strip::Stripped;
use super::words::{word_ranges, words};

impl Interpreter<'_> {
    /// `2 x 16 GB` may be a pack after all, or `2x` a count.
    pub(super) fn joined_by_pack(&self, raw: &RawRow, text: &str) -> Option<(Vec<Item>, Found)> {
        let spaced = text.replace(" x ", "x").replace(" × ", "x");
        if spaced == text {
            return None;
        }
        let list = items(self.lexicon, &spaced);
        let found = self.find(raw, &list);
        (found != Found::Nothing).then_some((list, found))
    }

    /// "2x24 dulse 6000" as "2x24 GB dulse 6000": before a name of memory it is a pack.
    pub(super) fn with_pack(&self, text: &str) -> String {
        let trimmed = text.trim_start();
        let Some((pack, rest)) = trimmed.split_once(' ') else { return text.to_owned() };
        let sides = pack.to_lowercase().replace('×', "x");
        let number = |t: &str| t.parse::<u32>().ok();
        let sized = sides.split_once('x').is_some_and(|(count, each)| {
            number(count).is_some_and(|n| (1..=8).contains(&n))
                && number(each).is_some_and(|n| (4..=128).contains(&n) && n % 4 == 0)
        });
        let first = rest.split(' ').next().unwrap_or("");
        let memory = |i: &Item| {
            let packs = |at: &u32| {
                self.lexicon.parts.get(*at as usize).is_some_and(|p| !p.packs.is_empty())
            };
            self.words_of(i, 1.0).any(|w| !w.parts.is_empty() && w.parts.iter().all(packs))
        };
        if sized && items(self.lexicon, first).iter().any(memory) {
            format!("{pack} GB {rest}")
        } else {
            text.to_owned()
        }
    }

    /// "2x Dulse 16 GB": two kits of 16 GB, or one of two modules, where the catalogue has both.
    pub(super) fn count_or_pack(
        &self,
        raw: &RawRow,
        stripped: &Stripped,
        list: &[Item],
        found: &Found,
    ) -> Option<Found> {
        let count = stripped.count.filter(|n| (2..=8).contains(n) && raw.count.is_empty())?;
        let kind = self.kind_found(found)?;
        let size = |i: &Item| i.readings.iter().find(|r| r.unit == "GB").map(|r| r.value);
        let at = list.iter().position(|i| size(i).is_some())?;
        let each = list.get(at).and_then(size)?;
        let packs = |part: usize, pack: (f64, f64)| {
            self.lexicon.parts.get(part).is_some_and(|p| p.packs.contains(&pack))
        };
        // Modules that are sold one by one are counted.
        if matches!(found, Found::Sure(one) if packs(one.part, (1.0, each))) {
            return None;
        }
        let mut all = found.clone().all();
        let pack = (f64::from(count), each);
        let mut other = list.to_vec();
        let item = other.get_mut(at)?;
        (item.pack, item.number) = (Some(pack), None);
        item.readings.clear();
        let fitting = fitting(self.lexicon, &other, Some(kind));
        let more = fitting.into_iter().filter(|part| packs(*part, pack));
        let more: Vec<usize> = more.filter(|p| all.iter().all(|c| c.part != *p)).collect();
        let score = all.first().map_or(0.5, |c| c.score);
        all.extend(more.iter().map(|part| Candidate { part: *part, score }));
        (!more.is_empty() && all.len() > 1).then_some(Found::Unsure(all))
    }
}

/// `2 x 16gb ddr5` as `2x16gb ddr5`, where it is a pack of modules.
fn tightened(text: &str) -> String {
    for (at, times) in text.char_indices().filter(|(_, c)| matches!(c, 'x' | 'X' | '×')) {
        let (before, after) = (text.get(..at).unwrap_or(""), text.get(at + times.len_utf8()..));
        let (head, next) = (before.trim_end(), after.unwrap_or("").trim_start());
        let number = head.rsplit(|c: char| !c.is_ascii_digit()).next().unwrap_or("");
        let several = (1..=2).contains(&number.len()) && number != "1";
        // "DDR5 2 x 32 GB" says before it what it is.
        if several && pack_ahead(&format!("{next} {head}"), true, true) {
            return format!("{head}x{next}");
        }
    }
    text.to_owned()
}

/// `2 sticks of 16 GB` and `2 x 16 GB DDR5` as `2x16 GB`.
pub(crate) fn packs_joined(text: &str) -> String {
    let text = &*tightened(text);
    // "Ebb DDR5 32 GB, single module" is a pack of one.
    if let Some(range) = words().find("single_module", text).pop() {
        let rest = format!("{} {}", text.get(..range.start).unwrap_or(""), {
            text.get(range.end..).unwrap_or("")
        });
        if let Some((before, size, behind)) = size_within(&rest) {
            return format!("{before}1x{size}{behind}");
        }
    }
    let mut out = text.to_owned();
    for range in words().find("modules", text).into_iter().rev() {
        let (before, after) = (text.get(..range.start).unwrap_or(""), text.get(range.end..));
        let trimmed = before.trim_end();
        let number = trimmed.rsplit([' ', ',', '(']).next().unwrap_or("");
        let count = number.parse().ok().or_else(|| words().number(&number.to_lowercase()));
        let after = after.unwrap_or("").trim_start();
        let low = after.to_lowercase();
        let joint = words().begins("each_module", &low);
        let named = joint.is_none() && after.starts_with(char::is_alphabetic);
        let Some(joint) = joint.or(named.then_some(0)) else { continue };
        let each = after.get(joint..).unwrap_or("").trim_start();
        let behind = each.trim_start_matches(|c: char| c.is_ascii_digit()).trim_start();
        let word = behind.split([' ', ',', ')']).next().unwrap_or("");
        let priced = words().currency(word).is_some() || behind.starts_with(['.', ',']);
        let sized = each.starts_with(|c: char| c.is_ascii_digit()) && !priced;
        if let Some(count) = count.filter(|n: &u32| !sized && (2..=8).contains(n))
            && let Some((before_size, size, behind)) = size_within(each)
        {
            // "Two sticks of Dulse 16 GB": the name stands between.
            let head = text.get(..trimmed.len() - number.len()).unwrap_or("");
            return format!("{head}{count}x{size} {before_size}{behind}");
        }
        if let Some(count) = count.filter(|n: &u32| sized && (1..=8).contains(n)) {
            let end = out.len() - each.len();
            out.replace_range(trimmed.len() - number.len()..end, &format!("{count}x"));
            break;
        }
    }
    out
}

/// The first size in a clause, `16 GB`, and what stands before and behind it; none of a pack's.
fn size_within(text: &str) -> Option<(&str, &str, &str)> {
    let clause = text.find([',', ';', '(', '|']).unwrap_or(text.len());
    let low = text.get(..clause)?.to_ascii_lowercase();
    let at = ["gb", "go", "gib"].iter().filter_map(|unit| {
        let found = low.match_indices(unit).find(|(at, unit)| {
            let ends = !low
                .get(at + unit.len()..)
                .is_some_and(|t| t.starts_with(|c: char| c.is_alphanumeric() || c == '/'));
            ends && low
                .get(..*at)
                .is_some_and(|t| t.trim_end().ends_with(|c: char| c.is_ascii_digit()))
        });
        found.map(|(at, unit)| (at, at + unit.len()))
    });
    let (unit, end) = at.min()?;
    let number = low.get(..unit)?.trim_end();
    let start = number.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let free = number.get(..start)?.ends_with(' ');
    free.then_some((text.get(..start)?, text.get(start..end)?, text.get(end..)?))
}

/// How many are in the pack that a text says it is sold in, "3er-Pack" or "lot de 3", and the text
/// without that.
pub(crate) fn pack(text: &str) -> Option<(u32, String)> {
    let within = |range: Range<usize>, number: &str| {
        let count = spoken(number).filter(|n| *n > 1)?;
        let (before, behind) = (text.get(..range.start)?, text.get(range.end..)?);
        // "4 packs of 2 Lull 120"
        let lead = match spoken(before) {
            Some(packs) => format!("{packs}x "),
            None if before.trim().is_empty() => before.to_owned(),
            None => format!("{before}|"),
        };
        Some((count, lead + behind.trim_start_matches([' ', ':'])))
    };
    let led = words().find("pack_of", text).into_iter().find_map(|phrase| {
        let rest = text.get(phrase.end..)?;
        let first = word_ranges(rest).into_iter().next()?;
        let next = rest.get(..first.start)?.trim().is_empty();
        within(phrase.start..phrase.end + first.end, rest.get(first)?).filter(|_| next)
    });
    led.or_else(|| {
        let low = text.to_lowercase();
        let same = low.len() == text.len();
        let starts = text.char_indices().filter(|(_, c)| same && c.is_ascii_digit());
        starts.into_iter().find_map(|(at, _)| {
            let free = text.get(..at)?.chars().next_back().is_none_or(|c| !c.is_alphanumeric());
            let after = low.get(at..)?.trim_start_matches(|c: char| c.is_ascii_digit());
            let length = words().begins("in_packs", after).filter(|_| free)?;
            let ends = after.get(length..)?.chars().next().is_none_or(|c| !c.is_alphanumeric());
            let digits = low.len() - at - after.len();
            let range = at..at + digits + length;
            within(range, text.get(at..at + digits)?).filter(|_| ends)
        })
    })
}
