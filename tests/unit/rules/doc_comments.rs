use super::*;

#[test]
fn doc_comments_come_apart() {
    let doc = Doc::read(&[
        "/// Title here.\n/// More of it: two.\n/// Unit: W\n/// Basis: a source,\n/// second \
             line.\n/// Remedy: do this.\n/// Tags: a, b-c",
    ]);
    let doc = doc.unwrap_or_default();
    assert_eq!(doc.title, "Title here.");
    assert_eq!(doc.why, "More of it: two.");
    assert_eq!(doc.said("Unit"), Some("W"));
    assert_eq!(doc.said("Basis"), Some("a source, second line."));
    assert_eq!(doc.said("Remedy"), Some("do this."));
    assert_eq!(tags_of(doc.said("Tags").unwrap_or("")), ["a", "b-c"]);
}

#[test]
fn a_line_that_begins_with_no_known_word_is_refused() {
    let says = |line: &str| Doc::read(&["/// Title.", line]).map_err(|w| (w.says, w.help));
    for line in [
        "/// Units: W",
        "/// unit: W",
        "/// Unit : W",
        "/// Note: of the trade",
        "/// Basis:",
        "/// Step: soon",
        "/// Better: yes",
        "/// Tags: Electrical",
        "/// Tags: a,, b",
        "/// Tags: a b",
        "/// Since: 1..2",
        "/// Since: later",
        "/// Unit: W\n/// Unit: V",
        "/// Shown: on paper",
    ] {
        assert!(says(line).is_err(), "{line}");
    }
    for line in
        ["/// as: so", "/// Two words: so", "/// https://a.b", "/// At 10:30 it is.", "/// Is:so"]
    {
        assert!(says(line).is_ok(), "{line}");
    }
    assert_eq!(
        says("/// Bassis: x").map_err(|w| w.1).err().as_deref(),
        Some("did you mean `Basis:`?")
    );
}
