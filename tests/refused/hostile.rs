//! What a hostile rule may try: compare unlike things, keep memory, or make figures and messages
//! without end. Each ends in an error at its place, in bounded time and memory.

use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;

use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::kit::prompt_eval::Variables;
use dryfit::inside::layer::{Layer, read_source};
use dryfit::inside::source::Problem;
use dryfit::{Kit, Layers};
use jiff::civil::date;

fn kit(rules: &[(&str, &str)], catalogue: &[(&str, &str)]) -> Kit {
    let mut layers = Layers::built_in();
    layers.rules.push(Layer::from_texts("shop", rules));
    layers.catalogue.push(Layer::from_texts("shop", catalogue));
    Kit::load(&layers).expect("it loads")
}

fn build(kit: &Kit) -> Rc<Resolved> {
    let source = read_source(Path::new("tests/refused/build.toml")).expect("the list is read");
    let build = kit.read(&source, date(2026, 11, 20)).expect("the list is whole");
    Rc::new(Resolved::new(Arc::new(build), kit.catalogue().clone()))
}

fn said(kit: &Kit, build: &Rc<Resolved>, text: &str) -> Result<Vec<String>, Box<Problem>> {
    kit.evaluate(build, &mut Variables::default(), text).map(|done| done.words)
}

/// What scripts can hold: its sort, and how it is written.
const VALUES: &[(&str, &str)] = &[
    ("number", "650"),
    ("number", "6.5"),
    ("number", "build.supply.rated_w"),
    ("text", "\"ATX\""),
    ("text", "build.supply.form"),
    ("flag", "true"),
    ("letter", "'a'"),
    ("array", "[build.supply.rated_w]"),
    ("map", "#{ a: build.supply.rated_w }"),
    ("range", "0..5"),
    ("function", "|x| x"),
    ("build", "build"),
    ("line", "build.supply"),
    ("record", "build.supply.leads[0]"),
    ("list", "build.chassis.board_forms"),
    ("counts", "build.board.power_in"),
];
const SIGNS: &[&str] = &["<", "<=", ">", ">=", "==", "!="];

#[test]
fn unlike_things_are_never_compared_in_silence() {
    let kit = kit(&[], &[]);
    let build = build(&kit);
    for (_, value) in VALUES {
        assert!(said(&kit, &build, value).is_ok(), "{value} is a value");
    }
    for (left, a) in VALUES {
        for (_, b) in VALUES.iter().filter(|(right, _)| right != left) {
            for sign in SIGNS {
                let mut texts = vec![
                    format!("({a}) {sign} ({b})"),
                    format!("let a = {a}; let b = {b}; a {sign} b"),
                ];
                if sign.ends_with('=') && !sign.starts_with(['<', '>']) {
                    texts.push(format!("let a = [{a}]; let b = [{b}]; a {sign} b"));
                    texts.push(format!("let a = #{{ k: {a} }}; let b = #{{ k: {b} }}; a {sign} b"));
                }
                for (at, text) in texts.into_iter().enumerate() {
                    let problem = said(&kit, &build, &text).expect_err(&text);
                    assert!(problem.message.contains("between"), "{text}: {problem}");
                    let place = problem.labels.first().expect("a place");
                    assert!(at > 1 || place.source.slice(place.span) == *sign, "{text}: {problem}");
                }
            }
            assert!(said(&kit, &build, &format!("({a}) in [{b}]")).is_err(), "{a} in [{b}]");
        }
    }
}

#[test]
fn like_things_are_compared_and_absence_is_asked_for() {
    let kit = kit(&[], &[]);
    let build = build(&kit);
    for (text, answer) in [
        ("build.supply.rated_w == 650", "yes"),
        ("650.0 != build.supply.rated_w", "no"),
        ("1 < 2.5", "yes"),
        ("2.5 <= 1", "no"),
        ("\"a\" == \"a\"", "yes"),
        ("build.title != \"a\"", "yes"),
        ("true == false", "no"),
        ("'a' < 'b'", "yes"),
        ("[build.supply.rated_w] == [650]", "yes"),
        ("#{ a: build.supply.rated_w } == #{ a: 650.0 }", "yes"),
        ("#{ a: build.supply.rated_w } != #{ a: 651 }", "yes"),
        ("build.supply == build.supply", "yes"),
        ("build.supply == ()", "no"),
        ("build.case_fan_hub_that_is_not ?? () == ()", "no such"),
        ("() == build.supply", "no"),
        ("() == ()", "yes"),
        ("[1] == ()", "no"),
        ("[1, build.supply.rated_w].contains(650)", "yes"),
        ("[1, 2].index_of(2) == 1", "yes"),
    ] {
        match said(&kit, &build, text) {
            Ok(words) => assert_eq!(words, [answer], "{text}"),
            Err(problem) => assert_eq!(answer, "no such", "{text}: {problem}"),
        }
    }
    for text in ["() < 5", "5 > ()", "() == 5", "() == \"a\"", "true < false"] {
        assert!(said(&kit, &build, text).is_err(), "{text}");
    }
}

#[test]
fn nothing_of_a_closure_depends_on_the_process() {
    let kit = kit(&[], &[]);
    let build = build(&kit);
    for text in ["let f = |x| x; f.name", "let f = |x| x; f.name()", "let f = |x| x; name(f)"] {
        assert!(said(&kit, &build, text).is_err(), "{text}");
    }
    for text in [
        "let f = |x| x; `${f}`",
        "let f = |x| x; \"\" + f",
        "let f = |x| x; f.to_string()",
        "let f = |x| x; f.to_debug()",
        "let f = |x| x; [f].to_string()",
        "let f = |x| x; #{ a: f }.to_string()",
        "let f = |x| x; [#{ a: [f] }].to_debug()",
    ] {
        if let Ok(words) = said(&kit, &build, text) {
            assert!(!words.concat().contains("anon"), "{text}: {words:?}");
        }
    }
}

#[test]
fn figures_out_of_range_are_errors() {
    let kit = kit(&[], &[]);
    let build = build(&kit);
    for text in [
        "(build.supply.rated_w ** 50).to_int()",
        "(-(build.supply.rated_w ** 50)).to_int()",
        "(build.supply.rated_w * 1e14).to_int()",
        "(650.0 ** 50).to_int()",
        "9223372036854775807 + 1",
    ] {
        assert!(said(&kit, &build, text).is_err(), "{text}");
    }
    assert_eq!(said(&kit, &build, "build.supply.rated_w.to_int() + 1").expect("whole"), ["651"]);
}

#[test]
fn expressions_over_too_many_steps_are_errors() {
    let rows: String = (0..40)
        .map(|n| format!("\n[row.r{n}]\nnext = \"r{}\"\nfar = {n}\n", (n + 1) % 40))
        .collect();
    let table = format!(
        "table = \"ring\"\nmeaning = \"rows that point at one another\"\nsource = \"made up\"\n\
         basis = \"practice\"\n\n[column.next]\ntype = \"text\"\nmeaning = \"the next row\"\n\
         [column.far]\ntype = \"number\"\nmeaning = \"its number\"\n{rows}"
    );
    let kit = kit(&[], &[("tables/ring.toml", &table)]);
    let build = build(&kit);
    let start = "let x = build.supply.rated_w;";
    for text in [
        format!("{start} for n in 0..60 {{ x = latency_ns(x, x); }} x"),
        format!("{start} for n in 0..60 {{ x = x + x; }} x"),
        format!("{start} for n in 0..60 {{ x = max(x, x + n); }} x"),
        format!("{start} for n in 0..19000 {{ x = abs(x); x = -x; }} x"),
        format!("{start} for n in 0..19000 {{ x = latency_ns(x + 16, 3200); }} x"),
        "let r = \"r0\"; for n in 0..19000 { r = table(\"ring\", r, \"next\"); } r".to_owned(),
        "let r = \"r0\"; loop { r = table_opt(\"ring\", r, \"next\"); }".to_owned(),
    ] {
        let problem = said(&kit, &build, &text).expect_err(&text);
        assert!(problem.message.contains("too many steps"), "{text}: {problem}");
    }
    let far = "let r = \"r0\"; for n in 0..20 { r = table(\"ring\", r, \"next\"); } \
               table(\"ring\", r, \"far\")";
    assert_eq!(said(&kit, &build, far).expect("a short chain"), ["20"]);
}

#[test]
fn messages_are_bounded_when_they_are_made() {
    let holes: String = (0..1000).map(|_| "{a}").collect();
    for (body, finds) in [
        (format!("stop(\"{holes}\", #{{ a: 1 }});"), false),
        ("let a = []; a.pad(4000, \"w\"); stop(\"{a}\", #{ a: a });".to_owned(), false),
        ("let a = []; a.pad(4000, 1); stop(\"x\", #{ a: a });".to_owned(), false),
        ("let a = [[1]]; stop(\"{a}\", #{ a: a });".to_owned(), false),
        ("let f = stop(\"x\"); for n in 0..4000 { f.at(build.supply); }".to_owned(), false),
        (
            "let t = \"\"; t.pad(40, \"w\"); let a = []; a.pad(60, t); \
             for n in 0..200 { stop(\"{a}{a}{a}\", #{ a: a }); }"
                .to_owned(),
            true,
        ),
    ] {
        let text = format!("/// Odd.\n/// Basis: none.\nfn odd(build) {{ {body} }}");
        let kit = kit(&[("shop_odd.rhai", &text)], &[]);
        let rule = kit.rules().find("shop_odd.odd").expect("it is a rule");
        let audit = kit.audit_with(&build(&kit), &[rule]);
        let broken: Vec<String> = audit.broken().iter().map(ToString::to_string).collect();
        assert_eq!(broken.is_empty(), finds, "{body}: {broken:?}");
        let said: usize = audit.findings().iter().map(|f| f.message.len()).sum();
        assert!(said <= 200 * 9000, "{body}: {said} bytes");
    }
}

/// What this process holds of memory, in bytes; none where the system does not say.
fn held() -> Option<usize> {
    let text = std::fs::read_to_string("/proc/self/statm").ok()?;
    text.split(' ').nth(1)?.parse::<usize>().ok().map(|pages| pages * 4096)
}

#[test]
fn memory_stays_flat_over_many_lists() {
    let text = "/// Circles.\n/// Basis: none.\nfn circles(build) {\n\
        let big = []; big.pad(1000, 1.5);\n\
        let f = (); let g = || { f; big.len() }; f = g;\n\
        let m = #{ a: 1 }; let h = || m; m.h = h;\n\
        let a = [1]; let give = || a; let held = give; a = [held];\n\
        if build.supply.rated_w < helper(3) { caution(\"small\"); }\n}\n\
        private fn helper(n) { let k = (); let l = |x| { k; n }; k = l; 1 }\n\
        /// Prints.\n/// Basis: none.\nfn prints(build) {\n\
        for n in 0..3 { print(`line ${n}`); }\n\
        if build.supply.rated_w < 1 { caution(\"small\"); }\n}";
    let kit = kit(&[("shop_odd.rhai", text)], &[]);
    let build = build(&kit);
    kit.remember(false);
    let rules: Vec<u16> = ["shop_odd.circles", "shop_odd.prints"]
        .iter()
        .map(|id| kit.rules().find(id).expect("it is a rule"))
        .collect();
    let run = |times: usize| {
        for _ in 0..times {
            let broken = kit.audit_with(&build, &rules).broken();
            assert!(broken.is_empty(), "{}", broken[0]);
        }
    };
    run(500);
    let before = held();
    run(20_000);
    if let (Some(before), Some(after)) = (before, held()) {
        assert!(after < before + (24 << 20), "{before} bytes became {after}");
    }
}
