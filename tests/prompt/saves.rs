//! Saves that go wrong: killed, refused, read-only, through a link.

use std::fs;
use std::io::Write as _;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, symlink};
use std::process::Stdio;
use std::time::Duration;

use super::out;
use crate::common::desk::{Desk, aside};
use crate::common::share;

/// Times that a run is killed.
const KILLS: u32 = 240;

#[test]
fn a_kill_during_save_leaves_the_old_file_or_the_new_one_whole() {
    let desk = Desk::new();
    let old = desk.read("desk.toml");
    let version = |n: u32| old.replace("years         = 4", &format!("years         = {}", n % 30));
    let script: String = (0..3000).map(|n| format!("set years {}\nsave\n", n % 30)).collect();
    let whole: Vec<String> = (0..30).map(version).collect();
    let (mut seed, mut changed) = (0x2545_f491_4f6c_dd1d_u64, 0);
    let kills = share::of(KILLS);
    for _ in 0..kills {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mut child = desk
            .command(&["try", "desk.toml", "--script", "-"])
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut input = child.stdin.take().unwrap();
        let text = script.clone();
        let writer = std::thread::spawn(move || {
            let _ = input.write_all(text.as_bytes());
        });
        // Wait until the first save of this run is through, so that the kill falls among saves.
        let before = desk.read("desk.toml");
        for _ in 0..4000 {
            if desk.read("desk.toml") != before {
                break;
            }
            std::thread::sleep(Duration::from_micros(500));
        }
        std::thread::sleep(Duration::from_micros(seed >> 50));
        child.kill().unwrap();
        child.wait().unwrap();
        let _ = writer.join();
        let now = desk.read("desk.toml");
        assert!(whole.contains(&now), "neither old nor new: {} bytes", now.len());
        changed += u32::from(now != before);
    }
    assert!(changed > kills / 2, "the kills fell outside the saves: {changed} of {kills}");
}

#[test]
fn a_file_that_changed_on_disk_is_not_written_over() {
    let desk = Desk::new();
    let mut child = desk
        .command(&["try", "desk.toml"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The program's own save is no change from outside, whatever other names the file has.
    fs::hard_link(desk.path("desk.toml"), desk.path("twin.toml")).unwrap();
    child.stdin.take().unwrap().write_all(b"set years 7\nsave\nset years 8\nsave\n").unwrap();
    assert!(child.wait().unwrap().success());
    assert!(desk.read("desk.toml").contains("= 8") && desk.read("twin.toml").contains("= 4"));
}

#[test]
fn permissions_and_links_stay() {
    let desk = Desk::new();
    fs::set_permissions(desk.path("desk.toml"), fs::Permissions::from_mode(0o640)).unwrap();
    symlink("desk.toml", desk.path("link.toml")).unwrap();
    let output = desk.pipe(&["try", "link.toml"], "set years 9\nsave\n");
    assert!(output.status.success(), "{}", aside(&output));
    assert!(out(&output).contains("wrote link.toml"));
    assert!(fs::symlink_metadata(desk.path("link.toml")).unwrap().is_symlink());
    assert_eq!(fs::metadata(desk.path("desk.toml")).unwrap().permissions().mode() & 0o777, 0o640);
    assert!(desk.read("desk.toml").contains("years         = 9"));
    let left: Vec<_> = fs::read_dir(&desk.0)
        .unwrap()
        .filter_map(|e| e.ok())
        .filter(|e| e.file_name().to_string_lossy().contains("dryfit-"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn owner_group_and_attributes_stay_and_other_names_are_told_of() {
    let desk = Desk::new();
    let path = desk.path("desk.toml");
    let attribute =
        |words: &[&str]| std::process::Command::new("python3").arg("-c").args(words).output().ok();
    let set = "import os,sys; os.setxattr(sys.argv[1], 'user.origin', b'till')";
    let name = path.to_str().unwrap();
    let marked = attribute(&[set, name]).is_some_and(|o| o.status.success());
    let other = (4_321, 5_432);
    let given = std::os::unix::fs::chown(&path, Some(other.0), Some(other.1)).is_ok();
    fs::hard_link(&path, desk.path("twin.toml")).unwrap();
    let output = desk.pipe(&["try", "desk.toml"], "set years 9\nsave\n");
    assert!(output.status.success(), "{}", aside(&output));
    let said = out(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("had 2 names; the others keep the old text"), "{said}");
    assert!(desk.read("desk.toml").contains("= 9") && desk.read("twin.toml").contains("= 4"));
    let held = fs::metadata(&path).unwrap();
    if given {
        assert_eq!((held.uid(), held.gid()), other);
    }
    if marked {
        let get = "import os,sys; print(os.getxattr(sys.argv[1], 'user.origin').decode())";
        let seen = attribute(&[get, name]).unwrap();
        assert_eq!(String::from_utf8_lossy(&seen.stdout).trim(), "till");
    }
}

#[test]
fn a_read_only_file_is_refused_and_stays() {
    let desk = Desk::new();
    fs::set_permissions(desk.path("desk.toml"), fs::Permissions::from_mode(0o440)).unwrap();
    let old = desk.read("desk.toml");
    let output = desk.pipe(&["try", "desk.toml"], "set years 9\nsave\n");
    assert_eq!(output.status.code(), Some(2));
    assert!(aside(&output).contains("read-only"), "{}", aside(&output));
    assert_eq!(desk.read("desk.toml"), old);
}
