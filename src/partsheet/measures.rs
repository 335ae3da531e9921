//! Several numbers in one sentence: outer sizes, resolutions, kits of modules, radiators.

use serde_json::{Value, json};

use super::Read;
use super::pages::{Described, Statement};
use super::reader::Reader;
use super::{records, words};
use crate::catalogue::kinds::Field;
use crate::intake::{figures, plain_text};

/// Radiators that are sold, by the fans along them.
pub(super) const RADIATORS_MM: &[f64] = &[120.0, 140.0, 240.0, 280.0, 360.0, 420.0, 480.0, 560.0];

impl Reader<'_> {
    /// Of two values of a factor of what the kind's parts hold in all, the one that comes to the
    /// other by the count that was read.
    pub(super) fn each_of_kit(&self, field: &str, new: &Value) -> Option<Value> {
        let factors = self.kind.figures.iter().filter_map(|f| f.split_once('*'));
        let count = factors.map(|(n, each)| (n.trim(), each.trim())).find(|(_, e)| *e == field)?.0;
        let count = self.read.get(count)?.value.as_f64()?;
        let (held, new) = (self.read.get(field)?.value.as_f64()?, new.as_f64()?);
        let (least, most) = (held.min(new), held.max(new));
        (count > 1.0 && least * count == most).then(|| json!(least))
    }

    /// `215 × 470 × 440 mm` with its letters in the label or the text.
    pub(super) fn sizes(&mut self, s: &Statement) -> bool {
        let bare = plain_text(s.label.split(['(', '[']).next().unwrap_or("").trim());
        let whole = plain_text(&s.label);
        let bare_label = bare.clone();
        // "Body (W x H x L)", but "Packaging (W x H x D)" is not the part's.
        let own = if words::holds("other_weight", &whole) { &bare } else { &whole };
        let lettered = axes(own).is_some_and(|axes| axes.len() == 3);
        // "SFX, 125 x 63.5 x 100 mm": three sides tell by themselves what they are.
        let lettered = lettered || s.label.is_empty() && cubed_mm(&s.text).is_some();
        let told = s.label.is_empty();
        let board = told && self.board_size(s);
        // Of a pump's block the height counts: `75 x 75 x 52 mm (L x W x H)`.
        let block = words::has("blocks", &bare);
        if !(lettered || block || words::has("sizes", &bare) || words::has("sizes", &whole)) {
            return board;
        }
        let clause = records::pieces(&s.text, &[',', ';'])
            .into_iter()
            .find(|c| c.matches(['x', '×', 'X']).count() >= 1 && figures(c).len() >= 2);
        let Some(clause) = clause else { return false };
        // The letters may stand in brackets, other numbers too.
        let bare = clause.split_once('(').map_or(clause, |(before, _)| before);
        let inside = bracketed(clause);
        // `12" x 9.6" (30.5 cm x 24.4 cm)`
        let clause = match bare.contains(['x', '×']) {
            true if bare.contains('"') && inside.contains("m") => &*inside,
            true if axes(clause).is_none() => bare,
            _ => clause,
        };
        let unit = if plain_text(clause).contains("cm") { 10.0 } else { 1.0 };
        let sides = clause.replace(['x', '×', 'X'], " ");
        let all: Vec<f64> = numbers(&sides).into_iter().map(|n| n * unit).collect();
        // A sentence has other numbers too.
        let numbers = cubed_mm(&s.text).filter(|_| told).unwrap_or(all);
        let axes = axes(&s.label).or_else(|| axes(&bare_label)).or_else(|| axes(clause));
        if let (None, Some(length)) = (&axes, self.supply_length(&numbers)) {
            return self.keep("length_mm", json!(length), clause, s.line);
        }
        // A drive lies flat.
        if let (None, 3, Some((_, height))) = (&axes, numbers.len(), self.flat()) {
            let least = numbers.iter().copied().fold(f64::MAX, f64::min);
            let fits = (height.min..=height.max).contains(&least);
            return fits && self.keep("height_mm", json!(least), clause, s.line);
        }
        self.by_axes(s, clause, axes, numbers)
    }

    /// The sides by the letters that stand for them, or by what is usual of a kind's.
    fn by_axes(
        &mut self,
        s: &Statement,
        clause: &str,
        axes: Option<Vec<&'static str>>,
        mut numbers: Vec<f64>,
    ) -> bool {
        let axes = axes.unwrap_or_else(|| match numbers.len() {
            2 => vec!["width", "depth"],
            // A card's sizes need no letters: it is longer than high and higher than thick.
            3 if self.kind.field("slots_wide").is_some() => vec!["depth", "height"],
            _ => Vec::new(),
        });
        // A fan's frame is as wide as high.
        if let ([a, b, deep], Some(_)) = (numbers.as_slice(), self.kind.field("deep_mm"))
            && a == b
            && self.kind.field("size_mm").is_some()
        {
            let (frame, deep) = (json!(a), json!(deep));
            return self.keep("size_mm", frame, clause, s.line)
                | self.keep("deep_mm", deep, clause, s.line);
        }
        if axes == ["depth", "height"] && numbers.len() == 3 {
            numbers.sort_by(|a, b| b.total_cmp(a));
            numbers.truncate(2);
        }
        let mut any = false;
        if axes.len() == numbers.len() {
            for (axis, mm) in axes.iter().zip(&numbers) {
                let name = [format!("{axis}_mm"), "length_mm".to_owned()].into_iter().find(|n| {
                    self.kind.field(n).is_some() && (*axis == "depth" || n.starts_with(axis))
                });
                if let Some((_, field)) = name.as_deref().and_then(|n| self.kind.field(n))
                    && (field.min..=field.max).contains(mm)
                {
                    any |= self.keep(&field.name, json!(mm), clause, s.line);
                }
            }
        }
        any
    }

    /// The height of a kind that has neither width nor depth nor length: a drive's.
    fn flat(&self) -> Option<(u16, &Field)> {
        let sides = ["width_mm", "depth_mm", "length_mm", "size_mm", "radiator_mm"];
        let others = sides.iter().any(|side| self.kind.field(side).is_some());
        self.kind.field("height_mm").filter(|_| !others && self.kind.field("media").is_some())
    }

    /// "Of the form E-ATX (305 × 277 mm)": a board's two sides.
    fn board_size(&mut self, s: &Statement) -> bool {
        if self.kind.field("memory_slots").is_none() || cubed_mm(&s.text).is_some() {
            return false;
        }
        let low = plain_text(&s.text);
        let pairs = records::products(&low);
        let [(a, b, rest)] = pairs.as_slice() else { return false };
        let rest = rest.trim_start();
        let unit = if rest.starts_with("cm") { 10.0 } else { 1.0 };
        let sides = [("width_mm", unit * f64::from(*a)), ("depth_mm", unit * f64::from(*b))];
        if !["mm", "cm"].iter().any(|u| rest.starts_with(u))
            || !sides.iter().all(|(name, mm)| self.fits(name, *mm))
        {
            return false;
        }
        sides
            .iter()
            .fold(false, |any, (name, mm)| any | self.keep(name, json!(mm), &s.text, s.line))
    }

    /// Of a power supply's three sizes that one which its form leaves free.
    fn supply_length(&self, numbers: &[f64]) -> Option<f64> {
        self.kind.field("rated_w")?;
        let [_, _, _] = numbers else { return None };
        let table = self.catalogue.table(self.catalogue.table_id("supply_form")?)?;
        let mut found = self.catalogue.words("supply_form").iter().filter_map(|form| {
            let mut left = numbers.to_vec();
            for name in ["width_mm", "height_mm"] {
                let mm = table.cell(form, table.column(name)?).as_num()?;
                let at = left.iter().position(|n| (n - mm).abs() < 1.5)?;
                left.remove(at);
            }
            left.first().copied()
        });
        found.next()
    }

    /// `2560 × 1440`, `2 x 32 GB`, `2 x 140 mm`, a radiator's sizes.
    pub(super) fn pairs(&mut self, s: &Statement, fields: &[&Field]) -> bool {
        // "Two 32 GB modules" are 2 x 32 GB.
        let low = super::case_records::counted_sizes(&plain_text(&s.text));
        let named = |name: &str| fields.iter().any(|f| &*f.name == name);
        let mut any = named("fans") && self.frame(s);
        for (first, second, rest) in records::products(&low) {
            let (a, b) = (f64::from(first), f64::from(second));
            let gigabytes = ["gb", "go", "gib"].iter().any(|u| rest.trim_start().starts_with(u));
            if self.fits("width_px", a) && self.fits("height_px", b) && first >= 640 {
                any |= self.keep("width_px", json!(a), &s.text, s.line);
                any |= self.keep("height_px", json!(b), &s.text, s.line);
            } else if gigabytes && self.fits("modules", a) && self.fits("module_gb", b) {
                any |= self.keep("modules", json!(a), &s.text, s.line);
                any |= self.keep("module_gb", json!(b), &s.text, s.line);
            } else if named("fans") && self.fits("radiator_fan_mm", b) {
                let value = json!(second);
                let read = Read { value, from: s.text.clone(), line: s.line };
                self.fan_size.get_or_insert(read);
            }
        }
        let told = s.label.is_empty() && plain_text(&s.text).contains("radiat");
        any | ((told || named("radiator_mm")) && self.radiator(s))
    }

    /// `120 x 120 x 25 mm` under a label of fans: how thick they are, and their size.
    fn frame(&mut self, s: &Statement) -> bool {
        let sides = cubed_mm(&s.text).unwrap_or_default();
        let [a, b, deep] = *sides else { return false };
        let field = self.kind.field("fan_deep_mm").map(|(_, f)| f);
        let Some(field) = field.filter(|f| a == b && (f.min..=f.max).contains(&deep)) else {
            return false;
        };
        let read = Read { value: json!(a), from: s.text.clone(), line: s.line };
        self.fan_size.get_or_insert(read);
        self.keep(&field.name, json!(deep), &s.text, s.line)
    }

    /// `315 x 140 x 27 mm (280)`, or a sentence that says so: the size it is sold by, and how thick
    /// it is.
    fn radiator(&mut self, s: &Statement) -> bool {
        let told = s.label.is_empty();
        let low = plain_text(&s.text);
        let cubed = records::clauses(&low).into_iter().find(|c| c.matches(['x', '×']).count() == 2);
        let labelled = cubed.map(numbers).filter(|_| !told);
        let mut sides = cubed_mm(&s.text).or(labelled).unwrap_or_default();
        sides.sort_by(f64::total_cmp);
        let sizes = numbers(&low).into_iter().filter(|n| !told && RADIATORS_MM.contains(n));
        let sold = match sold_as(&sides) {
            0.0 => sizes.fold(0.0, f64::max),
            sold => sold,
        };
        if let [deep, across, _] = *sides {
            if self.fits("radiator_deep_mm", deep) {
                self.keep("radiator_deep_mm", json!(deep), &s.text, s.line);
            }
            let sizes = super::fields::in_unit(&s.text, "mm");
            let fan = [120.0, 140.0].into_iter().find(|f| sizes.contains(f) && across - f < 10.0);
            if let Some(fan) = fan.filter(|_| told) {
                let read = Read { value: json!(fan), from: s.text.clone(), line: s.line };
                self.fan_size.get_or_insert(read);
            }
        }
        sold > 0.0 && self.keep("radiator_mm", json!(sold), &s.text, s.line)
    }

    /// Whether a field of the kind may have a value.
    fn fits(&self, name: &str, value: f64) -> bool {
        self.kind.field(name).is_some_and(|(_, f)| (f.min..=f.max).contains(&value))
    }

    /// The maker and the name of a page's head without the words for the kind, and what else the
    /// head says.
    pub(super) fn headed(&self, described: &Described) -> (String, String, String) {
        let (mut maker, mut rest) = (described.maker.clone(), described.rest.clone());
        let kind_words: Vec<String> = [self.kind.title.as_str()]
            .into_iter()
            .chain(self.kind.also.iter().map(|w| &**w))
            .map(str::to_lowercase)
            .collect();
        if kind_words.iter().any(|w| words::find_word(&maker.to_lowercase(), w).is_some()) {
            rest = format!("{maker}, {rest}");
            maker.clear();
        }
        let mut name = described.name.trim();
        // "Grange 5 - boîtier moyen tour": what it is stands behind the dash.
        if let Some((before, behind)) = name.split_once(" - ") {
            let low = behind.to_lowercase();
            if kind_words.iter().any(|w| words::find_word(&low, w).is_some()) {
                rest = format!("{behind}, {rest}");
                name = before.trim();
            }
        }
        if described.page {
            let low = name.to_lowercase();
            let longest = |fits: &dyn Fn(&str) -> bool| {
                let fitting = kind_words.iter().filter(|w| fits(w) && w.len() < name.len());
                fitting.max_by_key(|w| w.len()).map_or(0, |w| w.len())
            };
            let lead = longest(&|w| low.strip_prefix(w).is_some_and(|r| r.starts_with(' ')));
            let tail = longest(&|w| low.strip_suffix(w).is_some_and(|r| r.ends_with(' ')));
            let inner = name.get(lead..name.len().saturating_sub(tail)).map_or("", str::trim);
            if low.len() == name.len()
                && lead + tail > 0
                && inner.chars().any(char::is_alphanumeric)
            {
                let end = name.get(name.len() - tail..).unwrap_or("");
                rest = format!("{}, {end}, {rest}", name.get(..lead).unwrap_or(""));
                name = inner;
            }
        }
        (maker, name.to_owned(), rest)
    }
}

/// The numbers of a text, whatever they measure.
fn numbers(text: &str) -> Vec<f64> {
    let all = text.split(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')));
    all.filter_map(|n| n.replace(',', ".").trim_matches('.').parse().ok()).collect()
}

/// The size by which a radiator of these sides, the least first, is sold: by the fans along it,
/// with its tanks beside them; 0 where it is none.
fn sold_as(sides: &[f64]) -> f64 {
    let [_, across, along] = sides else { return 0.0 };
    let fan = [120.0, 140.0].into_iter().find(|fan| (0.0..10.0).contains(&(across - fan)));
    fan.map_or(0.0, |fan| {
        let sold = ((along - 10.0) / fan).floor() * fan;
        if along - sold < 60.0 { sold } else { 0.0 }
    })
}

/// `3.840 x 2.160` as `3840 x 2160`: no thing is counted by thousandths.
pub(super) fn joined_pixels(text: &str) -> String {
    let grouped = |t: &str| {
        let (whole, rest) = t.split_once(['.', ','])?;
        let digits = |t: &str| !t.is_empty() && t.chars().all(|c| c.is_ascii_digit());
        (whole.len() <= 2 && digits(whole) && rest.len() == 3 && digits(rest))
            .then(|| format!("{whole}{rest}"))
    };
    let words: Vec<&str> = text.split(' ').collect();
    let mut out: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
    for (at, pair) in words.windows(3).enumerate() {
        let [a, "x" | "×" | "X", b] = pair else { continue };
        if let (Some(a), Some(b)) = (grouped(a), grouped(b)) {
            for (slot, joined) in out.iter_mut().skip(at).step_by(2).zip([a, b]) {
                *slot = joined;
            }
        }
    }
    out.join(" ")
}

/// `7 100 Mo/s` and `1 000 W` as one number; `3 140 mm fans` are three.
pub(super) fn joined_thousands(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit = |i: usize| chars.get(i).is_some_and(char::is_ascii_digit);
    let mut out = String::with_capacity(text.len());
    for (at, c) in chars.iter().enumerate() {
        let blank = matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}');
        let before = (0..at).rev().take_while(|i| digit(*i)).count();
        let starts = at.checked_sub(before + 1).and_then(|i| chars.get(i));
        let free =
            starts.is_none_or(|c| !c.is_alphanumeric() && !matches!(c, '.' | ',' | '-' | '×'));
        let group = (1..=3).all(|k| digit(at + k)) && !digit(at + 4);
        let unit = chars.iter().skip(at + 4).skip_while(|c| c.is_whitespace()).take(2);
        let unit = unit.collect::<String>().to_lowercase();
        // `2 140 mm` is two of 140 mm, `7 100 MB/s` is seven thousand.
        let rated = ["mo", "mb", "mt", "mh"].contains(&&*unit);
        let counted = *c == ' ' && unit.starts_with(['m', 'c']) && !rated;
        let named = unit.chars().next().is_some_and(char::is_alphabetic);
        if !(blank && (1..=3).contains(&before) && free && group && named && !counted) {
            out.push(*c);
        }
    }
    out
}

/// What stands in a text's first brackets.
pub(super) fn bracketed(text: &str) -> String {
    let inner = text.split_once('(').and_then(|(_, rest)| rest.split_once(')'));
    inner.map_or("", |(inner, _)| inner).to_owned()
}

/// Without brackets that say the same of one port: of "165 Hz (HDMI: 144 Hz)" the 165 Hz.
pub(super) fn without_conditions(text: &str) -> String {
    let mut out = text.to_owned();
    let mut from = 0;
    while let Some(open) = out.get(from..).and_then(|t| t.find('(')).map(|at| at + from) {
        let Some(close) = out.get(open..).and_then(|t| t.find(')')).map(|at| at + open) else {
            break;
        };
        let (before, inner) = (out.get(..open).unwrap_or(""), out.get(open + 1..close));
        let inner = inner.unwrap_or("");
        let units = |t: &str| -> Vec<String> {
            figures(t).into_iter().flat_map(|f| f.readings).map(|(unit, _)| unit).collect()
        };
        let port = words::all_of("ports", &plain_text(inner)).iter().any(|(at, _)| *at == 0);
        if port && units(inner).iter().any(|unit| units(before).contains(unit)) {
            out.replace_range(open..=close, "");
            from = open;
        } else {
            from = close;
        }
    }
    out
}

/// The sides of the first `325 x 145 x 62 mm` of a text, as written.
pub(super) fn cubed_mm(text: &str) -> Option<Vec<f64>> {
    let low = plain_text(text);
    low.char_indices().find_map(|(at, c)| {
        let before = low.get(..at)?.chars().next_back();
        let begins = c.is_ascii_digit()
            && before.is_none_or(|c| !c.is_alphanumeric() && !matches!(c, '.' | ',' | '×'));
        if begins { sides_at(low.get(at..)?) } else { None }
    })
}

/// Three lengths with a sign between each, at the beginning of a text and with no fourth.
fn sides_at(text: &str) -> Option<Vec<f64>> {
    let mut rest = text;
    let mut sides = Vec::new();
    let mut unit = None;
    loop {
        let end = rest.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')));
        let (number, behind) = rest.split_at(end.unwrap_or(rest.len()));
        let side: f64 = number.trim_end_matches(['.', ',']).replace(',', ".").parse().ok()?;
        sides.push(side);
        rest = behind.trim_start();
        for (word, mm) in [("mm", 1.0), ("cm", 10.0)] {
            if let Some(behind) = rest.strip_prefix(word) {
                unit = Some(mm);
                rest = behind.trim_start();
            }
        }
        match rest.strip_prefix(['x', '×']) {
            Some(behind) if sides.len() < 3 => rest = behind.trim_start(),
            None if sides.len() == 3 => break,
            _ => return None,
        }
    }
    // `165 x 230 x 55 (mm)`
    let bracketed = rest.trim_start_matches(['(', '[']);
    let unit = unit.or_else(|| bracketed.starts_with("mm").then_some(1.0))?;
    Some(sides.into_iter().map(|side| side * unit).collect())
}

/// `W × H × D`, `B x H x T`: which number is which.
fn axes(text: &str) -> Option<Vec<&'static str>> {
    let low = plain_text(text);
    let inner = low.split_once(['(', '[']).map_or(low.as_str(), |(_, rest)| rest);
    // "L × l × H": the long side and the width, each by its letter's size.
    let cased: Vec<&str> = text
        .split(|c: char| !c.is_alphabetic())
        .filter(|w| matches!(*w, "L" | "l" | "H"))
        .collect();
    if cased.len() == 3 && ["L", "l", "H"].iter().all(|w| cased.contains(w)) {
        let axis = |w: &&str| match *w {
            "L" => "depth",
            "l" => "width",
            _ => "height",
        };
        return Some(cased.iter().map(axis).collect());
    }
    let french = inner.contains('p') && inner.contains('l');
    let letters: Vec<&'static str> = inner
        .split(|c: char| !c.is_alphabetic() || c == '×')
        .filter_map(|w| match w {
            "l" if french => Some("width"),
            w => words::first_of("axes", w),
        })
        .collect();
    (letters.len() >= 2).then_some(letters)
}
