use super::*;

#[test]
fn patterns_stand_for_runs_of_letters() {
    let good =
        [("bench.*", "bench.lift"), ("*", "a.b"), ("*.r?om", "fit.room"), ("a*b*c", "axbyc")];
    for (pattern, text) in good {
        assert!(matches(pattern.as_bytes(), text.as_bytes()), "{pattern} {text}");
    }
    let bad =
        [("bench.*", "benches.x"), ("?", "ab"), ("", "a"), ("a*b", "ac"), ("*.room", "fit.rooms")];
    for (pattern, text) in bad {
        assert!(!matches(pattern.as_bytes(), text.as_bytes()), "{pattern} {text}");
    }
    // As many stars as there are letters end in time.
    assert!(!matches("*a".repeat(2000).as_bytes(), "a".repeat(1999).as_bytes()));
}
