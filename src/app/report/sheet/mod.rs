//! The sheet: one page that goes with the build to the office, the bench and the customer.
//!
//! Everything on it is worked out before the template sees it; the template only sets it out. Names
//! are data: what acts is made inert, HTML is escaped, and what is too long for paper is cut.

mod air;
mod bench;
mod customer;
mod draw;
mod findings;
mod lanes;
mod mixtures;
mod parts;
mod power;
mod prices;
mod queries;
mod wires;

use minijinja::value::ValueKind;
use minijinja::{Environment, Output, State, Value, escape_formatter};
use serde::Serialize;

use crate::app::counted::count;
use crate::app::prices::shopping::{OrderWords, Shopping};
use crate::app::report::{Audited, escape::inert};
use crate::kit::{Audit, Kit};
use crate::level::Level;
use crate::source::Problem;
use crate::words::clip;
pub use mixtures::Mixed;
use queries::Look;

const TEMPLATES: &[(&str, &str)] = &[
    ("sheet.html", include_str!("page/sheet.html")),
    ("office.html", include_str!("page/office.html")),
    ("bench.html", include_str!("page/bench.html")),
    ("customer.html", include_str!("page/customer.html")),
    ("pieces.html", include_str!("page/pieces.html")),
    ("sheet.css", include_str!("page/sheet.css")),
];

/// The whole page.
#[derive(Debug, Serialize)]
struct Page {
    version: &'static str,
    leaves: Vec<Leaf>,
    job: Job,
    verdict: Verdict,
    parts: parts::Parts,
    orders: Vec<OrderWords>,
    ordered: String,
    findings: findings::Groups,
    pictures: Vec<draw::Picture>,
    missing: Vec<String>,
    bench: bench::Bench,
    customer: customer::Customer,
}

/// What the job is.
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
    word: &'static str,
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

/// Writes the sheet of an audited build, as one HTML page: these leaves, or all where none is
/// named; with a picture of its mixtures with another list if there are some.
///
/// # Errors
/// The page's own template fails, which no input should bring about.
pub fn sheet(
    kit: &Kit,
    audit: &Audit,
    file: &str,
    mixed: Option<&Mixed<'_>>,
    leaves: &[Leaf],
) -> Result<String, Problem> {
    let audited = Audited::with_causes(audit);
    let look = Look { kit, audited: &audited, build: audit.build().clone() };
    let mut page = page(&look, file, mixed);
    page.leaves.retain(|leaf| leaves.is_empty() || leaves.contains(leaf));
    let failed = |e: &minijinja::Error| Problem::new(format!("the sheet's template fails: {e}"));
    environment()
        .and_then(|env| env.get_template("sheet.html")?.render(&page))
        .map_err(|e| failed(&e))
}

fn environment() -> Result<Environment<'static>, minijinja::Error> {
    let mut env = Environment::new();
    env.set_trim_blocks(true);
    env.set_lstrip_blocks(true);
    env.set_formatter(format);
    for (name, text) in TEMPLATES {
        env.add_template(name, text)?;
    }
    Ok(env)
}

/// Every value on its way to the page: letters that act are made inert, then HTML is escaped.
fn format(
    out: &mut Output<'_>,
    state: &State<'_, '_>,
    value: &Value,
) -> Result<(), minijinja::Error> {
    match value.as_str() {
        Some(text) if value.kind() == ValueKind::String && !value.is_safe() => {
            escape_formatter(out, state, &Value::from(draw::settled(&inert(text))))
        }
        _ => escape_formatter(out, state, value),
    }
}

fn page(look: &Look<'_>, file: &str, mixed: Option<&Mixed<'_>>) -> Page {
    let seats = lanes::seats(look);
    let mut drawn: Vec<(&str, Option<draw::Picture>)> = vec![
        ("power", power::power(look)),
        ("efficiency", power::efficiency(look)),
        ("air", air::air(look)),
        ("front leads", wires::front(look)),
        ("the supply's plugs", wires::supply(look)),
        ("memory sockets", wires::memory(look)),
        ("lanes and ports", seats.as_ref().and_then(|s| lanes::lanes(look, s))),
        ("earlier prices", prices::prices(look)),
    ];
    // A picture that nobody asked for is not missing.
    drawn.extend(mixed.map(|mixed| ("mixtures", mixtures::mixtures(look, mixed))));
    let shopping = Shopping::new(&look.build);
    let missing =
        drawn.iter().filter(|(_, p)| p.is_none()).map(|(name, _)| (*name).to_owned()).collect();
    Page {
        version: env!("CARGO_PKG_VERSION"),
        leaves: vec![Leaf::Office, Leaf::Bench, Leaf::Customer],
        job: job(look, file),
        verdict: verdict(look.audited),
        parts: parts::parts(look),
        orders: orders(&shopping),
        ordered: shopping.closing().unwrap_or_default(),
        findings: findings::groups(look),
        pictures: drawn.into_iter().filter_map(|(_, p)| p).collect(),
        missing,
        bench: bench::bench(look),
        customer: customer::customer(look),
    }
}

/// The orders, cut to what paper holds.
fn orders(shopping: &Shopping<'_>) -> Vec<OrderWords> {
    let mut orders = shopping.words();
    for order in &mut orders {
        order.seller = clip(&order.seller, queries::NAME);
        order.returns = clip(&order.returns, queries::NAME);
        for row in &mut order.rows {
            row.name = clip(&row.name, queries::NAME);
            row.notes = clip(&row.notes, 2 * queries::NAME);
        }
    }
    orders
}

fn job(look: &Look<'_>, file: &str) -> Job {
    let audited = look.audited;
    let number = |field: &str, unit: &str| {
        look.build_num(field).map_or_else(String::new, |n| format!("{n} {unit}"))
    };
    let mut facts =
        vec![("For", look.build_text("customer")), ("Purpose", look.build_text("purpose"))];
    if let Some(hours) = look.build_num("hours_per_day") {
        facts.push((
            "In use",
            format!("{hours} h a day, {}", number("days_per_year", "days a year")),
        ));
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
    Job {
        title: clip(&audited.title, queries::NAME),
        file: clip(file, queries::NAME),
        priced_on: audited.priced_on.to_string(),
        facts,
        total: look.money(audited.total),
        budget: audited.budget.map(|b| look.money(b)),
        left,
    }
}

fn verdict(audited: &Audited) -> Verdict {
    let stops = audited.at(Level::Stop).count();
    let (word, look) = match audited.code {
        0 if !audited.open.is_empty() => ("Not complete", "caution"),
        0 => ("May be built", "clear"),
        1 => ("Do not build", "stop"),
        _ => ("No verdict", "stop"),
    };
    let mut tally = Vec::new();
    match (audited.broken.len(), stops) {
        (0, 0) => tally.push("nothing stops it".to_owned()),
        (0, n) => tally.push(count(n, "stop")),
        (n, _) => tally.push(if n == 1 {
            "1 rule is broken".to_owned()
        } else {
            format!("{n} rules are broken")
        }),
    }
    if !audited.open.is_empty() {
        tally.push(format!("left open: {}", clip(&audited.open.join(", "), queries::NAME)));
    }
    for (n, noun) in [
        (audited.at(Level::Caution).count(), "caution"),
        (audited.at(Level::Advice).count(), "advice"),
    ] {
        if n > 0 {
            tally.push(count(n, noun));
        }
    }
    let waived = audited.waived().count();
    if waived > 0 {
        tally.push(format!("{waived} waived"));
    }
    Verdict { word, look, tally: tally.join(", ") }
}
