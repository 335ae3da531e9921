use super::open_words;
use crate::catalogue::Catalogue;
use crate::layer::Layer;

#[test]
fn wants_are_told_in_words_where_they_are_a_field_beside_a_value() {
    let catalogue = Catalogue::load(&[Layer::built_in_catalogue()]).expect("it loads");
    let words = |kind: &str, wants: &[&str]| {
        let kind = catalogue.kind_called(kind).and_then(|id| catalogue.kind(id));
        open_words(kind.expect("a kind"), wants.iter().copied())
    };
    assert_eq!(words("chassis", &[]), "any case");
    assert_eq!(
        words("storage", &["media == \"flash\"", "gb >= 2000"]),
        "any drive: flash, 2000 GB or more"
    );
    assert_eq!(
        words("cooler", &["height_mm<=158"]),
        "any processor cooler: height over the processor 158 mm at most"
    );
    // What is more than that stands as it was written.
    for want in ["gb >= 2 * 500", "gb > 500", "media == other", "nosuch == 1", "media == \"a\"b\""]
    {
        assert_eq!(words("storage", &[want]), format!("any drive: {want}"));
    }
}
