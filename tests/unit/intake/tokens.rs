use super::*;

fn norms(text: &str) -> Vec<String> {
    tokens(text).into_iter().map(|t| t.norm).collect()
}

#[test]
fn words_codes_and_figures() {
    assert_eq!(norms("Thwart P5-I M.2 2x16GB 2,5G"), ["thwart", "p5", "i", "m2", "2x16gb", "2.5g"]);
    let read = |text: &str| tokens(text).first().map(|t| t.readings.clone()).unwrap_or_default();
    let of = |unit: &str, value| Reading { unit: unit.to_owned(), value };
    assert!(read("2 TB").contains(&of("GB", 2000.0)));
    assert!(read("550w").contains(&of("W", 550.0)));
    assert!(read("27''").contains(&of("in", 27.0)));
    assert!(read("10GbE").contains(&of("Mbit/s", 10_000.0)));
    assert!(read("0,5 kW").contains(&of("W", 500.0)));
    assert_eq!(tokens("2x16 GB").first().and_then(|t| t.pack), Some((2.0, 16.0)));
}
