use super::*;

#[test]
fn marks_find_a_place_wherever_they_are() {
    let scale = Scale::new((0.0, 1020.0), EDGES);
    for seed in 0_u32..4_096 {
        let at = |shift: u32| f64::from((seed >> shift) & 7) * 1000.0 / 7.0;
        let mark = |watts: f64| Mark { watts, words: format!("limit {watts:.0} W"), look: "keep" };
        let marks = [mark(at(0)), mark(at(3)), mark(at(6)), mark(at(9))];
        let distinct = (0..4).all(|a| (0..a).all(|b| marks[a].watts != marks[b].watts));
        if distinct {
            assert_eq!(placed(&marks, scale).len(), 4, "{:?}", marks.map(|m| m.watts));
        }
    }
}
