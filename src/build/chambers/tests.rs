use std::sync::Arc;

use jiff::civil::date;

use super::*;
use crate::build::Build;
use crate::catalogue::Catalogue;
use crate::layer::Layer;
use crate::source::Source;

fn worked(text: &str) -> Air {
    let catalogue = Arc::new(Catalogue::load(&[Layer::built_in_catalogue()]).expect("it loads"));
    let build =
        Build::parse(&Source::new("b", text), &catalogue, date(2026, 11, 20)).expect("it reads");
    Resolved::new(Arc::new(build), catalogue)
        .air()
        .expect("nothing is open")
        .clone()
        .expect("air moves")
}

const BOX: &str = "[[line]]\npart = \"chassis/skerry-reef\"\nincluded = false\n[[line]]\npart \
 = \"processor/whimbrel-306\"\n[[line]]\npart = \"graphics/gannet-fetch-12\"\n";

fn fans(front: u32, rear: u32) -> String {
    let mut text = BOX.to_owned();
    for (count, mount, flow) in [(front, "front", "in"), (rear, "rear", "out")] {
        if count > 0 {
            text.push_str(&format!(
                "[[line]]\npart = \"fan/lull-120\"\ncount = {count}\nmount \
             = \"{mount}\"\nflow = \"{flow}\"\n"
            ));
        }
    }
    text
}

#[test]
fn more_fans_move_more_air_and_warm_it_less() {
    let (one, three) = (worked(&fans(1, 1)), worked(&fans(3, 1)));
    assert!(three.exchange_m3h > one.exchange_m3h);
    assert!(three.card_rise_k < one.card_rise_k);
    assert!(one.residual_m3h.abs() < 1e-3 && three.residual_m3h.abs() < 1e-3);
}

#[test]
fn intake_alone_raises_the_pressure_and_exhaust_alone_lowers_it() {
    assert!(worked(&fans(2, 0)).pressure_pa > 0.0);
    assert!(worked(&fans(0, 1)).pressure_pa < 0.0);
}

#[test]
fn the_air_carries_all_the_heat() {
    // With one way out, what leaves is as warm as heat over flow says; both chambers lie at or
    // under it but for local heat.
    let air = worked(&fans(2, 1));
    let heat = 65.0 + 170.0;
    let bound =
        heat / (air.exchange_m3h * M3H_M3S * air::heat_per_m3(0.0, 25.0).expect("in range"));
    assert!(air.main_rise_k > 0.0 && air.main_rise_k < bound * 3.0, "{air:?} {bound}");
}
