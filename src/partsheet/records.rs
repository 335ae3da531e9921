//! Records from their usual sentences: slots, sockets, leads, mounts, ports, headers.

use serde_json::{Map, Value, json};

use super::fields::in_unit;
use super::words::{find_word, first_of, number};
use crate::intake::{figures, plain_text};

/// Most records of one kind that a sentence may count to.
pub(super) const MAX_COUNT: u32 = 24;

/// Parts of a text between marks that are not within brackets.
pub(crate) fn pieces<'a>(text: &'a str, marks: &[char]) -> Vec<&'a str> {
    let mut out = Vec::new();
    let (mut depth, mut from) = (0_i32, 0);
    let chars: Vec<(usize, char)> = text.char_indices().collect();
    for (i, (at, c)) in chars.iter().enumerate() {
        let digit = |j: Option<usize>| {
            j.and_then(|j| chars.get(j)).is_some_and(|(_, c)| c.is_ascii_digit())
        };
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth -= 1,
            // A comma between digits is a decimal.
            ',' if digit(i.checked_sub(1)) && digit(Some(i + 1)) => {}
            c if depth <= 0 && marks.contains(c) => {
                out.push(text.get(from..*at).unwrap_or("").trim());
                from = at + c.len_utf8();
            }
            _ => {}
        }
    }
    out.push(text.get(from..).unwrap_or("").trim());
    out.retain(|p| !p.is_empty());
    out
}

/// The pieces of a text between commas and semicolons, and what stands in brackets by itself.
pub(crate) fn clauses(text: &str) -> Vec<&str> {
    let mut out = Vec::new();
    for piece in pieces(text, &[',', ';']) {
        let inner = piece.split_once('(').and_then(|(before, rest)| {
            let (inner, after) = rest.rsplit_once(')')?;
            after.trim().is_empty().then_some((before, inner))
        });
        match inner {
            // "145 W (short peak)": what is in brackets says which figure it is.
            Some((before, inner)) if says_which(before, inner) => out.push(piece),
            Some((before, inner)) => {
                out.push(before.trim());
                out.extend(pieces(inner, &[',', ';']));
            }
            None => out.push(piece),
        }
    }
    out.retain(|c| !c.is_empty());
    out.into_iter().flat_map(dashed).collect()
}

/// Whether a figure has a remark of words alone behind it.
pub(crate) fn says_which(before: &str, inner: &str) -> bool {
    let words = !inner.contains(|c: char| c.is_ascii_digit() || matches!(c, ',' | ';' | '/'));
    let measured = figures(before).iter().any(|f| !f.readings.is_empty());
    words && measured && super::fields::figures_only(before)
}

/// `one HDMI - up to four monitors` is two; `48 - 165 Hz` is one.
fn dashed(clause: &str) -> Vec<&str> {
    let numbers = |(at, mark): (usize, &str)| {
        let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
        digit(clause.get(..at).and_then(|t| t.chars().next_back()))
            || digit(clause.get(at + mark.len()..).and_then(|t| t.chars().next()))
    };
    let cut = [" - ", " – ", " — "]
        .iter()
        .find_map(|mark| clause.match_indices(*mark).find(|found| !numbers(*found)));
    match cut {
        Some((at, mark)) => {
            let (left, right) = (clause.get(..at), clause.get(at + mark.len()..));
            [left, right].into_iter().flatten().map(str::trim).filter(|c| !c.is_empty()).collect()
        }
        None => vec![clause],
    }
}

/// Every `2 x 140` of a text: both numbers, and what follows.
pub(crate) fn products(low: &str) -> Vec<(u32, u32, &str)> {
    let digits = |t: &str| t.chars().take_while(char::is_ascii_digit).count();
    let mut out = Vec::new();
    for (at, sign) in low.match_indices(['x', '×']) {
        let before = low.get(..at).unwrap_or("").trim_end();
        let start = before.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let after = low.get(at + sign.len()..).unwrap_or("").trim_start();
        let (second, rest) = after.split_at(digits(after));
        if let (Some(Ok(first)), Ok(second)) = (before.get(start..).map(str::parse), second.parse())
        {
            out.push((first, second, rest));
        }
    }
    out
}

/// The count that begins a piece, and the rest: `2x …`, `2 × …`, `two …`, `1 …`.
pub(crate) fn counted(piece: &str) -> (u32, String) {
    let low = plain_text(piece);
    let digits: String = low.chars().take_while(char::is_ascii_digit).collect();
    let rest = low.get(digits.len()..).unwrap_or("").trim_start();
    if let Ok(count) = digits.parse::<u32>() {
        let times = rest.strip_prefix(['x', '×', '*']).filter(|r| {
            r.starts_with([' ', '\u{a0}'])
                || !r.starts_with(|c: char| c.is_ascii_digit())
                || rest.starts_with('×')
                || digits.len() == 1
        });
        let spaced = low.get(digits.len()..).is_some_and(|r| r.starts_with(' '))
            && rest.starts_with(char::is_alphabetic);
        if (1..=MAX_COUNT).contains(&count) {
            if let Some(rest) = times {
                return (count, rest.trim_start().to_owned());
            }
            if spaced {
                return (count, rest.to_owned());
            }
        }
    }
    let word = low.split(' ').next().unwrap_or("");
    match number(word).filter(|_| low.contains(' ')) {
        Some(count) => (count, low.get(word.len()..).unwrap_or("").trim().to_owned()),
        None => (1, low),
    }
}

pub(crate) fn put(record: &mut Map<String, Value>, key: &str, value: Option<Value>) {
    if let Some(value) = value {
        record.insert(key.to_owned(), value);
    }
}

/// `PCIe 4.0`, `Gen4`, `PCIe 5`.
pub(crate) fn generation(low: &str) -> Option<Value> {
    for word in
        ["pcie gen", "pci express gen", "gen ", "gen", "pcie ", "pci express ", "pci-e ", "pcie"]
    {
        let mut from = 0;
        while let Some(at) = low.get(from..).and_then(|t| t.find(word)).map(|a| a + from) {
            let rest = low.get(at + word.len()..).unwrap_or("").trim_start();
            let digit = rest.chars().next().and_then(|c| c.to_digit(10));
            let next = rest.chars().nth(1);
            if let Some(digit) = digit.filter(|d| {
                (1..=6).contains(d)
                    && next.is_none_or(|c| !c.is_ascii_digit() && c != '-' && c != '×')
            }) {
                return Some(json!(digit));
            }
            from = at + word.len();
        }
    }
    None
}

/// Every `x16` of a text.
pub(crate) fn lanes(low: &str) -> Vec<u32> {
    let mut out = Vec::new();
    for (at, _) in low.match_indices(['x', '×']) {
        let before = low.get(..at).and_then(|t| t.chars().next_back());
        let digits: String =
            low.get(at..).unwrap_or("").chars().skip(1).take_while(char::is_ascii_digit).collect();
        if before.is_none_or(|c| !c.is_alphanumeric()) {
            out.extend(digits.parse::<u32>().ok().filter(|n| [1, 2, 4, 8, 16].contains(n)));
        }
    }
    out
}

/// The sides of "and".
pub(super) fn joined(piece: &str) -> impl Iterator<Item = &str> {
    piece.split(" and ").flat_map(|p| p.split(" und ")).flat_map(|p| p.split(" et "))
}

/// Video outputs or inputs.
///
/// At the rear of a motherboard a USB-C port is an output only where it says so.
pub(crate) fn video(text: &str, rear: bool) -> Vec<Value> {
    let mut out: Vec<Value> = Vec::new();
    for piece in pieces(text, &[';', ',', '+', '\n']).into_iter().flat_map(joined) {
        let (count, rest) = counted(piece);
        // "DisplayPort 1.4a ×3"
        let behind = rest.rsplit_once(['×', 'x']).filter(|(before, _)| before.ends_with(' '));
        let behind = behind.and_then(|(_, n)| n.trim().parse().ok());
        let count = behind.filter(|n| count == 1 && (2..=MAX_COUNT).contains(n)).unwrap_or(count);
        let plugs = super::words::all_of("ports", &rest);
        let has = |plug: &str| plugs.iter().any(|(_, own)| *own == plug);
        let kind = match (has("hdmi"), has("dp"), has("usbc")) {
            (true, ..) => "hdmi",
            (_, true, false) => "dp",
            (_, dp, true) if dp || !rear => "usbc",
            _ => continue,
        };
        let mut record = Map::new();
        record.insert("kind".to_owned(), json!(kind));
        if count > 1 {
            record.insert("count".to_owned(), json!(count));
        }
        let link = ["uhbr13.5", "uhbr20", "uhbr10", "hbr3", "hbr2", "hbr", "rbr"]
            .into_iter()
            .find(|l| find_word(&rest, l).is_some())
            .map(|l| format!("dp-{l}"));
        put(&mut record, "link", link.map(|l| json!(l)));
        out.push(Value::Object(record));
    }
    out
}

/// How many USB ports a text counts.
pub(crate) fn usb_ports(text: &str) -> Option<u32> {
    let counts: Vec<u32> = pieces(text, &[';', ',', '+', '\n'])
        .into_iter()
        .filter(|p| plain_text(p).contains("usb"))
        .map(|p| counted(p).0)
        .collect();
    (!counts.is_empty()).then(|| counts.iter().sum())
}

/// Power plugs with their counts.
///
/// A motherboard's plug of eight contacts feeds its processor.
pub(crate) fn connectors(text: &str, board: bool) -> Option<Value> {
    let mut out = Map::new();
    for piece in pieces(text, &[';', ',', '+', '\n']).into_iter().flat_map(joined) {
        let (count, low) = counted(piece);
        if let Some(connector) = plug(&low, board) {
            let held = out.get(connector).and_then(Value::as_u64).unwrap_or(0);
            out.insert(connector.to_owned(), json!(held + u64::from(count)));
        }
    }
    (!out.is_empty()).then_some(Value::Object(out))
}

/// The plug that a text names: one of eight contacts, or of four, that feeds the processor is no
/// card's.
fn plug(low: &str, board: bool) -> Option<&'static str> {
    let all = super::words::all_of("connectors", low);
    let first = all.first().map(|(_, key)| *key)?;
    let processor = first_of("sources", low) == Some("processor");
    let fed = |key: &str| all.iter().any(|(_, other)| *other == key);
    Some(match first {
        "pcie_8" if fed("eps_8") || (processor || board) && !low.contains("pci") => "eps_8",
        "periph_4" if fed("eps_4") || processor || board && low.starts_with("4-pin") => "eps_4",
        other => other,
    })
}

/// `DDR5-5600 (1 DIMM per channel), DDR5-4400 (2 DIMMs per channel, dual rank)`.
pub(crate) fn memory_rates(text: &str) -> Vec<Value> {
    let mut out = Vec::new();
    let mut held: Option<&str> = None;
    // "1 module per channel, dual rank: DDR5-5600" is one; "1 per channel: 5600, 2: 4000" is two.
    let one = |sentence: &str| in_unit(sentence, "MT/s").len() < 2 && rates(sentence) < 2;
    let sentences = pieces(text, &[';', '\n']).into_iter();
    let split = sentences.flat_map(|s| if one(s) { vec![s] } else { pieces(s, &[',']) });
    for piece in split {
        let low = plain_text(piece);
        let ddr = ["ddr4", "ddr5"].into_iter().find(|d| low.contains(d));
        held = ddr.or(held);
        let behind = ddr.and_then(|d| low.split_once(d)).map_or("", |(_, rest)| rest);
        let digits: String = behind
            .trim_start_matches(['-', ' '])
            .chars()
            .take_while(char::is_ascii_digit)
            .collect();
        let rate = digits.parse().ok().filter(|n: &f64| *n >= 800.0);
        let Some(rate) = rate.or_else(|| in_unit(piece, "MT/s").first().copied()) else { continue };
        let mut record = Map::new();
        put(&mut record, "memory_kind", held.map(|k| json!(k)));
        let modules = super::words::of("per_channel").find_map(|w| {
            let before = low.get(..find_word(&low, w)?)?.trim_end();
            let word = before.rsplit([' ', '(']).next()?;
            word.trim_end_matches('x').parse().ok().or_else(|| number(word))
        });
        // "5600 with one module per channel, 3600 with two"
        let last = low.rsplit(' ').next().and_then(|w| w.parse().ok().or_else(|| number(w)));
        let behind = super::words::of("with")
            .any(|w| low.rsplit_once(' ').is_some_and(|(t, _)| t.ends_with(w.trim_end())));
        let modules = modules.or(last.filter(|_| behind && !out.is_empty()));
        put(&mut record, "per_channel", modules.filter(|n| (1..=2).contains(n)).map(|n| json!(n)));
        let ranks = [("single_rank", 1), ("dual_rank", 2)];
        let ranks = ranks.iter().find(|(set, _)| super::words::holds(set, &low));
        put(&mut record, "ranks", ranks.map(|(_, n)| json!(n)));
        record.insert("mts".to_owned(), json!(rate));
        out.push(Value::Object(record));
    }
    // A rate by itself says nothing of how many modules run at it.
    out.retain(|r| r.get("per_channel").is_some() || r.get("ranks").is_some());
    out
}

/// How many numbers of a text may be rates of memory.
fn rates(text: &str) -> usize {
    figures(text).iter().filter(|f| f.number.is_some_and(|n| n >= 1600.0)).count()
        + plain_text(text).matches("ddr").count().saturating_sub(1)
}

/// Leads of a supply: connector, plugs, how many, length to the last plug.
pub(crate) fn leads(text: &str) -> Vec<Value> {
    let mut out: Vec<Value> = Vec::new();
    let mut last: Option<&'static str> = None;
    // Where the leads of the last piece begin.
    let mut from = 0;
    for piece in pieces(text, &[';', ',', '\n']) {
        let low = counts_in_digits(piece);
        // "2 more cables": of the plug before; "1x slimline cable" is of none that is known.
        let rest = counted(&low).1;
        let first = |set| super::words::has(set, rest.split(' ').next().unwrap_or(""));
        let goes_on = first("leads");
        let Some(connector) = plug(&low, false).or(last.filter(|_| goes_on)) else {
            last = last.filter(|_| rest == low || first("plugs"));
            let of_last = out.iter_mut().skip(if last.is_some() { from } else { usize::MAX });
            for record in of_last.filter_map(Value::as_object_mut) {
                told_of_last(record, piece, &low);
            }
            continue;
        };
        last = Some(connector);
        from = out.len();
        let mut record = Map::new();
        record.insert("connector".to_owned(), json!(connector));
        put(&mut record, "length_mm", length(piece).map(|mm| json!(mm)));
        put(
            &mut record,
            "sense_w",
            watts(piece).filter(|_| connector == "pcie_16").map(|w| json!(w)),
        );
        for (plugs, count) in shared(&low) {
            record.insert("plugs".to_owned(), json!(plugs));
            record.insert("count".to_owned(), json!(count));
            out.push(Value::Object(record.clone()));
        }
    }
    out
}

/// `24-pin ATX, 610 mm`: the length, the watts or the plugs of the lead that stands before.
fn told_of_last(record: &mut Map<String, Value>, piece: &str, low: &str) {
    for (key, value) in [("length_mm", length(piece)), ("sense_w", watts(piece))] {
        let fits = key == "length_mm" || record["connector"] == "pcie_16";
        if let Some(value) = value.filter(|_| fits && !record.contains_key(key)) {
            record.insert(key.to_owned(), json!(value));
        }
    }
    // `SATA, 4 plugs each, 500 mm`: a count of the one before too.
    if let Some(plugs) = before(low, "plugs").filter(|_| record["plugs"] == 1) {
        record.insert("plugs".to_owned(), json!(plugs));
    }
}

/// How many plugs leads have, and how many such leads there are.
fn shared(low: &str) -> Vec<(u32, u32)> {
    match (before(low, "plugs"), before(low, "leads"), times(low)) {
        // "8x SATA on 2 cables": eight plugs in all; of "3x PCIe on two cables" one has two.
        (None, Some(leads), Some(all)) if all >= leads && leads > 0 => {
            let more = all % leads;
            let both = [(all / leads + 1, more), (all / leads, leads - more)];
            both.into_iter().filter(|(_, leads)| *leads > 0).collect()
        }
        (plugs, on, times) => vec![(plugs.unwrap_or(1), on.or(times).unwrap_or(1))],
    }
}

/// "Two PCIe plugs on one lead" as "2x PCIe plugs on one lead"; "two plugs" stays.
fn counts_in_digits(piece: &str) -> String {
    let (count, rest) = counted(piece);
    let next = rest.split(' ').next().unwrap_or("");
    let noun = ["plugs", "leads"].iter().any(|set| super::words::has(set, next));
    let low = plain_text(piece);
    // "24 broches 1x" counts by its second number.
    let plug = super::words::all_of("connectors", &low).iter().any(|(at, _)| *at == 0);
    if noun || plug || rest == low { low } else { format!("{count}x {rest}") }
}

fn watts(piece: &str) -> Option<f64> {
    in_unit(piece, "W").first().copied()
}

/// The number that stands before a word of a set: `two plugs`, `3 Stecker`, `1 lead`.
pub(super) fn before(low: &str, set: &str) -> Option<u32> {
    let words: Vec<&str> = low.split([' ', ',', '(', ')']).filter(|w| !w.is_empty()).collect();
    words.iter().enumerate().find_map(|(at, word)| {
        if !super::words::has(set, word) {
            return None;
        }
        (1..=2).find_map(|back| {
            let word = words.get(at.checked_sub(back)?)?;
            word.trim_end_matches(['x', '×', '-'])
                .parse()
                .ok()
                .or_else(|| number(word))
                .filter(|n| (1..=12).contains(n))
        })
    })
}

/// `1x` or `2 ×` anywhere in a piece.
fn times(low: &str) -> Option<u32> {
    let chars: Vec<char> = low.chars().collect();
    chars.iter().enumerate().find_map(|(at, c)| {
        let digit = c.to_digit(10)?;
        let alone = at
            .checked_sub(1)
            .and_then(|i| chars.get(i))
            .is_none_or(|c| matches!(c, ' ' | ':' | '('));
        let next = chars.get(at + 1..)?.iter().collect::<String>();
        let marked = next.trim_start().starts_with(['x', '×'])
            && !next.trim_start().chars().nth(1).is_some_and(|c| c.is_ascii_digit());
        (alone && marked && digit > 0).then_some(digit)
    })
}

/// `600 + 150 mm`, `500/650/800 mm` is no sum: the last plug is at the end.
fn length(piece: &str) -> Option<f64> {
    if super::words::holds("to_first", &plain_text(piece)) {
        return None;
    }
    let inner = piece.split_once('(').map(|(_, rest)| rest);
    let inner = inner.filter(|rest| !in_unit(rest, "mm").is_empty()).unwrap_or(piece);
    let direct = in_unit(inner, "mm");
    let last = direct.last()?;
    // "500/150/150 mm": from plug to plug, where "500/650/800 mm" is from the start.
    let steps = inner.split([' ', '(']).map(|t| t.split(['/', '-']).map(str::parse::<f64>));
    let mut steps = steps.filter_map(|run| run.collect::<Result<Vec<f64>, _>>().ok());
    let falls = steps.any(|run| !run.is_sorted());
    if inner.contains('+') || falls {
        // "60 + 15 cm": each has the unit of the last.
        let all = figures(inner);
        let unit = all.iter().rev().find_map(|f| {
            let (_, mm) = f.readings.iter().find(|(u, _)| u == "mm")?;
            Some(mm / f.number.filter(|n| *n > 0.0)?)
        });
        let one = |f: &crate::intake::Figure| {
            let own = f.readings.iter().find(|(u, _)| u == "mm").map(|(_, v)| *v);
            own.or(f.number.map(|n| n * unit.unwrap_or(1.0)))
        };
        return Some(all.iter().filter_map(one).filter(|mm| *mm >= 20.0).sum());
    }
    Some(*last)
}
