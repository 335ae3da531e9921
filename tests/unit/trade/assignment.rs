use super::*;

fn way(takes: &[Take], needs: Option<usize>, worth: f64) -> Way {
    Way { takes: takes.to_vec(), needs, worth: [worth, 0.0, 0.0, 0.0, 0.0] }
}

#[test]
fn a_place_gives_no_more_than_it_holds() {
    // Fans of 0.6 A and 0.3 A on two headers of 1 A with a plug each.
    let fan = |amps: f64| Thing {
        count: 2,
        ways: vec![way(&[(0, 1.0), (1, amps)], None, 1.0), way(&[(2, 1.0), (3, amps)], None, 1.0)],
    };
    let places = vec![1.0, 1.0, 1.0, 0.5];
    let problem = Problem { places, things: vec![fan(0.6), fan(0.3)], ..Problem::default() };
    let found = problem.solve();
    assert!(found.proven);
    // Which piece of each pair is the one that finds a plug says nothing.
    let of = |pieces: &[Option<usize>]| pieces.iter().flatten().copied().collect::<Vec<_>>();
    assert_eq!((of(&found.ways[..2]), of(&found.ways[2..])), (vec![0], vec![1]));
}

#[test]
fn a_splitter_takes_its_header_once() {
    // One header; the splitter gives three sockets for it, the amperes stay the header's.
    let straight = way(&[(0, 1.0), (1, 0.4)], None, 1.0);
    let split = way(&[(2, 1.0), (1, 0.4)], Some(0), 1.0);
    let problem = Problem {
        places: vec![1.0, 1.0, 3.0],
        setups: vec![vec![(0, 1.0)]],
        things: vec![Thing { count: 3, ways: vec![straight, split] }],
    };
    let found = problem.solve();
    assert_eq!(found.ways.iter().flatten().count(), 2, "{found:?}");
    assert!(found.proven);
}

#[test]
fn what_is_worth_nothing_is_left() {
    let things = vec![Thing { count: 1, ways: vec![way(&[], None, 0.0)] }];
    assert_eq!(Problem { things, ..Problem::default() }.solve().ways, vec![None]);
    let things = vec![Thing { count: 2, ways: vec![way(&[], None, 2.0)] }];
    let problem = Problem { things, ..Problem::default() };
    assert_eq!(problem.solve().ways, vec![Some(0), Some(0)]);
}

#[test]
fn what_makes_no_sense_is_not_sound() {
    let takes = |place: usize, amount: f64| Problem {
        places: vec![1.0],
        things: vec![Thing { count: 1, ways: vec![way(&[(place, amount)], None, 1.0)] }],
        ..Problem::default()
    };
    assert!(takes(0, 1.0).is_sound());
    assert!(!takes(1, 1.0).is_sound());
    assert!(!takes(0, -1.0).is_sound());
    assert!(!takes(0, f64::NAN).is_sound());
}
