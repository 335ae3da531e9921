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

#[test]
fn a_field_or_a_key_is_no_function_of_its_name() {
    let rule = Outline::read(
        "fn socket(build) { stop(\"x\") }\n\
         fn a(build) { advice(\"y\", #{ socket: build.seat.socket, own: build?.socket }) }\n\
         fn b(build) { build.socket() }\nfn c(build) { let f = Fn(\"socket\"); f.call(build) }",
    );
    let all = [("rule", &rule)];
    let bodies = Bodies::of(&all);
    assert_eq!(bodies.reach(0, "a").levels, [Level::Advice]);
    assert_eq!(bodies.reach(0, "b").levels, [Level::Stop]);
    assert_eq!(bodies.reach(0, "c").levels, [Level::Stop]);
}
