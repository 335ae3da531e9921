use super::*;

#[test]
fn near_words_are_found_and_far_ones_not() {
    assert_eq!(nearest("suply", ["supply", "fan"]), Some("supply"));
    assert_eq!(nearest("sockett", ["socket", "chipset"]), Some("socket"));
    assert_eq!(nearest("zzz", ["supply", "fan"]), None);
    assert_eq!(nearest(&"supply".repeat(20_000), ["supply"]), None);
}
