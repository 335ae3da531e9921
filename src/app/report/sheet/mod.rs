//! The sheet: one page that goes with the build to the office, the bench and the customer.
//!
//! Everything on it is worked out before the template sees it; the template only sets it out. Names
//! are data: what acts is made inert, HTML is escaped, and what is too long for paper is cut.

mod air;
mod bench;
mod customer;
pub(crate) mod draw;
mod findings;
mod lanes;
pub(crate) mod letterhead;
mod mixtures;
mod parts;
mod power;
mod queries;
mod wires;

use minijinja::Environment;
use serde::Serialize;

use crate::app::counted::capitalised;
use crate::app::prices::charge::{Charge, charge};
use crate::app::report::glance::{counts, verdict as ruling};
use crate::app::report::{Audited, escape::inert, templates};
use crate::build::orders::{Orders, orders};
use crate::config::Config;
use crate::kit::{Audit, Kit, Ruling};
use crate::source::Problem;
use crate::words::clip;
pub use mixtures::Mixed;
use queries::Look;

const TEMPLATES: &[(&str, &str)] = &[
    ("sheet.html", include_str!("page/sheet.html")),
    ("office.html", include_str!("page/office.html")),
    ("bench.html", include_str!("page/bench.html")),
    ("customer.html", include_str!("page/customer.html")),
    ("edition.html", include_str!("page/edition.html")),
    ("pieces.html", include_str!("page/pieces.html")),
    ("sheet.css", include_str!("page/sheet.css")),
];

#[derive(Debug, Serialize)]
struct Page {
    version: &'static str,
    leaves: Vec<Leaf>,
    /// What stands at the head of each printed page, safe in a style sheet.
    running: String,
    shop: letterhead::Letterhead,
    job: Job,
    verdict: Verdict,
    parts: parts::Parts,
    /// The price to pay step by step, where the shop has one of its own.
    price: Vec<(String, String)>,
    pay: String,
    findings: findings::Groups,
    pictures: Vec<draw::Picture>,
    missing: Vec<&'static str>,
    bench: bench::Bench,
    customer: customer::Customer,
}

#[derive(Debug, Serialize)]
struct Job {
    title: String,
    file: String,
    priced_on: String,
    /// Name and value of what the build says of itself.
    facts: Vec<(&'static str, String)>,
    total: String,
    budget: Option<String>,
    left: Option<String>,
}

/// May it be built?
#[derive(Debug, Serialize)]
struct Verdict {
    word: String,
    look: &'static str,
    tally: String,
}

/// One of the sheet's leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Leaf {
    /// Findings, parts and orders, for those who buy and answer for it
    Office,
    /// The order of work; withheld while anything stops
    Bench,
    /// What it costs and what to mind
    Customer,
}

pub struct Sheet<'a> {
    /// The rules and parts.
    pub kit: &'a Kit,
    pub audit: &'a Audit,
    /// The list's file name.
    pub file: &'a str,
    /// Its mixtures with another list, to be drawn too.
    pub mixed: Option<&'a Mixed<'a>>,
    /// The leaves wanted; all where none is named.
    pub leaves: &'a [Leaf],
    /// The shop's letterhead and price.
    pub config: &'a Config,
}

/// Writes the sheet of an audited build, as one HTML page.
/// Errors: the shop's logo or price is wrong, or the page's own template fails, which no input
/// should bring about.
pub fn sheet(of: &Sheet<'_>) -> Result<String, Problem> {
    let audited = Audited::with_causes(of.audit);
    let build = of.audit.build().clone();
    let look = Look { kit: of.kit, audited: &audited, build, shop: &of.config.shop };
    let orders = orders(&look.build);
    let charge = charge(of.config, &look.build, &orders)?;
    let mut page = page(&look, of, &orders, &charge)?;
    page.leaves.retain(|leaf| of.leaves.is_empty() || of.leaves.contains(leaf));
    let failed = |e: &minijinja::Error| Problem::new(format!("the sheet's template fails: {e}"));
    environment()
        .and_then(|env| env.get_template("sheet.html")?.render(&page))
        .map_err(|e| failed(&e))
}

/// The templates of the sheet; what is too long for paper is cut.
pub(crate) fn environment() -> Result<Environment<'static>, minijinja::Error> {
    templates::environment(TEMPLATES, |text| draw::settled(&inert(text)))
}

fn page(
    look: &Look<'_>,
    of: &Sheet<'_>,
    orders: &Orders,
    charge: &Charge,
) -> Result<Page, Problem> {
    let (power, air) = (power::power(look), air::air(look));
    let missing = [("power", power.is_none()), ("air", air.is_none())];
    let missing = missing.into_iter().filter(|(_, is)| *is).map(|(name, _)| name).collect();
    let drawn = [
        power,
        air,
        wires::front(look),
        wires::supply(look),
        lanes::seats(look).and_then(|seats| lanes::lanes(look, &seats)),
        wires::memory(look),
        of.mixed.and_then(|mixed| mixtures::mixtures(look, mixed)),
    ];
    let shop = letterhead::letterhead(look, of.file)?;
    let job = job(look, of.file);
    let steps = charge.steps.iter().map(|(what, m)| (what.clone(), look.amount(m)));
    Ok(Page {
        version: env!("CARGO_PKG_VERSION"),
        leaves: vec![Leaf::Office, Leaf::Bench, Leaf::Customer],
        running: letterhead::in_style(&match &shop.job {
            Some(number) => format!("{number}: {}", job.title),
            None => job.title.clone(),
        }),
        shop,
        job,
        verdict: verdict(look.audited),
        parts: parts::parts(look, orders),
        price: if look.shop.has_price() { steps.collect() } else { Vec::new() },
        pay: look.amount(&charge.pay),
        findings: findings::groups(look),
        pictures: drawn.into_iter().flatten().collect(),
        missing,
        bench: bench::bench(look),
        customer: customer::customer(look, charge, orders),
    })
}

fn job(look: &Look<'_>, file: &str) -> Job {
    let audited = look.audited;
    let number = |field: &str, unit: &str| {
        look.build_num(field).map_or_else(String::new, |n| look.figure(n, unit))
    };
    let mut facts =
        vec![("For", look.build_text("customer")), ("Purpose", look.build_text("purpose"))];
    if look.build_num("hours_per_day").is_some() {
        let days = number("days_per_year", "days a year");
        facts.push(("In use", format!("{} a day, {days}", number("hours_per_day", "h"))));
    }
    facts.extend([
        ("To serve", number("years", "years")),
        ("Warmest room", number("room_c", "°C")),
        ("Mains", number("mains_v", "V")),
    ]);
    facts.retain(|(_, value)| !value.is_empty());
    let left = audited.budget.map(|b| {
        if b >= audited.total {
            format!("{} left", look.money(b - audited.total))
        } else {
            format!("{} over", look.money(audited.total - b))
        }
    });
    let least = if audited.unpriced > 0 { "at least " } else { "" };
    let shipping = match audited.paid.shipping.minor() {
        0 => String::new(),
        _ => format!(", {} of it shipping", look.amount(&audited.paid.shipping)),
    };
    Job {
        title: clip(&audited.title, queries::NAME),
        file: clip(file, queries::NAME),
        priced_on: look.day(audited.priced_on),
        facts,
        total: format!("{least}{}{shipping}", look.money(audited.total)),
        budget: audited.budget.map(|b| look.money(b)),
        left,
    }
}

fn verdict(audited: &Audited) -> Verdict {
    let ruling = ruling(audited);
    let look = match ruling {
        Ruling::Build => "clear",
        Ruling::Care | Ruling::Open => "caution",
        Ruling::Stop | Ruling::Broken => "stop",
    };
    let mut tally = counts(audited, true);
    if !audited.open.is_empty() {
        tally.push_str(&format!("; left open: {}", clip(&audited.open.join(", "), queries::NAME)));
    }
    Verdict { word: capitalised(ruling.words()), look, tally }
}
