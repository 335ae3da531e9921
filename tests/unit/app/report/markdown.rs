use super::escaped;

#[test]
fn nothing_acts() {
    assert_eq!(
        escaped("a|b <i>*c*</i>\n# d @all"),
        "a\\|b &lt;i&gt;\\*c\\*&lt;/i&gt; \\# d &#64;all"
    );
    assert_eq!(escaped("see https://x.example"), "see https:&#47;&#47;x.example");
    assert!(escaped(&"x".repeat(5_000)).chars().count() < 1_000);
}
