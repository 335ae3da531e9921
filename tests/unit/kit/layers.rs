use super::Layers;
use crate::kit::Kit;
use crate::layer::Layer;
use crate::source::Source;

type Files<'a> = &'a [(&'a str, &'a str)];

/// What is told of the program's rules under a shop's layers. Where all is to be looked
/// through, their texts are others that say the same.
fn told(all: bool, rules: Files<'_>, catalogue: Files<'_>) -> Vec<String> {
    let mut own = Layer::built_in_rules();
    for (_, source) in own.files.iter_mut().filter(|(below, _)| below.ends_with(".rhai")) {
        let end = if all { "\n" } else { "" };
        *source = Source::new(source.name.clone(), format!("{}{end}", source.text));
    }
    let layers = Layers::new(
        vec![Layer::built_in_catalogue(), Layer::from_texts("shop", catalogue)],
        vec![own, Layer::from_texts("shop", rules)],
    );
    let set = Kit::load(&layers).expect("it loads").rules();
    let problems = set.problems().chain(set.warnings.iter().cloned());
    let places =
        |p: &crate::source::Problem| -> Vec<_> { p.labels.iter().map(|l| l.span).collect() };
    problems.map(|p| format!("{p} {:?}", places(&p))).collect()
}

#[test]
fn what_the_program_carries_is_sound() {
    assert_eq!(told(true, &[], &[]), Vec::<String>::new());
    assert_eq!(told(false, &[], &[]), Vec::<String>::new());
}

#[test]
fn under_a_shops_layers_the_same_is_told_as_where_all_is_looked_through() {
    let kind = "kind = \"supply\"\n[field.rated_w]\ntype = \"number\"\nunit = \"mm\"\n";
    let rule = "/// T.\nfn t(build) { if build.nothing > 1 { stop(\"x\"); } }";
    let measure = "/// T.\nfn sustained_draw(build) { if build.total > 1 { stop(\"x\"); } }";
    let unit = "[power.smallest_w]\nvalue = 450\nunit = \"mm\"\n";
    let variants: [(Files<'_>, Files<'_>, bool); 6] = [
        (&[("own.rhai", rule)], &[], true),
        (&[("power.rhai", measure)], &[], true),
        (&[("lib/own.rhai", "fn f(x) { nothing(x) }")], &[], true),
        (&[("settings.toml", unit)], &[], true),
        (&[], &[("kinds/supply.toml", kind)], true),
        (&[("own.rhai", "/// T.\n/// Unit: W\nfn t(build) { 1 }")], &[], false),
    ];
    for (rules, catalogue, wrong) in variants {
        let short = told(false, rules, catalogue);
        assert_eq!(short, told(true, rules, catalogue), "{rules:?} {catalogue:?}");
        assert_eq!(short.is_empty(), !wrong, "{rules:?} {catalogue:?}: {short:?}");
    }
}
