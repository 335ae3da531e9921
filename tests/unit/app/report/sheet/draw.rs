use super::*;

#[test]
fn what_does_not_fit_is_cut() {
    assert_eq!(fit("Tarn 650", 100.0), "Tarn 650");
    for room in [40.0, 90.0, 200.0] {
        for text in [
            "W".repeat(5_000),
            "i".repeat(5_000),
            "宽".repeat(5_000),
            format!("a{}", "\u{301}".repeat(5_000)),
        ] {
            assert!(width(&fit(&text, room)) <= room);
            assert!(fit(&text, room).chars().count() < 120);
        }
    }
}
