//! Chambers joined by fans and openings: how much air flows where.
//!
//! A node is a chamber at one pressure; node 0 is the room, whose pressure counts as zero. An edge
//! is a way between two nodes: an opening, a fan, or a fan behind an opening. The air is taken as
//! incompressible and of one density, which holds within a fraction of a per cent at the pressures
//! of fans.
//!
//! # The sum
//! On each edge the pressure rises by `P0 − K·q·|q|`: the fan's shut-off pressure less what fan and
//! opening lose, see `FanCurve`. In each chamber what flows in flows out. Together that
//! is the lowest point of the energy `Σ K·|q|³/3 − P0·q` over all flows that balance, which is
//! strictly convex, so there is one answer and no other. Newton's method finds it: flows and
//! pressures come from one linear system a step (E. Todini and S. Pilati's gradient method for pipe
//! networks, 1988, from memory), every step keeps the balance, and a line search makes the energy
//! fall. Opposed fans, dead ends and fans that turn nothing need no special case.
//!
//! Chambers with no way to the room balance among themselves; their pressures are counted from the
//! lowest-numbered of them.

use super::TradeError;
use super::air::FanCurve;
use super::error::{above_zero, at_least_zero};
use super::solve::solve;

/// The room's node.
pub const ROOM: usize = 0;

/// Most nodes or edges of a network.
const MOST: usize = 400;
/// Most steps of the solver; a handful is usual.
const MOST_STEPS: u32 = 200;
/// A flow this much smaller than the network's own scale is nothing: the solver's slope is held at
/// it, and steps below it end the search.
const FLOW_FLOOR: f64 = 1e-9;
/// Steps without progress, once the residual is accepted, that end the search.
const IDLE_STEPS: u32 = 3;
/// Largest residual accepted, as a share of the largest shut-off pressure.
const PRESSURE_TOLERANCE: f64 = 1e-6;

/// A way for air between two nodes; what flows from `from` to `to` counts as positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Node that a fan here draws from.
    pub from: usize,
    /// Node that it blows into.
    pub to: usize,
    /// The fan, if there is one.
    pub fan: Option<FanCurve>,
    /// Resistance of opening, filter and grille in Pa/(m³/s)²; above zero unless there is a fan.
    pub resistance: f64,
}

impl Edge {
    /// An opening, with nothing that drives.
    pub fn opening(from: usize, to: usize, resistance: f64) -> Self {
        Self { from, to, fan: None, resistance }
    }

    /// A fan that blows from one node into another through a resistance, which may be zero.
    pub fn fan(from: usize, to: usize, fan: FanCurve, resistance: f64) -> Self {
        Self { from, to, fan: Some(fan), resistance }
    }
}

/// What flows.
#[derive(Debug, Clone, PartialEq)]
pub struct Flows {
    /// Flow of each edge in m³/s, in the order of the edges; below zero where it runs from `to` to
    /// `from`.
    pub flows: Vec<f64>,
    /// Pressure of each node over the room's, in Pa.
    pub pressures: Vec<f64>,
    /// Largest difference between what flows into a chamber and out of it, in m³/s.
    pub residual_m3s: f64,
    /// Largest pressure along an edge that is not accounted for, in Pa.
    pub residual_pa: f64,
    /// Steps that the solver took.
    pub steps: u32,
}

impl Flows {
    /// Air that the room gives and takes back, in m³/s: the sum of what flows out of the room over
    /// all edges.
    pub fn exchange(&self, edges: &[Edge]) -> f64 {
        let out = |edge: &Edge, flow: f64| {
            if edge.from == edge.to { 0.0 } else { leaving(edge, ROOM, flow) }
        };
        edges.iter().zip(&self.flows).map(|(edge, flow)| out(edge, *flow).max(0.0)).sum()
    }
}

/// What leaves a node along an edge.
fn leaving(edge: &Edge, node: usize, flow: f64) -> f64 {
    if edge.from == node {
        flow
    } else if edge.to == node {
        -flow
    } else {
        0.0
    }
}

/// Finds what flows in a network of `nodes` nodes, the room included.
/// Errors: an edge to a node that is not there, or from a node to itself; an opening without
/// resistance; a fan's end or a resistance that makes no sense; more than 400 nodes or edges;
/// a residual that stays above a millionth of the largest shut-off
/// pressure.
pub fn solve_flows(nodes: usize, edges: &[Edge]) -> Result<Flows, TradeError> {
    let laws = edges.iter().map(|edge| law(nodes, edge)).collect::<Result<Vec<_>, _>>()?;
    if nodes == 0 || nodes > MOST || edges.len() > MOST {
        return Err(TradeError::new(
            "a network has the room, and at most 400 nodes and 400 ways between them",
        ));
    }
    let highest = laws.iter().map(|law| law.drive).fold(0.0, f64::max);
    if highest == 0.0 {
        return Ok(Flows {
            flows: vec![0.0; edges.len()],
            pressures: vec![0.0; nodes],
            residual_m3s: 0.0,
            residual_pa: 0.0,
            steps: 0,
        });
    }
    let mut network = Network {
        nodes,
        grounds: grounds(nodes, edges),
        flows: vec![0.0; laws.len()],
        pressures: vec![0.0; nodes],
        laws,
        highest,
    };
    let steps = network.settle()?;
    let flows = network.finished(steps);
    if flows.residual_pa <= highest * PRESSURE_TOLERANCE {
        Ok(flows)
    } else {
        let left = flows.residual_pa;
        Err(TradeError(format!("the flow of air did not settle; {left:.3e} was left over")))
    }
}

/// What drives an edge and what holds it back.
#[derive(Debug, Clone, Copy)]
struct Law {
    from: usize,
    to: usize,
    /// Pressure that drives, in Pa.
    drive: f64,
    /// Resistance of fan and opening together.
    resistance: f64,
}

impl Law {
    /// Rise of pressure along the edge at a flow.
    fn rise(&self, flow: f64) -> f64 {
        self.drive - self.resistance * flow * flow.abs()
    }
}

fn law(nodes: usize, edge: &Edge) -> Result<Law, TradeError> {
    if edge.from >= nodes || edge.to >= nodes || edge.from == edge.to {
        return Err(TradeError::new("a way for air joins two different nodes that are there"));
    }
    let (drive, own) = match edge.fan {
        Some(fan) => FanCurve::new(fan.shutoff_pa, fan.free_m3s)
            .map(|fan| (fan.shutoff_pa, fan.own_resistance()))?,
        None => (0.0, 0.0),
    };
    let resistance = above_zero(
        "resistance in Pa/(m3/s)2",
        at_least_zero("resistance in Pa/(m3/s)2", edge.resistance)? + own,
    )?;
    Ok(Law {
        from: edge.from,
        to: edge.to,
        drive,
        resistance: at_least_zero("resistance in Pa/(m3/s)2", resistance)?,
    })
}

/// The lowest-numbered node of every group of joined nodes; each has its pressure held at zero.
fn grounds(nodes: usize, edges: &[Edge]) -> Vec<bool> {
    let mut group: Vec<usize> = (0..nodes).collect();
    for edge in edges {
        let ends = group.get(edge.from).copied().zip(group.get(edge.to).copied());
        if let Some((a, b)) = ends {
            group.iter_mut().filter(|g| **g == a.max(b)).for_each(|g| *g = a.min(b));
        }
    }
    group.iter().enumerate().map(|(node, group)| node == *group).collect()
}

struct Network {
    nodes: usize,
    laws: Vec<Law>,
    grounds: Vec<bool>,
    /// Always in balance from the first step on.
    flows: Vec<f64>,
    pressures: Vec<f64>,
    highest: f64,
}

impl Network {
    /// Steps until the flows no longer change; the number of steps.
    fn settle(&mut self) -> Result<u32, TradeError> {
        let scale =
            self.laws.iter().map(|law| (self.highest / law.resistance).sqrt()).fold(0.0, f64::max);
        let (mut best, mut idle) = (f64::INFINITY, 0);
        for step in 1..=MOST_STEPS {
            let change = self.change(scale)?;
            let share = if step == 1 { 1.0 } else { self.share(&change) };
            self.flows.iter_mut().zip(&change).for_each(|(flow, change)| *flow += share * change);
            let left = self.residual_pa();
            idle = if left < 0.5 * best { 0 } else { idle + 1 };
            best = best.min(left);
            let settled =
                largest(&change) <= scale * FLOW_FLOOR && left <= self.highest * FLOW_FLOOR;
            // Resistances of very different size leave rounding that no further step takes away.
            if settled || (idle >= IDLE_STEPS && left <= self.highest * PRESSURE_TOLERANCE) {
                return Ok(step);
            }
        }
        Ok(MOST_STEPS)
    }

    /// The change of each flow that Newton's method asks for, and the pressures that go with it.
    fn change(&mut self, scale: f64) -> Result<Vec<f64>, TradeError> {
        let first = self.flows.iter().all(|flow| *flow == 0.0);
        let slope = |law: &Law, flow: f64| {
            let own = (self.highest / law.resistance).sqrt();
            2.0 * law.resistance
                * if first { own } else { flow.abs().max(own * 1e-5).max(scale * FLOW_FLOOR) }
        };
        let ease: Vec<f64> = self
            .laws
            .iter()
            .zip(&self.flows)
            .map(|(law, flow)| slope(law, *flow).recip())
            .collect();
        let rows = self.rows(&ease);
        self.pressures =
            solve(rows).ok_or_else(|| TradeError::new("the flow of air did not settle"))?;
        Ok(self
            .laws
            .iter()
            .zip(&self.flows)
            .zip(&ease)
            .map(|((law, flow), ease)| ease * (law.rise(*flow) - self.step_up(law)))
            .collect())
    }

    /// Balance of every node, with the change of flow written in pressures.
    fn rows(&self, ease: &[f64]) -> Vec<Vec<f64>> {
        let mut rows = vec![vec![0.0; self.nodes + 1]; self.nodes];
        let mut add = |row: usize, column: usize, value: f64| {
            let held = self.grounds.get(row).copied().unwrap_or(true);
            if let Some(cell) =
                rows.get_mut(row).filter(|_| !held).and_then(|row| row.get_mut(column))
            {
                *cell += value;
            }
        };
        for ((law, flow), ease) in self.laws.iter().zip(&self.flows).zip(ease) {
            let pushed = flow + ease * law.rise(*flow);
            for (node, other, arriving) in [(law.from, law.to, -pushed), (law.to, law.from, pushed)]
            {
                add(node, node, *ease);
                add(node, other, -ease);
                add(node, self.nodes, arriving);
            }
        }
        for (node, row) in rows
            .iter_mut()
            .enumerate()
            .filter(|(node, _)| self.grounds.get(*node).copied().unwrap_or(true))
        {
            row.iter_mut().enumerate().for_each(|(column, cell)| *cell = f64::from(column == node));
        }
        rows
    }

    /// Rise of pressure from an edge's one end to its other.
    fn step_up(&self, law: &Law) -> f64 {
        let at = |node: usize| self.pressures.get(node).copied().unwrap_or(0.0);
        at(law.to) - at(law.from)
    }

    /// How much of a change to make: all of it, or where the energy would rise again before the
    /// end, about as far as its lowest point.
    fn share(&self, change: &[f64]) -> f64 {
        let climb = |share: f64| -> f64 {
            let each = self.laws.iter().zip(&self.flows).zip(change);
            each.map(|((law, flow), change)| -law.rise(flow + share * change) * change).sum()
        };
        // Of small changes the energy shows only rounding; they are made in full.
        let small = largest(change) <= largest(&self.flows) * 1e-6;
        if small || climb(1.0) <= climb(0.0).abs() * 0.5 {
            return 1.0;
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..20 {
            let middle = 0.5 * (low + high);
            if climb(middle) < 0.0 { low = middle } else { high = middle }
        }
        high
    }

    fn residual_pa(&self) -> f64 {
        self.laws
            .iter()
            .zip(&self.flows)
            .map(|(law, flow)| (law.rise(*flow) - self.step_up(law)).abs())
            .fold(0.0, f64::max)
    }

    fn residual_m3s(&self) -> f64 {
        let mut balance = vec![0.0; self.nodes];
        for (law, flow) in self.laws.iter().zip(&self.flows) {
            for (node, arriving) in [(law.from, -flow), (law.to, *flow)] {
                balance.get_mut(node).into_iter().for_each(|sum| *sum += arriving);
            }
        }
        largest(&balance)
    }

    fn finished(self, steps: u32) -> Flows {
        let (residual_m3s, residual_pa) = (self.residual_m3s(), self.residual_pa());
        Flows { flows: self.flows, pressures: self.pressures, residual_m3s, residual_pa, steps }
    }
}

/// The largest of some values, whatever their sign.
fn largest(values: &[f64]) -> f64 {
    values.iter().map(|value| value.abs()).fold(0.0, f64::max)
}

#[cfg(test)]
#[path = "../../tests/unit/trade/network.rs"]
mod tests;
