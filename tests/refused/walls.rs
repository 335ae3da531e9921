//! No script gets out of its walls: nothing is read but the build, and no rule changes what another
//! sees.

use std::path::Path;

use dryfit::inside::layer::{Layer, read_source};
use dryfit::{Audit, Kit, Layers};
use jiff::civil::date;

/// What must not come out: the text of `canary.txt`, and a variable of the environment that every
/// test run has.
const CANARY: &str = "the canary sings";

fn kit(files: &[(&str, &str)]) -> Kit {
    let mut layers = Layers::built_in();
    layers.rules.push(Layer::from_texts("shop", files));
    Kit::load(&layers).expect("it loads")
}

fn audit(kit: &Kit) -> Audit {
    let source = read_source(Path::new("tests/refused/build.toml")).expect("the list is read");
    kit.audit(&kit.read(&source, date(2026, 11, 20)).expect("the list is whole"))
}

/// All that an audit says, without the shop's own rules.
fn said(audit: &Audit) -> Vec<String> {
    let findings = audit
        .findings()
        .into_iter()
        .filter(|f| !f.rule.starts_with("shop_"))
        .map(|f| format!("{} {} {}", f.rule, f.level, f.message));
    findings
        .chain(
            audit
                .measures()
                .into_iter()
                .filter(|m| !m.id.starts_with("shop_"))
                .map(|m| format!("{} {}", m.id, m.words)),
        )
        .collect()
}

#[test]
fn what_lies_outside_does_not_come_in() {
    let manifest = env!("CARGO_MANIFEST_DIR");
    for path in super::files("scripts") {
        let text = std::fs::read_to_string(&path).expect("it is text");
        let kit = kit(&[("shop_wall.rhai", &text)]);
        let audit = audit(&kit);
        let mut all: Vec<String> = audit.findings().into_iter().map(|f| f.message).collect();
        all.extend(audit.broken().into_iter().flat_map(|b| {
            let problem = b.told();
            [problem.message, problem.help.unwrap_or_default()]
        }));
        for text in all {
            assert!(
                !text.contains(CANARY) && !text.contains(manifest),
                "{} lets out: {text}",
                path.display()
            );
        }
    }
}

#[test]
fn no_rule_changes_what_another_sees() {
    let plain = said(&audit(&kit(&[])));
    let meddlers = [
        "const SEEN = [1];\n/// A.\n/// Basis: none.\nfn a(build) { let s = SEEN; s.push(2); let all = build.all(\"fan\"); all.clear(); }",
        "/// A.\n/// Basis: none.\nfn a(build) { let build = 3; let stop = |a, b| (); let l = build; }",
        "/// A.\n/// Basis: none.\nfn headroom(build) { }\n/// B.\n/// Unit: W\nfn sustained_draw(build) { 9999 }",
        "/// A.\n/// Basis: none.\nfn a(build) { let m = measure(\"power.sustained_draw\"); m += 1000; m = (); let w = panel::plan(build); w.clear(); }",
        "/// A.\n/// Basis: none.\nfn a(build) { let n = 0; while n < 10 { n += 0; } }",
        "fn stop(a, b) { }\n/// A.\n/// Basis: none.\nfn a(build) { stop(\"x\", #{}); }",
        "private fn efficiency(a, b, c) { 9 }\n/// A.\n/// Basis: none.\nfn a(build) { efficiency(1, 2, 3); }",
    ];
    for text in meddlers {
        let kit = kit(&[("shop_meddler.rhai", text)]);
        // Twice, since what was carried over would show the second time.
        for _ in 0..2 {
            assert_eq!(said(&audit(&kit)), plain, "{text}");
        }
        kit.remember(false);
        assert_eq!(said(&audit(&kit)), plain, "without memory: {text}");
    }
}

#[test]
fn the_day_is_an_argument() {
    let kit = kit(&[(
        "shop_day.rhai",
        "/// Age.\n/// Unit: days\nfn age(build) { let most = 0; for l in build.lines { most = max(most, l.opt(\"offer_age_days\") ?? 0); } most }",
    )]);
    let source = read_source(Path::new("tests/refused/build.toml")).expect("the list is read");
    let text =
        source.text.lines().filter(|l| !l.starts_with("priced_on")).collect::<Vec<_>>().join("\n");
    let source = dryfit::inside::source::Source::new("undated.toml", text);
    let age = |day| {
        kit.audit(&kit.read(&source, day).expect("whole"))
            .measures()
            .into_iter()
            .find(|m| &*m.id == "shop_day.age")
            .and_then(|m| m.value)
    };
    assert_eq!(age(date(2026, 11, 20)), age(date(2026, 11, 20)));
    assert_ne!(age(date(2026, 11, 20)), age(date(2026, 11, 25)));
}
