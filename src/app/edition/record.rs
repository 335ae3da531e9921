//! What an edition says, kept beside its page so that the next one knows what changed.

use std::path::Path;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::app::prices::priced_lines::lines;
use crate::app::report::{Audited, glance};
use crate::build::orders::orders;
use crate::build::resolve::Resolved;
use crate::layer::read_source;
use crate::source::Problem;
use crate::trade::money::{Currency, Money};

/// The file in an edition's folder.
pub(super) const FILE: &str = "editions.json";
/// The format's name.
const FORMAT: &str = "dryfit-editions";
const VERSION: u32 = 1;
/// Most editions that are kept; the oldest goes first.
const MOST: usize = 240;

/// All editions, the oldest first.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct Editions {
    format: String,
    version: u32,
    pub(super) editions: Vec<Edition>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Edition {
    /// Its day, which its prices are of.
    #[serde(with = "day")]
    pub(super) on: Date,
    pub(super) builds: Vec<Entry>,
}

/// A build of an edition. Amounts are in the smallest unit of its currency.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Entry {
    /// What its files are called.
    pub(super) name: String,
    pub(super) title: String,
    pub(super) purpose: String,
    pub(super) verdict: String,
    pub(super) tally: String,
    pub(super) currency: String,
    /// Goods and shipping as ordered.
    pub(super) delivered: i64,
    pub(super) shipping: i64,
    /// Lines that nobody offers.
    pub(super) unpriced: usize,
    pub(super) index: Option<f64>,
    pub(super) per_100: Option<f64>,
    pub(super) yearly: Option<f64>,
    pub(super) monitor: Option<f64>,
    pub(super) lines: Vec<Line>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Line {
    pub(super) kind: String,
    pub(super) kind_title: String,
    pub(super) part: String,
    pub(super) name: String,
    pub(super) count: i64,
    pub(super) each: Option<i64>,
    pub(super) sum: Option<i64>,
    pub(super) seller: String,
    pub(super) seen_on: Option<String>,
    pub(super) link: Option<String>,
    pub(super) owned: bool,
}

mod day {
    use jiff::civil::Date;
    use serde::de::Error as _;
    use serde::{Deserialize as _, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(day: &Date, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(day)
    }

    pub(super) fn deserialize<'d, D: Deserializer<'d>>(from: D) -> Result<Date, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(|_| D::Error::custom("a day is written YYYY-MM-DD"))
    }
}

impl Entry {
    pub(super) fn of(name: &str, purpose: &str, build: &Resolved, audited: &Audited) -> Self {
        let orders = orders(build);
        let measure =
            |id: &str| audited.measure(id).and_then(|m| m.value).filter(|n| n.is_finite());
        Self {
            name: name.to_owned(),
            title: audited.title.clone(),
            purpose: purpose.to_owned(),
            verdict: glance::verdict(audited).words().to_owned(),
            tally: glance::counts(audited, false),
            currency: Currency::or_euro(&build.build.currency).code().to_owned(),
            delivered: audited.paid.minor(),
            shipping: audited.paid.shipping.minor(),
            unpriced: audited.unpriced,
            index: measure("value.index"),
            per_100: measure("value.index_per_100"),
            yearly: measure("power.yearly_cost"),
            monitor: measure("money.displays").filter(|n| *n > 0.0),
            lines: lines(build, &orders)
                .into_iter()
                .map(|l| Line {
                    kind: l.kind.0.to_string(),
                    kind_title: l.kind.1,
                    part: l.part,
                    name: l.name,
                    count: l.count,
                    each: l.each.map(|m| m.minor()),
                    sum: l.sum.map(|m| m.minor()),
                    seller: l.seller,
                    seen_on: l.seen_on.map(|day| day.to_string()),
                    link: l.link.as_deref().map(str::to_owned),
                    owned: l.owned,
                })
                .collect(),
        }
    }

    /// An amount of this build in words.
    pub(super) fn money(&self, minor: i64) -> String {
        let currency = Currency::or_euro(&self.currency);
        Money::from_minor(minor, currency).to_string()
    }

    /// A plain number of its currency in words.
    pub(super) fn number(&self, amount: f64) -> String {
        crate::audit::wording::figure(amount, "money", &self.currency)
    }

    /// What it costs as a plain number.
    pub(super) fn amount(&self) -> f64 {
        let currency = Currency::or_euro(&self.currency);
        Money::from_minor(self.delivered, currency).to_f64()
    }

    /// What it costs, delivered.
    pub(super) fn price(&self) -> String {
        let least = if self.unpriced > 0 { "at least " } else { "" };
        format!("{least}{}", self.money(self.delivered))
    }
}

impl Editions {
    /// Those of a folder; none where it holds no edition.
    /// Errors: the file is not what an edition wrote.
    pub(super) fn read(folder: &Path) -> Result<Self, Problem> {
        let path = folder.join(FILE);
        if !path.exists() {
            return Ok(Self::default());
        }
        let broken = |why: String| {
            Problem::new(format!("{} is not what an edition wrote: {why}", path.display()))
                .help("restore it, or publish into a new folder; nothing was written")
        };
        let source = read_source(&path)?;
        let read: Self = serde_json::from_str(&source.text).map_err(|e| broken(e.to_string()))?;
        if read.format != FORMAT || read.version != VERSION {
            return Err(broken(format!("it is of format {} {}", read.format, read.version)));
        }
        if !read.editions.is_sorted_by(|a, b| a.on < b.on) {
            return Err(broken("its editions are not in the order of their days".to_owned()));
        }
        Ok(read)
    }

    /// Adds an edition; one of the same day gives way.
    /// Errors: a later edition is there already.
    pub(super) fn add(&mut self, edition: Edition) -> Result<(), Problem> {
        (self.format, self.version) = (FORMAT.to_owned(), VERSION);
        self.editions.retain(|e| e.on != edition.on);
        if let Some(later) = self.editions.last().filter(|e| e.on > edition.on) {
            let message = format!("there is an edition of {} already", later.on);
            return Err(Problem::new(message)
                .help("publish older editions first, each with --as-of, into a new folder"));
        }
        self.editions.push(edition);
        if self.editions.len() > MOST {
            self.editions.remove(0);
        }
        Ok(())
    }

    /// The file's text.
    pub(super) fn text(&self) -> Result<String, Problem> {
        serde_json::to_string_pretty(self)
            .map(|text| crate::app::report::escape::inert_json(&text) + "\n")
            .map_err(|e| Problem::new(format!("the edition cannot be kept: {e}")))
    }
}
