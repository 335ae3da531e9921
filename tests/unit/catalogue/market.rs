use jiff::civil::date;

use super::KEPT;
use crate::catalogue::Catalogue;
use crate::layer::Layer;

fn catalogue() -> Catalogue {
    Catalogue::load(&[Layer::built_in_catalogue()]).expect("it loads")
}

#[test]
fn a_part_of_another_catalogue_is_not_taken_for_one_of_the_same_number() {
    let (one, other) = (catalogue(), catalogue());
    let market = one.market(&"EUR".into(), date(2026, 11, 20));
    for (own, strange) in one.parts().zip(other.parts()) {
        assert!(market.known(&one, own).is_some());
        assert!(market.known(&one, strange).is_none());
    }
}

#[test]
fn the_markets_asked_for_last_are_kept() {
    let catalogue = catalogue();
    let at = |day: i8| catalogue.market(&"EUR".into(), date(2026, 11, day));
    let first = at(1);
    (2..=KEPT as i8).for_each(|day| drop(at(day)));
    assert!(std::sync::Arc::ptr_eq(&first, &at(1)), "it is among the last");
    (2..=KEPT as i8 + 1).for_each(|day| drop(at(day)));
    assert!(!std::sync::Arc::ptr_eq(&first, &at(1)), "others were asked for since");
}
