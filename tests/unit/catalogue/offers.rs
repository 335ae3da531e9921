use super::*;
use crate::layer::Layer;

#[test]
fn rows_that_wait_are_read_as_all_others() {
    let (mut now, mut later) = (Offers::default(), Offers::default());
    let (mut texts, mut problems) = (Texts::default(), Problems::default());
    for (below, source) in Layer::built_in_catalogue().files {
        if below.starts_with("offers/") {
            now.read(&source, false, &mut texts, &mut problems);
            later.read(&source, true, &mut texts, &mut problems);
        }
    }
    assert!(problems.0.is_empty(), "{problems:?}");
    assert_eq!(now.len(), later.len());
    assert!(later.by_part.values().all(|of| of.read.is_empty()));
    now.sort();
    for part in now.parts() {
        let told = |o: &Offer| {
            let sums = (o.price, o.shipping, o.instant_off, o.mail_rebate, o.credit);
            let rest = (&o.seller, o.seen_on, o.stock, &o.bundle, &o.link);
            format!("{sums:?} {rest:?} {:?} {:?} {}", o.row, o.columns, o.source.name)
        };
        let told = |offers: &Offers| offers.history(part).iter().map(told).collect::<Vec<_>>();
        assert_eq!(told(&now), told(&later));
    }
}
