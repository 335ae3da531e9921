use std::fs;

use super::*;

#[test]
fn a_change_is_seen() {
    let folder = std::env::temp_dir().join(format!("dryfit-watch-{}", std::process::id()));
    let file = folder.join("a.rhai");
    assert!(fs::create_dir_all(&folder).is_ok() && fs::write(&file, "1").is_ok());
    let mut runs = 0;
    watch(std::slice::from_ref(&folder), || {
        runs += 1;
        let _ = fs::write(&file, "longer than before");
        runs < 2
    });
    assert_eq!(runs, 2);
    let _ = fs::remove_dir_all(&folder);
}
