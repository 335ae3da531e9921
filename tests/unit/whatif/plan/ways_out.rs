use super::compared;

#[test]
fn a_want_is_one_comparison_of_a_figure_or_nothing_is_known_of_it() {
    let of = |want| compared(want).map(|c| (c.figure, c.more));
    assert_eq!(of("build.memory.gb >= 32"), Some(("build.memory.gb", true)));
    assert_eq!(of(" build.noise_db<30 "), Some(("build.noise_db", false)));
    assert_eq!(of("32 <= build.memory.gb"), Some(("build.memory.gb", true)));
    let sum = "(build.a.x + build.b.x) * 2 > 10";
    assert_eq!(of(sum), Some(("(build.a.x + build.b.x) * 2", true)));
    assert_eq!(of(r#"build.sum("a>b") >= 1"#), Some((r#"build.sum("a>b")"#, true)));
    for other in [
        "build.processor.graphics",
        "build.a.x >= build.b.x",
        "build.a.x >= 1 && build.b.x >= 2",
        "build.a.x == 4",
        "!(build.a.x > 4)",
        "build.a.x << 2",
        "1 < 2",
        "",
        "\"",
    ] {
        assert_eq!(of(other), None, "{other}");
    }
}
