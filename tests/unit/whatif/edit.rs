use super::*;

const TEXT: &str = "# The job.\ntitle = \"Desk\"   # as they say\n\n# first\n[[line]]\npart  = \
 \"supply/a\"  # dear\ncount = 2\n\n# Air.\n\n# the fan\n[[line]]\npart = \
 \"fan/b\"\n\n[[line]]\nany   = \"graphics\"   # open\nwants = [\"x > 1\"]\nnote  = \"see \
 below\"\n\n[[waive]]\nrule = \"a.b\"\n\n# The end.\n";

fn made(text: &str, edit: Edit) -> String {
    apply(text, &[edit]).unwrap()
}

#[test]
fn a_swap_touches_one_value() {
    let new = made(TEXT, Edit::Part { line: 0, part: "supply/z".into() });
    assert_eq!(new, TEXT.replace("supply/a", "supply/z"));
}

#[test]
fn a_wish_gives_way_in_its_own_place() {
    let new = made(TEXT, Edit::Part { line: 2, part: "graphics/g".into() });
    assert!(
        new.contains("[[line]]\npart   = \"graphics/g\"   # open\nnote  = \"see below\"\n")
            || new.contains("[[line]]\npart = \"graphics/g\"   # open\nnote  = \"see below\"\n"),
        "{new}"
    );
    assert!(!new.contains("wants"));
}

#[test]
fn a_dropped_line_leaves_what_is_not_its_own() {
    let new = made(TEXT, Edit::Drop { line: 1 });
    assert!(
        new.contains("# Air.") && !new.contains("# the fan") && !new.contains("fan/b"),
        "{new}"
    );
    let last = made(
        "a = 1\n[[line]]\npart = \"x\"\n\n# Set off.\n\n[[line]]\npart = \"y\"\n",
        Edit::Drop { line: 1 },
    );
    assert_eq!(last, "a = 1\n[[line]]\npart = \"x\"\n\n# Set off.\n");
}

#[test]
fn a_new_line_stands_after_the_last_and_before_the_waivers() {
    let new = made(
        TEXT,
        Edit::Add(NewLine {
            part: "fan/c".into(),
            count: Some(3),
            mount: Some("front".into()),
            ..NewLine::default()
        }),
    );
    let expected = "note  = \"see below\"\n\n[[line]]\npart  = \"fan/c\"\ncount = 3\nmount = \
     \"front\"\n\n[[waive]]\n";
    assert!(new.contains(expected), "{new}");
}

#[test]
fn line_ends_stay_as_they_were() {
    let dos = TEXT.replace('\n', "\r\n");
    assert_eq!(
        made(&dos, Edit::Part { line: 0, part: "supply/z".into() }),
        dos.replace("supply/a", "supply/z")
    );
    let bare = TEXT.trim_end();
    assert_eq!(
        made(bare, Edit::Part { line: 0, part: "supply/z".into() }),
        bare.replace("supply/a", "supply/z")
    );
    let mixed = TEXT.replacen('\n', "\r\n", 3);
    assert_eq!(
        made(&mixed, Edit::Part { line: 0, part: "supply/z".into() }),
        mixed.replace("supply/a", "supply/z")
    );
    let new = made(
        "[[line]]\npart = \"a\"",
        Edit::Add(NewLine { part: "b".into(), ..NewLine::default() }),
    );
    assert_eq!(new, "[[line]]\npart = \"a\"\n\n[[line]]\npart = \"b\"");
}

#[test]
fn keys_and_fields_are_set_and_taken_out() {
    let new =
        made(TEXT, Edit::Key { line: 0, key: "mount", value: Some(Word::Text("front".into())) });
    assert!(new.contains("count = 2\nmount = \"front\"\n"), "{new}");
    let new = made(TEXT, Edit::Key { line: 0, key: "count", value: Some(Word::Plain("5".into())) });
    assert_eq!(new, TEXT.replace("count = 2", "count = 5"));
    let new = made(TEXT, Edit::Field { name: "budget", value: Some(Word::Text("10 EUR".into())) });
    assert!(new.contains("title = \"Desk\"   # as they say\nbudget = \"10 EUR\"\n"), "{new}");
    assert_eq!(
        made(TEXT, Edit::Key { line: 0, key: "count", value: None }),
        TEXT.replace("count = 2\n", "")
    );
    assert!(apply(TEXT, &[Edit::Drop { line: 9 }]).is_err());
}

#[test]
fn lines_written_in_one_list_are_edited_too() {
    let text = "line = [\n  { part = \"a\" },\n  { part = \"b\", count = 2 },   # two\n]\n";
    assert_eq!(
        made(text, Edit::Part { line: 0, part: "z".into() }),
        text.replace("\"a\"", "\"z\"")
    );
    let new = made(text, Edit::Add(NewLine { part: "c".into(), ..NewLine::default() }));
    assert!(new.contains("{ part = \"c\" }"), "{new}");
    let new = made(text, Edit::Drop { line: 0 });
    assert!(!new.contains("\"a\"") && new.contains("\"b\""), "{new}");
}

#[test]
fn a_line_is_copied_from_another_file() {
    let other = "[[line]]\npart = \"fan/q\"   # theirs\ncount = 4\n";
    let new = made(TEXT, Edit::Copy { from: other.into(), theirs: 0, ours: Some(1) });
    assert!(
        new.contains(
            "# the fan\n[[line]]\npart = \"fan/q\"   # theirs\ncount = 4\n\n[[line]]\nany"
        ),
        "{new}"
    );
    let new = made(TEXT, Edit::Copy { from: other.into(), theirs: 0, ours: None });
    assert!(
        new.contains(
            "note  = \"see below\"\n\n[[line]]\npart = \"fan/q\"   # \
     theirs\ncount = 4\n\n[[waive]]"
        ),
        "{new}"
    );
}
