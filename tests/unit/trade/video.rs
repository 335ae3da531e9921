use super::*;

#[test]
fn the_shape_decides_the_sync() {
    assert_eq!(sync_lines(1024, 768), 4.0);
    assert_eq!(sync_lines(1920, 1080), 5.0);
    assert_eq!(sync_lines(1920, 1200), 6.0);
    assert_eq!(sync_lines(1280, 1024), 7.0);
    assert_eq!(sync_lines(1280, 768), 7.0);
    assert_eq!(sync_lines(3440, 1440), 10.0);
}

#[test]
fn a_mode_that_cannot_be_is_refused() {
    assert!(mode(0, 0, 60.0, Timing::Reduced).is_err());
    assert!(mode(1920, 1080, f64::NAN, Timing::Reduced).is_err());
    assert!(mode(1920, 1080, 1e6, Timing::Standard).is_err());
}
