//! The shipped rule pack: every rule and measure says where it comes from, and every rule what
//! would clear it.

use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::Layer;

#[test]
fn every_rule_and_measure_has_its_basis() {
    let kit = Kit::load(&Layers::built_in()).expect("the kit loads");
    let rules = kit.rules();
    assert!(rules.broken.is_empty(), "{:?}", rules.broken);
    let without: Vec<&str> =
        rules.rules.iter().filter(|r| r.basis.is_empty()).map(|r| &*r.id).collect();
    assert!(without.is_empty(), "no basis: {without:?}");
    let hopeless: Vec<&str> = rules
        .rules
        .iter()
        .filter(|r| r.unit.is_none() && r.remedy.is_empty())
        .map(|r| &*r.id)
        .collect();
    assert!(hopeless.is_empty(), "no remedy: {hopeless:?}");
    let measures = rules.rules.iter().filter(|r| r.unit.is_some()).count();
    let count = rules.rules.len() - measures;
    assert!(count >= 80 && measures >= 30, "{count} rules and {measures} measures");
}

#[test]
fn every_setting_says_what_it_means_and_where_it_comes_from() {
    let settings =
        dryfit::inside::settings::Settings::load(&[Layer::built_in_rules()]).expect("they load");
    for setting in settings.all() {
        assert!(!setting.meaning.is_empty() && !setting.basis.is_empty(), "{}", setting.name);
    }
}

#[test]
fn the_catalogue_is_large_enough() {
    let kit = Kit::load(&Layers::built_in()).expect("the kit loads");
    let catalogue = kit.catalogue();
    assert!(
        catalogue.kinds.len() >= 15 && catalogue.parts.len() >= 250,
        "{} kinds, {} parts",
        catalogue.kinds.len(),
        catalogue.parts.len()
    );
    let sockets: std::collections::BTreeSet<String> = catalogue
        .parts
        .iter()
        .filter(|p| p.id.starts_with("board/"))
        .filter_map(|p| {
            catalogue
                .kind(p.kind)?
                .field("socket")
                .and_then(|(at, _)| p.values.get(at as usize))
                .map(dryfit::inside::catalogue::value::Val::show)
        })
        .collect();
    assert!(sockets.len() >= 3, "{sockets:?}");
}
