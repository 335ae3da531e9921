use super::hole_names;

#[test]
fn holes_are_found_in_braces() {
    let names: Vec<&str> = hole_names("{draw:W} asked of {supply}, {} and {a }").collect();
    assert_eq!(names, ["draw", "supply", "a"]);
}
