use super::with_last;

#[test]
fn an_underscore_alone_is_the_last_result() {
    assert_eq!(with_last("_ * 2 + f(_)"), "last * 2 + f(last)");
    for kept in ["a_b", "\"_\"", "`_`", "switch x { _ => 1 }", "|_| 1", "_x"] {
        assert_eq!(with_last(kept), kept);
    }
}
