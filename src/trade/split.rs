//! The cheapest split of an order over sellers, shipping and free-shipping thresholds counted,
//! solved exactly.
//!
//! An order at a seller ships for the dearest shipping among its items, or for nothing from a value
//! of goods on. Every seller is in one of a few states: not used, paid shipping up to a level, or
//! free shipping earned. For each mix of states the items go to the cheapest seller that may have
//! them; where that misses a threshold, branch and bound moves items at the least extra cost. The
//! bound is the fractional knapsack of each threshold, which never lies above the true cost. Of
//! splits that cost the same, one with the fewest orders is taken.

/// What one seller asks for one item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bid {
    /// Which seller.
    pub seller: usize,
    /// Price of all its pieces, in smallest units.
    pub goods: i64,
    /// Shipping of an order of this alone, in smallest units.
    pub shipping: i64,
}

/// Items with their bids, and the value of goods from which each seller ships for nothing.
#[derive(Debug, Clone, Default)]
pub struct Order {
    /// The bids of each item; at least one.
    pub items: Vec<Vec<Bid>>,
    /// A threshold a seller.
    pub free_from: Vec<Option<i64>>,
}

/// Who gets which item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Split {
    /// For each item, the place of its bid.
    pub bids: Vec<usize>,
    /// Goods and shipping together.
    pub total: i64,
    /// Shipping alone, by seller.
    pub shipping: Vec<i64>,
    /// Whether no cheaper one exists, and none as cheap with fewer orders; false when the search
    /// was cut short.
    pub proven: bool,
}

/// Most steps of the search.
const MAX_STEPS: u64 = 400_000;

/// What a seller is taken to be while one mix of states is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Unused,
    /// Pays this much; items that ship for more do not go there.
    Paid(i64),
    /// Ships for nothing, since the goods reach this.
    Free(i64),
}

/// The cheapest split; none where an item has no bid.
pub fn cheapest(order: &Order) -> Option<Split> {
    if order.items.iter().any(Vec::is_empty) {
        return None;
    }
    let mut search = Search {
        order,
        best: None,
        steps: 0,
        used: 0,
        states: vec![State::Unused; order.free_from.len()],
    };
    // A first answer to measure others by: each item at its cheapest.
    let first: Vec<usize> =
        order.items.iter().map(|bids| least(bids.iter().map(|b| b.goods))).collect();
    search.offer(first);
    search.sellers(0, 0);
    let proven = search.steps < MAX_STEPS;
    let ((total, _), bids) = search.best?;
    let shipping = shipping(order, &bids);
    Some(Split { bids, total, shipping, proven })
}

fn least(of: impl Iterator<Item = i64>) -> usize {
    of.enumerate().min_by_key(|(_, n)| *n).map_or(0, |(at, _)| at)
}

/// What each seller asks for shipping when the items go so.
pub fn shipping(order: &Order, bids: &[usize]) -> Vec<i64> {
    let mut goods = vec![0i64; order.free_from.len()];
    let mut dearest = vec![0i64; order.free_from.len()];
    for bid in order.items.iter().zip(bids).filter_map(|(item, at)| item.get(*at)) {
        if let (Some(sum), Some(most)) = (goods.get_mut(bid.seller), dearest.get_mut(bid.seller)) {
            *sum += bid.goods;
            *most = (*most).max(bid.shipping);
        }
    }
    let free = |at: usize, goods: i64| {
        order.free_from.get(at).copied().flatten().is_some_and(|from| goods >= from)
    };
    goods
        .iter()
        .zip(&dearest)
        .enumerate()
        .map(|(at, (goods, dearest))| if free(at, *goods) { 0 } else { *dearest })
        .collect()
}

/// What a split costs, and how many orders it takes.
type Cost = (i64, usize);

fn cost(order: &Order, bids: &[usize]) -> Cost {
    let taken = || order.items.iter().zip(bids).filter_map(|(item, at)| item.get(*at));
    let goods: i64 = taken().map(|b| b.goods).sum();
    let used = (0..order.free_from.len()).filter(|s| taken().any(|b| b.seller == *s)).count();
    (goods + shipping(order, bids).iter().sum::<i64>(), used)
}

struct Search<'a> {
    order: &'a Order,
    best: Option<(Cost, Vec<usize>)>,
    steps: u64,
    /// How many sellers are not unused. A split that leaves one of them out is looked at where that
    /// one is unused.
    used: usize,
    states: Vec<State>,
}

impl Search<'_> {
    fn offer(&mut self, bids: Vec<usize>) {
        let cost = cost(self.order, &bids);
        if self.best.as_ref().is_none_or(|(held, _)| cost < *held) {
            self.best = Some((cost, bids));
        }
    }

    fn beats(&self, bound: i64) -> bool {
        self.best.as_ref().is_none_or(|(held, _)| (bound, self.used) < *held)
    }

    /// Puts each seller in each state.
    fn sellers(&mut self, at: usize, paid: i64) {
        if !self.beats(paid + self.floor(at)) || self.steps >= MAX_STEPS {
            return;
        }
        self.steps += 1;
        let Some(threshold) = self.order.free_from.get(at).copied() else {
            self.items(paid);
            return;
        };
        let mut levels: Vec<i64> = self
            .order
            .items
            .iter()
            .flatten()
            .filter(|b| b.seller == at)
            .map(|b| b.shipping)
            .collect();
        levels.sort_unstable();
        levels.dedup();
        let free =
            threshold.filter(|_| levels.last().is_some_and(|most| *most > 0)).map(State::Free);
        for state in
            [State::Unused].into_iter().chain(free).chain(levels.iter().map(|l| State::Paid(*l)))
        {
            if let Some(slot) = self.states.get_mut(at) {
                *slot = state;
            }
            let used = usize::from(state != State::Unused);
            self.used += used;
            self.sellers(at + 1, paid + if let State::Paid(level) = state { level } else { 0 });
            self.used -= used;
        }
        if let Some(slot) = self.states.get_mut(at) {
            *slot = State::Unused;
        }
    }

    /// Whether a bid may be taken in the states of the first `known` sellers.
    fn may(&self, bid: &Bid, known: usize) -> bool {
        if bid.seller >= known {
            return true;
        }
        match self.states.get(bid.seller) {
            Some(State::Paid(level)) => bid.shipping <= *level,
            Some(State::Free(_)) => true,
            _ => false,
        }
    }

    /// Goods alone, each item at its cheapest among the bids that may be taken; out of reach where
    /// an item has none.
    fn floor(&self, known: usize) -> i64 {
        let cheapest =
            |bids: &Vec<Bid>| bids.iter().filter(|b| self.may(b, known)).map(|b| b.goods).min();
        self.order
            .items
            .iter()
            .map(cheapest)
            .try_fold(0i64, |sum, least| sum.checked_add(least?))
            .unwrap_or(i64::MAX / 4)
    }

    fn items(&mut self, paid: i64) {
        let known = self.states.len();
        let mut open: Vec<(usize, Vec<(usize, Bid)>)> = Vec::with_capacity(self.order.items.len());
        for (at, bids) in self.order.items.iter().enumerate() {
            let mut kept: Vec<(usize, Bid)> =
                bids.iter().copied().enumerate().filter(|(_, b)| self.may(b, known)).collect();
            if kept.is_empty() {
                return;
            }
            kept.sort_by_key(|(_, b)| b.goods);
            open.push((at, kept));
        }
        // Where the choice costs most, it is made first.
        let spread = |kept: &[(usize, Bid)]| {
            kept.last().map_or(0, |(_, b)| b.goods) - kept.first().map_or(0, |(_, b)| b.goods)
        };
        open.sort_by_key(|(_, kept)| std::cmp::Reverse(spread(kept)));
        let need: Vec<i64> =
            self.states.iter().map(|s| if let State::Free(from) = s { *from } else { 0 }).collect();
        let mut chosen = vec![0; self.order.items.len()];
        self.branch(&open, 0, paid, need, &mut chosen);
    }

    fn branch(
        &mut self,
        open: &[(usize, Vec<(usize, Bid)>)],
        depth: usize,
        spent: i64,
        need: Vec<i64>,
        chosen: &mut Vec<usize>,
    ) {
        self.steps += 1;
        let rest = open.get(depth..).unwrap_or(&[]);
        let Some(bound) = bound(rest, &need) else { return };
        if self.steps >= MAX_STEPS || !self.beats(spent + bound) {
            return;
        }
        let Some((item, kept)) = rest.first() else {
            self.offer(chosen.clone());
            return;
        };
        if need.iter().all(|n| *n <= 0) {
            // Nothing is left to earn: each item goes to its cheapest.
            for (item, kept) in rest {
                if let (Some(slot), Some((at, _))) = (chosen.get_mut(*item), kept.first()) {
                    *slot = *at;
                }
            }
            self.offer(chosen.clone());
            return;
        }
        for (at, bid) in kept {
            if let Some(slot) = chosen.get_mut(*item) {
                *slot = *at;
            }
            let mut left = need.clone();
            if let Some(n) = left.get_mut(bid.seller) {
                *n -= bid.goods;
            }
            self.branch(open, depth + 1, spent + bid.goods, left, chosen);
        }
    }
}

/// The least that the rest can cost; none where a threshold is out of reach.
fn bound(rest: &[(usize, Vec<(usize, Bid)>)], need: &[i64]) -> Option<i64> {
    let least: i64 = rest.iter().filter_map(|(_, kept)| kept.first()).map(|(_, b)| b.goods).sum();
    let mut extra = 0f64;
    for (seller, need) in need.iter().enumerate().filter(|(_, n)| **n > 0) {
        let mut moves: Vec<(i64, i64)> = Vec::new();
        for (_, kept) in rest {
            let Some((_, cheapest)) = kept.first() else { continue };
            // Where a seller bids twice, the cheapest costs least extra; its goods are what counts.
            moves.extend(
                kept.iter()
                    .filter(|(_, b)| b.seller == seller && b.goods > 0)
                    .map(|(_, b)| (b.goods - cheapest.goods, b.goods)),
            );
        }
        if moves.iter().map(|(_, goods)| goods).sum::<i64>() < *need {
            return None;
        }
        moves.sort_by(|a, b| {
            (i128::from(a.0) * i128::from(b.1)).cmp(&(i128::from(b.0) * i128::from(a.1)))
        });
        let mut missing = *need;
        for (cost, goods) in moves {
            if missing <= 0 {
                break;
            }
            let part = goods.min(missing);
            extra += cost as f64 * (part as f64 / goods as f64);
            missing -= part;
        }
    }
    // Rounded down by more than the sum can be off, so that the bound stays one.
    Some(least + (extra - 1e-3).floor().max(0.0) as i64)
}

#[cfg(test)]
#[path = "../../tests/unit/trade/split.rs"]
mod tests;
