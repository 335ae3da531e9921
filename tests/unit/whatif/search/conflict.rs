use super::smallest;

#[test]
fn the_fewest_rules_that_meet_every_set() {
    let rules = [1, 2, 3, 4];
    assert_eq!(smallest(&[], &rules), [0u16; 0]);
    assert_eq!(smallest(&[vec![1, 2], vec![2, 3], vec![2, 4]], &rules), [2]);
    assert_eq!(smallest(&[vec![1], vec![2, 3], vec![3, 4]], &rules), [1, 3]);
}
