use super::*;

#[test]
fn names_are_uuids_and_stay() {
    let urn = |w: &[&str]| super::urn(w);
    let one = urn(&["a", "b"]);
    assert_eq!(one, urn(&["a", "b"]));
    assert_ne!(one, urn(&["ab"]));
    let parts: Vec<usize> = one.trim_start_matches("urn:uuid:").split('-').map(str::len).collect();
    assert_eq!(parts, [8, 4, 4, 4, 12], "{one}");
}

#[test]
fn nothing_is_marked_up() {
    assert_eq!(
        xml("<a href='x'>&\u{202e}"),
        format!("&lt;a href=&#39;x&#39;&gt;&amp;{}", inert("\u{202e}"))
    );
}
