//! Air through the box: the build as a network of chambers, solved for flows and temperatures.
//!
//! Four chambers: behind the front panel, around the cards, around the processor, and the room
//! outside. Fans drive, panels, filters, radiators and the card itself resist. The solver is exact
//! (see [`crate::trade::network`]); the resistances are figures of our own from common practice, no
//! source, so what comes out is for comparing builds, give or take a third.

mod look;

use std::cell::Cell;

use super::lack::Lack;
use super::resolve::{Resolved, Slot};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Kind, KindId};
use crate::catalogue::roles::Heat;
use crate::trade::air::{self, FanCurve, M3H_M3S, opening_resistance};
use crate::trade::heat::{Chamber, chamber_c};
use crate::trade::network::{Edge, Flows, ROOM, solve_flows};
use look::Look;

/// Behind the front panel.
const FRONT: usize = 1;
/// Around the cards.
const CARDS: usize = 2;
/// Around the processor.
const MAIN: usize = 3;
/// Chambers, the room included.
const NODES: usize = 4;

/// Open area between the front and the room it feeds, in m²: practice, no source.
const FRONT_WAY_M2: f64 = 0.012;
/// Open area between cards and processor with no card in the way, in m².
const CARD_WAY_M2: f64 = 0.020;
/// Open area at the rear beside the slots, in m² for each empty opening: a pierced cover of 20 mm
/// by 110 mm.
const SLOT_M2: f64 = 0.0009;
/// Gaps all round the box, in m².
const GAPS_M2: f64 = 0.0008;
/// A dust filter multiplies the resistance of what lies behind it.
const FILTER: f64 = 2.0;
/// Resistance of a 120 mm square of radiator 27 mm thick, in Pa/(m³/s)²: about 12 Pa at 60 m³/h.
const RADIATOR: f64 = 43_000.0;
/// Free flow and pressure of a supply's own fan.
const SUPPLY_FAN: (f64, f64) = (60.0, 25.0);
/// Free flow of an open card's own fans in m³/h for each watt, and their pressure in Pa: they blow
/// up past the card's edge.
const CARD_FANS: (f64, f64) = (0.35, 15.0);
/// The most of the way between cards and processor that a card closes: none reaches from wall to
/// wall.
const CARD_COVERS: f64 = 0.7;

/// What the network gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Air {
    /// Air that enters and leaves, in m³/h.
    pub exchange_m3h: f64,
    /// Pressure around the processor over the room's, in Pa.
    pub pressure_pa: f64,
    /// Share of the air drawn to the cards that comes from around the processor, not from outside.
    pub card_again: f64,
    /// Warming of the air around the cards, in K; none where no air moves.
    pub card_rise_k: f64,
    /// Warming of the air around the processor, in K.
    pub main_rise_k: f64,
    /// Warming of the air behind the front panel, in K; none where no air moves.
    pub front_rise_k: f64,
    /// Every way that air takes.
    pub ways: Vec<Way>,
    /// Largest imbalance of a chamber that the solver left, in m³/h.
    pub residual_m3h: f64,
}

impl Air {
    /// What fans and radiators blow in, in m³/h.
    pub fn blown_in_m3h(&self) -> f64 {
        self.blown(|way| way.from == Place::Room)
    }

    /// What fans, radiators and the supply blow out, in m³/h.
    pub fn blown_out_m3h(&self) -> f64 {
        self.blown(|way| way.to == Place::Room)
    }

    fn blown(&self, counts: fn(&Way) -> bool) -> f64 {
        let driven = |way: &&Way| matches!(way.through, Through::Fan(..) | Through::Supply);
        let ways = self.ways.iter().filter(driven).filter(|way| counts(way));
        ways.fold(0.0, |sum, way| sum + way.m3h)
    }
}

/// A part of the box, or the room around it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Outside.
    Room,
    /// Behind the front panel.
    Front,
    /// Around the cards.
    Cards,
    /// Around the processor.
    Main,
}

/// What a way for air is.
#[derive(Debug, Clone, PartialEq)]
pub enum Through {
    /// Fans of one line on a panel: kind and line.
    Fan(KindId, u16),
    /// What is left open of a panel.
    Panel,
    /// From one part of the box to another.
    Inside,
    /// The card's own fans.
    Card,
    /// Empty slots at the rear.
    Slots,
    /// Gaps all round.
    Gaps,
    /// The supply's own fan.
    Supply,
}

/// A way that air takes, and how much.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// What it is.
    pub through: Through,
    /// The mount it lies at, for fans and panels.
    pub mount: String,
    /// Fans side by side; 1 for anything else.
    pub pieces: u32,
    /// Where the air comes from.
    pub from: Place,
    /// Where it goes.
    pub to: Place,
    /// How much, never below zero, in m³/h.
    pub m3h: f64,
}

/// Works the air out.
/// Errors: the line whose part is not chosen. `None` without a chassis, or where nothing moves the
/// air.
pub(super) fn air(build: &Resolved) -> Result<Option<Air>, Lack> {
    let look = Look { build, unknown: Cell::new(None) };
    let Some(chassis) = look.first("chassis")? else { return Ok(None) };
    let mut model = Model {
        look: &look,
        edges: Vec::new(),
        tags: Vec::new(),
        heats: [0.0; NODES],
        density: look.density(),
    };
    model.mounts(chassis)?;
    model.inside(chassis)?;
    model.heat()?;
    if let Some(fact) = look.unknown.get() {
        return Err(Lack::Fact(fact));
    }
    Ok(model.solve(look.build_num("room_c"), look.build_num("altitude_m")))
}

/// The kinds whose lines the network looks at, but for their heat.
pub(crate) fn kinds(catalogue: &Catalogue) -> Vec<KindId> {
    let named = |name: &str| catalogue.kind_id(name).into_iter().collect();
    let those = |wanted: fn(&Kind) -> bool| -> Vec<KindId> {
        let ids = catalogue.kinds.iter().zip(0u16..);
        ids.filter(|(kind, _)| wanted(kind)).map(|(_, id)| KindId(id)).collect()
    };
    [
        named("chassis"),
        those(Kind::is_fan),
        named("cooler"),
        those(|kind| kind.heat == Heat::Cards),
        those(|kind| kind.heat == Heat::Cooler),
        named("supply"),
    ]
    .concat()
}

struct Model<'a> {
    look: &'a Look<'a>,
    edges: Vec<Edge>,
    /// What each edge is.
    tags: Vec<(Through, String)>,
    heats: [f64; NODES],
    density: f64,
}

impl Model<'_> {
    fn way(&mut self, through: Through, mount: &str, edge: Edge) {
        self.edges.push(edge);
        self.tags.push((through, mount.to_owned()));
    }

    /// Resistance of an opening; of next to none for a closed panel.
    fn opening(&self, area_m2: f64) -> f64 {
        opening_resistance(area_m2.max(1e-5), air::SHARP_OPENING, self.density).unwrap_or(1e9)
    }

    /// Fans and openings of the panels.
    fn mounts(&mut self, chassis: &Slot) -> Result<(), Lack> {
        let fans = self.look.slots_of(Kind::is_fan)?;
        let cooler_kind = self.look.build.catalogue.kind_id("cooler");
        let cooler = self.look.first("cooler")?.filter(|c| self.look.is(c, "cooling", "liquid"));
        for mount in self.look.mounts(chassis) {
            let chamber = mount.chamber();
            let panel = |model: &Self, area: f64| {
                model.opening(area * mount.open) * if mount.filter { FILTER } else { 1.0 }
            };
            let mut left = mount.area_m2;
            for (kind, nth, fan) in fans
                .iter()
                .filter(|(.., fan)| fan.mount.as_text().is_some_and(|m| **m == *mount.name))
            {
                let size = self.look.num(fan, "size_mm");
                let area = size * size * 1e-6;
                let resistance = panel(self, area);
                for _ in 0..fan.count as usize {
                    self.fan(fan, Through::Fan(*kind, *nth), &mount.name, chamber, resistance);
                    left -= area;
                }
            }
            if let Some(cooler) =
                cooler.filter(|c| c.mount.as_text().is_some_and(|m| **m == *mount.name))
            {
                let size = self.look.num(cooler, "radiator_fan_mm").max(80.0);
                let area = size * size * 1e-6;
                let core = RADIATOR
                    * (0.0144 / area).powi(2)
                    * self.look.num(cooler, "radiator_deep_mm").max(20.0)
                    / 27.0;
                let resistance = panel(self, area) + core;
                let through = cooler_kind.map_or(Through::Panel, |kind| Through::Fan(kind, 0));
                for _ in 0..self.look.num(cooler, "fans") as usize {
                    self.fan(cooler, through.clone(), &mount.name, chamber, resistance);
                    left -= area;
                }
            }
            if left > 1e-4 {
                let resistance = panel(self, left);
                self.way(Through::Panel, &mount.name, Edge::opening(ROOM, chamber, resistance));
            }
        }
        Ok(())
    }

    /// A fan by its line's flow; one with no direction stated turns nothing here, the rules speak
    /// of it.
    fn fan(&mut self, line: &Slot, through: Through, mount: &str, chamber: usize, resistance: f64) {
        let (m3h, pa) = (self.look.num(line, "airflow_m3h"), self.look.num(line, "pressure_pa"));
        let Ok(curve) = FanCurve::new(pa.max(0.1), m3h.max(0.1) * M3H_M3S) else { return };
        let edge = match line.flow.as_text().map(|f| &**f) {
            Some("in") => Edge::fan(ROOM, chamber, curve, resistance),
            Some("out") => Edge::fan(chamber, ROOM, curve, resistance),
            _ => Edge::opening(ROOM, chamber, resistance + curve.own_resistance()),
        };
        self.way(through, mount, edge);
    }

    /// The ways inside the box, the slots and gaps, and a supply that breathes inside.
    fn inside(&mut self, chassis: &Slot) -> Result<(), Lack> {
        let (way, gaps) = (self.opening(FRONT_WAY_M2), self.opening(GAPS_M2));
        self.way(Through::Inside, "", Edge::opening(FRONT, CARDS, way));
        self.way(Through::Inside, "", Edge::opening(FRONT, MAIN, way));
        // A card lies across the way between the two chambers, the longer the more; its own fans
        // drive air up past its edge.
        let mut covered = 0.0;
        let mut taken = 0.0;
        for (.., card) in self.look.slots_of(|kind| kind.heat == Heat::Cards)? {
            covered = f64::max(
                covered,
                (self.look.num(card, "length_mm") / self.look.num(chassis, "card_max_mm").max(1.0))
                    .min(1.0)
                    * CARD_COVERS,
            );
            taken += self.look.num(card, "slots_wide") * card.count;
            let m3h = CARD_FANS.0 * self.look.num(card, "draw_w") * card.count;
            if self.look.is(card, "cooling", "open")
                && let Ok(curve) = FanCurve::new(CARD_FANS.1, m3h.max(1.0) * M3H_M3S)
            {
                let edge = self.opening(CARD_WAY_M2 * 0.5);
                self.way(Through::Card, "", Edge::fan(CARDS, MAIN, curve, edge));
            }
        }
        let across = self.opening(CARD_WAY_M2 * (1.0 - covered));
        self.way(Through::Inside, "", Edge::opening(CARDS, MAIN, across));
        let free = (self.look.num(chassis, "slots") - taken).max(0.0);
        let slots = self.opening(SLOT_M2 * free.max(0.5));
        self.way(Through::Slots, "", Edge::opening(CARDS, ROOM, slots));
        self.way(Through::Gaps, "", Edge::opening(MAIN, ROOM, gaps));
        if self.look.is(chassis, "supply_draws", "inside")
            && self.look.first("supply")?.is_some()
            && let Ok(curve) = FanCurve::new(SUPPLY_FAN.1, SUPPLY_FAN.0 * M3H_M3S)
        {
            self.way(Through::Supply, "", Edge::fan(MAIN, ROOM, curve, way));
        }
        Ok(())
    }

    /// Where the heat of each part goes.
    fn heat(&mut self) -> Result<(), Lack> {
        let radiator = self.look.first("cooler")?.filter(|c| self.look.is(c, "cooling", "liquid"));
        let radiator_out =
            radiator.is_some_and(|c| c.flow.as_text().is_some_and(|f| &**f == "out"));
        let radiator_at = radiator
            .and_then(|c| c.mount.as_text())
            .map_or(MAIN, |m| if &**m == "front" { FRONT } else { MAIN });
        for (kind, id) in self.look.build.catalogue.kinds.iter().zip(0u16..) {
            if kind.field("draw_w").is_none() {
                continue;
            }
            for (slot, nth) in self.look.build.slots(KindId(id)).iter().zip(0u16..) {
                if slot.part.is_none() {
                    return Err(Lack::Open(KindId(id), nth));
                }
                let watts = self.look.num(slot, "draw_w") * slot.count;
                match kind.heat {
                    // The radiator's heat leaves with the air that it blows out.
                    Heat::Cooler if radiator_out => {}
                    Heat::Cooler if radiator.is_some() => self.put(radiator_at, watts),
                    Heat::Cards if self.look.is(slot, "cooling", "blower") => {}
                    Heat::Cards => self.put(CARDS, watts),
                    Heat::Front => self.put(FRONT, watts),
                    Heat::Processor | Heat::Cooler => self.put(MAIN, watts),
                }
            }
        }
        Ok(())
    }

    fn put(&mut self, chamber: usize, watts: f64) {
        if let Some(heat) = self.heats.get_mut(chamber) {
            *heat += watts;
        }
    }

    fn solve(&self, room_c: f64, altitude_m: f64) -> Option<Air> {
        let flows = solve_flows(NODES, &self.edges).ok()?;
        let exchange = flows.exchange(&self.edges);
        if exchange <= 1e-6 {
            return None;
        }
        let chambers: Vec<Chamber> = self
            .heats
            .iter()
            .skip(1)
            .map(|heat_w| Chamber { heat_w: *heat_w, wall_w_per_k: 0.0 })
            .collect();
        let warm = chamber_c(
            room_c,
            air::heat_per_m3(altitude_m, room_c).ok()?,
            &chambers,
            &self.edges,
            &flows.flows,
        )
        .ok()?;
        let rise = |node: usize| warm.get(node).copied().flatten().map_or(f64::NAN, |c| c - room_c);
        Some(Air {
            exchange_m3h: exchange / M3H_M3S,
            pressure_pa: flows.pressures.get(MAIN).copied().unwrap_or(f64::NAN),
            card_again: self.share(MAIN, CARDS, &flows),
            card_rise_k: rise(CARDS),
            main_rise_k: rise(MAIN),
            front_rise_k: rise(FRONT),
            ways: self.ways(&flows),
            residual_m3h: flows.residual_m3s / M3H_M3S,
        })
    }

    /// Every way with its flow; fans of one line at one mount are one way.
    fn ways(&self, flows: &Flows) -> Vec<Way> {
        let mut ways: Vec<Way> = Vec::new();
        for ((edge, (through, mount)), flow) in self.edges.iter().zip(&self.tags).zip(&flows.flows)
        {
            let (from, to) = if *flow < 0.0 { (edge.to, edge.from) } else { (edge.from, edge.to) };
            let (from, to, m3h) = (place(from), place(to), flow.abs() / M3H_M3S);
            match ways.iter_mut().find(|w| {
                matches!(through, Through::Fan(..))
                    && w.through == *through
                    && w.mount == *mount
                    && w.from == from
            }) {
                Some(way) => {
                    way.pieces += 1;
                    way.m3h += m3h;
                }
                None => ways.push(Way {
                    through: through.clone(),
                    mount: mount.clone(),
                    pieces: 1,
                    from,
                    to,
                    m3h,
                }),
            }
        }
        ways
    }

    /// Of the air that flows into a chamber, the share that comes from another.
    fn share(&self, from: usize, into: usize, flows: &Flows) -> f64 {
        let (mut all, mut of) = (0.0, 0.0);
        for (edge, flow) in self.edges.iter().zip(&flows.flows) {
            let (source, amount) =
                if edge.to == into { (edge.from, *flow) } else { (edge.to, -*flow) };
            if (edge.to == into || edge.from == into) && amount > 0.0 {
                all += amount;
                of += if source == from { amount } else { 0.0 };
            }
        }
        if all > 0.0 { of / all } else { f64::NAN }
    }
}

fn place(node: usize) -> Place {
    match node {
        FRONT => Place::Front,
        CARDS => Place::Cards,
        MAIN => Place::Main,
        _ => Place::Room,
    }
}

#[cfg(test)]
#[path = "../../tests/unit/build/chambers.rs"]
mod tests;
