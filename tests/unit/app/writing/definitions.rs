use super::*;

#[test]
fn signatures_become_heads() {
    let heads = |signature: &str| parts(signature).into_iter().filter_map(head).collect::<Vec<_>>();
    assert_eq!(
        heads("finding.at(line), finding.at(line, \"FIELD\")"),
        ["fn at(finding, line)", "fn at(finding, line, field: String)"]
    );
    assert_eq!(
        heads("stop(\"message with {hole}\", #{ hole: value })"),
        ["fn stop(message: String, values: Map)"]
    );
    assert_eq!(
        heads("build.total, build.unpriced"),
        ["fn get total(build)", "fn get unpriced(build)"]
    );
    assert_eq!(heads("abs(x) floor(x) ceil(x)"), ["fn abs(x)", "fn floor(x)", "fn ceil(x)"]);
    assert_eq!(heads("a == b"), Vec::<String>::new());
    assert_eq!(heads("for r in line.FIELD { r.SUB }"), Vec::<String>::new());
}
