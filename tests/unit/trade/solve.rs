use super::*;

#[test]
fn a_system_that_needs_pivoting() {
    assert_eq!(solve(vec![vec![0.0, 2.0, 4.0], vec![1.0, 1.0, 5.0]]), Some(vec![3.0, 2.0]));
    assert_eq!(solve(vec![]), Some(vec![]));
}

#[test]
fn a_singular_system_has_no_answer() {
    assert_eq!(solve(vec![vec![1.0, 2.0, 3.0], vec![2.0, 4.0, 6.0]]), None);
    assert_eq!(solve(vec![vec![f64::NAN, 1.0]]), None);
}
