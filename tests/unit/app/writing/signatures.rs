use super::*;

#[test]
fn signatures_are_taken_apart() {
    assert_eq!(
        parts("finding.at(line), finding.at(line, \"FIELD\")"),
        ["finding.at(line)", "finding.at(line, \"FIELD\")"]
    );
    let one = "stop(\"message with {hole}\", #{ hole: value })";
    assert_eq!(parts(one), [one]);
    assert_eq!(parts("build.total, build.unpriced"), ["build.total", "build.unpriced"]);
    assert_eq!(parts("abs(x) floor(x) ceil(x)"), ["abs(x)", "floor(x)", "ceil(x)"]);
    assert_eq!(parts("a == b"), ["a == b"]);
}
