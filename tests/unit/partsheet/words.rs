use super::*;

#[test]
fn the_words_are_read() {
    let read: Table =
        include_str!("../../../src/partsheet/words.toml").parse().expect("the file is TOML");
    assert!(read.len() > 10);
    assert_eq!(first_of("connectors", "pcie 6+2: 1 lead"), Some("pcie_8"));
    assert_eq!(first_of("connectors", "8-pin cpu"), Some("eps_8"));
    assert!(has("yes", "Ja") && !has("yes", "jamais"));
}
