//! Where no rule and no aim tells parts apart, a plan takes the first by id, whatever the order of
//! the parts in their file and of the lines of different kinds in the brief.

use dryfit::inside::build::brief::Brief;
use dryfit::inside::kit::Kit;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::plan::plan;
use jiff::civil::date;
use proptest::prelude::*;

use crate::runs;
use crate::scripts::{catalogue, script, widget};
use crate::search::{layers, limits};
use crate::sellers::offers;

/// Random sets of rules, each with a catalogue in which some widgets are there twice.
const SETS: u32 = 400;

/// The same widget under another id.
fn twin(text: &str, from: usize, to: usize) -> String {
    text.replacen(&format!("[w{from}]"), &format!("[w{to}]"), 1).replacen(
        &format!("Widget {from}"),
        &format!("Widget {to}"),
        1,
    )
}

/// The parts of the best list of a brief, by id, in order of kind and line; none where no list
/// meets it.
fn best(widgets: &[String], prices: &[u32], rules: &str, brief: &str) -> Option<Vec<String>> {
    let catalogue = catalogue(widgets, &offers(prices));
    let layers = layers(rules);
    let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
    let source = Source::new("brief.toml", brief);
    let brief = Brief::parse(&source, &catalogue, date(2026, 11, 20)).expect("the brief reads");
    let plan = plan(&kit, &layers, &brief, limits()).ok()?;
    assert!(plan.proven);
    let mut ids: Vec<String> =
        plan.best.first()?.parts.iter().map(|(part, ..)| part.id.to_string()).collect();
    // The lines of one kind stay in their order, as rules see it.
    ids.sort_by(|a, b| a.split('/').next().cmp(&b.split('/').next()));
    Some(ids)
}

proptest! {
    #![proptest_config(runs::config(SETS))]
    #[test]
    fn twins_are_taken_by_id_in_any_order(
        widgets in (widget(0), widget(1), widget(2)),
        rules in script(),
        few in 1..4usize,
        prices in prop::collection::vec(1..9u32, 8),
        aim in prop::sample::select(&["minimise = \"price\"", "maximise = \"m.load\""][..]),
    ) {
        let mut widgets = vec![widgets.0, widgets.1, widgets.2];
        widgets.extend([twin(&widgets[0], 0, 3), twin(&widgets[1], 1, 4)]);
        let mut prices = prices;
        (prices[3], prices[4]) = (prices[0], prices[1]);
        let rules: String = rules.split_inclusive("\n}\n").take(few).collect();
        let widget = "[[line]]\nany = \"widget\"\n";
        let lines = [&*format!("{widget}{widget}count = 2\n"), "[[line]]\nany = \"box\"\n"];
        let text = |first: usize| format!("{aim}\n{}{}", lines[first], lines[1 - first]);
        let there = best(&widgets, &prices, &rules, &text(0));
        widgets.reverse();
        let back = best(&widgets, &prices, &rules, &text(1));
        prop_assert_eq!(&there, &back, "{}", rules);
        for id in there.into_iter().flatten() {
            prop_assert!(id != "widget/w3" && id != "widget/w4", "{} in\n{}", id, rules);
        }
    }
}
