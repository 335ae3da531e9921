//! Reading `dryfit.toml`, every error at once.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{ByKind, Config, DateForm, Entry, Given, Labour, NumberForm, Shop, Tax};
use crate::catalogue::declared::{Declared, Reading, Row, Takes, key, needed};
use crate::catalogue::field_reader::sound;
use crate::layer::Replaces;
use crate::level::Level;
use crate::source::{Label, Problem, Problems, Source, Span};
use crate::trade::money::Currency;

/// Most per cent that a mark-up or tax may be.
pub(crate) const MAX_PERCENT: f64 = 1000.0;
/// Most per cent of a selling price that a shop may keep.
pub(crate) const MAX_MARGIN: f64 = 99.0;
/// Most decimals of a per cent: with more, a price would not be exact.
const PERCENT_DECIMALS: usize = 6;
/// Longest that an offer may hold.
pub(crate) const MAX_DAYS: u32 = 3650;

/// What `dryfit.toml` may hold.
pub(crate) const CONFIG: Declared = Declared {
    of: "dryfit.toml",
    keys: &[
        key("rules", Takes::Text, "the shop's rules, from the folder of this file"),
        key("catalogue", Takes::Text, "the shop's catalogue, likewise"),
        key(
            "replaces",
            Takes::Texts,
            "files of the layers below whose place the shop's take, such as fit",
        ),
        key("reason", Takes::Text, "why they do"),
        key("format", Takes::Text, "how `audit` writes when no option says"),
        key("fail_on", Takes::Text, "the level that makes `audit` fail when no option says"),
        key("currency", Takes::Text, "the currency of lists that name none"),
        key("handbook", Takes::Text, "the address of the shop's handbook"),
        key("packs", Takes::Other, "rules and parts of others, by what the shop calls them"),
        key("shop", Takes::Table(&SHOP), "who sells, and how an offer is reckoned and written"),
    ],
};
const SHOP: Declared = Declared {
    of: "a shop",
    keys: &[
        key("name", Takes::Text, "the shop's name"),
        key("address", Takes::Texts, "its address, a line an entry"),
        key("logo", Takes::Text, "a picture file of its sign, from the folder of this file"),
        key(
            "job_numbers",
            Takes::Text,
            "how job numbers are made: {year}, {month}, {day} and {list} are filled in",
        ),
        key("valid_days", Takes::Whole(1, MAX_DAYS), "how many days an offer holds"),
        key("dates", Takes::Words(&DateForm::NAMES), "how dates are written"),
        key("numbers", Takes::Words(&NumberForm::NAMES), "how numbers are written"),
        key("labour", Takes::Tables(&LABOUR), "work that is charged"),
        key(
            "markup_percent",
            Takes::Other,
            "what is added to the purchase price of parts, for all or by kind",
        ),
        key(
            "margin_percent",
            Takes::Other,
            "what the shop keeps of the selling price of parts, for all or by kind",
        ),
        key("discount_percent", Takes::Number(0.0, 100.0), "what is taken off goods, in %"),
        key("tax", Takes::Table(&TAX), "the tax, where prices bear one"),
    ],
};
const LABOUR: Declared = Declared {
    of: "an entry of `labour`",
    keys: &[
        needed("what", Takes::Text, "what is done"),
        needed("price", Takes::Money, "what it costs: 85.00 EUR"),
    ],
};
const TAX: Declared = Declared {
    of: "a tax",
    keys: &[
        needed("name", Takes::Text, "what it is called"),
        needed("percent", Takes::Number(0.0, MAX_PERCENT), "its rate, in %"),
        needed("included", Takes::Flag, "whether prices hold it already"),
    ],
};

pub(super) fn read(source: &Arc<Source>, folder: &Path) -> Result<Config, Problems> {
    let mut problems = Problems::default();
    let Some(parsed) = sound(source, &mut problems) else { return Err(problems) };
    let reading = Reading { source, catalogue: None, problems: &mut problems };
    let config = Reader { folder, reading }.config(parsed.get_ref());
    problems.0.sort_by_key(|p| p.labels.first().map(|label| label.span.start()));
    problems.or(config)
}

pub(super) struct Reader<'r> {
    folder: &'r Path,
    pub(super) reading: Reading<'r>,
}

impl Reader<'_> {
    fn config(&mut self, table: &DeTable<'_>) -> Config {
        let top = CONFIG.check(table, Span::default(), &mut self.reading);
        let mut entries = Vec::new();
        for (key, value) in table {
            self.list(key.get_ref(), value, &mut entries);
        }
        let format = self.text(top, "format");
        Config {
            source: Some(self.reading.source.clone()),
            folder: self.folder.to_path_buf(),
            rules: self.path(top, "rules", true),
            catalogue: self.path(top, "catalogue", true),
            replaces: self.replaces(top),
            format: format.map(|text| Given { value: text, place: self.label(top.span("format")) }),
            fail_on: self.level(top),
            currency: self.currency(top),
            handbook: self.address(top),
            packs: top.get("packs").map_or_else(Vec::new, |packs| self.packs(packs)),
            shop: within(top, "shop").map_or_else(Shop::default, |shop| self.shop(shop)),
            entries,
        }
    }

    pub(super) fn label(&self, span: Span) -> Label {
        Label { source: self.reading.source.clone(), span, text: "here".to_owned() }
    }

    pub(super) fn wrong(&mut self, span: Span, message: impl Into<String>, label: &str) {
        self.reading.wrong("invalid", span, message, label, "");
    }

    /// A text, which is not empty.
    pub(super) fn text(&mut self, row: Row<'_, '_>, key: &str) -> Option<String> {
        let text = row.text(key)?;
        if text.is_empty() {
            self.wrong(row.span(key), format!("`{key}` is empty"), "nothing is written here");
            return None;
        }
        Some(text.to_owned())
    }

    /// A path below the file's folder or beside it; `folder` says which of the two it leads to.
    pub(super) fn path(&mut self, row: Row<'_, '_>, key: &str, folder: bool) -> Option<PathBuf> {
        let path = self.folder.join(self.text(row, key)?);
        if if folder { path.is_dir() } else { path.is_file() } {
            return Some(path);
        }
        let what = if folder { "folder" } else { "file" };
        let message = format!("there is no {what} {}", path.display());
        self.wrong(row.span(key), message, "not there");
        None
    }

    fn replaces(&mut self, top: Row<'_, '_>) -> Vec<Replaces> {
        let reason = self.text(top, "reason");
        let Some((key, _)) = top.table.get_key_value("replaces") else {
            if top.get("reason").is_some() {
                let message = "`reason` says why files are replaced, and none is";
                self.wrong(top.span("reason"), message, "here");
            }
            return Vec::new();
        };
        if top.get("reason").is_none() {
            let (message, label) = ("`replaces` gives no reason", "every rule of these files goes");
            let help = "say why, for the next person: reason = \"…\"";
            self.reading.wrong("invalid", key.span(), message, label, help);
        }
        let replaces = |(file, span): (&str, Span)| Replaces {
            file: file.trim().to_owned(),
            reason: reason.clone().unwrap_or_default(),
            place: self.label(span),
        };
        top.texts("replaces").map(replaces).collect()
    }

    fn level(&mut self, top: Row<'_, '_>) -> Option<Level> {
        let word = self.text(top, "fail_on")?;
        let level = Level::by_name(&word);
        if level.is_none() {
            let message = format!("there is no level `{word}`");
            let help = "stop, caution or advice";
            self.reading.wrong("invalid", top.span("fail_on"), message, "unknown", help);
        }
        level
    }

    fn address(&mut self, top: Row<'_, '_>) -> Option<String> {
        let text = self.text(top, "handbook")?;
        let good = ["https://", "http://"].iter().any(|scheme| text.starts_with(scheme));
        if !good || text.contains(char::is_whitespace) {
            let wanted = "an address such as https://shop.example/rules is wanted";
            self.wrong(top.span("handbook"), wanted, "not one");
            return None;
        }
        Some(text)
    }

    fn currency(&mut self, top: Row<'_, '_>) -> Option<Currency> {
        let code = self.text(top, "currency")?;
        let currency = Currency::from_code(&code);
        if currency.is_none() {
            let problem = Problem::new(format!("there is no currency `{code}`"));
            let problem = problem.at(self.reading.source, top.span("currency"), "unknown");
            self.reading.problems.push(problem.suggest(&code, Currency::all().map(Currency::code)));
        }
        currency
    }

    fn shop(&mut self, row: Row<'_, '_>) -> Shop {
        let (markup, margin) = (
            self.by_kind(row, "markup_percent", MAX_PERCENT),
            self.by_kind(row, "margin_percent", MAX_MARGIN),
        );
        let all = markup.all_percent.is_some() && margin.all_percent.is_some();
        if all || markup.by_kind.iter().any(|(kind, _)| margin.named(kind).is_some()) {
            let message = "a kind has both a mark-up and a margin";
            self.wrong(row.span("margin_percent"), message, "keep one of the two for each kind");
        }
        let tax = within(row, "tax").and_then(|tax| {
            Some(Tax {
                name: tax.text("name")?.to_owned(),
                percent: self.percent(tax, "percent")?,
                included: tax.flag("included")?,
            })
        });
        Shop {
            name: self.text(row, "name"),
            address: row.texts("address").map(|(line, _)| line.trim().to_owned()).collect(),
            logo: self.path(row, "logo", false),
            job_numbers: self.job_numbers(row),
            valid_days: row.number("valid_days").map(|n| n as u32),
            dates: named(row, "dates", &DateForm::ALL),
            numbers: named(row, "numbers", &NumberForm::ALL),
            labour: row.items("labour").iter().filter_map(|item| self.labour(item)).collect(),
            markup,
            margin,
            discount_percent: self.percent(row, "discount_percent").unwrap_or(0.0),
            tax,
        }
    }

    /// A per cent that prices are reckoned with.
    fn percent(&mut self, row: Row<'_, '_>, key: &str) -> Option<f64> {
        let percent = row.number(key)?;
        let decimals = percent.to_string().split_once('.').map_or(0, |(_, d)| d.len());
        if decimals > PERCENT_DECIMALS {
            let message = "a per cent has six decimals at the most";
            self.wrong(row.span(key), message, "too fine");
        }
        Some(percent)
    }

    fn job_numbers(&mut self, row: Row<'_, '_>) -> Option<String> {
        let form = self.text(row, "job_numbers")?;
        let rest = Shop::JOB_HOLES.iter().fold(form.clone(), |text, hole| text.replace(hole, ""));
        if rest.contains(['{', '}']) {
            let message = "`job_numbers` has a hole that nothing fills";
            let help = format!("known holes: {}", Shop::JOB_HOLES.join(", "));
            self.reading.wrong("invalid", row.span("job_numbers"), message, "here", help);
        }
        Some(form)
    }

    fn labour(&mut self, item: &Spanned<DeValue<'_>>) -> Option<Labour> {
        let row = LABOUR.row(item, &mut self.reading)?;
        Some(Labour { what: row.text("what")?.to_owned(), price: row.money("price")? })
    }

    /// One per cent for all kinds, or a table of them.
    fn by_kind(&mut self, row: Row<'_, '_>, name: &'static str, most: f64) -> ByKind {
        let mut by_kind = ByKind::default();
        let each = key(name, Takes::Number(0.0, most), "per cent");
        let Some(value) = row.get(name) else { return by_kind };
        let Some(table) = value.get_ref().as_table() else {
            each.check(value, &mut self.reading);
            by_kind.all_percent = self.percent(row, name);
            return by_kind;
        };
        let of_kinds = Row { table, whole: row.span(name) };
        for (kind, value) in table {
            each.check(value, &mut self.reading);
            let Some(percent) = self.percent(of_kinds, kind.get_ref()) else { continue };
            match &**kind.get_ref() {
                "all" => by_kind.all_percent = Some(percent),
                kind => by_kind.by_kind.push((kind.to_owned(), percent)),
            }
        }
        by_kind
    }

    /// Notes values as they are written, with their places.
    fn list(&self, key: &str, value: &Spanned<DeValue<'_>>, into: &mut Vec<Entry>) {
        if let DeValue::Table(table) = value.get_ref() {
            for (inner, value) in table {
                self.list(&format!("{key}.{}", inner.get_ref()), value, into);
            }
            return;
        }
        let place = self.label(value.span().into());
        let value = self.reading.source.slice(place.span).to_owned();
        into.push(Entry { key: key.to_owned(), value, place });
    }
}

/// A table within another, which is checked already.
fn within<'t, 'i>(row: Row<'t, 'i>, key: &str) -> Option<Row<'t, 'i>> {
    Some(Row { table: row.get(key)?.get_ref().as_table()?, whole: row.span(key) })
}

/// The form that an example of it names; the usual one where none is named.
fn named<T: Copy + Default>(row: Row<'_, '_>, key: &str, forms: &[(&str, T)]) -> T {
    let text = row.text(key);
    forms.iter().find(|(name, _)| Some(*name) == text).map_or_else(T::default, |(_, form)| *form)
}
