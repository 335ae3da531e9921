use super::*;

const FAN: FanCurve = FanCurve { shutoff_pa: 20.0, free_m3s: 0.03 };

/// Flow of the fan against a resistance, in closed form: `Q = √(P0 / (k + P0/Q0²))`.
fn against(resistance: f64) -> f64 {
    (FAN.shutoff_pa / (resistance + FAN.own_resistance())).sqrt()
}

fn flows(nodes: usize, edges: &[Edge]) -> Flows {
    solve_flows(nodes, edges).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn one_fan_and_one_opening_agree_with_the_closed_form() {
    let found = flows(2, &[Edge::opening(ROOM, 1, 20_000.0), Edge::fan(1, ROOM, FAN, 0.0)]);
    let closed = against(20_000.0);
    assert!(found.flows.iter().all(|flow| (flow - closed).abs() < 1e-12));
    assert!(found.pressures.iter().all(|p| *p <= 0.0));
    assert!(
        (found.exchange(&[Edge::opening(ROOM, 1, 20_000.0), Edge::fan(1, ROOM, FAN, 0.0)])
            - closed)
            .abs()
            < 1e-12
    );
}

#[test]
fn nothing_drives_nothing() {
    let found = flows(3, &[Edge::opening(0, 1, 5.0), Edge::opening(1, 2, 5.0)]);
    assert_eq!((found.flows, found.steps), (vec![0.0, 0.0], 0));
    assert_eq!(flows(1, &[]).flows, Vec::<f64>::new());
}

#[test]
fn two_fans_that_blow_at_each_other_move_nothing() {
    let found = flows(2, &[Edge::fan(ROOM, 1, FAN, 0.0), Edge::fan(ROOM, 1, FAN, 0.0)]);
    assert!(found.flows.iter().all(|flow| flow.abs() < 1e-9), "{found:?}");
    assert!(found.pressures.iter().any(|p| (p - 20.0).abs() < 1e-6));
}

#[test]
fn a_dead_end_takes_no_air() {
    let edges = [
        Edge::fan(ROOM, 1, FAN, 100.0),
        Edge::opening(1, ROOM, 20_000.0),
        Edge::opening(1, 2, 300.0),
        Edge::opening(2, 3, 10.0),
    ];
    let found = flows(4, &edges);
    assert!(found.flows.iter().skip(2).all(|flow| flow.abs() < 1e-10), "{found:?}");
    assert!(
        (found.pressures.iter().skip(1).fold(0.0, |sum, p| sum + p) / 3.0
            - found.pressures.get(1).copied().unwrap_or(0.0))
        .abs()
            < 1e-9
    );
}

#[test]
fn chambers_apart_from_the_room_turn_among_themselves() {
    let edges = [Edge::fan(1, 2, FAN, 0.0), Edge::opening(2, 1, 20_000.0)];
    let found = flows(3, &edges);
    let closed = against(20_000.0);
    assert!(found.flows.iter().all(|flow| (flow - closed).abs() < 1e-12));
    assert_eq!(found.exchange(&edges), 0.0);
}

#[test]
fn edges_that_make_no_sense_are_refused() {
    assert!(solve_flows(2, &[Edge::opening(0, 2, 1.0)]).is_err());
    assert!(solve_flows(2, &[Edge::opening(1, 1, 1.0)]).is_err());
    assert!(solve_flows(2, &[Edge::opening(0, 1, 0.0)]).is_err());
    assert!(solve_flows(2, &[Edge::opening(0, 1, f64::NAN)]).is_err());
    assert!(
        solve_flows(2, &[Edge::fan(0, 1, FanCurve { shutoff_pa: 0.0, free_m3s: 1.0 }, 1.0)])
            .is_err()
    );
    assert!(solve_flows(0, &[]).is_err());
    assert!(solve_flows(2, &vec![Edge::opening(0, 1, 1.0); 500]).is_err());
}

/// Numbers from a fixed start, enough to make networks of all shapes.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }

    fn edge(&mut self, nodes: u64) -> Edge {
        let from = self.roll(nodes);
        let to = (from + 1 + self.roll(nodes - 1)) % nodes;
        let fan = FanCurve {
            shutoff_pa: 5.0 + self.roll(400) as f64 / 10.0,
            free_m3s: 0.005 + self.roll(100) as f64 / 1000.0,
        };
        let resistance = 10f64.powf(1.0 + self.roll(700) as f64 / 100.0);
        Edge {
            from: from as usize,
            to: to as usize,
            fan: (self.roll(3) == 0).then_some(fan),
            resistance,
        }
    }
}

#[test]
fn networks_of_all_shapes_settle() {
    let mut dice = Dice(7);
    for round in 0..2000 {
        let nodes = 2 + dice.roll(9);
        let edges: Vec<Edge> = (0..1 + dice.roll(40)).map(|_| dice.edge(nodes)).collect();
        let found = flows(nodes as usize, &edges);
        assert!(found.steps <= 30, "round {round}: {} steps", found.steps);
        assert!(
            found.residual_m3s < 1e-9 && found.residual_pa < 5e-5,
            "round {round}: {} {} {}",
            found.residual_m3s,
            found.residual_pa,
            found.steps
        );
    }
}
