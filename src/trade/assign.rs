//! The best assignment of rows to columns, exactly, where a gain is a list of numbers compared
//! first to last.

use std::ops::{Add, Neg, Sub};

/// Levels of a gain.
pub(super) const LEVELS: usize = 7;

/// What an assignment is worth: the first level decides, then the second, and so on. Such lists add
/// level by level and stay in order under addition, which is all the method below asks of a number;
/// so the levels need no weights, and none can outweigh the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct Gain(pub(super) [i64; LEVELS]);

impl Add for Gain {
    type Output = Self;
    fn add(mut self, other: Self) -> Self {
        self.0.iter_mut().zip(other.0).for_each(|(level, more)| *level += more);
        self
    }
}

impl Neg for Gain {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.map(|level| -level))
    }
}

impl Sub for Gain {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

/// A column, and what the search for a path knows of it.
#[derive(Debug, Clone, Copy, Default)]
struct Column {
    /// The row that has it.
    row: Option<usize>,
    /// Its price, zero or below.
    price: Gain,
    /// Cheapest way found to it in this search.
    reach: Option<Gain>,
    /// The column before it on that way; none if it is reached from the row being placed.
    before: Option<usize>,
    /// Whether the search has passed through it.
    passed: bool,
}

/// Gives each row a column of its own or none, for the largest total gain; `gain` is none where a
/// row can't have a column. Leaving a row out gains nothing, so a pair that loses is never made.
///
/// Shortest augmenting paths with prices (the Hungarian method), after H. W. Kuhn, 1955, and J.
/// Munkres, 1957; rows squared times columns steps. Rows and columns are taken in order and the
/// first of equals wins, so the answer depends on nothing but the arguments.
pub(super) fn assign(
    rows: usize,
    columns: usize,
    gain: impl Fn(usize, usize) -> Option<Gain>,
) -> Vec<Option<usize>> {
    // After the real columns, each row has a column of its own that stands for being left out.
    let cost = |row: usize, column: usize| match column.checked_sub(columns) {
        None => gain(row, column).map(Neg::neg),
        Some(own) => (own == row).then(Gain::default),
    };
    let mut table = vec![Column::default(); columns + rows];
    let mut worth = vec![Gain::default(); rows];
    for row in 0..rows {
        place(row, &cost, &mut table, &mut worth);
    }
    let mut held = vec![None; rows];
    for (at, column) in table.iter().enumerate().take(columns) {
        if let Some(slot) = column.row.and_then(|row| held.get_mut(row)) {
            *slot = Some(at);
        }
    }
    held
}

/// Places one more row, moving those already placed where that is best.
fn place(
    row: usize,
    cost: &impl Fn(usize, usize) -> Option<Gain>,
    table: &mut [Column],
    worth: &mut [Gain],
) {
    for column in table.iter_mut() {
        (column.reach, column.before, column.passed) = (None, None, false);
    }
    let (mut at, mut from) = (row, None);
    loop {
        look(at, from, cost, table, worth);
        let nearest = table
            .iter()
            .enumerate()
            .filter(|(_, c)| !c.passed)
            .filter_map(|(n, c)| c.reach.map(|reach| (reach, n)))
            .min();
        // The row's own column can always be reached, so there is a nearest one.
        let Some((step, next)) = nearest else { return };
        move_prices(row, step, table, worth);
        let Some(column) = table.get_mut(next) else { return };
        match column.row {
            None => return hand_over(row, next, table),
            Some(held) => {
                column.passed = true;
                (at, from) = (held, Some(next));
            }
        }
    }
}

/// Notes the columns that are cheaper to reach through a row.
fn look(
    at: usize,
    from: Option<usize>,
    cost: &impl Fn(usize, usize) -> Option<Gain>,
    table: &mut [Column],
    worth: &[Gain],
) {
    let worth = worth.get(at).copied().unwrap_or_default();
    for (n, column) in table.iter_mut().enumerate().filter(|(_, column)| !column.passed) {
        let Some(cost) = cost(at, n) else { continue };
        let reach = cost - worth - column.price;
        if column.reach.is_none_or(|known| reach < known) {
            (column.reach, column.before) = (Some(reach), from);
        }
    }
}

/// Raises what the rows on the search's tree are worth by a step, and lowers the prices of their
/// columns by as much.
fn move_prices(row: usize, step: Gain, table: &mut [Column], worth: &mut [Gain]) {
    let mut raise = |row: usize| {
        if let Some(worth) = worth.get_mut(row) {
            *worth = *worth + step;
        }
    };
    raise(row);
    for column in table.iter_mut() {
        if column.passed {
            column.row.into_iter().for_each(&mut raise);
            column.price = column.price - step;
        } else {
            column.reach = column.reach.map(|reach| reach - step);
        }
    }
}

/// Hands each column on the way to the row before it, from the end back.
fn hand_over(row: usize, mut end: usize, table: &mut [Column]) {
    loop {
        let before = table.get(end).and_then(|column| column.before);
        let taker =
            before.map_or(Some(row), |before| table.get(before).and_then(|column| column.row));
        if let Some(column) = table.get_mut(end) {
            column.row = taker;
        }
        match before {
            Some(before) => end = before,
            None => return,
        }
    }
}

#[cfg(test)]
#[path = "../../tests/unit/trade/assign.rs"]
mod tests;
