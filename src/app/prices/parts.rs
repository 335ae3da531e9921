//! A list of parts as it is shown: for people, spreadsheets and programs.

use serde_json::{Value, json};

use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::audit::wording::figure;
use crate::catalogue::kinds::{Field, FieldType, Kind};
use crate::catalogue::value::Val;
use crate::kit::filters::FilterValue;
use crate::prices::parts::{List, Listed};
use crate::trade::money::Money;
use crate::words::clip;

use super::columns::{self, Row, columns};

/// Numbers get as many decimals as the one that needs most, so that they stand under one another:
/// four at the most, two from a hundred on.
fn key_words(list: &[&Listed]) -> Vec<String> {
    let decimals = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => {
            let text = if n.abs() >= 100.0 { format!("{n:.2}") } else { format!("{n:.4}") };
            text.trim_end_matches('0').split_once('.').map_or(0, |(_, d)| d.len())
        }
        _ => 0,
    };
    // One decimal is mostly half of an amount of money.
    let most = match list.iter().map(|l| decimals(&l.key)).max() {
        Some(1) => 2,
        most => most.unwrap_or(0),
    };
    let words = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => format!("{n:.most$}"),
        Some(FilterValue::Text(text)) => text.clone(),
        Some(FilterValue::Flag(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(FilterValue::Absent) => "not given".to_owned(),
        None => String::new(),
    };
    list.iter().map(|l| words(&l.key)).collect()
}

/// What stands over the key: a measure's name, or the expression as far as there is room.
fn heading(by: &str) -> String {
    clip(by.strip_prefix("measure(\"").and_then(|m| m.strip_suffix("\")")).unwrap_or(by), 24)
}

/// What a column over a field is headed: its name without the unit, which the cells have.
fn column_name(field: &Field) -> String {
    let unit = field.unit.replace('/', "p").to_lowercase();
    let bare = field.name.strip_suffix(&unit).and_then(|rest| rest.strip_suffix('_'));
    bare.unwrap_or(&field.name).replace('_', " ")
}

fn cell(field: &Field, value: Option<&Val>) -> String {
    match value {
        None | Some(Val::Absent) => "-".to_owned(),
        Some(Val::Unknown) => "?".to_owned(),
        Some(Val::Num(n)) => figure(*n, &field.unit, ""),
        Some(value) => clip(&value.show(), MOST_CELL),
    }
}

/// Longest text of a field in a column.
const MOST_CELL: usize = 24;

/// A list for people, in rows: what each part is called and costs, and its fields that are shown.
struct Table<'l> {
    look: Look,
    fields: Vec<(usize, &'l Field)>,
    /// Values of the fields, and the six cells of every list; the heads first.
    rows: Vec<(Vec<String>, [String; 6])>,
    /// Which of the last four cells any row fills: price, change, key, what stops it.
    kept: [bool; 4],
}

impl Table<'_> {
    /// The rows in columns: with names or without, and with so many of the fields. Which columns
    /// end flush comes with them.
    fn laid(&self, names: bool, most: usize) -> (Vec<Row>, Vec<usize>) {
        let cut = |(values, [id, name, last @ ..]): &(Vec<String>, [String; 6])| -> Row {
            let name = names.then_some(name);
            let last = last.iter().zip(self.kept).filter(|(_, kept)| *kept).map(|(cell, _)| cell);
            [id].into_iter()
                .chain(name)
                .chain(values.iter().take(most))
                .chain(last)
                .cloned()
                .collect()
        };
        let first = 1 + usize::from(names);
        let fields = self.fields.iter().take(most).enumerate();
        let numbers = fields.filter(|(_, (_, field))| matches!(field.ty, FieldType::Number));
        let priced = first + most.min(self.fields.len());
        let [price, change, key, _] = self.kept.map(usize::from);
        let right: Vec<usize> = numbers
            .map(|(at, _)| first + at)
            .chain(priced..priced + price + change + key)
            .collect();
        (self.rows.iter().map(cut).collect(), right)
    }

    /// As much of it as there is room for: names give way to ids, then fields from the last.
    fn text(&self) -> String {
        let fields = self.fields.len();
        let tries = [(true, fields)].into_iter().chain((1..=fields).rev().map(|n| (false, n)));
        let mut laid = tries.map(|(names, most)| self.laid(names, most));
        // What stops a part goes below its row where there is no room beside it.
        let below = usize::from(self.kept[3]);
        let fitting = laid.find(|(rows, _)| {
            let columns = rows.first().map_or(0, Vec::len);
            columns::fit(self.look, rows, columns.saturating_sub(below))
        });
        let (rows, right) = fitting.unwrap_or_else(|| self.laid(false, 0));
        columns(self.look, &rows, &right)
    }
}

/// The list for people. Without `all`, parts that would stop the build are only counted, and `how`
/// says how to see them.
pub(crate) fn text(look: Look, kind: &Kind, list: &List, all: bool, how: &str) -> String {
    let shown: Vec<&Listed> =
        list.parts.iter().filter(|l| all || l.stopped_by.is_empty()).collect();
    // Sorted by price, the key would say the price twice.
    let by = list.by.as_deref().filter(|by| *by != "price");
    let in_build = shown.iter().any(|l| l.more.is_some() || l.held);
    let stopped = shown.iter().any(|l| !l.stopped_by.is_empty() || !l.left_open.is_empty());
    let fields = kind.shown.iter().map(|at| usize::from(*at));
    let fields: Vec<(usize, &Field)> =
        fields.filter_map(|at| Some((at, kind.fields.get(at)?))).collect();
    let heads = ["part", "name", "price", "change", &by.map_or_else(String::new, heading), ""];
    let heads = (fields.iter().map(|(_, f)| column_name(f)).collect(), heads.map(str::to_owned));
    let row = |(l, key): (&&Listed, String)| {
        let price = l.price.map_or_else(|| "no offer".to_owned(), |p| p.to_string());
        let change = match (&l.more, l.held) {
            (_, true) => "in this build".to_owned(),
            (Some(more), _) if more.is_negative() => more.to_string(),
            (Some(more), _) => format!("+{more}"),
            (None, _) => String::new(),
        };
        let rules = |what: &str, rules: &[String]| {
            (!rules.is_empty()).then(|| format!("{what} {}", rules.join(", ")))
        };
        let stop = rules("stopped by", &l.stopped_by).into_iter();
        let stop: Vec<String> = stop.chain(rules("not settled:", &l.left_open)).collect();
        let stop = stop.join("; ");
        let values = fields.iter().map(|(at, field)| cell(field, l.part.values.get(*at)));
        let (id, name) = (l.part.id.to_string(), l.part.name.to_string());
        (values.collect(), [id, name, price, change, key, stop])
    };
    let rows = [heads].into_iter().chain(shown.iter().zip(key_words(&shown)).map(row)).collect();
    let kept = [true, in_build, by.is_some(), stopped];
    let mut out = String::new();
    if !shown.is_empty() {
        out = Table { look, fields, rows, kept }.text() + "\n";
    }
    let more = match list.parts.len() - shown.len() {
        0 => String::new(),
        hidden => format!("; {hidden} more would stop the build, {how}"),
    };
    let words = format!("{}{more}. Prices of {}.", count(shown.len(), "part"), list.priced_on);
    out.push_str(&look.hanging(&words));
    out
}

pub(crate) fn csv(list: &List) -> String {
    let mut rows: Vec<Row> = vec![
        ["part", "name", "price", "currency", "more", "key", "stopped_by"]
            .map(str::to_owned)
            .to_vec(),
    ];
    let all: Vec<&Listed> = list.parts.iter().collect();
    for (l, key) in list.parts.iter().zip(key_words(&all)) {
        let (price, code) =
            l.price.map_or_else(Default::default, |p| (p.bare(), p.currency().code().to_owned()));
        let more = l.more.as_ref().map_or_else(String::new, Money::bare);
        rows.push(vec![
            l.part.id.to_string(),
            l.part.name.to_string(),
            price,
            code,
            more,
            key,
            l.stopped_by.join(" "),
        ]);
    }
    columns::csv(&rows)
}

/// The list for programs: format `dryfit-parts`, version 1.
pub(crate) fn json(list: &List) -> Value {
    let key = |key: &Option<FilterValue>| match key {
        Some(FilterValue::Number(n)) => json!(n),
        Some(FilterValue::Text(text)) => json!(text),
        Some(FilterValue::Flag(flag)) => json!(flag),
        Some(FilterValue::Absent) | None => Value::Null,
    };
    let one = |l: &Listed| {
        json!({
            "part": &*l.part.id, "name": &*l.part.name, "price": l.price.as_ref().map(Money::bare),
            "key": key(&l.key),
            "held": l.held, "more": l.more.as_ref().map(Money::bare), "stopped_by": l.stopped_by,
            "left_open": l.left_open,
        })
    };
    let parts: Vec<Value> = list.parts.iter().map(one).collect();
    json!({ "format": "dryfit-parts", "version": 1, "priced_on": list.priced_on.to_string(),
    "by": list.by, "parts": parts })
}
