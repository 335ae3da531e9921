//! The example that embeds the engine: what it says of the lists beside it.

use serde_json::{Value, json};

#[path = "../../examples/embed/main.rs"]
#[allow(dead_code)]
mod example;

/// 80 W + 2 × 6.5 W = 93 W on a supply of 60 W: 33 W too much.
#[test]
fn lists_in_json_come_back_as_findings_in_json() {
    let lists = include_str!("../../examples/embed/lists.json");
    let answer = example::answer(lists).expect("the example runs");
    let [hall, yard, loft] = answer.as_array().expect("an answer a list").as_slice() else {
        panic!("three lists give three answers: {answer:#}");
    };
    assert_eq!(hall["code"], json!(1));
    assert_eq!(hall["findings"][0]["rule"], json!("cabinet.rating"));
    assert_eq!(hall["findings"][0]["level"], json!("stop"));
    assert_eq!(
        hall["findings"][0]["message"],
        json!("The loads draw 93 W; Brae 60 is rated 60 W.")
    );
    assert_eq!(hall["findings"][0]["by"], json!("by 33 W"));
    let places: Vec<&Value> = hall["findings"][0]["evidence"]
        .as_array()
        .expect("evidence is a list")
        .iter()
        .map(|pointer| &pointer["place"])
        .collect();
    assert!(places.contains(&&json!("supply.rated_w")), "{places:?}");
    assert_eq!(hall["measures"], json!([{ "id": "cabinet.draw", "value": 93.0, "unit": "W" }]));
    assert_eq!((&yard["code"], &yard["findings"]), (&json!(0), &json!([])));
    // A part that is not in stock is said of the list, with the nearest one.
    let help = loft["problems"][0]["help"].as_str().unwrap_or("");
    assert!(help.contains("supply/s"), "{loft:#}");
}
