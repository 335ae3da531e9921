use super::*;
use proptest::prelude::*;

const OPS: [Op; 8] = [Op::Add, Op::Sub, Op::Mul, Op::Div, Op::Rem, Op::Pow, Op::Min, Op::Max];
const UNS: [UnOp; 6] = [UnOp::Neg, UnOp::Abs, UnOp::Floor, UnOp::Ceil, UnOp::Round, UnOp::Sqrt];

fn holds(span: Span, n: f64) -> bool {
    if n.is_finite() { span.lo <= n && n <= span.hi } else { span.gap }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4_000))]
    #[test]
    fn what_single_numbers_give_lies_in_what_spans_give(
        a in -1e3..1e3f64, b in -1e3..1e3f64, c in -50.0..50.0f64, d in -50.0..50.0f64,
        at in 0.0..=1.0f64, by in 0.0..=1.0f64, op in 0..8usize, un in 0..6usize,
    ) {
        let span = |x: f64, y: f64| Span { lo: x.min(y), hi: x.max(y), gap: false };
        let (p, q) = (span(a, b), span(c, d));
        let inside = |s: Span, t: f64| (s.lo + (s.hi - s.lo) * t).clamp(s.lo, s.hi);
        let (x, y) = (inside(p, at), inside(q, by));
        prop_assert!(holds(Span::apply(OPS[op], p, q), OPS[op].apply(x, y)));
        prop_assert!(holds(Span::un(UNS[un], p), UNS[un].apply(x)));
    }
}
