#[test]
fn names_are_uuids_and_stay() {
    let urn = |words: &[&str]| super::urn(words);
    let one = urn(&["a", "b"]);
    assert_eq!(one, urn(&["a", "b"]));
    assert_ne!(one, urn(&["ab"]));
    let parts: Vec<usize> = one.trim_start_matches("urn:uuid:").split('-').map(str::len).collect();
    assert_eq!(parts, [8, 4, 4, 4, 12], "{one}");
}
