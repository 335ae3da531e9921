use super::*;

#[test]
fn nothing_that_acts_gets_through() {
    let shown = inert("a\u{1b}[31mb\u{9b}2Jc\u{202e}d\te\nf\u{7}");
    assert_eq!(shown, "a\u{fffd}[31mb\u{fffd}2Jc\u{fffd}d e f\u{fffd}");
    assert_eq!(inert("Größe 120 mm · 4×"), "Größe 120 mm · 4×");
}

#[test]
fn escaped_json_reads_back_as_it_was() {
    let name = "x\u{1b}\u{202e}\u{9b}\u{e0041}\u{7f}y";
    let shown = inert_json(&serde_json::to_string(name).unwrap_or_default());
    assert!(!shown.chars().any(acts));
    assert_eq!(serde_json::from_str::<String>(&shown).ok().as_deref(), Some(name));
}

#[test]
fn lines_keep_to_their_width() {
    for most in [8, 20, 40] {
        let text = "a supply that gives 650 W and then averyveryverylongwordindeedwithoutend, \
             宽宽宽宽宽宽宽宽宽宽宽";
        assert!(wrap(text, most).iter().all(|l| width(l) <= most));
        assert_eq!(wrap(text, most).concat().replace(' ', ""), text.replace(' ', ""));
    }
}
