use super::harmless;

#[test]
fn formulas_are_put_in_quotes_and_figures_left() {
    for (cell, safe) in [
        ("=1+1", "'=1+1"),
        ("+44", "'+44"),
        ("@sum", "'@sum"),
        (" =x", "' =x"),
        ("-cmd", "'-cmd"),
        ("-12.50", "-12.50"),
        ("Tarn 650", "Tarn 650"),
    ] {
        assert_eq!(harmless(cell), safe);
    }
}
