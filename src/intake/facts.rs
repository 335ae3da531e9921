//! What a row says of a part that no name tells: its kind, its figures, its values; as facts of an
//! unknown part, or as wants of an open line.

use super::items::Item;
use super::lexicon::{Lexicon, Meaning, PartWords};
use super::matching::SHORT;
use super::tokens::Reading;
use super::words::words;
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind, Words};

/// A fact that a row states.
#[derive(Debug, Clone, PartialEq)]
pub enum Fact {
    /// A number in the field's unit.
    Number(f64),
    /// A word of the field.
    Word(String),
    /// A flag that is set.
    Yes,
}

/// The kind that a row's items point to, with a hint from its column or section and how much that
/// counts: a figure counts about 1, a kind's own word 3.
pub(crate) fn kind_of(
    catalogue: &Catalogue,
    lexicon: &Lexicon,
    items: &[Item],
    hint: Option<(u16, f64)>,
) -> Option<u16> {
    let (mut best, mut tied): (Option<(f64, u16)>, bool) = (None, false);
    // One word that may be said of many things, as "4K", does not tell what a thing is.
    let least = if items.iter().any(Item::is_loose) { 0.65 } else { 0.55 };
    // "A case with room for two disks" is a case.
    let of_it = |i: &Item| ["beside", "bare_purpose"].iter().any(|set| words().has(set, &i.key));
    let first = items.iter().position(Item::names_kind).unwrap_or(items.len());
    let inside = items.iter().skip(first).position(of_it).map_or(items.len(), |at| first + at);
    for (kind, at) in catalogue.kinds.iter().zip(0u16..) {
        let mut score = hint.filter(|(kind, _)| *kind == at).map_or(0.0, |(_, weight)| weight);
        let mut named = 0.0_f64;
        for (item, place) in items.iter().zip(0_u32..).filter(|(i, _)| !i.negated) {
            let part_of_it = place as usize > inside;
            // A word of two fields of one kind, as "USB", says no more of it.
            let mut value = 0.0_f64;
            for meaning in &item.meanings {
                match meaning {
                    // "Pane" is no misspelled "pâte".
                    Meaning::Kind(_) if item.fuzzy && item.key.len() <= SHORT => {}
                    // The last kind named is the one: "processor cooler", "power supply cable"; one
                    // that is misspelled gives way to one that is not.
                    Meaning::Kind(k) if *k == at && !part_of_it => {
                        let whole = if item.fuzzy { 2.0 } else { 3.0 };
                        named = named.max(whole + 0.01 * f64::from(place))
                    }
                    // A flag's word alone, as "window", names no kind.
                    Meaning::Value { kind: k, field, .. } if *k == at => {
                        let field = kind.fields.get(usize::from(*field));
                        let flag = field.is_some_and(|f| matches!(f.ty, FieldType::Flag));
                        value = value.max(if flag { 0.3 } else { 0.6 });
                    }
                    _ => {}
                }
            }
            score += value;
            // "16gb" is a size before it is a rate.
            let sized = reading(item, "GB").is_some();
            let rate = |figure: &str| {
                kind.field(figure).is_some_and(|(_, f)| sized && f.unit.ends_with("bit/s"))
            };
            // Nor does a length tell what a thing is that nobody knows.
            let length = |figure: &str| {
                least > 0.6 && kind.field(figure).is_some_and(|(_, f)| &*f.unit == "mm")
            };
            score += figures_of(kind, item)
                .into_iter()
                .filter(|(_, figure, _)| !rate(figure) && !length(figure))
                .filter(|(_, figure, value)| is_seen(lexicon, kind, at, figure, *value))
                .map(|(rank, _, _)| if rank == 0 { 1.0 } else { 0.9 })
                .fold(0.0, f64::max);
        }
        score += named;
        if score > least && best.is_none_or(|(s, _)| score >= s) {
            // "16 GB" may be of memory, a graphics card or a drive: nobody knows.
            tied = best.is_some_and(|(s, _)| s == score);
            best = Some((score, at));
        }
    }
    best.filter(|_| !tied).map(|(_, at)| at)
}

/// Whether a figure is at most twice what a part of the kind has: "2 TB" is no memory.
fn is_seen(lexicon: &Lexicon, kind: &Kind, at: u16, figure: &str, value: f64) -> bool {
    let name = figure.split('*').next_back().unwrap_or(figure).trim();
    let unit = kind.field(name).map_or_else(String::new, |(_, field)| field.unit.to_string());
    lexicon.greatest.get(&(at, unit)).is_none_or(|most| value <= most * 2.0)
}

/// A text with the low end of each range alone: `450-550 W` as `450 W`.
pub(crate) fn low_ends(text: &str) -> String {
    let mut out = text.to_owned();
    for (at, mark) in text.char_indices().rev().filter(|(_, c)| matches!(c, '-' | '–')) {
        let (before, after) = (text.get(..at).unwrap_or(""), text.get(at + mark.len_utf8()..));
        let after = after.unwrap_or("");
        let first = before.trim_end().trim_end_matches(|c: char| c.is_ascii_digit());
        let low: Option<f64> = before.get(first.len()..).and_then(|n| n.trim().parse().ok());
        let digits: String = after.trim_start().chars().take_while(char::is_ascii_digit).collect();
        let high: Option<f64> = digits.parse().ok();
        let free = !first.ends_with(|c: char| c.is_alphanumeric() || matches!(c, '.' | ',' | '-'));
        if free && low.zip(high).is_some_and(|(low, high)| low < high) {
            let cut = after.len() - after.trim_start().len() + digits.len();
            out.replace_range(before.trim_end().len()..at + mark.len_utf8() + cut, "");
        }
    }
    out
}

/// Whether a row's words are kinds, values and figures, and none of them a name: "2 TB NVMe".
pub(crate) fn only(items: &[Item], is_figure: &dyn Fn(&Item) -> bool) -> bool {
    let said = |i: &Item| {
        let meant = !i.meanings.is_empty() && !i.is_maker() && !i.fuzzy;
        i.filler || i.prose || meant || !i.readings.is_empty() || i.pack.is_some() || is_figure(i)
    };
    items.iter().all(said) && items.iter().any(|i| !i.filler && !i.prose)
}

/// The figure fields of a kind that an item may give: the figure's place in the kind's list, the
/// expression, the value.
fn figures_of<'a>(kind: &'a Kind, item: &Item) -> Vec<(usize, &'a str, f64)> {
    let mut out = Vec::new();
    for (rank, figure) in kind.figures.iter().enumerate() {
        let parts: Vec<&Field> =
            figure.split('*').filter_map(|n| kind.field(n.trim()).map(|(_, f)| f)).collect();
        match (parts.as_slice(), item.pack) {
            ([count, each], Some((n, per))) if within(count, n) && within(each, per) => {
                out.push((rank, &**figure, n * per));
            }
            ([_, each], None) => {
                if let Some(value) =
                    reading(item, &each.unit).filter(|v| (1.0..=65_536.0).contains(v))
                {
                    out.push((rank, &**figure, value));
                }
            }
            ([only], None) => {
                let unit = if only.unit.is_empty() {
                    format!("#{}", only.name)
                } else {
                    only.unit.to_string()
                };
                let value = reading(item, &unit).or_else(|| {
                    // `DDR5-6000`: a bare number of four digits that only a rate can be.
                    item.number.filter(|n| {
                        item.readings.is_empty() && &*only.unit == "MT/s" && *n >= 1600.0
                    })
                });
                out.extend(value.filter(|v| within(only, *v)).map(|v| (rank, &**figure, v)));
            }
            _ => {}
        }
    }
    out
}

fn reading(item: &Item, unit: &str) -> Option<f64> {
    item.readings.iter().find(|r: &&Reading| r.unit == unit).map(|r| r.value)
}

fn within(field: &Field, value: f64) -> bool {
    (field.min..=field.max).contains(&value)
}

/// Values in words that items give for a kind, by field.
fn values_of<'a>(kind: &'a Kind, at: u16, items: &[Item]) -> Vec<(&'a Field, Fact)> {
    let mut out: Vec<(&Field, Fact)> = Vec::new();
    for item in items.iter().filter(|i| !i.negated) {
        let fields: Vec<(&Field, &str)> = item
            .meanings
            .iter()
            .filter_map(|m| match m {
                Meaning::Value { kind: k, field, value } if *k == at => {
                    Some((kind.fields.get(*field as usize)?, value.as_str()))
                }
                _ => None,
            })
            .collect();
        // A word that two fields know says nothing of either; "SATA SSD" says both.
        let torn = fields.len() > 1;
        if torn && !item.several {
            continue;
        }
        let flag = |field: &Field| matches!(field.ty, FieldType::Flag);
        for (field, value) in fields.into_iter().filter(|(field, _)| !(torn && flag(field))) {
            let fact = match &field.ty {
                FieldType::Flag => Fact::Yes,
                FieldType::Number => {
                    value.parse().map_or_else(|_| Fact::Word(value.to_owned()), Fact::Number)
                }
                _ => Fact::Word(value.to_owned()),
            };
            if out.iter().all(|(f, _)| f.name != field.name) {
                out.push((field, fact));
            } else {
                // Two values of one field: neither is certain.
                out.retain(|(f, held)| f.name != field.name || *held == fact);
            }
        }
    }
    out
}

/// Facts for an unknown part of a kind.
pub(crate) fn facts(catalogue: &Catalogue, at: u16, items: &[Item]) -> Vec<(String, Fact)> {
    let Some(kind) = catalogue.kinds.get(at as usize) else { return Vec::new() };
    let mut out: Vec<(String, Fact)> = Vec::new();
    let mut put = |name: &str, fact: Fact| {
        if out.iter().all(|(n, _)| n != name) {
            out.push((name.to_owned(), fact));
        }
    };
    for item in items {
        if let Some((count, each)) = item.pack {
            let product = kind.figures.iter().find_map(|f| f.split_once('*'));
            if let Some((a, b)) =
                product.filter(|_| figures_of(kind, item).iter().any(|(_, f, _)| f.contains('*')))
            {
                put(a.trim(), Fact::Number(count));
                put(b.trim(), Fact::Number(each));
            }
            for (field, value) in pixels(kind, item) {
                put(field, Fact::Number(value));
            }
            continue;
        }
        for (_, figure, value) in figures_of(kind, item) {
            if !figure.contains('*') {
                put(figure, Fact::Number(value));
                break;
            }
        }
    }
    for (field, fact) in values_of(kind, at, items) {
        if !matches!(field.ty, FieldType::List(_)) {
            put(&field.name, fact);
        }
    }
    out
}

/// Wants for an open line of a kind, as expressions over a part's fields.
pub(crate) fn wants(
    catalogue: &Catalogue,
    lexicon: &Lexicon,
    at: u16,
    items: &[Item],
    least: &[String],
) -> Vec<String> {
    let Some(kind) = catalogue.kinds.get(at as usize) else { return Vec::new() };
    let widened = |item: &Item| least.contains(&item.key);
    let wide: Vec<Item> = items.iter().filter(|i| widened(i)).cloned().collect();
    let wide = values_of(kind, at, &wide);
    let makers = items.iter().filter_map(|item| maker_of(catalogue, lexicon, at, item));
    let mut out: Vec<String> = makers.map(|maker| format!("maker == {}", quoted(&maker))).collect();
    for (field, fact) in values_of(kind, at, items) {
        match (&field.ty, fact) {
            (FieldType::List(_), Fact::Word(word)) => {
                out.push(format!("{}.contains({})", field.name, quoted(&word)))
            }
            (_, Fact::Word(word)) => {
                let wider = wide.iter().any(|(wide, _)| wide.name == field.name);
                let better = better(catalogue, field, &word).filter(|_| wider);
                out.push(match better {
                    Some(words) => format!("{} in [{words}]", field.name),
                    None => format!("{} == {}", field.name, quoted(&word)),
                });
            }
            (_, Fact::Yes) => out.push(field.name.to_string()),
            // A figure of the row says how much of it.
            (_, Fact::Number(_)) if figured(kind, items, &field.name) => {}
            (_, Fact::Number(n)) => out.push(format!("{} == {n}", field.name)),
        }
    }
    let mut seen = Vec::new();
    for item in items {
        let wide = widened(item);
        let exactly = if wide { ">=" } else { "==" };
        out.extend(pixels(kind, item).iter().map(|(field, n)| format!("{field} {exactly} {n}")));
        let figure = figures_of(kind, item).into_iter().next().map(|(_, figure, n)| (figure, n));
        let Some((figure, value)) = figure.or_else(|| bare_figure(lexicon, kind, at, item)) else {
            continue;
        };
        if seen.contains(&figure) {
            continue;
        }
        seen.push(figure);
        let last = figure.rsplit('*').next().unwrap_or("").trim();
        let unit = kind.field(last).map_or("", |(_, f)| &*f.unit);
        // Sizes must be met; of the rest more is as good.
        let sign = match unit {
            "clocks" if wide => "<=",
            "mm" | "in" | "clocks" | "px" => exactly,
            _ => ">=",
        };
        out.push(format!("{figure} {sign} {value}"));
        if let Some(((pieces, _), (count, _))) = figure.split_once('*').zip(item.pack) {
            out.push(format!("{} == {count}", pieces.trim()));
        }
    }
    out
}

/// A word and those of its table whose figures are all as great or greater: "gold or better". None
/// where there are no others.
fn better(catalogue: &Catalogue, field: &Field, word: &str) -> Option<String> {
    let (FieldType::Text(Words::Table(name)) | FieldType::List(Words::Table(name))) = &field.ty
    else {
        return None;
    };
    let table = catalogue.table_named(name)?;
    let columns = (0u16..).take(table.columns.len());
    let as_good = |row: &str| {
        let pair = |c| table.cell(row, c).as_num().zip(table.cell(word, c).as_num());
        let mut pairs = columns.clone().filter_map(pair).peekable();
        pairs.peek().is_some() && pairs.all(|(own, least)| own >= least)
    };
    let all: Vec<String> = table.rows.iter().filter(|r| as_good(r)).map(|r| quoted(r)).collect();
    (all.len() > 1).then(|| all.join(", "))
}

/// The maker that an item names, where a part of the kind is of that maker, as the part has it.
fn maker_of(catalogue: &Catalogue, lexicon: &Lexicon, at: u16, item: &Item) -> Option<String> {
    let named = |key: &str| {
        let own = |m: &Meaning| matches!(m, Meaning::Maker(maker) if maker == key);
        !item.negated && !item.fuzzy && item.meanings.iter().any(own)
    };
    let place = lexicon.parts.iter().position(|p| p.kind == at && named(&p.maker))?;
    let part = catalogue.part_at(place)?;
    let (field, _) = catalogue.kind(part.kind)?.field("maker")?;
    Some(part.values.get(usize::from(field))?.as_text()?.to_string())
}

/// Least number without a unit that is taken for a figure.
const LEAST_BARE: f64 = 16.0;

/// A number without a unit, where only one figure of the kind has such numbers: "Leat 650 or so" is
/// of 650 W.
pub(crate) fn bare_figure<'a>(
    lexicon: &Lexicon,
    kind: &'a Kind,
    at: u16,
    item: &Item,
) -> Option<(&'a str, f64)> {
    let plain = item.readings.is_empty() && item.pack.is_none() && item.meanings.is_empty();
    let number = item.number.filter(|n| plain && *n >= LEAST_BARE && n.fract() == 0.0)?;
    let may_be = |figure: &&'a str| {
        let field = kind.field(figure).map(|(_, field)| field);
        let field = field.filter(|f| !f.unit.is_empty() && within(f, number));
        field.is_some() && is_seen(lexicon, kind, at, figure, number)
    };
    let mut fitting = kind.figures.iter().map(|f| &**f).filter(may_be);
    let first = fitting.next()?;
    // Of several the first, which lists tell of most, where a part has that very number.
    let given = |p: &PartWords| p.kind == at && p.bare.contains(&number);
    (fitting.next().is_none() || lexicon.parts.iter().any(given)).then_some((first, number))
}

/// `1920x1080`: the pixels across and down, for a kind that has these.
fn pixels<'a>(kind: &'a Kind, item: &Item) -> Vec<(&'a str, f64)> {
    let mut fields = kind.fields.iter().filter(|f| &*f.unit == "px");
    let (Some(across), Some(down), Some(pack)) = (fields.next(), fields.next(), item.pack) else {
        return Vec::new();
    };
    let fits = within(across, pack.0) && within(down, pack.1);
    if fits { vec![(&*across.name, pack.0), (&*down.name, pack.1)] } else { Vec::new() }
}

/// Whether a figure of the items gives a field.
fn figured(kind: &Kind, items: &[Item], field: &str) -> bool {
    let first = |i: &Item| figures_of(kind, i).into_iter().next();
    items.iter().filter_map(first).any(|(_, figure, _)| figure == field)
}

fn quoted(word: &str) -> String {
    format!("\"{}\"", word.replace('\\', "\\\\").replace('"', "\\\""))
}
