//! A build whose lines may each hold one of several: what a search chooses from.

use std::cell::OnceCell;
use std::rc::Rc;
use std::sync::Arc;

use crate::build::resolve::Resolved;
use crate::build::{Build, Line, What};
use crate::catalogue::kinds::KindId;
use crate::catalogue::market::{Facts, Market};
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, Part, unboxed};

use super::totals::{Charging, Costs};

/// Most lines with more than one choice: their places are kept in one machine word.
pub const MOST_OPEN: usize = 60;

/// What may stand on a line.
pub(crate) struct Choice {
    /// The line as it would be.
    pub(crate) line: Line,
    /// Its part.
    pub(crate) part: Arc<Part>,
    /// What all its pieces cost, in the currency's smallest unit; nothing for the customer's own.
    pub(crate) costs: Costs,
    /// What is lost by it beside what stands there now.
    pub(crate) loss: i64,
    /// Whether there is an offer, or none is needed.
    pub(crate) priced: bool,
    /// What comes in its box and joins the build.
    pub(crate) boxed: Vec<Boxed>,
    facts: OnceCell<Box<Facts>>,
}

/// A part that comes in a box.
#[derive(Clone)]
pub(crate) struct Boxed {
    pub(crate) part: Arc<Part>,
    pub(crate) count: f64,
    pub(crate) mount: Val,
    pub(crate) flow: Val,
    pub(crate) flow_usual: bool,
}

/// A line with its choices, the cheapest first.
pub(crate) struct Place {
    pub(crate) kind: KindId,
    pub(crate) choices: Vec<Choice>,
}

/// A build with choices.
pub(crate) struct Space {
    pub(crate) base: Arc<Build>,
    pub(crate) catalogue: Arc<Catalogue>,
    market: Arc<Market>,
    /// In the order of the build's lines.
    pub(crate) places: Vec<Place>,
    /// Places of a kind, in order.
    pub(crate) own: Vec<Vec<usize>>,
    /// Places that may bring a part of a kind in their box, by kind.
    pub(crate) may_box: Vec<Vec<usize>>,
    /// Sellers that charge for shipping.
    pub(super) charging: Charging,
    /// Digits of the currency's smallest unit.
    pub(crate) digits: i32,
}

impl Choice {
    /// What the offers say of it.
    pub(crate) fn facts<'a>(&'a self, space: &'a Space) -> &'a Facts {
        let known = self
            .line
            .stated
            .as_deref()
            .or_else(|| space.market.known(&space.catalogue, &self.part));
        known.unwrap_or_else(|| {
            self.facts.get_or_init(|| Box::new(space.market.facts(&space.catalogue, &self.part)))
        })
    }
}

impl Space {
    /// Takes a build's lines with what may stand on each. A line for which nothing is given holds
    /// what it holds; an open one with nothing given can hold nothing, and then there is no build
    /// at all.
    pub(crate) fn new(
        base: &Build,
        catalogue: &Arc<Catalogue>,
        mut choices: Vec<Vec<Line>>,
    ) -> Self {
        choices.resize_with(base.lines.len(), Vec::new);
        let mut own = vec![Vec::new(); catalogue.kinds.len()];
        for (at, line) in base.lines.iter().enumerate() {
            if let Some(of_kind) = own.get_mut(line.kind().0 as usize) {
                of_kind.push(at);
            }
        }
        let mut space = Self {
            base: Arc::new(base.clone()),
            catalogue: catalogue.clone(),
            market: catalogue.market(&base.currency, base.priced_on),
            places: Vec::new(),
            may_box: vec![Vec::new(); catalogue.kinds.len()],
            own,
            charging: Charging::default(),
            digits: crate::trade::money::Currency::from_code(&base.currency)
                .map_or(2, |c| i32::from(c.minor_digits())),
        };
        let given = base.lines.iter().zip(choices).map(|(line, given)| {
            let given = if given.is_empty() { vec![line.clone()] } else { given };
            let choices = given.into_iter().filter_map(|line| space.choice(line));
            Place { kind: line.kind(), choices: choices.collect() }
        });
        space.places = given.collect();
        space.price();
        for (at, place) in space.places.iter().enumerate() {
            for boxed in place.choices.iter().flat_map(|c| &c.boxed) {
                if let Some(places) = space.may_box.get_mut(boxed.part.kind.0 as usize)
                    && places.last() != Some(&at)
                {
                    places.push(at);
                }
            }
        }
        space
    }

    /// Works out what each choice costs, and puts the cheapest first.
    fn price(&mut self) {
        let mut places = std::mem::take(&mut self.places);
        let all = places.iter().flat_map(|p| &p.choices).filter(|c| !c.line.owned);
        self.charging = Charging::new(all.map(|c| (c.facts(self), i64::from(c.line.count))));
        for place in &mut places {
            for choice in &mut place.choices {
                choice.costs = match choice.line.owned {
                    true => self.charging.nothing(),
                    false => self.charging.costs(choice.facts(self), i64::from(choice.line.count)),
                };
            }
            place.choices.sort_by(|a, b| {
                a.costs.goods().cmp(&b.costs.goods()).then_with(|| a.part.id.cmp(&b.part.id))
            });
        }
        self.places = places;
    }

    fn choice(&self, line: Line) -> Option<Choice> {
        let What::Part(part) = &line.what else { return None };
        let part = part.clone();
        let boxed = if line.included { self.boxed(&part, line.count) } else { Vec::new() };
        let costs = self.charging.nothing();
        let mut choice =
            Choice { line, part, costs, loss: 0, priced: true, boxed, facts: OnceCell::new() };
        choice.priced = choice.line.owned || choice.facts(self).price.is_some();
        Some(choice)
    }

    /// What joins the build out of a part's box: one of a single kind yields to a line of its own.
    fn boxed(&self, part: &Part, count: u32) -> Vec<Boxed> {
        let held = unboxed(&self.catalogue, part, |kind| {
            self.own.get(kind.0 as usize).is_some_and(|own| !own.is_empty())
        });
        held.into_iter()
            .map(|(part, i)| Boxed {
                part,
                count: i.count * f64::from(count),
                mount: i.mount,
                flow: i.flow,
                flow_usual: i.flow_usual,
            })
            .collect()
    }

    /// How many lines have more than one choice.
    pub(crate) fn open(&self) -> usize {
        self.places.iter().filter(|p| p.choices.len() > 1).count()
    }

    /// The build with a choice on every line.
    pub(crate) fn build(&self, picks: &[u32]) -> Build {
        let mut build = (*self.base).clone();
        for ((line, place), pick) in build.lines.iter_mut().zip(&self.places).zip(picks) {
            if let Some(choice) = place.choices.get(*pick as usize) {
                *line = choice.line.clone();
            }
        }
        build
    }

    /// The same, joined with its catalogue.
    pub(crate) fn resolved(&self, picks: &[u32]) -> Rc<Resolved> {
        Rc::new(Resolved::new(Arc::new(self.build(picks)), self.catalogue.clone()))
    }

    /// Says of each choice what is lost by it, by its place and its line.
    pub(crate) fn weigh(&mut self, loss: impl Fn(usize, &Line) -> i64) {
        for (at, place) in self.places.iter_mut().enumerate() {
            place.choices.iter_mut().for_each(|c| c.loss = loss(at, &c.line));
        }
    }

    /// What the choices lose together.
    pub(crate) fn loss(&self, picks: &[u32]) -> i64 {
        let chosen = self.places.iter().zip(picks);
        chosen.filter_map(|(p, at)| p.choices.get(*at as usize)).map(|c| c.loss).sum()
    }

    /// An amount in the currency's smallest unit as rules see it.
    pub(crate) fn money(&self, minor: i64) -> f64 {
        minor as f64 / 10f64.powi(self.digits)
    }
}
