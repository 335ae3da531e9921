//! Random catalogues and random rule scripts that use every kind of word that leaves a trace.

use std::fmt::Write as _;
use std::sync::Arc;

use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::Kit;
use dryfit::inside::layer::Layer;
use proptest::prelude::*;

/// Rules a set.
pub(crate) const RULES: usize = 8;

pub(crate) const KINDS: &[(&str, &str)] = &[
    (
        "kinds/widget.toml",
        r#"kind = "widget"
ranks = ["a_w", "-c_mm"]
[field.a_w]
type = "number"
min = -1e12
max = 1e12
[field.b_w]
type = "number"
min = 0
max = 6
optional = true
[field.c_mm]
type = "number"
min = 0
max = 6
absent = 3
[field.tag]
type = "text"
one_of = ["red", "blue", "grey"]
[field.hint]
type = "text"
one_of = ["red", "blue", "grey"]
optional = true
[field.lit]
type = "flag"
absent = false
[field.words]
type = "list"
absent = []
[field.plugs]
type = "counts"
absent = {}
[field.legs]
type = "records"
absent = []
[field.legs.field.size]
type = "number"
min = 0
max = 6
[field.legs.field.tone]
type = "text"
optional = true
[field.includes]
type = "records"
absent = []
stated = true
[field.includes.field.part]
type = "text"
required = true
[field.includes.field.count]
type = "number"
optional = true
"#,
    ),
    (
        "kinds/box.toml",
        "kind = \"box\"\nsingle = true\n[field.a_w]\ntype = \"number\"\nrequired = true\n[field.tag]\ntype = \"text\"\nrequired = true\n",
    ),
    (
        "tables/shade.toml",
        "table = \"shade\"\nsource = \"made up\"\n[column.depth]\ntype = \"number\"\n[row.red]\ndepth = 4\n[row.blue]\ndepth = 7\n[row.grey]\n",
    ),
];

pub(crate) fn word() -> impl Strategy<Value = &'static str> {
    prop::sample::select(&["red", "blue", "grey"][..])
}

/// A figure from 0 to 6, some such as do not add exactly.
fn figure() -> BoxedStrategy<f64> {
    prop_oneof![
        4 => (0..6i32).prop_map(f64::from),
        3 => (0..60i32).prop_map(|n| f64::from(n) / 10.0),
        1 => (0..18i32).prop_map(|n| f64::from(n) / 3.0),
        1 => (1..6i32).prop_map(|n| f64::from(n).next_down()),
        1 => (0..6i32).prop_map(|n| f64::from(n) * 1e-9),
    ]
    .boxed()
}

/// The same, some huge, some under zero.
fn wide_figure() -> BoxedStrategy<f64> {
    prop_oneof![
        8 => figure(),
        1 => (-60..0i32).prop_map(|n| f64::from(n) / 10.0),
        1 => (-6..6i32).prop_map(|n| f64::from(n) * 1e11),
    ]
    .boxed()
}

/// One widget as TOML.
pub(crate) fn widget(name: usize) -> impl Strategy<Value = String> {
    let (wide, figure) = (wide_figure(), figure());
    (
        wide,
        prop::option::of(figure.clone()),
        prop::option::of(figure.clone()),
        word(),
        prop::option::of(word()),
        any::<bool>(),
        prop::collection::vec(word(), 0..3),
        0..4i32,
        prop::collection::vec((figure, prop::option::of(word())), 0..3),
        prop::option::weighted(0.2, prop::sample::select(&["box/b1", "box/b2", "widget/w0"][..])),
    )
        .prop_map(move |(a, b, c, tag, hint, lit, words, plugs, legs, boxed)| {
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
            // No box is within itself.
            if let Some(boxed) = boxed.filter(|b| *b != format!("widget/w{name}")) {
                let _ = writeln!(out, "includes = [{{ part = \"{boxed}\", count = 2 }}]");
            }
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
pub(crate) fn number() -> impl Strategy<Value = String> {
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
            (inner.clone(), prop::sample::select(&["+", "-", "*", "/", "%"][..]), inner.clone())
                .prop_map(|(a, op, b)| format!("({a} {op} {b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("max({a} + 0.0, {b} + 0.0)")),
            inner.prop_map(|a| format!("abs({a} * 1.0)")),
        ]
    })
}

/// A yes or no in a script.
pub(crate) fn test() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        (number(), prop::sample::select(&["<", "<=", ">", ">=", "==", "!="][..]), number())
            .prop_map(|(a, op, b)| format!("{a} {op} {b}")),
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

pub(crate) fn statement() -> impl Strategy<Value = String> {
    let raise = (prop::sample::select(&["stop", "caution", "advice"][..]), number()).prop_map(
        |(level, n)| {
            format!("{level}(\"{{w}} with {{n}} at {{tag}}\", #{{ w: w, n: {n}, tag: w.tag }});")
        },
    );
    let add = number().prop_map(|n| format!("total += {n};"));
    let legs = number().prop_map(|n| {
        format!("for leg in w.legs {{ if leg.size > {n} {{ total += leg.size; caution(\"{{leg}} is {{size}}\", #{{ leg: leg, size: leg.size }}); }} }}")
    });
    let tones = word().prop_map(|t| {
        format!(
            "for leg in w.legs {{ if (leg.opt(\"tone\") ?? \"red\") == \"{t}\" {{ total += 1; }} }}"
        )
    });
    let words = Just(
        "for x in w.words { if x == w.tag { advice(\"{w} lists its own tag\", #{ w: w }); } }"
            .to_owned(),
    );
    let leaf = prop_oneof![
        raise,
        add,
        legs,
        tones,
        words,
        Just("return;".to_owned()),
        Just("if w.lit { break; }".to_owned())
    ];
    leaf.prop_recursive(2, 6, 2, |inner| {
        (test(), inner.clone(), prop::option::of(inner)).prop_map(|(t, a, b)| match b {
            Some(b) => format!("if {t} {{ {a} }} else {{ {b} }}"),
            None => format!("if {t} {{ {a} }}"),
        })
    })
}

pub(crate) fn script() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::collection::vec(statement(), 1..4), RULES).prop_map(|rules| {
        let mut out = String::new();
        for (at, body) in rules.iter().enumerate() {
            let _ = writeln!(out, "/// Rule {at}.\n/// Basis: none.\nfn r{at}(build) {{\n let total = 0.0;\n for w in build.all(\"widget\") {{\n  {}\n }}\n if total > 4 {{ advice(\"total {{t}}\", #{{ t: total }}); }}\n}}", body.join("\n  "));
        }
        out
    })
}

pub(crate) const MEASURES: &str = "\
/// Load.\n/// Basis: none.\n/// Unit: W\n\
fn load(build) { build.sum(\"a_w\") * 1.5 }\n\
/// Legs.\n/// Basis: none.\n/// Unit: legs\n\
fn legs(build) { let n = 0; for w in build.all(\"widget\") { for leg in w.legs { \
if leg.size > 2 { n += 1; } } } if n > 5 { measure(\"load\") } else { n } }\n";

pub(crate) fn catalogue(widgets: &[String], offers: &str) -> Arc<Catalogue> {
    catalogue_of(&format!("kind = \"widget\"\ncomplete = true\n{}", widgets.concat()), offers)
}

/// A seller that ships for nothing from a sum of goods on.
const SELLER: &str = "table = \"seller\"\nmeaning = \"terms\"\nbasis = \"practice\"\nsource = \"invented\"\n[column.free_from]\ntype = \"text\"\nmeaning = \"goods\"\n[row.Mole]\nfree_from = \"15.00 EUR\"\n";

/// The same with widgets as their file says, complete or not.
pub(crate) fn catalogue_of(parts: &str, offers: &str) -> Arc<Catalogue> {
    let boxes = "kind = \"box\"\ncomplete = true\n[b0]\nname = \"Box 0\"\na_w = 0\ntag = \"red\"\n[b1]\nname = \"Box 1\"\na_w = 3\ntag = \"blue\"\n[b2]\nname = \"Box 2\"\na_w = 5\ntag = \"grey\"\n";
    let mut files = KINDS.to_vec();
    files.push(("parts/widget.toml", parts));
    files.push(("parts/box.toml", boxes));
    files.push(("tables/seller.toml", SELLER));
    if !offers.is_empty() {
        files.push(("offers/all.csv", offers));
    }
    Arc::new(Catalogue::load(&[Layer::from_texts("test", &files)]).expect("the catalogue is sound"))
}

#[allow(dead_code)]
pub(crate) fn kit(catalogue: &Arc<Catalogue>, rules: &str) -> Kit {
    let files =
        [("a.rhai", rules), ("m.rhai", MEASURES), ("settings.toml", "[limit]\nvalue = 3\n")];
    Kit::with_catalogue(catalogue.clone(), &[Layer::from_texts("rules", &files)])
        .expect("the rules load")
}
