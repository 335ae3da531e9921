//! The most important law: an audit from memory says, byte for byte, what an audit that runs every script says.
//!
//! Random catalogues, random rule scripts, random builds. The scripts use every kind of word that leaves a trace.

use std::fmt::Write as _;
use std::sync::Arc;

use dryfit::build::resolve::Resolved;
use dryfit::catalogue::Catalogue;
use dryfit::kit::{Audit, Kit, Layers};
use dryfit::layer::Layer;
use dryfit::source::Source;
use jiff::civil::date;
use proptest::prelude::*;

#[path = "../common/random.rs"]
mod random;

/// Random builds that meet the shipped rules.
const SHIPPED: usize = 120;
/// Rules a set.
const RULES: usize = 8;
/// Builds a set of rules meets.
const BUILDS: usize = 24;
/// Sets of rules.
const SETS: u32 = 400;

const KINDS: &[(&str, &str)] = &[
    (
        "kinds/widget.toml",
        r#"kind = "widget"
[field.a_w]
type = "number"
required = true
[field.b_w]
type = "number"
[field.c_mm]
type = "number"
default = 3
[field.tag]
type = "text"
required = true
[field.hint]
type = "text"
[field.lit]
type = "flag"
default = false
[field.words]
type = "list"
default = []
[field.plugs]
type = "counts"
default = {}
[field.legs]
type = "records"
default = []
[field.legs.field.size]
type = "number"
required = true
[field.legs.field.tone]
type = "text"
"#,
    ),
    ("kinds/box.toml", "kind = \"box\"\nsingle = true\n[field.a_w]\ntype = \"number\"\nrequired = true\n[field.tag]\ntype = \"text\"\nrequired = true\n"),
    (
        "tables/shade.toml",
        "table = \"shade\"\nsource = \"made up\"\n[column.depth]\ntype = \"number\"\n[row.red]\ndepth = 4\n[row.blue]\ndepth = 7\n[row.grey]\n",
    ),
];

fn word() -> impl Strategy<Value = &'static str> {
    prop::sample::select(&["red", "blue", "grey"][..])
}

/// One widget as TOML.
fn widget(name: usize) -> impl Strategy<Value = String> {
    (
        0..6i32,
        prop::option::of(0..6i32),
        prop::option::of(0..6i32),
        word(),
        prop::option::of(word()),
        any::<bool>(),
        prop::collection::vec(word(), 0..3),
        0..4i32,
        prop::collection::vec((0..5i32, prop::option::of(word())), 0..3),
    )
        .prop_map(move |(a, b, c, tag, hint, lit, words, plugs, legs)| {
            let mut out =
                format!("[w{name}]\nname = \"Widget {name}\"\na_w = {a}\ntag = \"{tag}\"\nlit = {lit}\nwords = {words:?}\nplugs = {{ red = {plugs} }}\n");
            let legs: Vec<String> = legs
                .iter()
                .map(|(size, tone)| match tone {
                    Some(tone) => format!("{{ size = {size}, tone = \"{tone}\" }}"),
                    None => format!("{{ size = {size} }}"),
                })
                .collect();
            let _ = writeln!(out, "legs = [{}]", legs.join(", "));
            for (key, value) in [("b_w", b), ("c_mm", c)] {
                if let Some(value) = value {
                    let _ = writeln!(out, "{key} = {value}");
                }
            }
            if let Some(hint) = hint {
                let _ = writeln!(out, "hint = \"{hint}\"");
            }
            out
        })
}

/// A number in a script: `w` is a widget line, `leg` a record, `build` the build.
fn number() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        (0..8i32).prop_map(|n| n.to_string()),
        (0..8i32).prop_map(|n| format!("{n}.5")),
        Just("w.a_w".to_owned()),
        Just("w.c_mm".to_owned()),
        Just("(w.opt(\"b_w\") ?? 2)".to_owned()),
        Just("w.b_w".to_owned()),
        Just("w.count".to_owned()),
        Just("w.plugs[\"red\"]".to_owned()),
        Just("w.plugs[w.tag]".to_owned()),
        Just("build.sum(\"a_w\")".to_owned()),
        Just("build.count(\"widget\")".to_owned()),
        Just("build.room_c".to_owned()),
        Just("(build.budget)".to_owned()),
        Just("setting(\"limit\")".to_owned()),
        Just("measure(\"m.load\")".to_owned()),
        Just("measure(\"m.legs\")".to_owned()),
        Just("(table_opt(\"shade\", w.tag, \"depth\") ?? 1)".to_owned()),
        Just("table(\"shade\", w.tag, \"depth\")".to_owned()),
        Just("(build.box?.a_w ?? 0)".to_owned()),
        Just("build.all(\"widget\").len()".to_owned()),
        Just("w.words.len()".to_owned()),
        Just("w.a_w.to_int()".to_owned()),
        Just("total".to_owned()),
    ];
    leaf.prop_recursive(2, 6, 2, |inner| {
        prop_oneof![
            (inner.clone(), prop::sample::select(&["+", "-", "*", "/", "%"][..]), inner.clone()).prop_map(|(a, op, b)| format!("({a} {op} {b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("max({a} + 0.0, {b} + 0.0)")),
            inner.prop_map(|a| format!("abs({a} * 1.0)")),
        ]
    })
}

/// A yes or no in a script.
fn test() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        (number(), prop::sample::select(&["<", "<=", ">", ">=", "==", "!="][..]), number()).prop_map(|(a, op, b)| format!("{a} {op} {b}")),
        word().prop_map(|t| format!("w.tag == \"{t}\"")),
        word().prop_map(|t| format!("w.opt(\"hint\") == () || w.hint != \"{t}\"")),
        word().prop_map(|t| format!("\"{t}\" in w.words")),
        Just("w.tag in w.words".to_owned()),
        Just("w.tag in [\"red\", \"blue\"]".to_owned()),
        Just("w.lit".to_owned()),
        Just("w.owned".to_owned()),
        Just("w.has(\"b_w\")".to_owned()),
        Just("build.box == ()".to_owned()),
        Just("build.has(\"budget\")".to_owned()),
        Just("w.opt(\"mount\") == \"front\"".to_owned()),
        Just("w.words.words().some(|x| x == \"red\")".to_owned()),
        Just("build.all(\"widget\").all(|x| x.a_w < 5)".to_owned()),
        Just("`${w.tag}` == \"red\"".to_owned()),
        Just("`${w.a_w}` == \"3\"".to_owned()),
    ];
    leaf.prop_recursive(2, 4, 2, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) && ({b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) || ({b})")),
            inner.prop_map(|a| format!("!({a})")),
        ]
    })
}

fn statement() -> impl Strategy<Value = String> {
    let raise = (prop::sample::select(&["stop", "caution", "advice"][..]), number())
        .prop_map(|(level, n)| format!("{level}(\"{{w}} with {{n}} at {{tag}}\", #{{ w: w, n: {n}, tag: w.tag }});"));
    let add = number().prop_map(|n| format!("total += {n};"));
    let legs = number().prop_map(|n| {
        format!("for leg in w.legs {{ if leg.size > {n} {{ total += leg.size; caution(\"{{leg}} is {{size}}\", #{{ leg: leg, size: leg.size }}); }} }}")
    });
    let tones = word().prop_map(|t| format!("for leg in w.legs {{ if (leg.opt(\"tone\") ?? \"red\") == \"{t}\" {{ total += 1; }} }}"));
    let words = Just("for x in w.words { if x == w.tag { advice(\"{w} lists its own tag\", #{ w: w }); } }".to_owned());
    let leaf = prop_oneof![raise, add, legs, tones, words, Just("return;".to_owned()), Just("if w.lit { break; }".to_owned())];
    leaf.prop_recursive(2, 6, 2, |inner| {
        (test(), inner.clone(), prop::option::of(inner)).prop_map(|(t, a, b)| match b {
            Some(b) => format!("if {t} {{ {a} }} else {{ {b} }}"),
            None => format!("if {t} {{ {a} }}"),
        })
    })
}

fn script() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::collection::vec(statement(), 1..4), RULES).prop_map(|rules| {
        let mut out = String::new();
        for (at, body) in rules.iter().enumerate() {
            let _ = writeln!(out, "/// Rule {at}.\n/// Basis: none.\nfn r{at}(build) {{\n let total = 0.0;\n for w in build.all(\"widget\") {{\n  {}\n }}\n if total > 4 {{ advice(\"total {{t}}\", #{{ t: total }}); }}\n}}", body.join("\n  "));
        }
        out
    })
}

fn build() -> impl Strategy<Value = String> {
    let line = (0..5usize, 1..4u32, any::<bool>(), prop::option::of(prop::sample::select(&["front", "rear"][..])));
    (prop::collection::vec(line, 0..4), prop::option::of(0..3usize), prop::option::of(1..9u32), 0..5i32, prop::bool::weighted(0.1)).prop_map(
        |(lines, boxed, budget, room, open)| {
            let mut out = format!("room_c = {room}\n");
            if let Some(budget) = budget {
                let _ = writeln!(out, "budget = \"{budget}.00 EUR\"");
            }
            for (part, count, owned, mount) in lines {
                let _ = writeln!(out, "[[line]]\npart = \"widget/w{part}\"\ncount = {count}\nowned = {owned}");
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
        },
    )
}

const MEASURES: &str = "/// Load.\n/// Basis: none.\n/// Unit: W\nfn load(build) { build.sum(\"a_w\") * 1.5 }\n\
/// Legs.\n/// Basis: none.\n/// Unit: legs\nfn legs(build) { let n = 0; for w in build.all(\"widget\") { for leg in w.legs { if leg.size > 2 { n += 1; } } } if n > 5 { measure(\"load\") } else { n } }\n";

fn catalogue(widgets: &[String]) -> Arc<Catalogue> {
    let parts = format!("kind = \"widget\"\n{}", widgets.concat());
    let boxes = "kind = \"box\"\n[b0]\nname = \"Box 0\"\na_w = 0\ntag = \"red\"\n[b1]\nname = \"Box 1\"\na_w = 3\ntag = \"blue\"\n[b2]\nname = \"Box 2\"\na_w = 5\ntag = \"grey\"\n";
    let mut files = KINDS.to_vec();
    files.push(("parts/widget.toml", &parts));
    files.push(("parts/box.toml", boxes));
    Arc::new(Catalogue::load(&[Layer::from_texts("test", &files)]).expect("the catalogue is sound"))
}

fn kit(catalogue: &Arc<Catalogue>, rules: &str) -> Kit {
    let files = [("a.rhai", rules), ("m.rhai", MEASURES), ("settings.toml", "[limit]\nvalue = 3\n")];
    Kit::with_catalogue(catalogue.clone(), &[Layer::from_texts("rules", &files)]).expect("the rules load")
}

/// Everything that an audit says.
fn said(audit: &Audit) -> String {
    let mut out = String::new();
    for f in audit.findings() {
        let _ = writeln!(out, "{} {} {} {:?}", f.level, f.rule, f.message, f.margin);
        for p in f.pointers {
            let _ = writeln!(out, "  {} {} {:?}", p.place, p.value, p.label.map(|l| (l.source.name.clone(), l.span)));
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
    #![proptest_config(ProptestConfig { cases: SETS, max_shrink_iters: 400, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn memory_equals_fresh(
        widgets in (widget(0), widget(1), widget(2), widget(3), widget(4)),
        rules in script(),
        builds in prop::collection::vec(build(), BUILDS),
    ) {
        let widgets = [widgets.0, widgets.1, widgets.2, widgets.3, widgets.4];
        let catalogue = catalogue(&widgets);
        let (with, without) = (kit(&catalogue, &rules), kit(&catalogue, &rules));
        prop_assert!(with.rules().broken.is_empty(), "{:?}\n{rules}", with.rules().broken);
        without.remember(false);
        for text in &builds {
            let (known, fresh) = (audit_text(&with, text), audit_text(&without, text));
            prop_assert_eq!(&known, &fresh, "{}\n{}", rules, text);
            let runs = with.script_runs();
            prop_assert_eq!(&audit_text(&with, text), &fresh);
            // What is known needs no script; only broken rules are run again, to say again what is wrong.
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
    let head =
        "purpose = \"games\"\nbudget = \"1500.00 EUR\"\nhours_per_day = 5\nelectricity = \"0.31 EUR\"\nyears = 5\n[[line]]\npart = \"supply/tarn-650\"\n";
    let base = kit.read(&Source::new("random", head), date(2026, 11, 20)).expect("it reads");
    let all: Vec<u16> = (0u16..).take(kit.rules().rules.len()).collect();
    let mut numbers = random::Random(11);
    let builds: Vec<_> =
        (0..SHIPPED).map(|_| std::rc::Rc::new(Resolved::new(Arc::new(random::random_build(&catalogue, &mut numbers, &base)), catalogue.clone()))).collect();
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
}
