use super::*;

#[test]
fn what_helpers_raise_and_read_counts_and_what_only_gives_a_value_is_known() {
    let rule = Outline::read(
        "fn a(build) { if x { b(1); } }\nprivate fn b(n) { aid::warn(n); a(1) }\n\
             fn v(build) { build.x > 3 }\nfn r(build) { if y { return 3; } }\n\
             fn w(build) { if z { true } else { false } }\nfn n(build) { return; }",
    );
    let aid = Outline::read("fn warn(n) { caution(\"x\"); if n.height_mm > 1 { stop(\"y\") } }");
    let all = [("rule", &rule), ("aid", &aid)];
    let bodies = Bodies::of(&all);
    let (a, v) = (bodies.reach(0, "a"), bodies.reach(0, "v"));
    assert_eq!(a.levels, [Level::Stop, Level::Caution]);
    assert!(a.read.contains("height_mm") && a.named.contains("y") && !a.read.contains("y"));
    assert!(v.levels.is_empty());
    assert_eq!(v.read.iter().collect::<Vec<_>>(), ["x"]);
    let valued: Vec<&str> = rule
        .functions
        .iter()
        .map(|f| f.name)
        .filter(|name| only_gives_a_value(&rule, name))
        .collect();
    assert_eq!(valued, ["b", "v", "r", "w"]);
}
