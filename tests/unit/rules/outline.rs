use super::*;

#[test]
fn variables_know_their_kind() {
    let outline = Outline::read(
        "fn a(build) { let s = build.supply; for f in build.all(\"fan\") { if f.x > s.y { \
             t(\"u\", #{ k: 1 }, \"v\"); } } let z = 1; z = build.fan; }\nprivate fn b(x) {}",
    );
    assert_eq!(outline.functions.iter().map(|f| f.name).collect::<Vec<_>>(), ["a", "b"]);
    let held = outline
        .functions
        .first()
        .map(|f| (f.holds.get("s").copied(), f.holds.get("f").copied(), f.holds.get("z").copied()));
    assert_eq!(held, Some((Some(Some("supply")), Some(Some("fan")), Some(None))));
    let call = outline.tokens.iter().position(|t| t.word("t")).unwrap_or(0);
    let texts: Vec<Option<&str>> =
        outline.arguments(call).iter().map(|a| a.and_then(|t| t.quoted())).collect();
    assert_eq!(texts, [Some("u"), None, Some("v")]);
    assert!(outline.own.contains("k"));
}
