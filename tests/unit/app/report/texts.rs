use super::*;

#[test]
fn nothing_is_marked_up() {
    assert_eq!(
        in_xml("<a href='x'>&\u{202e}\n\u{ffff}"),
        format!("&lt;a href=&apos;x&apos;&gt;&amp;{} \u{fffd}", inert("\u{202e}"))
    );
    assert_eq!(in_command("50 %\r\nmore"), "50 %25%0Amore");
}

#[test]
fn a_template_that_lacks_something_says_so() {
    assert!(filled("feed.txt", in_xml, &json!({ "title": "x" })).is_err());
    assert!(filled("no.txt", inert, &json!({})).is_err());
}
