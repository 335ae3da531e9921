use super::*;

#[test]
fn what_helpers_raise_counts_and_what_only_gives_a_value_is_known() {
    let rule = Outline::read(
        "fn a(build) { if x { b(1); } }\nprivate fn b(n) { aid::warn(n); a(1) }\n\
             fn v(build) { build.x > 3 }\nfn r(build) { if y { return 3; } }\n\
             fn w(build) { if z { true } else { false } }\nfn n(build) { return; }",
    );
    let aid = Outline::read("fn warn(n) { caution(\"x\"); if n > 1 { stop(\"y\") } }");
    let all = [("rule", &rule), ("aid", &aid)];
    let raises = Raises::of(&all);
    assert_eq!(raises.levels(0, "a"), [Level::Stop, Level::Caution]);
    assert!(raises.levels(0, "v").is_empty());
    let valued: Vec<&str> = rule
        .functions
        .iter()
        .map(|f| f.name)
        .filter(|name| only_gives_a_value(&rule, name))
        .collect();
    assert_eq!(valued, ["b", "v", "r", "w"]);
}
