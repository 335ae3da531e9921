//! The most important law: an audit from memory says, byte for byte, what an audit that runs every
//! script says.
//!
//! Random catalogues, random rule scripts, random builds. The scripts use every kind of word that
//! leaves a trace.

use std::fmt::Write as _;
use std::sync::Arc;

use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Audit, Kit, Layers};
use dryfit::inside::source::Source;
use jiff::civil::date;
use proptest::prelude::*;

use crate::random;
use crate::scripts::{catalogue, kit, script, widget};
use crate::{runs, share};

/// Random builds that meet the shipped rules.
const SHIPPED: u32 = 120;
/// Builds a set of rules meets.
const BUILDS: usize = 24;
/// What a memory may hold that forgets all the time.
const LITTLE: usize = 60;
/// Sets of rules.
const SETS: u32 = 400;

fn build() -> impl Strategy<Value = String> {
    let line = (
        0..5usize,
        1..4u32,
        any::<bool>(),
        prop::option::of(prop::sample::select(&["front", "rear"][..])),
    );
    (
        prop::collection::vec(line, 0..4),
        prop::option::of(0..3usize),
        prop::option::of(1..9u32),
        0..5i32,
        prop::bool::weighted(0.1),
    )
        .prop_map(|(lines, boxed, budget, room, open)| {
            let mut out = format!("room_c = {room}\n");
            if let Some(budget) = budget {
                let _ = writeln!(out, "budget = \"{budget}.00 EUR\"");
            }
            for (part, count, owned, mount) in lines {
                let _ = writeln!(
                    out,
                    "[[line]]\npart = \"widget/w{part}\"\ncount = {count}\nowned = {owned}"
                );
                if let Some(mount) = mount {
                    let _ = writeln!(out, "mount = \"{mount}\"");
                }
            }
            if let Some(boxed) = boxed {
                let _ = writeln!(out, "[[line]]\npart = \"box/b{boxed}\"");
            }
            if open {
                out.push_str("[[line]]\nany = \"widget\"\n");
            }
            if !out.contains("[[line]]") {
                out.push_str("[[line]]\npart = \"box/b0\"\n");
            }
            out
        })
}

/// Everything that an audit says.
fn said(audit: &Audit) -> String {
    let mut out = String::new();
    for f in audit.findings() {
        let _ = writeln!(out, "{} {} {} {:?}", f.level, f.rule, f.message, f.margin);
        for p in f.pointers {
            let _ = writeln!(
                out,
                "  {} {} {:?}",
                p.place,
                p.value,
                p.label.map(|l| (l.source.name.clone(), l.span))
            );
        }
    }
    for m in audit.measures() {
        let _ = writeln!(out, "{} {:?}", m.id, m.value.map(f64::to_bits));
    }
    for b in audit.broken() {
        let _ = writeln!(out, "{b}");
    }
    let _ = writeln!(out, "{:?}", audit.waiting());
    out
}

fn audit_text(kit: &Kit, text: &str) -> String {
    let build = kit.read(&Source::new("build", text), date(2026, 11, 20)).expect("the build reads");
    said(&kit.audit(&build))
}

proptest! {
    #![proptest_config(runs::config(SETS))]
    #[test]
    fn memory_equals_fresh(
        widgets in (widget(0), widget(1), widget(2), widget(3), widget(4)),
        rules in script(),
        builds in prop::collection::vec(build(), BUILDS),
    ) {
        let widgets = [widgets.0, widgets.1, widgets.2, widgets.3, widgets.4];
        let catalogue = catalogue(&widgets, "");
        let (with, without) = (kit(&catalogue, &rules), kit(&catalogue, &rules));
        prop_assert!(with.rules().broken.is_empty(), "{:?}\n{rules}", with.rules().broken);
        without.remember(false);
        // Memory that may hold next to nothing, and nothing from one audit to the next.
        let (little, none) = (kit(&catalogue, &rules), kit(&catalogue, &rules));
        little.limit_memory(LITTLE);
        none.limit_memory(0);
        let few = kit(&catalogue, &rules);
        few.limit_expressions(0);
        for text in &builds {
            let (known, fresh) = (audit_text(&with, text), audit_text(&without, text));
            prop_assert_eq!(&known, &fresh, "{}\n{}", rules, text);
            prop_assert_eq!(&audit_text(&little, text), &fresh, "after forgetting: {}\n{}", rules, text);
            prop_assert_eq!(&audit_text(&none, text), &fresh, "with nothing kept: {}\n{}", rules, text);
            prop_assert_eq!(&audit_text(&few, text), &fresh, "after its expressions were forgotten: {}\n{}", rules, text);
            prop_assert!(little.memory_weight() <= LITTLE + none.memory_weight(), "memory passes its bound by more than one audit adds");
            let runs = with.script_runs();
            prop_assert_eq!(&audit_text(&with, text), &fresh);
            // What is known needs no script; only broken rules are run again, to say again what is
            // wrong.
            prop_assert!(with.script_runs() == runs || fresh.contains("is broken") || fresh.contains("(\"a."));
            prop_assert!(!known.contains("answered otherwise"), "{}\n{}\n{}", known, rules, text);
        }
    }
}

/// The same law for the shipped rules over random lists of the shipped catalogue.
#[test]
fn memory_equals_fresh_for_the_shipped_rules() {
    let layers = Layers::built_in();
    let catalogue = Arc::new(Catalogue::load(&layers.catalogue).expect("the catalogue loads"));
    let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
    let head = "purpose = \"games\"\nbudget = \"1500.00 EUR\"\nhours_per_day = 5\nelectricity = \"0.31 EUR\"\nyears = 5\n[[line]]\npart = \"supply/tarn-650\"\n";
    let base = kit.read(&Source::new("random", head), date(2026, 11, 20)).expect("it reads");
    let all: Vec<u16> = (0u16..).take(kit.rules().rules.len()).collect();
    let mut numbers = random::Random(11);
    let builds: Vec<_> = (0..share::of(SHIPPED))
        .map(|_| {
            std::rc::Rc::new(Resolved::new(
                Arc::new(random::random_build(&catalogue, &mut numbers, &base)),
                catalogue.clone(),
            ))
        })
        .collect();
    let mut known = Vec::new();
    for build in &builds {
        let first = said(&kit.audit_with(build, &all));
        // A second time everything is known.
        let runs = kit.script_runs();
        assert_eq!(said(&kit.audit_with(build, &all)), first);
        assert_eq!(kit.script_runs(), runs, "{first}");
        known.push(first);
    }
    kit.remember(false);
    for (build, known) in builds.iter().zip(&known) {
        assert_eq!(&said(&kit.audit_with(build, &all)), known);
    }
    kit.remember(true);
    let met = kit.expressions();
    kit.limit_expressions(0);
    for (build, known) in builds.iter().zip(&known) {
        let audit = kit.audit_with(build, &all);
        let others = kit.audit_with(&builds[0], &all);
        // Nothing is forgotten while the first is kept: it says the same after the second.
        assert_eq!(said(&others), said(&kit.audit_with(&builds[0], &all)));
        assert_eq!(&said(&audit), known);
        assert!(kit.expressions() < met, "expressions of two lists at the most, of {met}");
    }
}
