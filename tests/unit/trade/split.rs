use super::*;

/// A small generator, so that the test needs no seed from outside.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }
}

fn random(dice: &mut Dice) -> Order {
    let sellers = 1 + dice.roll(4) as usize;
    // At a scale of one, many splits cost the same.
    let scale = [1, 100, 5_000, 40_000][dice.roll(4) as usize];
    let free_from = (0..sellers)
        .map(|_| (dice.roll(3) > 0).then(|| (dice.roll(4 * scale) + 1) as i64))
        .collect();
    let items = (0..1 + dice.roll(6))
        .map(|_| {
            let base = dice.roll(scale) as i64 + 1;
            let mut bids: Vec<Bid> = (0..sellers)
                .filter(|_| dice.roll(4) > 0)
                .collect::<Vec<_>>()
                .into_iter()
                .map(|seller| Bid {
                    seller,
                    goods: base + dice.roll(scale / 10 + 2) as i64,
                    shipping: [0, 490, 690, 990][dice.roll(4) as usize],
                })
                .collect();
            if bids.is_empty() {
                bids.push(Bid {
                    seller: dice.roll(sellers as u64) as usize,
                    goods: base,
                    shipping: 490,
                });
            }
            bids
        })
        .collect();
    Order { items, free_from }
}

fn brute(order: &Order) -> Cost {
    let mut best = (i64::MAX, usize::MAX);
    let mut at = vec![0; order.items.len()];
    loop {
        best = best.min(cost(order, &at));
        let Some(next) = (0..at.len()).find(|i| at[*i] + 1 < order.items[*i].len()) else {
            return best;
        };
        at[next] += 1;
        at[..next].fill(0);
    }
}

#[test]
fn no_split_is_cheaper_on_five_thousand_random_orders() {
    let mut dice = Dice(20_261_120);
    let mut earned = 0;
    for round in 0..5_000 {
        let order = random(&mut dice);
        let split = cheapest(&order).unwrap_or_else(|| panic!("round {round} has no split"));
        assert!(split.proven);
        assert_eq!(cost(&order, &split.bids), brute(&order), "round {round}: {order:?}");
        assert_eq!(split.total, cost(&order, &split.bids).0);
        let greedy: Vec<usize> =
            order.items.iter().map(|b| least(b.iter().map(|b| b.goods))).collect();
        earned += usize::from(split.total < cost(&order, &greedy).0);
    }
    assert!(earned > 1_000, "thresholds and shipping must matter: {earned}");
}

#[test]
fn a_list_of_forty_is_no_trouble() {
    let mut dice = Dice(7);
    let bids = |dice: &mut Dice| {
        let base = 500 + dice.roll(40_000) as i64;
        (0..4)
            .map(|seller| Bid {
                seller,
                goods: base + dice.roll(900) as i64,
                shipping: [0, 490, 690, 990][seller],
            })
            .collect()
    };
    let order = Order {
        items: (0..40).map(|_| bids(&mut dice)).collect(),
        free_from: vec![None, Some(150_000), Some(220_000), Some(90_000)],
    };
    assert!(cheapest(&order).is_some_and(|s| s.proven));
}

#[test]
fn of_splits_as_cheap_the_one_with_fewer_orders_is_taken() {
    let bid = |seller, goods| Bid { seller, goods, shipping: 0 };
    let order = Order {
        items: vec![vec![bid(0, 100), bid(1, 100)], vec![bid(1, 50)], vec![bid(0, 70), bid(1, 70)]],
        free_from: vec![None, None],
    };
    assert_eq!(cheapest(&order).map(|s| s.bids), Some(vec![1, 0, 1]));
}

#[test]
fn an_item_nobody_sells_has_no_split() {
    assert_eq!(cheapest(&Order { items: vec![Vec::new()], free_from: vec![None] }), None);
    assert_eq!(cheapest(&Order::default()).map(|s| s.total), Some(0));
}
