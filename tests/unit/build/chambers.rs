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

/// A catalogue with kinds of a shop's own beside those of the crate.
fn with_kinds(files: &[(&str, &str)]) -> Result<Arc<Catalogue>, crate::source::Problems> {
    let layers = [Layer::built_in_catalogue(), Layer::from_texts("shop", files)];
    Catalogue::load(&layers).map(Arc::new)
}

const TURBINE: &str = "kind = \"turbine\"\n\
    [field.size_mm]\ntype = \"number\"\nunit = \"mm\"\nmeaning = \"frame\"\n\
    [field.airflow_m3h]\ntype = \"number\"\nunit = \"m³/h\"\nmeaning = \"free flow\"\n\
    [field.pressure_pa]\ntype = \"number\"\nunit = \"Pa\"\nmeaning = \"pressure\"\n";
const HEATER: &str = "heat = \"cards\"\nbilled_as = \"extras\"\nkind = \"heater\"\n\
    [field.draw_w]\ntype = \"number\"\nunit = \"W\"\nmeaning = \"draw\"\n";

#[test]
fn a_shops_own_kinds_move_the_air_and_warm_it() {
    let catalogue = with_kinds(&[
        ("kinds/turbine.toml", TURBINE),
        ("kinds/heater.toml", HEATER),
        (
            "parts/turbine.toml",
            "kind = \"turbine\"\n[whirl]\nname = \"Whirl\"\nsize_mm = 120\n\
             airflow_m3h = 90\npressure_pa = 30\n",
        ),
        ("parts/heater.toml", "kind = \"heater\"\n[ember]\nname = \"Ember\"\ndraw_w = 200\n"),
    ])
    .expect("it loads");
    let air = |text: &str| {
        let source = Source::new("b", text);
        let build = Build::parse(&source, &catalogue, date(2026, 11, 20)).expect("it reads");
        let build = Resolved::new(Arc::new(build), catalogue.clone());
        build.air().expect("nothing is open").clone().expect("air moves")
    };
    let before = air(&fans(1, 1));
    let turbine = "[[line]]\npart = \"turbine/whirl\"\nmount = \"front\"\nflow = \"in\"\n";
    let after = air(&(fans(1, 1) + turbine));
    let kind = catalogue.kind_id("turbine").expect("it is a kind");
    assert!(after.ways.iter().any(|way| way.through == Through::Fan(kind, 0)), "{after:?}");
    assert!(after.exchange_m3h > before.exchange_m3h);
    assert!(kinds(&catalogue).contains(&kind));
    let warm = air(&(fans(1, 1) + "[[line]]\npart = \"heater/ember\"\n"));
    assert!(warm.card_rise_k > before.card_rise_k && warm.exchange_m3h == before.exchange_m3h);
}

#[test]
fn where_heat_goes_and_what_a_kind_is_billed_as_is_one_of_a_few_words() {
    for (key, word) in [("heat", "card"), ("billed_as", "display")] {
        let text = format!("kind = \"heater\"\n{key} = \"{word}\"\n");
        let problems = with_kinds(&[("kinds/heater.toml", &text)]).expect_err(key);
        let told = problems.to_string();
        assert!(told.contains(&format!("`{key}` is one of")), "{told}");
    }
}
