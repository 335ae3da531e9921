//! Figures that do not add exactly: a search adds as an audit does, in whatever order the lines and
//! the kinds stand, so neither refutes what the other accepts.

use std::fmt::Write as _;
use std::sync::Arc;

use dryfit::inside::build::brief::Brief;
use dryfit::inside::build::{Build, What};
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::plan::plan;
use jiff::civil::date;
use proptest::prelude::*;

use crate::runs;
use crate::search::limits;

const KINDS: [&str; 4] = ["anchor", "buoy", "cleat", "davit"];
/// Parts a kind.
const PARTS: usize = 3;

/// Tenths, thirds, tiny and huge ones, of either sign.
fn figure() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => (-99i32..999).prop_map(|n| f64::from(n) / 10.0),
        2 => (-99i32..99).prop_map(|n| f64::from(n) / 3.0),
        1 => (-9i32..9).prop_map(|n| f64::from(n) * 1e-9),
        1 => (-9i32..9).prop_map(|n| f64::from(n) * 1e11),
    ]
}

fn catalogue(figures: &[f64], boxed: &[bool]) -> Arc<Catalogue> {
    let mut files = Vec::new();
    let mut offers = String::from("part,seller,seen_on,price,currency,shipping,stock\n");
    for (at, kind) in KINDS.iter().enumerate() {
        let fields = "[field.load]\ntype = \"number\"\noptional = true\n[field.includes]\ntype = \
                      \"records\"\nabsent = []\n[field.includes.field.part]\ntype = \
                      \"text\"\nrequired = true\n[field.includes.field.count]\ntype = \"number\"\noptional = true\n";
        files.push((format!("kinds/{kind}.toml"), format!("kind = \"{kind}\"\n{fields}")));
        let mut parts = format!("kind = \"{kind}\"\ncomplete = true\n");
        for nth in 0..PARTS {
            let load = figures[at * PARTS + nth];
            let _ = write!(parts, "[p{nth}]\nname = \"{kind} {nth}\"\nload = {load:?}\n");
            // What comes in a box is of a later kind, so that no box is within itself.
            if let Some(other) = KINDS.get(at + 1).filter(|_| boxed[at * PARTS + nth]) {
                let _ = writeln!(parts, "includes = [{{ part = \"{other}/p0\", count = 2 }}]");
            }
            let price = at + nth * 2 + 1;
            let _ = writeln!(offers, "{kind}/p{nth},The Shed,2026-11-01,{price}.00,EUR,0.00,9");
        }
        files.push((format!("parts/{kind}.toml"), parts));
    }
    files.push(("offers/all.csv".to_owned(), offers));
    let files: Vec<(&str, &str)> = files.iter().map(|(n, t)| (n.as_str(), t.as_str())).collect();
    Arc::new(
        Catalogue::load(&[Layer::from_texts("test", &files)]).unwrap_or_else(|e| panic!("{e}")),
    )
}

proptest! {
    #![proptest_config(runs::config(400))]
    #[test]
    fn a_search_adds_as_an_audit_does(
        figures in prop::collection::vec(figure(), KINDS.len() * PARTS),
        boxed in prop::collection::vec(prop::bool::weighted(0.3), KINDS.len() * PARTS),
        lines in prop::collection::vec((0..KINDS.len(), 1..4u32, prop::option::of(0..PARTS)), 2..6),
        op in prop::sample::select(&["<", "<=", ">", ">=", "==", "!="][..]),
        held in any::<prop::sample::Index>(),
    ) {
        let catalogue = catalogue(&figures, &boxed);
        let rules = Layer::from_texts("rules", &[("m.rhai", "/// Load.\n/// Basis: none.\n/// Unit: kg\nfn load(build) { build.sum(\"load\") }\n")]);
        let layers = Layers::new(Vec::new(), vec![rules]);
        let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).unwrap_or_else(|e| panic!("{e}"));
        let mut list = String::new();
        for (kind, count, fixed) in &lines {
            let kind = KINDS[*kind];
            let what = fixed.map_or(format!("any = \"{kind}\""), |n| format!("part = \"{kind}/p{n}\""));
            let _ = writeln!(list, "[[line]]\n{what}\ncount = {count}");
        }
        let open = kit.read(&Source::new("list.toml", list.as_str()), date(2026, 11, 20)).unwrap();
        let mut builds = vec![open.clone()];
        for (at, line) in open.lines.iter().enumerate() {
            if let What::Open { kind, .. } = &line.what {
                let parts: Vec<_> = catalogue.parts_of(*kind).cloned().collect();
                builds = builds.iter().flat_map(|b| parts.iter().map(move |p| {
                    let mut build = b.clone();
                    build.lines[at].what = What::Part(p.clone());
                    build
                })).collect();
            }
        }
        // The limit is what one of the builds comes to, to the last digit.
        let load = |build: &Build| kit.audit(build).measures()[0].value.unwrap();
        let limit = load(held.get(&builds));
        let want = format!("build.sum(\"load\") {op} {limit:?}");
        let judge = format!("/// W.\n/// Basis: none.\nfn w(build) {{ if !({want}) {{ stop(\"no\", #{{}}); }} }}\n");
        let judge = Kit::with_catalogue(catalogue.clone(), &[Layer::from_texts("judge", &[("judge.rhai", judge.as_str())])]).unwrap_or_else(|e| panic!("{e}"));
        judge.remember(false);
        let passing: Vec<i64> = builds
            .iter()
            .map(|b| judge.audit(b))
            .filter(|audit| audit.worst() != Some(Level::Stop))
            .map(|audit| (audit.build().total() * 100.0).round() as i64)
            .collect();
        let text = format!("wants = [{want:?}]\n{list}");
        let brief = Brief::parse(&Source::new("brief.toml", text.as_str()), &catalogue, date(2026, 11, 20)).unwrap_or_else(|e| panic!("{e}"));
        let plan = plan(&kit, &layers, &brief, limits()).unwrap_or_else(|e| panic!("{e}"));
        let best = plan.best.first().map(|a| a.total.minor());
        prop_assert_eq!(best, passing.iter().min().copied(), "{} {:?}", text, figures);

        // No order of the lines changes a sum.
        for build in builds.iter().take(9) {
            let mut other = build.clone();
            other.lines.reverse();
            prop_assert_eq!(load(build).to_bits(), load(&other).to_bits());
        }
    }
}
