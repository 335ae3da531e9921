use super::chosen;

#[test]
fn the_ends_of_every_goal_then_what_lies_farthest_from_them() {
    let points: Vec<[f64; 2]> =
        vec![[100.0, 900.0], [99.0, 890.0], [70.0, 500.0], [41.0, 410.0], [40.0, 400.0]];
    let points: Vec<&[f64]> = points.iter().map(|p| &p[..]).collect();
    assert_eq!(chosen(&points, &[true, false], 3), [0, 4, 2]);
    assert_eq!(chosen(&points, &[true, false], 1), [0]);
    assert_eq!(chosen(&points, &[true, false], 9).len(), 5);
    assert!(chosen(&[], &[true, false], 3).is_empty());
    let same: [&[f64]; 2] = [&[1.0, 1.0], &[1.0, 1.0]];
    assert_eq!(chosen(&same, &[false, false], 1), [0]);
}
