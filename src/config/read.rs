//! Reading `dryfit.toml`, every error at once.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{ByKind, Config, DateForm, Entry, Given, Labour, NumberForm, Shop, Tax};
use crate::catalogue::field_reader::{found, key_span, parse, plain_number};
use crate::layer::Replaces;
use crate::level::Level;
use crate::source::{Label, Problem, Problems, Source, Span};
use crate::trade::money::Currency;
use crate::trade::money::Money;

/// Keys at the top, in the order they are listed in.
pub(crate) const KEYS: &[&str] = &[
    "rules",
    "catalogue",
    "replaces",
    "reason",
    "format",
    "fail_on",
    "currency",
    "handbook",
    "packs",
    "shop",
];
/// Keys of `[shop]`.
pub(crate) const SHOP_KEYS: &[&str] = &[
    "name",
    "address",
    "logo",
    "job_numbers",
    "valid_days",
    "dates",
    "numbers",
    "labour",
    "markup_percent",
    "margin_percent",
    "discount_percent",
    "tax",
];
/// Keys of an entry of `labour`.
const LABOUR_KEYS: &[&str] = &["what", "price"];
/// Keys of `[shop.tax]`.
const TAX_KEYS: &[&str] = &["name", "percent", "included"];
/// Most per cent that a margin or tax may be.
pub(crate) const MAX_PERCENT: f64 = 1000.0;
/// Most per cent of a selling price that a shop may keep.
pub(crate) const MAX_MARGIN: f64 = 99.0;
/// Most decimals of a per cent: with more, a price would not be exact.
const PERCENT_DECIMALS: usize = 6;
/// Longest that an offer may hold.
pub(crate) const MAX_DAYS: f64 = 3650.0;

pub(super) type Value<'v> = Spanned<DeValue<'v>>;

pub(super) fn read(source: &Arc<Source>, folder: &Path) -> Result<Config, Problems> {
    let mut reader = Reader { source, folder, problems: Problems::default() };
    let parsed = parse(source, &mut reader.problems);
    if !reader.problems.0.is_empty() {
        return Err(reader.problems);
    }
    let top = parsed.get_ref();
    let mut config =
        Config { source: Some(source.clone()), folder: folder.to_path_buf(), ..Config::default() };
    reader.known("dryfit.toml", top, KEYS);
    for (key, value) in top {
        match &**key.get_ref() {
            "rules" => config.rules = reader.path(value, true),
            "catalogue" => config.catalogue = reader.path(value, true),
            "replaces" => config.replaces = reader.replaces(key, value, top.get("reason")),
            "format" => {
                config.format = reader
                    .text(value)
                    .map(|text| Given { value: text, place: reader.label(value.span()) });
            }
            "fail_on" => config.fail_on = reader.level(value),
            "currency" => config.currency = reader.currency(value),
            "handbook" => config.handbook = reader.address(value),
            "packs" => config.packs = reader.packs(value),
            "shop" => config.shop = reader.shop(value),
            _ => {}
        }
        reader.list(key.get_ref(), value, &mut config.entries);
    }
    if let (Some(reason), None) = (top.get("reason"), top.get("replaces")) {
        reader.wrong(reason.span(), "`reason` says why files are replaced, and none is", "here");
    }
    reader.problems.or(config)
}

pub(super) struct Reader<'r> {
    pub(super) source: &'r Arc<Source>,
    folder: &'r Path,
    pub(super) problems: Problems,
}

impl Reader<'_> {
    pub(super) fn label(&self, span: std::ops::Range<usize>) -> Label {
        Label { source: self.source.clone(), span: span.into(), text: "here".to_owned() }
    }

    pub(super) fn wrong(&mut self, span: impl Into<Span>, message: impl Into<String>, label: &str) {
        self.problems.push(Problem::new(message).at(self.source, span.into(), label));
    }

    pub(super) fn wanted(&mut self, value: &Value<'_>, wanted: &str) {
        let this = format!("this is {}", found(value.get_ref()));
        self.wrong(value.span(), format!("{wanted} is wanted here"), &this);
    }

    pub(super) fn known(&mut self, whose: &str, table: &DeTable<'_>, known: &[&str]) {
        for (key, _) in table {
            if !known.contains(&&**key.get_ref()) {
                let problem = Problem::new(format!("{whose} has no `{}`", key.get_ref()));
                self.problems.push(
                    problem
                        .at(self.source, key_span(key), "unknown")
                        .suggest(key.get_ref(), known.iter().copied()),
                );
            }
        }
    }

    pub(super) fn text(&mut self, value: &Value<'_>) -> Option<String> {
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            DeValue::String(_) => {
                self.wrong(value.span(), "a text is wanted here", "this one is empty");
                None
            }
            _ => {
                self.wanted(value, "a text");
                None
            }
        }
    }

    fn texts(&mut self, value: &Value<'_>) -> Vec<(String, Span)> {
        let Some(items) = value.get_ref().as_array() else {
            self.wanted(value, "a list of texts");
            return Vec::new();
        };
        items.iter().filter_map(|i| self.text(i).map(|text| (text, i.span().into()))).collect()
    }

    fn number(&mut self, value: &Value<'_>, low: f64, high: f64) -> Option<f64> {
        let Some(n) = plain_number(value.get_ref()) else {
            self.wanted(value, "a number");
            return None;
        };
        if !(low..=high).contains(&n) {
            let message = format!("{n} is outside {low} to {high}");
            self.wrong(value.span(), message, "out of bounds");
            return None;
        }
        Some(n)
    }

    /// A path below the file's folder or beside it; `folder` says which of the two it leads to.
    pub(super) fn path(&mut self, value: &Value<'_>, folder: bool) -> Option<PathBuf> {
        let text = self.text(value)?;
        let path = self.folder.join(&text);
        if if folder { path.is_dir() } else { path.is_file() } {
            return Some(path);
        }
        let what = if folder { "folder" } else { "file" };
        self.wrong(value.span(), format!("there is no {what} {}", path.display()), "not there");
        None
    }

    fn replaces(
        &mut self,
        key: &Spanned<std::borrow::Cow<'_, str>>,
        value: &Value<'_>,
        reason: Option<&Value<'_>>,
    ) -> Vec<Replaces> {
        let Some(reason) = reason.map(|r| self.text(r)) else {
            self.problems.push(
                Problem::new("`replaces` gives no reason")
                    .at(self.source, key_span(key), "every rule of these files goes")
                    .help("say why, for the next person: reason = \"…\""),
            );
            return Vec::new();
        };
        let files = self.texts(value);
        files
            .into_iter()
            .map(|(file, span)| Replaces {
                file,
                reason: reason.clone().unwrap_or_default(),
                place: Label { source: self.source.clone(), span, text: "here".to_owned() },
            })
            .collect()
    }

    fn level(&mut self, value: &Value<'_>) -> Option<Level> {
        match self.text(value)?.as_str() {
            "stop" => Some(Level::Stop),
            "caution" => Some(Level::Caution),
            "advice" => Some(Level::Advice),
            other => {
                self.problems.push(
                    Problem::new(format!("there is no level `{other}`"))
                        .at(self.source, value.span().into(), "unknown")
                        .help("stop, caution or advice"),
                );
                None
            }
        }
    }

    fn address(&mut self, value: &Value<'_>) -> Option<String> {
        let text = self.text(value)?;
        let good = ["https://", "http://"].iter().any(|scheme| text.starts_with(scheme));
        if !good || text.contains(char::is_whitespace) {
            let wanted = "an address such as https://shop.example/rules is wanted";
            self.wrong(value.span(), wanted, "not one");
            return None;
        }
        Some(text)
    }

    fn currency(&mut self, value: &Value<'_>) -> Option<Currency> {
        let code = self.text(value)?;
        let currency = Currency::from_code(&code);
        if currency.is_none() {
            let codes: Vec<&str> = Currency::all().map(Currency::code).collect();
            let problem = Problem::new(format!("there is no currency `{code}`")).at(
                self.source,
                value.span().into(),
                "unknown",
            );
            self.problems.push(problem.suggest(&code, codes));
        }
        currency
    }

    /// One of a few forms, each named by an example of it.
    fn form<T: Copy>(&mut self, value: &Value<'_>, forms: &[(&str, T)]) -> Option<T> {
        let text = self.text(value)?;
        let form = forms.iter().find(|(name, _)| *name == text).map(|(_, form)| *form);
        if form.is_none() {
            let names: Vec<String> = forms.iter().map(|(name, _)| format!("\"{name}\"")).collect();
            self.problems.push(
                Problem::new(format!("`{text}` is not one of the forms known"))
                    .at(self.source, value.span().into(), "unknown")
                    .help(format!("write one of {}", names.join(", "))),
            );
        }
        form
    }

    fn shop(&mut self, value: &Value<'_>) -> Shop {
        let mut shop = Shop::default();
        let Some(table) = value.get_ref().as_table() else {
            self.wanted(value, "a table");
            return shop;
        };
        self.known("a shop", table, SHOP_KEYS);
        for (key, value) in table {
            match &**key.get_ref() {
                "name" => shop.name = self.text(value),
                "address" => {
                    shop.address = self.texts(value).into_iter().map(|(text, _)| text).collect();
                }
                "logo" => shop.logo = self.path(value, false),
                "job_numbers" => shop.job_numbers = self.job_numbers(value),
                "valid_days" => {
                    shop.valid_days = self.number(value, 1.0, MAX_DAYS).and_then(|n| {
                        if n.fract() > 0.0 {
                            self.wrong(value.span(), "whole days are wanted", "here");
                        }
                        // Within bounds, so nothing is cut off.
                        format!("{n:.0}").parse().ok()
                    });
                }
                "dates" => shop.dates = self.form(value, &DateForm::ALL).unwrap_or_default(),
                "numbers" => shop.numbers = self.form(value, &NumberForm::ALL).unwrap_or_default(),
                "labour" => shop.labour = self.labour(value),
                "markup_percent" => shop.markup = self.by_kind(value, MAX_PERCENT),
                "margin_percent" => shop.margin = self.by_kind(value, MAX_MARGIN),
                "discount_percent" => {
                    shop.discount_percent = self.percent(value, 100.0).unwrap_or(0.0);
                }
                "tax" => shop.tax = self.tax(value),
                _ => {}
            }
        }
        let (markup, margin) = (&shop.markup, &shop.margin);
        let twice = |(kind, _): &&(String, f64)| margin.named(kind).is_some();
        let all = markup.all_percent.is_some() && margin.all_percent.is_some();
        if let Some(margins) = table.get("margin_percent")
            && (all || markup.by_kind.iter().any(|k| twice(&k)))
        {
            let message = "a kind has both a mark-up and a margin";
            self.wrong(margins.span(), message, "keep one of the two for each kind");
        }
        shop
    }

    /// A per cent that prices are reckoned with.
    fn percent(&mut self, value: &Value<'_>, most: f64) -> Option<f64> {
        let percent = self.number(value, 0.0, most)?;
        let decimals = percent.to_string().split_once('.').map_or(0, |(_, d)| d.len());
        if decimals > PERCENT_DECIMALS {
            self.wrong(value.span(), "a per cent has six decimals at the most", "too fine");
            return None;
        }
        Some(percent)
    }

    fn job_numbers(&mut self, value: &Value<'_>) -> Option<String> {
        let form = self.text(value)?;
        let rest = Shop::JOB_HOLES.iter().fold(form.clone(), |text, hole| text.replace(hole, ""));
        if rest.contains(['{', '}']) {
            self.problems.push(
                Problem::new("`job_numbers` has a hole that nothing fills")
                    .at(self.source, value.span().into(), "here")
                    .help(format!("known holes: {}", Shop::JOB_HOLES.join(", "))),
            );
            return None;
        }
        Some(form)
    }

    fn labour(&mut self, value: &Value<'_>) -> Vec<Labour> {
        let Some(items) = value.get_ref().as_array() else {
            self.wanted(value, "a list of work, each `{ what = \"…\", price = \"85.00 EUR\" }`,");
            return Vec::new();
        };
        let mut labour = Vec::with_capacity(items.len());
        for item in items {
            let Some(table) = item.get_ref().as_table() else {
                self.wanted(item, "`{ what = \"…\", price = \"85.00 EUR\" }`");
                continue;
            };
            self.known("an entry of `labour`", table, LABOUR_KEYS);
            let what = self.needed(item, table, "what").and_then(|v| self.text(v));
            let price = self.needed(item, table, "price").and_then(|v| self.money(v));
            if let (Some(what), Some(price)) = (what, price) {
                labour.push(Labour { what, price });
            }
        }
        labour
    }

    fn needed<'t, 'v>(
        &mut self,
        whole: &Value<'_>,
        table: &'t DeTable<'v>,
        key: &str,
    ) -> Option<&'t Value<'v>> {
        let value = table.get(key);
        if value.is_none() {
            self.wrong(whole.span(), format!("this gives no `{key}`"), "here");
        }
        value
    }

    fn money(&mut self, value: &Value<'_>) -> Option<Money> {
        let text = self.text(value)?;
        match Money::parse(&text) {
            Ok(money) if !money.is_negative() => Some(money),
            Ok(_) => {
                self.wrong(value.span(), "an amount here is not negative", "less than nothing");
                None
            }
            Err(error) => {
                self.wrong(value.span(), error.to_string(), "not an amount");
                None
            }
        }
    }

    fn by_kind(&mut self, value: &Value<'_>, most: f64) -> ByKind {
        let mut by_kind = ByKind::default();
        let Some(table) = value.get_ref().as_table() else {
            by_kind.all_percent = self.percent(value, most);
            return by_kind;
        };
        for (key, value) in table {
            let Some(percent) = self.percent(value, most) else { continue };
            match &**key.get_ref() {
                "all" => by_kind.all_percent = Some(percent),
                kind => by_kind.by_kind.push((kind.to_owned(), percent)),
            }
        }
        by_kind
    }

    fn tax(&mut self, value: &Value<'_>) -> Option<Tax> {
        let Some(table) = value.get_ref().as_table() else {
            self.wanted(value, "a table with `name`, `percent` and `included`");
            return None;
        };
        self.known("a tax", table, TAX_KEYS);
        let name = self.needed(value, table, "name").and_then(|v| self.text(v));
        let percent =
            self.needed(value, table, "percent").and_then(|v| self.percent(v, MAX_PERCENT));
        let included = match self.needed(value, table, "included").map(|v| (v, v.get_ref())) {
            Some((_, DeValue::Boolean(included))) => Some(*included),
            Some((other, _)) => {
                self.wanted(other, "true or false");
                None
            }
            None => None,
        };
        Some(Tax { name: name?, percent: percent?, included: included? })
    }

    /// Notes values as they are written, with their places.
    fn list(&self, key: &str, value: &Value<'_>, into: &mut Vec<Entry>) {
        if let DeValue::Table(table) = value.get_ref() {
            for (inner, value) in table {
                self.list(&format!("{key}.{}", inner.get_ref()), value, into);
            }
            return;
        }
        let place = self.label(value.span());
        let value = self.source.slice(place.span).to_owned();
        into.push(Entry { key: key.to_owned(), value, place });
    }
}
