use super::{each_set, fewest, shared_out};

#[test]
fn every_set_of_two_of_four_is_tried() {
    let mut sets = Vec::new();
    each_set(4, 2, &mut |set| sets.push(set.to_vec()));
    assert_eq!(sets.len(), 6);
    assert_eq!(sets.first(), Some(&vec![0, 1]));
    assert_eq!(sets.last(), Some(&vec![2, 3]));
}

#[test]
fn the_fewest_lines_are_found_where_the_greedy_choice_needs_more() {
    // The line that clears most (1, 2, 3, 4) leaves two more lines; two others do it alone.
    let clears = vec![(0, vec![1, 2, 3, 4]), (1, vec![1, 2, 5]), (2, vec![3, 4, 6])];
    let (chosen, proven) = fewest(&clears, &[1, 2, 3, 4, 5, 6]);
    assert!(proven);
    assert_eq!(chosen.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [1, 2]);
    let blames = shared_out(chosen, &[1, 2, 3, 4, 5, 6]);
    assert_eq!(blames.iter().map(|b| b.clears.len()).collect::<Vec<_>>(), [3, 3]);
}
