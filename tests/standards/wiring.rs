//! Holds the wiring to enumeration of every possibility, bridges included, and without bridges to
//! an independent matching library.

use dryfit::inside::trade::wiring::{Bridge, Header, Lead, Placed, Why, Wiring, wire};
use pathfinding::matrix::Matrix;
use pathfinding::prelude::kuhn_munkres;

const KINDS: [&str; 4] = ["usb2", "usb3_20", "key_a", "panel"];
const RATES: [f64; 5] = [0.0, 5.0, 10.0, 20.0, 40.0];

/// Numbers from a fixed start.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides
    }

    fn kind(&mut self, of: usize) -> &'static str {
        KINDS.get(self.roll(of)).copied().unwrap_or("usb2")
    }

    fn rate(&mut self) -> f64 {
        RATES.get(self.roll(RATES.len())).copied().unwrap_or(0.0)
    }

    fn lead(&mut self, kinds: usize) -> Lead<'static> {
        let least_gbps = if self.roll(4) == 0 { self.rate() } else { 0.0 };
        Lead {
            kind: self.kind(kinds),
            ports: 1 + self.roll(2) as u32,
            gbps: self.rate(),
            least_gbps,
            needed: self.roll(3) == 0,
        }
    }

    fn header(&mut self, kinds: usize) -> Header<'static> {
        Header { kind: self.kind(kinds), ports: 1 + self.roll(2) as u32, gbps: self.rate() }
    }

    fn bridge(&mut self, kinds: usize) -> Bridge<'static> {
        let plugs = if self.roll(4) == 0 { 2 } else { 1 };
        Bridge {
            lead_kind: self.kind(kinds),
            header_kind: self.kind(kinds),
            gbps: self.rate(),
            sockets: 1 + self.roll(3) as u32,
            plugs,
        }
    }
}

struct Board {
    leads: Vec<Lead<'static>>,
    headers: Vec<Header<'static>>,
    bridges: Vec<Bridge<'static>>,
}

/// What a wiring is worth, as the words of its documentation have it: needed, placed, at full
/// speed, share carried in thousandths, without a bridge.
type Worth = [i64; 5];

/// Limit that a stated rate sets; 0 states none.
fn limit(gbps: f64) -> f64 {
    if gbps == 0.0 { f64::INFINITY } else { gbps }
}

/// What one lead is worth with so many ports served at a limit of rate; none where the lead does
/// not want it.
fn lead_worth(lead: &Lead<'_>, ports: u32, limit_gbps: f64, direct: bool) -> Option<Worth> {
    let (ports, gbps) = (ports.min(lead.ports), limit_gbps.min(lead.gbps));
    let rate = if lead.gbps == 0.0 { 1.0 } else { gbps / lead.gbps };
    let share = (rate * f64::from(ports) / f64::from(lead.ports) * 1000.0) as i64;
    let full = ports == lead.ports && gbps == lead.gbps;
    (limit_gbps >= lead.least_gbps).then_some([
        i64::from(lead.needed),
        1,
        i64::from(full),
        share,
        i64::from(direct),
    ])
}

fn sum(one: Worth, other: Worth) -> Worth {
    let mut total = one;
    total.iter_mut().zip(other).for_each(|(a, b)| *a += b);
    total
}

/// Headers under each bridge, if it is used, and what is left of its sockets.
type Seats = Vec<Option<(Vec<usize>, u32)>>;

/// The best worth from a lead on, by trying everything.
fn best_from(board: &Board, at: usize, free: &[bool], seats: &Seats) -> Worth {
    let Some(lead) = board.leads.get(at) else { return [0; 5] };
    let mut best = best_from(board, at + 1, free, seats);
    for (header, spec) in board.headers.iter().enumerate() {
        let fits = spec.kind == lead.kind && free.get(header) == Some(&true);
        if let Some(worth) = lead_worth(lead, spec.ports, limit(spec.gbps), true).filter(|_| fits) {
            let mut fewer = free.to_vec();
            fewer.iter_mut().skip(header).take(1).for_each(|slot| *slot = false);
            best = best.max(sum(worth, best_from(board, at + 1, &fewer, seats)));
        }
    }
    for (bridge, spec) in board.bridges.iter().enumerate() {
        let Some(Some((under, left @ 1..))) = seats.get(bridge) else { continue };
        let (ports, rate) = bridge_serves(spec, &board.headers, under);
        if let Some(worth) =
            lead_worth(lead, ports, rate, false).filter(|_| spec.lead_kind == lead.kind)
        {
            let mut fewer = seats.clone();
            fewer
                .iter_mut()
                .skip(bridge)
                .take(1)
                .for_each(|seat| *seat = Some((under.clone(), left - 1)));
            best = best.max(sum(worth, best_from(board, at + 1, free, &fewer)));
        }
    }
    best
}

/// Ports and rate that a bridge over some headers gives a lead.
fn bridge_serves(bridge: &Bridge<'_>, headers: &[Header<'_>], under: &[usize]) -> (u32, f64) {
    let specs = under.iter().filter_map(|at| headers.get(*at));
    let rate = specs.clone().map(|header| limit(header.gbps)).fold(limit(bridge.gbps), f64::min);
    let ports = if bridge.sockets > 1 { u32::MAX } else { specs.map(|header| header.ports).sum() };
    (ports, rate)
}

/// The best worth, trying every seat of every bridge.
fn best_over_seats(board: &Board, seats: &Seats, free: &[bool]) -> Worth {
    let Some(bridge) = board.bridges.get(seats.len()) else {
        return best_from(board, 0, free, seats);
    };
    let fitting: Vec<usize> = (0..board.headers.len())
        .filter(|h| {
            free.get(*h) == Some(&true)
                && board.headers.get(*h).is_some_and(|s| s.kind == bridge.header_kind)
        })
        .collect();
    let mut ways: Vec<Vec<usize>> = vec![vec![]];
    for one in &fitting {
        if bridge.plugs == 1 {
            ways.push(vec![*one]);
        } else {
            ways.extend(
                fitting.iter().filter(|other| *other > one).map(|other| vec![*one, *other]),
            );
        }
    }
    let worths = ways.into_iter().map(|under| {
        let left: Vec<bool> =
            free.iter().enumerate().map(|(at, free)| *free && !under.contains(&at)).collect();
        let seat = (!under.is_empty()).then_some((under, bridge.sockets));
        best_over_seats(board, &seats.iter().cloned().chain([seat]).collect(), &left)
    });
    worths.max().unwrap_or([0; 5])
}

/// What a wiring is worth, worked out from what it says.
fn worth(board: &Board, wiring: &Wiring) -> Worth {
    let each = |placed: &Placed| {
        let lead = board.leads.get(placed.lead)?;
        // The limit itself is not known from here, only what came of it; the least rate was the
        // solver's to mind, and `assert_fast_enough` sees to that.
        let asked = Lead { least_gbps: 0.0, ..*lead };
        lead_worth(&asked, placed.ports, placed.gbps, placed.bridge.is_none())
    };
    wiring.placed.iter().filter_map(each).fold([0; 5], sum)
}

/// A wiring keeps to the rules of plugs: no header twice, no bridge beyond its sockets, kinds that
/// fit, every lead and header accounted for.
fn assert_sound(board: &Board, wiring: &Wiring) {
    let mut direct: Vec<usize> =
        wiring.placed.iter().filter(|p| p.bridge.is_none()).map(|p| p.header).collect();
    let mut bridged = 0;
    for (at, bridge) in board.bridges.iter().enumerate() {
        let through: Vec<&Placed> = wiring.placed.iter().filter(|p| p.bridge == Some(at)).collect();
        assert!(through.len() <= bridge.sockets as usize);
        for placed in &through {
            assert_eq!(board.leads.get(placed.lead).map(|lead| lead.kind), Some(bridge.lead_kind));
            assert_eq!(
                board.headers.get(placed.header).map(|header| header.kind),
                Some(bridge.header_kind)
            );
            assert_eq!(
                Some(placed.header),
                through.first().map(|first| first.header),
                "a bridge sits in one place"
            );
        }
        if let Some(first) = through.first() {
            direct.push(first.header);
            bridged += bridge.plugs as usize - 1;
        }
    }
    for placed in wiring.placed.iter().filter(|p| p.bridge.is_none()) {
        assert_eq!(
            board.leads.get(placed.lead).map(|lead| lead.kind),
            board.headers.get(placed.header).map(|header| header.kind)
        );
    }
    let taken = direct.len();
    direct.extend(&wiring.spare);
    direct.sort_unstable();
    direct.dedup();
    assert_eq!(direct.len(), taken + wiring.spare.len(), "a header is used twice");
    assert_eq!(direct.len() + bridged, board.headers.len());
    let mut leads: Vec<usize> = wiring
        .placed
        .iter()
        .map(|p| p.lead)
        .chain(wiring.unplaced.iter().map(|u| u.lead))
        .collect();
    leads.sort_unstable();
    assert_eq!(leads, (0..board.leads.len()).collect::<Vec<_>>());
}

/// No lead runs below the least rate that it is worth plugging in for.
fn assert_fast_enough(board: &Board, wiring: &Wiring) {
    for placed in &wiring.placed {
        let header = board.headers.get(placed.header).map_or(f64::NAN, |header| limit(header.gbps));
        let bridge = placed
            .bridge
            .and_then(|at| board.bridges.get(at))
            .map_or(f64::INFINITY, |bridge| limit(bridge.gbps));
        let Some(lead) = board.leads.get(placed.lead) else { panic!("no such lead") };
        assert!(header.min(bridge) >= lead.least_gbps);
        assert!(
            placed.gbps <= lead.gbps
                && placed.gbps <= header.min(bridge)
                && (1..=lead.ports).contains(&placed.ports)
        );
    }
}

/// The reason given for each lead without a header, checked on its own terms.
fn assert_reasons(board: &Board, wiring: &Wiring) {
    for unplaced in &wiring.unplaced {
        let Some(lead) = board.leads.get(unplaced.lead) else { panic!("no such lead") };
        let alone = wire(&[*lead], &board.headers, &board.bridges);
        let easy = wire(&[Lead { least_gbps: 0.0, ..*lead }], &board.headers, &board.bridges);
        match unplaced.why {
            Why::Taken => assert!(!alone.placed.is_empty(), "alone it would have found a place"),
            Why::Slow => assert!(
                alone.placed.is_empty() && !easy.placed.is_empty(),
                "only its rate stands in the way"
            ),
            Why::None => assert!(easy.placed.is_empty(), "no place at any rate"),
        }
    }
}

#[test]
fn no_wiring_is_better_than_the_one_found() {
    let mut dice = Dice(11);
    for round in 0..1500 {
        let kinds = 1 + dice.roll(4);
        let (leads, headers, bridges) = (dice.roll(6), dice.roll(6), dice.roll(4));
        let board = Board {
            leads: (0..leads).map(|_| dice.lead(kinds)).collect(),
            headers: (0..headers).map(|_| dice.header(kinds)).collect(),
            bridges: (0..bridges).map(|_| dice.bridge(kinds)).collect(),
        };
        let wiring = wire(&board.leads, &board.headers, &board.bridges);
        assert!(wiring.proven);
        assert_sound(&board, &wiring);
        assert_fast_enough(&board, &wiring);
        assert_reasons(&board, &wiring);
        let best = best_over_seats(&board, &Vec::new(), &vec![true; board.headers.len()]);
        assert_eq!(
            worth(&board, &wiring),
            best,
            "round {round}: {:?} {:?} {:?} gave {wiring:?}",
            board.leads,
            board.headers,
            board.bridges
        );
        assert_eq!(wire(&board.leads, &board.headers, &board.bridges), wiring, "the same again");
    }
}

#[test]
fn without_bridges_an_independent_matching_agrees() {
    let mut dice = Dice(23);
    for round in 0..400 {
        let kinds = 1 + dice.roll(4);
        let (leads, headers) = (1 + dice.roll(12), dice.roll(12));
        let board = Board {
            leads: (0..leads).map(|_| dice.lead(kinds)).collect(),
            headers: (0..headers).map(|_| dice.header(kinds)).collect(),
            bridges: vec![],
        };
        // One number a pair, its levels 100000 apart; a column more for each lead that stays
        // without.
        let weigh =
            |worth: Worth| worth.iter().take(4).fold(0i64, |sum, level| sum * 100_000 / 5 + level);
        let weight = |lead: &Lead<'_>, at: usize| {
            let header = board.headers.get(at).filter(|header| header.kind == lead.kind)?;
            lead_worth(lead, header.ports, limit(header.gbps), true).map(weigh)
        };
        let weights: Vec<i64> = board
            .leads
            .iter()
            .flat_map(|lead| (0..headers + leads).map(|at| weight(lead, at).unwrap_or(0)))
            .collect();
        let Ok(matrix) = Matrix::from_vec(leads, headers + leads, weights) else {
            panic!("the matrix has a wrong size")
        };
        let (total, _) = kuhn_munkres(&matrix);
        let wiring = wire(&board.leads, &board.headers, &[]);
        assert_sound(&board, &wiring);
        assert_eq!(weigh(worth(&board, &wiring)), total, "round {round}");
    }
}
