//! How warm the chambers get from the heat in them and the air through them, and how warm a part
//! gets in its chamber.
//!
//! Each chamber is taken as well mixed: the air that leaves has the chamber's temperature, and
//! nothing warms a chamber upstream of it. Real air is not so tidy, so what comes out is a figure
//! for comparing builds, not a measurement.

use super::TradeError;
use super::error::{at_least_zero, finite, within};
use super::network::{Edge, ROOM};
use super::solve::solve;

/// Flow in m³/s below which nothing is carried.
const STILL_M3S: f64 = 1e-9;

/// What warms a chamber, and what cools it besides air.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Chamber {
    /// Heat given off in it, in W.
    pub heat_w: f64,
    /// Heat lost through its walls to the room, in W/K; zero is the cautious choice.
    pub wall_w_per_k: f64,
}

/// Temperature in °C of each node: the room first, then the chambers in the order of `chambers`,
/// which are nodes 1, 2 and so on. None for a chamber whose heat has no way out, neither by air to
/// the room nor through a wall: it has no steady temperature.
///
/// `flows` go with `edges`, in m³/s; `heat_per_m3` is the air's, in J/(m³·K), see
/// [`super::air::heat_per_m3`].
/// Errors: flows that are not one for each edge, an edge to a chamber that is not there, a heat or
/// a loss that is negative.
pub fn chamber_c(
    room_c: f64,
    heat_per_m3: f64,
    chambers: &[Chamber],
    edges: &[Edge],
    flows: &[f64],
) -> Result<Vec<Option<f64>>, TradeError> {
    let streams = streams(
        chambers.len() + 1,
        edges,
        flows,
        within("heat of air in J/(m3 K)", heat_per_m3, 1.0, 1e5, "1 to 100000")?,
    )?;
    for chamber in chambers {
        at_least_zero("heat in W", chamber.heat_w)?;
        at_least_zero("loss through walls in W/K", chamber.wall_w_per_k)?;
    }
    let room_c = finite("room temperature in °C", room_c)?;
    let open = open_nodes(chambers, &streams);
    let rows = (0..=chambers.len()).map(|node| row(node, chambers, &streams, &open)).collect();
    let rises = solve(rows)
        .ok_or_else(|| TradeError::new("the temperature of the chambers did not settle"))?;
    Ok(rises.iter().zip(&open).map(|(rise, open)| open.then_some(room_c + rise)).collect())
}

/// Heat that a stream of air carries from one node to another, in W for each kelvin over the room.
#[derive(Debug, Clone, Copy)]
struct Stream {
    from: usize,
    to: usize,
    w_per_k: f64,
}

fn streams(
    nodes: usize,
    edges: &[Edge],
    flows: &[f64],
    heat_per_m3: f64,
) -> Result<Vec<Stream>, TradeError> {
    if edges.len() != flows.len() {
        return Err(TradeError::new("there must be one flow for each way that air can take"));
    }
    if edges.iter().any(|edge| edge.from >= nodes || edge.to >= nodes) {
        return Err(TradeError::new("a way for air leads to a chamber that is not there"));
    }
    let moving =
        edges.iter().zip(flows).filter(|(_, flow)| flow.abs() > STILL_M3S || flow.is_nan());
    moving
        .map(|(edge, flow)| {
            let (from, to) = if *flow > 0.0 { (edge.from, edge.to) } else { (edge.to, edge.from) };
            Ok(Stream { from, to, w_per_k: finite("flow in m3/s", *flow)?.abs() * heat_per_m3 })
        })
        .collect()
}

/// The nodes whose heat reaches the room, along the streams or through a wall.
fn open_nodes(chambers: &[Chamber], streams: &[Stream]) -> Vec<bool> {
    let walls = chambers.iter().map(|chamber| chamber.wall_w_per_k > 0.0);
    let mut open: Vec<bool> = std::iter::once(true).chain(walls).collect();
    for _ in 0..open.len() {
        for stream in streams {
            let reaches = open.get(stream.to).copied().unwrap_or(false);
            open.get_mut(stream.from).into_iter().for_each(|from| *from |= reaches);
        }
    }
    open
}

/// Balance of heat of a node, in rises over the room.
fn row(node: usize, chambers: &[Chamber], streams: &[Stream], open: &[bool]) -> Vec<f64> {
    let mut row = vec![0.0; open.len() + 1];
    let mut add =
        |column: usize, value: f64| row.get_mut(column).into_iter().for_each(|cell| *cell += value);
    let chamber = node.checked_sub(1).and_then(|at| chambers.get(at));
    let (Some(chamber), true) = (chamber, open.get(node).copied().unwrap_or(false)) else {
        add(node, 1.0);
        return row;
    };
    add(node, chamber.wall_w_per_k);
    add(open.len(), chamber.heat_w);
    for stream in streams.iter().filter(|stream| stream.from != stream.to) {
        if stream.from == node {
            add(node, stream.w_per_k);
        }
        if stream.to == node && stream.from != ROOM {
            add(stream.from, -stream.w_per_k);
        }
    }
    row
}

#[cfg(test)]
#[path = "../../tests/unit/trade/heat.rs"]
mod tests;
