use super::*;
use crate::source::Span;

/// A few thousand drawings of carets anywhere, in awkward text: none fails, leaves the page
/// or lets through what acts.
#[test]
fn any_marks_stay_on_the_page() {
    let long = "lead = { plug = \"größe\", 長い = 3 }, ".repeat(40);
    let sources = [
        Source::new(
            "a.toml",
            "one = 1\r\ntwo = \"zwö\"\t# \u{202e}x\u{1b}[2J\n\n長い長い長い = 3\nlast",
        ),
        Source::new("folder/b.toml", long),
        Source::new("empty.toml", ""),
    ];
    let mut state = 7_usize;
    let mut next = |below: usize| {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below.max(1)
    };
    for _ in 0..3000 {
        let labels: Vec<Label> = (0..next(6))
            .map(|_| {
                let source = &sources[next(sources.len())];
                let start = next(source.text.len() + 3);
                let span = Span::new(start, start + next(30));
                Label { source: source.clone(), span, text: "some word, ".repeat(next(4)) }
            })
            .collect();
        let look = Look { colour: false, drawing: next(2) == 0, width: 40 + next(90) };
        let drawn = excerpts(look, Role::Wrong, &labels);
        assert!(drawn.lines().all(|l| width(l) <= look.width), "{} columns:\n{drawn}", look.width);
        assert!(!drawn.chars().any(|c| c != '\n' && acts(c)));
        assert_eq!(drawn.is_empty(), labels.is_empty());
    }
}

#[test]
fn one_drawing_shows_two_files() {
    let (build, parts) = (
        Source::new("b.toml", "part = \"x/y\"\n"),
        Source::new("p.toml", "[y]\nlength_mm = 360\n"),
    );
    let label = |source: &Arc<Source>, start, end, text: &str| Label {
        source: source.clone(),
        span: Span::new(start, end),
        text: text.to_owned(),
    };
    let labels = [label(&build, 7, 12, "x"), label(&parts, 16, 19, "x.length_mm")];
    let look = Look { colour: false, drawing: false, width: 60 };
    let drawn = excerpts(look, Role::Wrong, &labels);
    let wanted = [
        "   --> b.toml:1:8",
        "    |",
        "  1 | part = \"x/y\"",
        "    |        ^^^^^ x",
        "    |",
        "   ::: p.toml:2:13",
        "    |",
        "  2 | length_mm = 360",
        "    |             ^^^ x.length_mm",
    ];
    assert_eq!(drawn.lines().collect::<Vec<_>>(), wanted);
}
