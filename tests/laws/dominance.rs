//! Parts that others dominate are not looked at in a search: what it finds is the same with them.

use std::fmt::Write as _;

use dryfit::inside::build::brief::Brief;
use dryfit::inside::kit::Kit;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::plan::{Plan, plan};
use dryfit::inside::whatif::search::SearchLimits;
use jiff::civil::date;
use proptest::prelude::*;

use crate::runs;
use crate::scripts::{catalogue, script, widget};
use crate::search::{layers, limits};

/// Random sets of rules, each with a catalogue and a brief of its own.
const SETS: u32 = 2_000;
/// Kinds of widgets, each of which is there so often under other names.
const ALIKE: usize = 4;

const AIMS: [&str; 6] = [
    "minimise = \"price\"",
    "minimise = \"m.load\"",
    "maximise = \"m.load\"",
    "maximise = \"m.legs\"\nminimise = \"m.load\"",
    "minimise = \"build.sum(\\\"a_w\\\") * 2 - build.total\"",
    "maximise = [\"build.sum(\\\"c_mm\\\") * 3\", \"m.load\"]",
];
const WANTS: [&str; 5] = [
    "build.sum(\"a_w\") > 4",
    "build.all(\"widget\").some(|w| w.lit)",
    "measure(\"m.load\") <= 20",
    "build.all(\"widget\").all(|w| w.c_mm * 2 <= 9)",
    "build.sum(\"a_w\") * build.sum(\"c_mm\") <= 60",
];

/// An offer for each widget and box, of three sellers that ship on terms of their own.
fn offers(prices: &[u32], widgets: usize) -> String {
    let mut out = String::from("part,seller,seen_on,price,currency,shipping,stock\n");
    let ids = (0..widgets).map(|n| format!("widget/w{n}"));
    let ids = ids.chain((0..3).map(|n| format!("box/b{n}")));
    for (id, price) in ids.zip(prices.iter().cycle()) {
        for (seller, of, shipping) in [("The Shed", 5, 0), ("Quay", 2, 2), ("Mole", 3, 3)] {
            if price % of != 1 {
                let _ = writeln!(out, "{id},{seller},2026-11-01,{price}.00,EUR,{shipping}.00,9");
            }
        }
    }
    out
}

/// What a plan says, without which of several lists that are as good it names.
fn said(plan: &Plan) -> String {
    let mut out =
        format!("{} {} {} {:?}\n", plan.proven, plan.front_proven, plan.cautioned, plan.left_out);
    for (what, answers) in [("best", &plan.best), ("front", &plan.front)] {
        for answer in answers {
            let _ = writeln!(out, "{what} {:?} {}", answer.values, answer.total.minor());
        }
    }
    for cost in &plan.costs {
        let _ = writeln!(out, "without {:?}: {:?} {}", cost.of, cost.gain, cost.proven);
    }
    let ways = plan.ways_out.iter();
    for way in ways {
        let reach = way.reach.as_ref().map(|r| r.value);
        let _ = writeln!(out, "way out {:?} {reach:?} {}", way.of, way.total.minor());
    }
    out
}

proptest! {
    #![proptest_config(runs::config(SETS))]
    #[test]
    fn a_plan_says_the_same_with_dominated_parts_and_without(
        widgets in prop::collection::vec(widget(0), ALIKE),
        again in 1..4usize,
        rules in script(),
        few in 0..4usize,
        prices in prop::collection::vec(2..9u32, 15),
        open in 1..4usize,
        boxed in any::<bool>(),
        budget in prop::option::of(4..40u32),
        aim in prop::sample::select(&AIMS[..]),
        want in prop::option::of(prop::sample::select(&WANTS[..])),
        cautions in any::<bool>(),
    ) {
        let all: Vec<String> = (0..ALIKE * again)
            .map(|n| widgets[n % ALIKE].replacen("[w0]", &format!("[w{n}]"), 1))
            .filter(|text| !text.contains("widget/w0"))
            .collect();
        let rules: String = rules.split_inclusive("\n}\n").take(few).collect();
        let layers = layers(&rules);
        let catalogue = catalogue(&all, &offers(&prices, ALIKE * again));
        let kit = || Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
        let mut text = format!("{aim}\n");
        if cautions { text.push_str("tolerate = \"caution\"\n"); }
        if let Some(budget) = budget { let _ = writeln!(text, "budget = \"{budget}.00 EUR\""); }
        if let Some(want) = want { let _ = writeln!(text, "wants = [{want:?}]"); }
        for n in 0..open { let _ = writeln!(text, "[[line]]\nany = \"widget\"\ncount = {}", n % 2 + 1); }
        if boxed { text.push_str("[[line]]\nany = \"box\"\n"); }
        let source = Source::new("brief.toml", text.as_str());
        let brief = Brief::parse(&source, &catalogue, date(2026, 11, 20)).expect("the brief reads");
        let by = |after: u64| {
            let mut limits: SearchLimits<'_> = limits();
            limits.dominance_after = after;
            plan(&kit(), &layers, &brief, limits).map(|plan| said(&plan)).map_err(|e| e.to_string())
        };
        let never = by(u64::MAX);
        for after in [0, 3] {
            prop_assert_eq!(&by(after), &never, "{}\n{}\n{}", rules, text, all.concat());
        }
    }
}
