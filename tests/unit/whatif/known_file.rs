use super::{Fact, merged};

fn fact(part: &str, field: &str, value: Option<&str>) -> Fact {
    Fact { part: part.into(), field: field.into(), value: value.map(str::to_owned) }
}

#[test]
fn facts_are_added_field_by_field_with_their_words() {
    let first = [fact("cooler/breeze", "height_mm", Some("158"))];
    let text = merged("", "known.toml", &first, |_| "15,8\ncm".to_owned()).expect("it merges");
    let more = [
        fact("cooler/breeze", "height_mm", Some("158")),
        fact("cooler/breeze", "radiator_mm", None),
        fact("fan/puff", "deep_mm", Some("25")),
    ];
    let text = merged(&text, "known.toml", &more, |f| f.field.clone()).expect("it merges");
    assert_eq!(
        text,
        "# Facts that somebody looked up, by part; the words they came from stand behind \
             them.\n\n[\"cooler/breeze\"]\nheight_mm = 158 # 15,8 cm\nlacks = [\"radiator_mm\"] # \
             radiator_mm\n\n[\"fan/puff\"]\ndeep_mm = 25 # deep_mm\n"
    );
}

#[test]
fn what_stands_there_is_not_overwritten() {
    let held = "[\"fan/puff\"]\ndeep_mm = 25\n";
    let other = [fact("fan/puff", "deep_mm", Some("30"))];
    let error = merged(held, "known.toml", &other, |_| String::new()).expect_err("it differs");
    assert!(error.message.contains("25") && error.message.contains("30"), "{error}");
    let lacking = [fact("fan/puff", "deep_mm", None)];
    assert!(merged(held, "known.toml", &lacking, |_| String::new()).is_err());
    assert!(merged("a = [", "known.toml", &lacking, |_| String::new()).is_err());
}
