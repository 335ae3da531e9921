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
        .filter(|r| r.unit.is_none() && r.step.is_none() && r.remedy.is_empty())
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
        catalogue.kinds.len() >= 15 && catalogue.parts().len() >= 250,
        "{} kinds, {} parts",
        catalogue.kinds.len(),
        catalogue.parts().len()
    );
    let sockets: std::collections::BTreeSet<String> = catalogue
        .parts()
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

/// Fields that no rule needs: they say which part it is, or stand on the sheet for people.
const FOR_PEOPLE: &[&str] = &[
    "maker",
    "manual",
    "includes",
    "board.chipset",
    "board.width_mm",
    "chassis.front_leads.label",
    "chassis.shroud",
    "chassis.width_mm",
    "display.diagonal_in",
    "fan.rpm",
    "input.wireless",
    "optical.writes",
    "paste.grams",
    "paste.w_per_mk",
    "processor.threads",
    "sound.jack",
    "storage.write_mbps",
    "supply.fan_mm",
];

/// Names of fields, those of records behind a point.
fn names(fields: &toml::Table, before: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for (name, field) in fields {
        let path = format!("{before}{name}");
        found.push((path.clone(), name.clone()));
        if let Some(below) = field.get("field").and_then(toml::Value::as_table) {
            found.extend(names(below, &format!("{path}.")));
        }
    }
    found
}

/// What the catalogue asks for, a rule, a host figure or a person reads; else it is not worth
/// asking.
#[test]
fn every_field_is_read() {
    let rules = Layer::built_in_rules();
    let scripts = rules.files.iter().filter(|(below, _)| below.ends_with(".rhai"));
    let code = scripts.flat_map(|(_, source)| source.text.lines().map(str::trim_start));
    let mut code: String =
        code.filter(|line| !line.starts_with("//")).flat_map(|line| [line, "\n"]).collect();
    code.push_str(include_str!("../src/build/chambers.rs"));
    let word = |c: char| c.is_alphanumeric() || c == '_';
    let is_read = |name: &str| {
        code.match_indices(&format!(".{name}"))
            .any(|(at, found)| !code[at + found.len()..].starts_with(word))
            || code.contains(&format!("\"{name}\""))
            || code.contains(&format!("{name}_days"))
    };
    let catalogue = Layer::built_in_catalogue();
    let kinds = catalogue.files.iter().filter(|(below, _)| below.starts_with("kinds/"));
    let (mut unread, mut known) = (Vec::new(), Vec::new());
    for (below, source) in kinds {
        let kind: toml::Table = source.text.parse().expect("a kind is TOML");
        let title = kind.get("kind").and_then(toml::Value::as_str).expect("it has a name");
        let own = if title == "*" { String::new() } else { format!("{title}.") };
        let fields = kind.get("field").and_then(toml::Value::as_table).expect(below);
        for (path, name) in names(fields, &own) {
            let for_people = FOR_PEOPLE.iter().any(|held| {
                path == *held || path.strip_prefix(held).is_some_and(|rest| rest.starts_with('.'))
            });
            if for_people {
                known.push(path);
            } else if !is_read(&name) {
                unread.push(path);
            }
        }
    }
    assert_eq!(unread, Vec::<String>::new(), "no rule reads these");
    for held in FOR_PEOPLE {
        assert!(known.iter().any(|path| path == held), "{held} is no field any more");
    }
}
