//! Figures that the host works out from the whole build, such as flows of air: scripts ask for them
//! by name.

use crate::build::bill::Bill;
use crate::build::chambers::Air;
use crate::build::lack::Lack;
use crate::build::resolve::Resolved;
use crate::catalogue::offered::worth_of_one;

/// A figure worked out from the whole build.
pub struct Derived {
    /// Its name in scripts.
    pub name: &'static str,
    /// Unit of the result.
    pub unit: &'static str,
    /// What it gives.
    pub meaning: &'static str,
    /// Whether it is a figure of the air, which points at the lines that move or warm it.
    pub air: bool,
    /// Works it out; the error is a line whose part is not chosen.
    pub run: fn(&Resolved) -> Result<f64, Lack>,
}

/// Every such figure.
pub const DERIVED: &[Derived] = &[
    Derived {
        name: "air.exchange",
        unit: "m³/h",
        meaning: "air that the case exchanges with the room, from the network of its chambers",
        air: true,
        run: |build| air(build, |a| a.exchange_m3h),
    },
    Derived {
        name: "air.pressure",
        unit: "Pa",
        meaning: "air pressure in the case above the room's",
        air: true,
        run: |build| air(build, |a| a.pressure_pa),
    },
    Derived {
        name: "air.blown_in",
        unit: "m³/h",
        meaning: "air that fans and radiators blow in, each at the pressure that it meets",
        air: true,
        run: |build| air(build, |a| a.blown_in_m3h()),
    },
    Derived {
        name: "air.blown_out",
        unit: "m³/h",
        meaning: "air that fans, radiators and the supply blow out, each at the pressure that it \
         meets",
        air: true,
        run: |build| air(build, |a| a.blown_out_m3h()),
    },
    Derived {
        name: "air.card_again",
        unit: "of the air",
        meaning: "share of the graphics cards' intake that is recirculated case air",
        air: true,
        run: |build| air(build, |a| a.card_again),
    },
    Derived {
        name: "air.card_rise",
        unit: "K",
        meaning: "warming of the air around the graphics cards at full load",
        air: true,
        run: |build| air(build, |a| a.card_rise_k),
    },
    Derived {
        name: "air.main_rise",
        unit: "K",
        meaning: "warming of the air around the processor at full load",
        air: true,
        run: |build| air(build, |a| a.main_rise_k),
    },
    Derived {
        name: "boxed.coolers",
        unit: "coolers",
        meaning: "coolers that come with another part and give way to the list's own",
        air: false,
        run: |build| match (build.open_line(), build.catalogue.kind_id("cooler")) {
            (Some(open), _) => Err(open.into()),
            (None, kind) => Ok(kind.map_or(0.0, |kind| build.spare(kind))),
        },
    },
    Derived {
        name: "money.rebates",
        unit: "money",
        meaning: "mail-in rebates on the lines to buy",
        air: false,
        run: |build| sum(build, |b| b.rebates),
    },
    Derived {
        name: "money.credit",
        unit: "money",
        meaning: "store credit on the lines to buy",
        air: false,
        run: |build| sum(build, |b| b.credit),
    },
    Derived {
        name: "money.bundles",
        unit: "money",
        meaning: "stated value of all that comes with the parts",
        air: false,
        run: |build| sum(build, |b| b.bundles),
    },
    Derived {
        name: "money.bundles_wanted",
        unit: "money",
        meaning: "the same, of the parts that the build names under `bundles`",
        air: false,
        run: |build| sum(build, |b| b.wanted),
    },
    Derived {
        name: "money.displays",
        unit: "money",
        meaning: "purchase price of the monitors",
        air: false,
        run: |build| sum(build, |b| b.displays),
    },
    Derived {
        name: "money.extras",
        unit: "money",
        meaning: "purchase price of keyboard, mouse, sound and the system's licence",
        air: false,
        run: |build| sum(build, |b| b.extras),
    },
    Derived {
        name: "money.left_out",
        unit: "offers",
        meaning: "offers in another currency with no exchange rate",
        air: false,
        run: |build| Ok(f64::from(bill(build)?.left_out)),
    },
    Derived {
        name: "money.shop_unit",
        unit: "",
        meaning: "what one unit of the shop's currency, in which its settings are, is worth in \
         that of the build; not a number where the table gives no rate",
        air: false,
        run: |build| {
            let (list, catalogue) = (&build.build, &build.catalogue);
            let worth = worth_of_one(catalogue, catalogue.currency, &list.currency, list.priced_on);
            Ok(worth.unwrap_or(f64::NAN))
        },
    },
    Derived {
        name: "money.split_goods",
        unit: "money",
        meaning: "goods from the sellers that make goods and shipping together cheapest",
        air: false,
        run: |build| sum(build, |b| b.paid.goods),
    },
    Derived {
        name: "money.split_shipping",
        unit: "money",
        meaning: "shipping of those orders",
        air: false,
        run: |build| sum(build, |b| b.paid.shipping),
    },
    Derived {
        name: "money.split_orders",
        unit: "orders",
        meaning: "how many orders those are",
        air: false,
        run: |build| Ok(bill(build)?.paid.orders as f64),
    },
];

/// What a list comes to, once every part is chosen.
fn bill(build: &Resolved) -> Result<&Bill, Lack> {
    match build.open_line() {
        Some((kind, nth)) => Err(Lack::Open(kind, nth)),
        None => Ok(build.bill()),
    }
}

/// A sum of the bill.
fn sum(build: &Resolved, pick: impl Fn(&Bill) -> i64) -> Result<f64, Lack> {
    let bill = bill(build)?;
    Ok(bill.number(pick(bill)))
}

/// One figure of the network; not a number where no air moves.
fn air(build: &Resolved, pick: fn(&Air) -> f64) -> Result<f64, Lack> {
    Ok(build.air()?.as_ref().map_or(f64::NAN, pick))
}

/// A figure by name.
pub fn find(name: &str) -> Option<(u16, &'static Derived)> {
    DERIVED.iter().zip(0u16..).find(|(d, _)| d.name == name).map(|(d, at)| (at, d))
}
