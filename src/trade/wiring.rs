//! Which front-panel lead goes on which board header, through which adapter or hub, so that as much
//! as possible works.
//!
//! A lead fits a header of its own kind. A *bridge* stands between: an adapter lets a lead of one
//! kind go on a header of another, a hub gives several sockets for one header. A bridge is used at
//! most once, sits straight on the board (never on another bridge), and takes up its headers as a
//! whole.
//!
//! # What is best
//! First the most needed leads, then the most leads, then the most at full speed with all ports,
//! then the largest share carried of what each lead asks, then the fewest leads through a bridge;
//! of what is still equal, the earlier leads and then the earlier headers. Needed leads come before
//! the number of leads because a hub can make the two clash: it serves many by taking the header of
//! one. Without bridges they can't clash: the sets of leads that can be served together form a
//! (transversal) matroid, so a largest set of needed leads always grows into a largest set.
//!
//! # Why the answer is exact
//! Once it is settled on which headers each bridge sits, what is left is an assignment of leads to
//! sockets, with each lead's gain known; that is solved exactly by `assign`. The seats of the
//! bridges are tried in turn. Before a branch is entered, its best is bounded by letting every
//! bridge not yet seated serve its sockets without taking up a header and at the fastest header's
//! rate: no seating of them can do better, so a branch whose bound does not beat the best so far
//! holds nothing better. Headers that are alike, and bridges that are alike, are tried once. The
//! number of branches is limited, and [`Wiring::proven`] says whether the limit was met; a box of a
//! size that exists never meets it.

use super::assign::{Gain, assign};

/// Most steps of assignments in one search, half a second or so; above it the best so far is given,
/// not proven.
const MOST_STEPS: usize = 200_000_000;

/// A lead from the chassis's front.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead<'a> {
    /// Kind of header it plugs into: `key_a`.
    pub kind: &'a str,
    /// Ports on it, one or more.
    pub ports: u32,
    /// Rate that each of its ports is sold for, in Gbit/s; 0 where there is none, as for switches
    /// and sound.
    pub gbps: f64,
    /// Rate below which it is not worth plugging in, in Gbit/s; 0 takes any.
    pub least_gbps: f64,
    /// Whether the machine can't be used without it.
    pub needed: bool,
}

/// A header on the board.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Header<'a> {
    /// Kind of lead that plugs into it.
    pub kind: &'a str,
    /// Ports it serves.
    pub ports: u32,
    /// Rate of each port in Gbit/s; 0 where none is stated, which is taken as no limit.
    pub gbps: f64,
}

/// An adapter or an internal hub.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bridge<'a> {
    /// Kind of lead that goes into it.
    pub lead_kind: &'a str,
    /// Kind of board header that it plugs into.
    pub header_kind: &'a str,
    /// Rate that it passes for each port, in Gbit/s; 0 where none is stated, which is taken as no
    /// limit.
    pub gbps: f64,
    /// Leads that it serves at once.
    pub sockets: u32,
    /// Board headers that it takes up.
    pub plugs: u32,
}

impl<'a> Bridge<'a> {
    /// An adapter: one lead of a kind on one header of another.
    pub fn adapter(lead_kind: &'a str, header_kind: &'a str, gbps: f64) -> Self {
        Self { lead_kind, header_kind, gbps, sockets: 1, plugs: 1 }
    }

    /// A hub: several leads of a kind on one header of that kind. Its leads share the header's
    /// rate; each alone may have all of it.
    pub fn hub(kind: &'a str, sockets: u32) -> Self {
        Self { lead_kind: kind, header_kind: kind, gbps: 0.0, sockets, plugs: 1 }
    }

    /// The fastest that it could be seated on a board with all headers free; none where it finds no
    /// seat.
    fn fastest_seat(&self, headers: &[Header<'_>]) -> Option<f64> {
        let mut rates: Vec<f64> =
            headers.iter().filter(|h| h.kind == self.header_kind).map(|h| limit(h.gbps)).collect();
        rates.sort_by(|one, other| other.total_cmp(one));
        let slowest = rates.get(self.seats() - 1).filter(|_| self.sockets > 0);
        slowest.map(|rate| rate.min(limit(self.gbps)))
    }

    fn seats(&self) -> usize {
        usize::try_from(self.plugs.max(1)).unwrap_or(usize::MAX)
    }
}

/// A lead that has a header.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Which lead.
    pub lead: usize,
    /// Which header; the first of them for a bridge that takes up several.
    pub header: usize,
    /// Through which bridge, if any.
    pub bridge: Option<usize>,
    /// Ports of the lead that are served.
    pub ports: u32,
    /// Rate of each port in Gbit/s, at most what the lead asks.
    pub gbps: f64,
}

/// Why a lead has no header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The board has no header for it at all, nor through a bridge.
    None,
    /// Every header for it serves another lead.
    Taken,
    /// Every way for it is slower than the least that the lead is worth plugging in for.
    Slow,
}

impl Why {
    /// As scripts see it: `none`, `taken` or `slow`.
    pub fn text(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Taken => "taken",
            Self::Slow => "slow",
        }
    }
}

/// A lead without a header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unplaced {
    /// Which lead.
    pub lead: usize,
    /// Why.
    pub why: Why,
}

/// Where every lead goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Wiring {
    /// Leads with a header, in the order of the leads.
    pub placed: Vec<Placed>,
    /// Leads without, in the order of the leads.
    pub unplaced: Vec<Unplaced>,
    /// Headers that serve no lead, in the order of the headers.
    pub spare: Vec<usize>,
    /// Whether this is proven the best; false only if the search met its limit.
    pub proven: bool,
}

/// The best wiring of a front panel. It depends on nothing but its arguments, their order included:
/// of equals, the first is taken.
pub fn wire(leads: &[Lead<'_>], headers: &[Header<'_>], bridges: &[Bridge<'_>]) -> Wiring {
    let mut search = Search {
        leads,
        headers,
        bridges,
        seats: Vec::new(),
        free: vec![true; headers.len()],
        best: Default::default(),
        left: MOST_STEPS,
    };
    search.run();
    let (_, placed) = search.best;
    let unplaced = (0..leads.len()).filter(|lead| placed.iter().all(|p| p.lead != *lead));
    let unplaced = unplaced
        .filter_map(|lead| {
            leads.get(lead).map(|l| Unplaced { lead, why: why(l, headers, bridges) })
        })
        .collect();
    let taken: Vec<usize> = placed.iter().flat_map(|p| p.headers.iter().copied()).collect();
    let spare = (0..headers.len()).filter(|header| !taken.contains(header)).collect();
    Wiring {
        placed: placed.iter().map(Route::placed).collect(),
        unplaced,
        spare,
        proven: search.left > 0 || bridges.is_empty(),
    }
}

/// The limit that a stated rate in Gbit/s sets; 0 states none.
fn limit(gbps: f64) -> f64 {
    if gbps > 0.0 { gbps } else { f64::INFINITY }
}

/// Why a lead that could not be placed has no header.
fn why(lead: &Lead<'_>, headers: &[Header<'_>], bridges: &[Bridge<'_>]) -> Why {
    let direct = headers.iter().filter(|h| h.kind == lead.kind).map(|h| limit(h.gbps));
    let through =
        bridges.iter().filter(|b| b.lead_kind == lead.kind).filter_map(|b| b.fastest_seat(headers));
    match direct.chain(through).reduce(f64::max) {
        None => Why::None,
        Some(fastest) if fastest < lead.least_gbps => Why::Slow,
        Some(_) => Why::Taken,
    }
}

/// A number that falls as an index rises.
fn rank(index: usize) -> i64 {
    i64::try_from(index).map_or(i64::MIN / 2, |index| -index)
}

/// A place for one lead: a header, or one of a seated bridge's.
#[derive(Debug, Clone)]
struct Socket<'a> {
    kind: &'a str,
    /// Ports; none where as many are served as a lead has.
    ports: Option<u32>,
    /// Limit of rate, infinite where none is stated.
    gbps: f64,
    headers: Vec<usize>,
    bridge: Option<usize>,
    /// Counts down from the first header to the last bridge; decides between equals.
    rank: i64,
}

impl Socket<'_> {
    /// Ports served and rate of each, if the lead can go here.
    fn serves(&self, lead: &Lead<'_>) -> Option<(u32, f64)> {
        let ports = self.ports.map_or(lead.ports, |ports| ports.min(lead.ports));
        (self.kind == lead.kind && self.gbps >= lead.least_gbps)
            .then(|| (ports, self.gbps.min(lead.gbps)))
    }

    /// What it is worth to give this place to a lead; `lead_rank` counts down from the first lead.
    fn gain(&self, lead: &Lead<'_>, lead_rank: i64) -> Option<Gain> {
        let (ports, gbps) = self.serves(lead)?;
        let rate = if lead.gbps > 0.0 { gbps / lead.gbps } else { 1.0 };
        let share = rate * f64::from(ports) / f64::from(lead.ports.max(1));
        let full = ports >= lead.ports && gbps >= lead.gbps;
        let direct = i64::from(self.bridge.is_none());
        Some(Gain([
            i64::from(lead.needed),
            1,
            i64::from(full),
            (share * 1000.0) as i64,
            direct,
            lead_rank,
            self.rank,
        ]))
    }
}

/// A lead and the place that it has.
#[derive(Debug, Clone)]
struct Route {
    lead: usize,
    headers: Vec<usize>,
    bridge: Option<usize>,
    ports: u32,
    gbps: f64,
}

impl Route {
    fn placed(&self) -> Placed {
        Placed {
            lead: self.lead,
            header: self.headers.first().copied().unwrap_or(0),
            bridge: self.bridge,
            ports: self.ports,
            gbps: self.gbps,
        }
    }
}

/// The search over the seats of the bridges.
struct Search<'a> {
    leads: &'a [Lead<'a>],
    headers: &'a [Header<'a>],
    bridges: &'a [Bridge<'a>],
    /// Headers under each bridge that has been decided; empty where it is not used.
    seats: Vec<Vec<usize>>,
    /// Headers with no bridge on them.
    free: Vec<bool>,
    best: (Gain, Vec<Route>),
    /// Steps that may still be made.
    left: usize,
}

impl<'a> Search<'a> {
    /// Finds the best, from what can be had without any bridge upwards.
    fn run(&mut self) {
        self.seats = vec![Vec::new(); self.bridges.len()];
        self.best = self.assigned();
        self.seats.clear();
        self.seat_next();
    }

    /// Decides the next bridge in every way that could beat the best so far; not used comes first.
    fn seat_next(&mut self) {
        if self.left == 0 {
            return;
        }
        let (gain, routes) = self.assigned();
        if gain <= self.best.0 {
            return;
        }
        let Some(bridge) = self.bridges.get(self.seats.len()) else {
            self.best = (gain, routes);
            return;
        };
        self.seat(Vec::new());
        if self.worth_seating(bridge) {
            self.choose(bridge, 0, Vec::new());
        }
    }

    /// Goes on with a bridge on some headers.
    fn seat(&mut self, headers: Vec<usize>) {
        self.seats.push(headers);
        self.seat_next();
        self.seats.pop();
    }

    /// Whether a bridge has a lead to serve, and is not the like of one just left unused.
    fn worth_seating(&self, bridge: &Bridge<'_>) -> bool {
        let at = self.seats.len();
        let twin_unused = at.checked_sub(1).is_some_and(|last| {
            self.bridges.get(last) == Some(bridge)
                && self.seats.get(last).is_some_and(Vec::is_empty)
        });
        !twin_unused
            && bridge.sockets > 0
            && self.leads.iter().any(|lead| lead.kind == bridge.lead_kind)
    }

    /// Tries every set of headers for a bridge, from a header on; of free headers that are alike,
    /// the first are taken.
    fn choose(&mut self, bridge: &Bridge<'_>, from: usize, chosen: Vec<usize>) {
        if chosen.len() == bridge.seats() {
            return self.seat(chosen);
        }
        for at in from..self.headers.len() {
            if self.is_free(at)
                && self.headers.get(at).is_some_and(|h| h.kind == bridge.header_kind)
                && !self.like_free_before(at)
            {
                let more = chosen.iter().copied().chain([at]).collect();
                self.set_free(at, false);
                self.choose(bridge, at + 1, more);
                self.set_free(at, true);
            }
        }
    }

    fn is_free(&self, header: usize) -> bool {
        self.free.get(header).copied().unwrap_or(false)
    }

    fn set_free(&mut self, header: usize, free: bool) {
        if let Some(slot) = self.free.get_mut(header) {
            *slot = free;
        }
    }

    fn like_free_before(&self, header: usize) -> bool {
        (0..header).any(|before| {
            self.is_free(before) && self.headers.get(before) == self.headers.get(header)
        })
    }

    /// The best assignment to the sockets there are; a bound while some bridges are not decided.
    fn assigned(&mut self) -> (Gain, Vec<Route>) {
        let sockets = self.sockets();
        let steps =
            self.leads.len().saturating_pow(2).saturating_mul(self.leads.len() + sockets.len());
        self.left = self.left.saturating_sub(steps + 1);
        let gain =
            |lead: usize, socket: &Socket<'_>| socket.gain(self.leads.get(lead)?, rank(lead));
        let held = assign(self.leads.len(), sockets.len(), |lead, socket| {
            gain(lead, sockets.get(socket)?)
        });
        let pairs = self
            .leads
            .iter()
            .enumerate()
            .zip(held)
            .filter_map(|(lead, socket)| Some((lead, sockets.get(socket?)?)));
        let mut total = Gain::default();
        let mut routes = Vec::new();
        for ((lead, asked), socket) in pairs {
            if let (Some(gain), Some((ports, gbps))) = (gain(lead, socket), socket.serves(asked)) {
                total = total + gain;
                routes.push(Route {
                    lead,
                    headers: socket.headers.clone(),
                    bridge: socket.bridge,
                    ports,
                    gbps,
                });
            }
        }
        (total, routes)
    }

    /// The free headers, then the sockets of the bridges.
    fn sockets(&self) -> Vec<Socket<'a>> {
        let free = self.headers.iter().enumerate().filter(|(at, _)| self.is_free(*at));
        let mut sockets: Vec<_> = free
            .map(|(at, h)| Socket {
                kind: h.kind,
                ports: Some(h.ports),
                gbps: limit(h.gbps),
                headers: vec![at],
                bridge: None,
                rank: rank(at),
            })
            .collect();
        for (at, bridge) in self.bridges.iter().enumerate() {
            if let Some(socket) = self.bridge_socket(at, bridge) {
                let count =
                    usize::try_from(bridge.sockets).unwrap_or(usize::MAX).min(self.leads.len());
                sockets.extend(std::iter::repeat_n(socket, count));
            }
        }
        sockets
    }

    /// What one socket of a bridge offers: over its own headers if it has been seated, over the
    /// best it could have if not yet decided.
    fn bridge_socket(&self, at: usize, bridge: &Bridge<'a>) -> Option<Socket<'a>> {
        let rank = rank(self.headers.len() + at);
        let Some(seats) = self.seats.get(at) else {
            let gbps = bridge.fastest_seat(self.headers)?;
            return Some(Socket {
                kind: bridge.lead_kind,
                ports: None,
                gbps,
                headers: Vec::new(),
                bridge: Some(at),
                rank,
            });
        };
        let under: Vec<_> = seats.iter().filter_map(|header| self.headers.get(*header)).collect();
        let ports = (bridge.sockets == 1)
            .then(|| under.iter().map(|h| h.ports).fold(0, u32::saturating_add));
        let gbps = under.iter().map(|h| limit(h.gbps)).fold(limit(bridge.gbps), f64::min);
        (!seats.is_empty()).then(|| Socket {
            kind: bridge.lead_kind,
            ports,
            gbps,
            headers: seats.clone(),
            bridge: Some(at),
            rank,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lead(kind: &str, gbps: f64) -> Lead<'_> {
        Lead { kind, ports: 1, gbps, least_gbps: 0.0, needed: false }
    }

    fn header(kind: &str, gbps: f64) -> Header<'_> {
        Header { kind, ports: 2, gbps }
    }

    fn places(wiring: &Wiring) -> Vec<(usize, usize, Option<usize>)> {
        wiring.placed.iter().map(|p| (p.lead, p.header, p.bridge)).collect()
    }

    #[test]
    fn a_fast_lead_runs_at_its_headers_rate() {
        let wiring = wire(&[lead("key_a", 20.0)], &[header("key_a", 10.0)], &[]);
        assert_eq!(
            wiring.placed,
            vec![Placed { lead: 0, header: 0, bridge: None, ports: 1, gbps: 10.0 }]
        );
        let picky = Lead { least_gbps: 20.0, ..lead("key_a", 20.0) };
        assert_eq!(
            wire(&[picky], &[header("key_a", 10.0)], &[]).unplaced,
            vec![Unplaced { lead: 0, why: Why::Slow }]
        );
    }

    #[test]
    fn the_fast_lead_gets_the_fast_header() {
        let wiring = wire(
            &[lead("key_a", 10.0), lead("key_a", 20.0)],
            &[header("key_a", 20.0), header("key_a", 10.0)],
            &[],
        );
        assert_eq!(places(&wiring), vec![(0, 1, None), (1, 0, None)]);
    }

    #[test]
    fn reasons_tell_missing_from_taken() {
        let leads = [lead("usb2", 0.48), lead("usb2", 0.48), lead("key_a", 10.0)];
        let wiring = wire(&leads, &[header("usb2", 0.48), header("audio", 0.0)], &[]);
        assert_eq!(
            wiring.unplaced,
            vec![Unplaced { lead: 1, why: Why::Taken }, Unplaced { lead: 2, why: Why::None }]
        );
        assert_eq!(wiring.spare, vec![1]);
        assert!(wiring.proven);
    }

    #[test]
    fn a_needed_lead_comes_before_a_greater_number() {
        // The hub would serve two leads on the header that the needed one needs.
        let hub =
            Bridge { lead_kind: "usb2", header_kind: "panel", gbps: 0.0, sockets: 2, plugs: 1 };
        let panel = Lead { needed: true, ..lead("panel", 0.0) };
        let leads = [lead("usb2", 0.48), lead("usb2", 0.48), panel];
        assert_eq!(places(&wire(&leads, &[header("panel", 0.0)], &[hub])), vec![(2, 0, None)]);
        let leads = [lead("usb2", 0.48), lead("usb2", 0.48), lead("panel", 0.0)];
        assert_eq!(
            places(&wire(&leads, &[header("panel", 0.0)], &[hub])),
            vec![(0, 0, Some(0)), (1, 0, Some(0))]
        );
    }

    #[test]
    fn an_adapter_is_used_once_and_only_where_it_helps() {
        let adapter = Bridge::adapter("usb3_20", "usb2", 0.48);
        let leads = [lead("usb3_20", 5.0), lead("usb3_20", 5.0), lead("usb3_20", 5.0)];
        let headers = [header("usb2", 0.48), header("usb2", 0.48), header("usb3_20", 5.0)];
        let wiring = wire(&leads, &headers, &[adapter]);
        assert_eq!(places(&wiring), vec![(0, 2, None), (1, 0, Some(0))]);
        assert_eq!(wiring.unplaced, vec![Unplaced { lead: 2, why: Why::Taken }]);
        assert_eq!(wiring.spare, vec![1]);
        assert_eq!(places(&wire(&leads[..1], &headers, &[adapter])), vec![(0, 2, None)]);
    }

    #[test]
    fn a_bridge_over_two_headers_needs_both() {
        let bridge =
            Bridge { lead_kind: "key_e", header_kind: "usb3_20", gbps: 0.0, sockets: 1, plugs: 2 };
        let two = [header("usb3_20", 5.0), header("usb3_20", 5.0)];
        assert_eq!(
            wire(&[lead("key_e", 20.0)], &two[..1], &[bridge]).unplaced,
            vec![Unplaced { lead: 0, why: Why::None }]
        );
        let wiring = wire(&[lead("key_e", 20.0)], &two, &[bridge]);
        assert_eq!(
            wiring.placed,
            vec![Placed { lead: 0, header: 0, bridge: Some(0), ports: 1, gbps: 5.0 }]
        );
        assert!(wiring.spare.is_empty());
    }

    #[test]
    fn of_equal_seats_the_first_is_taken() {
        let hub = Bridge { header_kind: "usb3_20", ..Bridge::hub("usb2", 2) };
        let headers = [Header { ports: 1, ..header("usb3_20", 5.0) }, header("usb3_20", 5.0)];
        assert_eq!(
            places(&wire(&[lead("usb2", 0.48), lead("usb2", 0.48)], &headers, &[hub])),
            vec![(0, 0, Some(0)), (1, 0, Some(0))]
        );
    }

    #[test]
    fn many_that_are_alike_are_tried_once() {
        let leads = [lead("usb2", 0.48); 20];
        let wiring = wire(&leads, &[header("usb2", 0.48); 8], &[Bridge::hub("usb2", 2); 12]);
        assert_eq!((wiring.placed.len(), wiring.proven), (16, true));
    }

    #[test]
    fn nothing_to_wire_leaves_every_header_spare() {
        assert_eq!(
            wire(&[], &[header("usb2", 0.48)], &[]),
            Wiring { placed: vec![], unplaced: vec![], spare: vec![0], proven: true }
        );
    }
}
