use super::*;
use proptest::prelude::*;

prop_compose! {
    fn line()(kind in 0..4_u8, part in 0..5_u8, count in 1..4_i64,
        each in proptest::option::of(0..9_000_i64), seller in 0..3_u8,
        owned in proptest::bool::weighted(0.1)) -> Line {
        let each = each.filter(|_| !owned);
        Line {
            kind: format!("k{kind}"), kind_title: format!("kind {kind}"),
            part: format!("k{kind}/p{part}"), name: format!("Part {part}"), count, each,
            sum: each.map(|e| e * count), seller: format!("S{seller}"), seen_on: None,
            link: None, owned,
        }
    }
}

fn entry(lines: Vec<Line>, shipping: i64) -> Entry {
    let goods: i64 = lines.iter().filter_map(|l| l.sum).sum();
    Entry {
        name: "x".into(),
        title: "X".into(),
        purpose: String::new(),
        verdict: "build".into(),
        tally: String::new(),
        currency: "EUR".into(),
        delivered: goods + shipping,
        shipping,
        unpriced: 0,
        index: None,
        per_100: None,
        yearly: None,
        monitor: None,
        lines,
    }
}

proptest! {
    /// Whatever changes, the effects add up to the difference of the totals, and nothing
    /// changes between a build and itself.
    #[test]
    fn effects_add_up(a in prop::collection::vec(line(), 0..8),
        b in prop::collection::vec(line(), 0..8), sa in 0..3_i64, sb in 0..3_i64) {
        let (was, is) = (entry(a, sa * 490), entry(b, sb * 490));
        let sum: i64 = changes(&was, &is).iter().map(|c| c.effect).sum();
        prop_assert_eq!(sum, is.delivered - was.delivered);
        prop_assert!(changes(&was, &was).is_empty());
        let said = changes(&was, &is);
        prop_assert!(said.iter().all(|c| !c.why.is_empty() && !c.what.is_empty()));
    }
}
