use super::*;

#[test]
fn counts_and_what_is_none() {
    let count = |text: &str| take(text, &|w| w == "pair").map(|(n, _)| n);
    for text in [
        "2x Lull 120",
        "2 × Lull 120",
        "Lull 120 (x2)",
        "Lull 120 x2",
        "pair of Lull 120",
        "2 Stück Lull 120",
        "Lull 120, qty 2",
        "Lull 120 (2 pcs)",
        "two Lull 120",
        "Lull 120 2x",
        "2 x 1 TB Silt",
    ] {
        assert_eq!(count(text), Ok(Some(2)), "{text}");
    }
    for text in [
        "2x16 GB DDR5",
        "Dulse 32 GB (2x16 GB)",
        "Haar Twin 120",
        "PCIe x16 card",
        "2x16GB",
        "2 x 16 GB Dulse DDR5",
        "pair Bittern",
        "Netloft Drift XL",
    ] {
        assert_eq!(count(text), Ok(None), "{text}");
    }
    assert!(count("-1 x Lull 120").is_err());
    assert!(count("1000000000x Lull 120").is_err());
    assert_eq!(of_cell("3x"), Ok(Some(3)));
    assert!(of_cell("-1").is_err());
}
