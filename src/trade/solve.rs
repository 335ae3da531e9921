//! A small dense system of linear equations.

/// Solves `rows`, each a row of the matrix with the right-hand side at its end, by elimination with
/// row pivoting; none where the matrix is singular. For a handful of unknowns: it takes the
/// cube of their number in steps.
pub(super) fn solve(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let unknowns = rows.len();
    let mut done: Vec<Vec<f64>> = Vec::with_capacity(unknowns);
    for column in 0..unknowns {
        let pivot = take_pivot(&mut rows, column)?;
        let head = *pivot.get(column)?;
        for row in &mut rows {
            let factor = row.get(column)? / head;
            row.iter_mut()
                .zip(&pivot)
                .skip(column)
                .for_each(|(cell, above)| *cell -= factor * above);
        }
        done.push(pivot);
    }
    let mut solved = vec![0.0; unknowns];
    for (column, row) in done.iter().enumerate().rev() {
        let known: f64 =
            row.iter().zip(&solved).skip(column + 1).map(|(cell, value)| cell * value).sum();
        *solved.get_mut(column)? = (row.last()? - known) / row.get(column)?;
    }
    solved.iter().all(|value| value.is_finite()).then_some(solved)
}

/// Takes out the row with the largest figure in a column; none where all are zero.
fn take_pivot(rows: &mut Vec<Vec<f64>>, column: usize) -> Option<Vec<f64>> {
    let size = |row: &Vec<f64>| row.get(column).map_or(0.0, |cell| cell.abs());
    let (at, largest) = rows
        .iter()
        .map(size)
        .enumerate()
        .reduce(|best, next| if next.1 > best.1 { next } else { best })?;
    (largest > 0.0).then(|| rows.swap_remove(at))
}

#[cfg(test)]
#[path = "../../tests/unit/trade/solve.rs"]
mod tests;
