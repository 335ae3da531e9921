use super::*;

#[test]
fn the_words_are_read_and_no_set_is_empty() {
    let table: Table =
        include_str!("../../../src/intake/words.toml").parse().expect("the file is TOML");
    let words = read(&table);
    assert!(words.sets.len() > 20 && words.sets.values().all(|set| !set.is_empty()));
    assert!(words.has("owned", "aus dem alten pc"));
    assert_eq!(words.column("Einzelpreis (€)"), Some("price"));
    assert_eq!(words.units("tb").first(), Some(&("GB".to_owned(), 1000.0)));
}
