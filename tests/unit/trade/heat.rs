use super::*;

fn chamber(heat_w: f64) -> Chamber {
    Chamber { heat_w, wall_w_per_k: 0.0 }
}

#[test]
fn heat_adds_up_along_the_way() {
    // 0.01 m³/s of 1200 J/(m³·K) carries 12 W/K: 120 W warm the first chamber by 10 K, 60 W the
    // second by 5 K more.
    let edges = [Edge::opening(0, 1, 1.0), Edge::opening(1, 2, 1.0), Edge::opening(0, 2, 1.0)];
    let found =
        chamber_c(20.0, 1200.0, &[chamber(120.0), chamber(60.0)], &edges, &[0.01, 0.01, -0.01]);
    assert_eq!(found, Ok(vec![Some(20.0), Some(30.0), Some(35.0)]));
}

#[test]
fn a_chamber_upstream_stays_cool() {
    let edges = [Edge::opening(0, 1, 1.0), Edge::opening(2, 1, 1.0), Edge::opening(2, 0, 1.0)];
    let found =
        chamber_c(20.0, 1200.0, &[chamber(0.0), chamber(120.0)], &edges, &[0.01, -0.01, 0.01]);
    assert_eq!(found, Ok(vec![Some(20.0), Some(20.0), Some(30.0)]));
}

#[test]
fn heat_with_no_way_out_has_no_temperature() {
    let still = chamber_c(20.0, 1200.0, &[chamber(10.0)], &[Edge::opening(0, 1, 1.0)], &[0.0]);
    assert_eq!(still, Ok(vec![Some(20.0), None]));
    let walled = Chamber { heat_w: 10.0, wall_w_per_k: 2.0 };
    assert_eq!(chamber_c(20.0, 1200.0, &[walled], &[], &[]), Ok(vec![Some(20.0), Some(25.0)]));
    // Two chambers that turn air between them and never reach the room.
    let loops = [Edge::opening(1, 2, 1.0), Edge::opening(2, 1, 1.0)];
    assert_eq!(
        chamber_c(20.0, 1200.0, &[chamber(1.0), chamber(1.0)], &loops, &[0.01, 0.01]),
        Ok(vec![Some(20.0), None, None])
    );
}

#[test]
fn what_does_not_belong_together_is_refused() {
    assert!(chamber_c(20.0, 1200.0, &[], &[Edge::opening(0, 1, 1.0)], &[0.1]).is_err());
    assert!(chamber_c(20.0, 1200.0, &[chamber(1.0)], &[Edge::opening(0, 1, 1.0)], &[]).is_err());
    assert!(
        chamber_c(20.0, 1200.0, &[chamber(1.0)], &[Edge::opening(0, 1, 1.0)], &[f64::NAN]).is_err()
    );
}
