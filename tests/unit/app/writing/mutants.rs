use super::*;

fn becomes(script: &str) -> Vec<String> {
    let layer = Layer::from_texts("shop", &[("a.rhai", script)]);
    mutants(&layer, &Settings::default(), None).into_iter().map(|m| m.becomes).collect()
}

#[test]
fn comparisons_numbers_and_joints_are_nudged() {
    assert_eq!(
        becomes("fn a(build) { build.x < 3 && y >= 0.5 }"),
        ["<=", "4", "2", "||", ">", "0.55", "0.45"]
    );
    assert_eq!(becomes("fn a(build) { f(|| 0) != 200 } // 7 < 8"), ["1", "==", "220", "180"]);
}

#[test]
fn a_planted_mutant_changes_its_place_only() {
    let layer = Layer::from_texts("shop", &[("a.rhai", "fn a(b) { b.x < 3 }")]);
    let planted: Vec<String> = mutants(&layer, &Settings::default(), None)
        .iter()
        .filter_map(|m| m.planted(&layer).files.first().map(|(_, s)| s.text.clone()))
        .collect();
    assert_eq!(planted, ["fn a(b) { b.x <= 3 }", "fn a(b) { b.x < 4 }", "fn a(b) { b.x < 2 }"]);
}
