use super::*;

fn texts(text: &str) -> Vec<&str> {
    tokens(text).into_iter().map(|t| t.text).collect()
}

#[test]
fn a_script_comes_apart() {
    assert_eq!(
        texts("if a.b_w<=0.25*c{/* x /* y */ z */ s(\"a \\\" b\") }// end"),
        ["if", "a", ".", "b_w", "<=", "0.25", "*", "c", "{", "s", "(", "\"a \\\" b\"", ")", "}"]
    );
    assert_eq!(
        texts("0..n x?.y ?? 1.abs() 1_000 0xff é == `a ${b}`"),
        [
            "0", "..", "n", "x", "?.", "y", "??", "1", ".", "abs", "(", ")", "1_000", "0xff", "é",
            "==", "`a ${b}`"
        ]
    );
}

#[test]
fn a_comment_that_nothing_closes_is_found() {
    let start = |text: &str| open_comment(text).map(|s| s.start());
    assert_eq!(start("a /* b /* c */ d"), Some(2));
    assert_eq!(start("\"/*\" // /*\n/* x /* y */ */ `/*`"), None);
    assert_eq!(start("é /*/"), Some(3));
}

#[test]
fn names_are_bare_where_no_point_or_quote_stands_before() {
    assert_eq!(bare_names("memory_gb >= 8 && index.video >= 90"), ["memory_gb", "index"]);
    assert_eq!(
        bare_names("media == \"flash gb\" || part?.gb > per_gb"),
        ["media", "part", "per_gb"]
    );
}

#[test]
fn calls_that_are_too_long_are_found() {
    let many = "1,".repeat(MAX_ARGUMENTS - 1);
    let found = |text: String| long_call(&tokens(&text)).is_some();
    assert!(!found(format!("f({many}1); g({many}1); |a, b| a")));
    assert!(!found(format!("f([{many}{many}1]); #{{ {many} }}")));
    for text in [
        format!("f({many}1,1)"),
        format!("f([1], g(({many}1,1)))"),
        format!("let f = |{many}a,b| 1;"),
        format!("fn f({many}a,b) {{}}"),
        format!("x.call({many}1,1"),
    ] {
        assert!(found(text.clone()), "{text}");
    }
}

#[test]
fn half_a_script_does_no_harm() {
    for text in ["\"open", "/* open", "`", "'", "1.", "é\u{301}☃", ""] {
        tokens(text);
    }
}
