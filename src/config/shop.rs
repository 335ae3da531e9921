//! What `[shop]` says: who sells, and how an offer is reckoned and written.

use std::path::PathBuf;

use jiff::civil::Date;

use crate::trade::money::Money;

/// The shop, as its papers show it. What it does not say is empty or none.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    /// Its name.
    pub name: Option<String>,
    /// Its address, a line an entry.
    pub address: Vec<String>,
    /// A picture file of its sign, from the folder of `dryfit.toml`.
    pub logo: Option<PathBuf>,
    /// How job numbers are made: text with `{year}`, `{month}`, `{day}` and `{list}` in it.
    pub job_numbers: Option<String>,
    /// How many days an offer holds.
    pub valid_days: Option<u32>,
    /// How dates are written.
    pub dates: DateForm,
    /// How numbers are written.
    pub numbers: NumberForm,
    /// Work that is charged, in the order of the file.
    pub labour: Vec<Labour>,
    /// What is added to the purchase price of parts, in per cent of it.
    pub markup: ByKind,
    /// What the shop keeps of the selling price of parts, in per cent of that.
    pub margin: ByKind,
    /// What is taken off goods, in per cent.
    pub discount_percent: f64,
    /// The tax, where prices bear one.
    pub tax: Option<Tax>,
}

/// Work that is charged.
#[derive(Debug, Clone)]
pub struct Labour {
    /// What is done.
    pub what: String,
    /// What it costs.
    pub price: Money,
}

/// Per cents by kind of part.
#[derive(Debug, Clone, Default)]
pub struct ByKind {
    /// For kinds not named, if they have one.
    pub all_percent: Option<f64>,
    /// By kind.
    pub by_kind: Vec<(String, f64)>,
}

/// A tax on the sale.
#[derive(Debug, Clone)]
pub struct Tax {
    /// What it is called.
    pub name: String,
    /// Its rate, in per cent.
    pub percent: f64,
    /// Whether prices hold it already.
    pub included: bool,
}

/// How dates are written; each is named by one day written so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DateForm {
    /// `2026-11-20`
    #[default]
    YearFirst,
    /// `20.11.2026`
    DayFirstDots,
    /// `20/11/2026`
    DayFirst,
    /// `11/20/2026`
    MonthFirst,
    /// `20 November 2026`
    Words,
}

/// How numbers are written; each is named by one number written so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum NumberForm {
    /// `1234.56`
    #[default]
    Plain,
    /// `1,234.56`
    Commas,
    /// `1.234,56`
    Dots,
    /// `1 234,56`
    Spaces,
}

impl DateForm {
    /// Each form with the day that names it.
    pub const ALL: [(&'static str, Self); 5] = [
        ("2026-11-20", Self::YearFirst),
        ("20.11.2026", Self::DayFirstDots),
        ("20/11/2026", Self::DayFirst),
        ("11/20/2026", Self::MonthFirst),
        ("20 November 2026", Self::Words),
    ];
    /// The days that name the forms.
    pub(crate) const NAMES: [&'static str; 5] =
        [Self::ALL[0].0, Self::ALL[1].0, Self::ALL[2].0, Self::ALL[3].0, Self::ALL[4].0];

    /// A day written so.
    pub fn write(self, day: Date) -> String {
        let form = match self {
            Self::YearFirst => "%Y-%m-%d",
            Self::DayFirstDots => "%d.%m.%Y",
            Self::DayFirst => "%d/%m/%Y",
            Self::MonthFirst => "%m/%d/%Y",
            Self::Words => "%-d %B %Y",
        };
        day.strftime(form).to_string()
    }
}

impl NumberForm {
    /// Each form with the number that names it.
    pub const ALL: [(&'static str, Self); 4] = [
        ("1234.56", Self::Plain),
        ("1,234.56", Self::Commas),
        ("1.234,56", Self::Dots),
        ("1 234,56", Self::Spaces),
    ];
    /// The numbers that name the forms.
    pub(crate) const NAMES: [&'static str; 4] =
        [Self::ALL[0].0, Self::ALL[1].0, Self::ALL[2].0, Self::ALL[3].0];

    /// A plain decimal number, such as `-1234.50`, written so; anything else stays as it is.
    pub fn write(self, plain: &str) -> String {
        let (sign, digits) = plain.strip_prefix('-').map_or(("", plain), |rest| ("-", rest));
        let (whole, part) = digits.split_once('.').map_or((digits, None), |(w, p)| (w, Some(p)));
        let number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if self == Self::Plain || !number(whole) || !part.is_none_or(number) {
            return plain.to_owned();
        }
        let (thousands, point) = match self {
            Self::Plain | Self::Commas => (",", "."),
            Self::Dots => (".", ","),
            // A space that no line is broken at.
            Self::Spaces => ("\u{a0}", ","),
        };
        let mut out = sign.to_owned();
        for (at, digit) in whole.chars().enumerate() {
            if at > 0 && (whole.len() - at).is_multiple_of(3) {
                out.push_str(thousands);
            }
            out.push(digit);
        }
        if let Some(part) = part {
            out.push_str(point);
            out.push_str(part);
        }
        out
    }
}

/// What a shop earns on a kind of part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Earned {
    /// Per cent of the purchase price, added to it.
    Markup(f64),
    /// Per cent of the selling price, kept of it.
    Margin(f64),
}

impl ByKind {
    /// The per cent that is written for a kind by its name.
    pub fn named(&self, kind: &str) -> Option<f64> {
        self.by_kind.iter().find(|(k, _)| k == kind).map(|(_, p)| *p)
    }
}

impl Shop {
    /// What is earned on a kind: what is said of the kind itself, else of all kinds.
    pub fn earned(&self, kind: &str) -> Option<Earned> {
        let named = self.markup.named(kind).map(Earned::Markup);
        let named = named.or_else(|| self.margin.named(kind).map(Earned::Margin));
        let all = || self.markup.all_percent.map(Earned::Markup);
        named.or_else(all).or_else(|| self.margin.all_percent.map(Earned::Margin))
    }

    /// Whether it has a price of its own, over what the parts cost it.
    pub fn has_price(&self) -> bool {
        let set = |of: &ByKind| of.all_percent.is_some() || !of.by_kind.is_empty();
        set(&self.markup)
            || set(&self.margin)
            || !self.labour.is_empty()
            || self.discount_percent > 0.0
            || self.tax.is_some()
    }

    /// The holes that `job_numbers` may have.
    pub const JOB_HOLES: [&'static str; 4] = ["{year}", "{month}", "{day}", "{list}"];

    /// The job number of a list on a day, where the shop says how they are made.
    pub fn job_number(&self, list: &str, day: Date) -> Option<String> {
        let form = self.job_numbers.as_ref()?;
        Some(
            form.replace("{year}", &format!("{:04}", day.year()))
                .replace("{month}", &format!("{:02}", day.month()))
                .replace("{day}", &format!("{:02}", day.day()))
                .replace("{list}", list),
        )
    }
}

#[cfg(test)]
#[path = "../../tests/unit/config/shop.rs"]
mod tests;
