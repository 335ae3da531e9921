use super::*;

fn best(gains: &[&[i64]]) -> (Vec<Option<usize>>, i64) {
    let gain = |row: usize, column: usize| {
        gains.get(row)?.get(column).filter(|g| **g >= 0).map(|g| Gain([*g, 0, 0, 0, 0, 0, 0]))
    };
    let held = assign(gains.len(), gains.first().map_or(0, |row| row.len()), gain);
    let total = held
        .iter()
        .enumerate()
        .filter_map(|(row, column)| gain(row, (*column)?))
        .map(|g| g.0.iter().sum::<i64>())
        .sum();
    (held, total)
}

#[test]
fn the_greedy_choice_is_not_always_best() {
    assert_eq!(best(&[&[9, 8], &[8, 1]]), (vec![Some(1), Some(0)], 16));
}

#[test]
fn rows_without_a_column_are_left_out() {
    assert_eq!(best(&[&[5, -1], &[4, -1], &[-1, -1]]), (vec![Some(0), None, None], 5));
    assert_eq!(best(&[]), (vec![], 0));
    assert_eq!(best(&[&[], &[]]), (vec![None, None], 0));
}

#[test]
fn equals_go_to_the_first() {
    assert_eq!(best(&[&[1, 1, 1], &[1, 1, 1]]).0, vec![Some(0), Some(1)]);
}
