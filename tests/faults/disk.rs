//! A disk that is full, and a file that cannot be where it should be.

use std::fs;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::os::unix::process::CommandExt as _;
use std::process::{Command, Output, Stdio};

use super::{IMPORT, OFFERS, bench, litter};
use crate::common::desk::{Desk, aside};

/// Runs the binary with the largest file it may write, in blocks of 512 bytes: to the program it is
/// a full disk.
fn with_little_room(desk: &Desk, arguments: &[&str], input: &str) -> Output {
    let inner = desk.command(arguments);
    let mut command = Command::new("/bin/sh");
    // The signal is ignored, so that the write fails as it does on a full disk.
    command
        .args(["-c", "trap '' XFSZ; ulimit -f 16; exec \"$0\" \"$@\""])
        .arg(inner.get_program())
        .args(inner.get_args())
        .current_dir(&desk.0);
    desk.write("input", input);
    command.stdin(fs::File::open(desk.path("input")).unwrap()).output().unwrap()
}

/// A command on a full disk: the file stands as it stood, nothing is left beside it, and why is
/// said.
fn no_room(arguments: &[&str], input: &str, file: &str) {
    let desk = bench();
    let old = fs::read(desk.path(file)).ok();
    let output = with_little_room(&desk, arguments, input);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", aside(&output));
    assert!(aside(&output).contains("cannot write"), "{}", aside(&output));
    assert_eq!(fs::read(desk.path(file)).ok(), old);
    let folder = desk.path(file).parent().unwrap().to_path_buf();
    assert_eq!(litter(&folder), Vec::<String>::new());
}

#[test]
fn a_full_disk_loses_nothing() {
    no_room(&["try", "build.toml"], "set budget 800\nsave\n", "build.toml");
    no_room(&["try", "build.toml"], "save other.toml\n", "other.toml");
    no_room(&["prices", "quote", "build.toml"], "", "build.toml");
    no_room(&["prices", "pin", "open.toml"], "", "open.toml");
    no_room(IMPORT, "", OFFERS);
    no_room(&["sheet", "build.toml", "-o", "sheet.html"], "", "sheet.html");
}

#[test]
fn an_edition_without_room_leaves_no_folder() {
    let desk = bench();
    let before = desk.names();
    let output = with_little_room(&desk, &["edition", "build.toml", "-o", "edition"], "");
    assert_eq!(output.status.code(), Some(2), "{}", aside(&output));
    let left: Vec<_> = desk.names().into_iter().filter(|name| !before.contains(name)).collect();
    assert_eq!(left, ["input"]);
}

#[test]
fn an_answer_that_cannot_be_written_is_an_error() {
    let desk = bench();
    desk.write("brief.toml", "needs = [\"supply\"]\n");
    desk.write("commands", "lines\nmeasures\n");
    let all: &[&[&str]] = &[
        &["audit", "build.toml"],
        &["audit", "build.toml", "--format", "json"],
        &["try", "build.toml", "--script", "commands"],
        &["plan", "brief.toml"],
        &["compare", "build.toml", "open.toml"],
        &["prices", "list", "build.toml"],
        &["parts", "supply"],
        &["rules", "list"],
        &["--help"],
        &["audit", "--help"],
        &["--version"],
    ];
    for arguments in all {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = desk
            .command(arguments)
            .stdin(Stdio::null())
            .stdout(full)
            .stderr(Stdio::piped())
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", aside(&output));
        assert!(
            aside(&output).contains("could not be written: No space left"),
            "{arguments:?}: {}",
            aside(&output)
        );
        // A reader that goes away is no error, and nothing is said of it.
        let usual = desk.command(arguments).stdin(Stdio::null()).output().unwrap();
        let mut child = desk
            .command(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let closed = child.wait_with_output().unwrap();
        assert_eq!(closed.status.code(), usual.status.code(), "{arguments:?}: {}", aside(&closed));
        assert_eq!(aside(&closed), aside(&usual), "{arguments:?}");
    }
}

#[test]
fn what_cannot_be_written_stays_and_says_so() {
    let desk = bench();
    desk.write("brief.toml", "needs = [\"supply\"]\n");
    desk.write("offers.csv", &desk.read("catalogue/offers/pier.csv"));
    for name in ["build.toml", "open.toml", "offers.csv"] {
        fs::set_permissions(desk.path(name), fs::Permissions::from_mode(0o444)).unwrap();
    }
    let import = |into: &'static str| {
        vec!["prices", "import", "feed.csv", "--map", "map.toml", "--write", "--into", into]
    };
    fs::create_dir(desk.path("folder.csv")).unwrap();
    let all: Vec<(Vec<&str>, &str, &str)> = vec![
        (vec!["prices", "quote", "build.toml"], "", "build.toml is read-only"),
        (vec!["prices", "pin", "open.toml"], "", "open.toml is read-only"),
        (import("offers.csv"), "", "offers.csv is read-only"),
        (import("folder.csv"), "", "folder.csv"),
        (import("build.toml/new.csv"), "", "build.toml/new.csv"),
        (vec!["try", "build.toml"], "set budget 800\nsave\n", "is read-only"),
        (vec!["try", "build.toml"], "save! rules\n", "rules is a folder"),
        (vec!["try", "build.toml"], "save feed.csv/x.toml\n", "cannot write feed.csv/x.toml"),
        (vec!["try", "build.toml"], "save nowhere/x.toml\n", "cannot write nowhere/x.toml"),
        (vec!["sheet", "build.toml", "-o", "rules"], "", "rules is a folder"),
        (vec!["plan", "--force", "-o", "rules", "brief.toml"], "", "rules is a folder"),
    ];
    let files = || -> Vec<(String, Vec<u8>)> {
        let mut all = Vec::new();
        for name in ["build.toml", "open.toml", "offers.csv", "feed.csv"] {
            all.push((name.to_owned(), fs::read(desk.path(name)).unwrap()));
        }
        all
    };
    let before = files();
    for (arguments, input, says) in all {
        let output = desk.pipe(&arguments, input);
        assert_eq!(output.status.code(), Some(2), "{arguments:?} {input}: {}", aside(&output));
        assert!(
            aside(&output).replace('\n', " ").contains(says),
            "{arguments:?} {input}: {}",
            aside(&output)
        );
        assert!(files() == before, "{arguments:?} {input}");
        assert_eq!(litter(&desk.0), Vec::<String>::new(), "{arguments:?} {input}");
    }
}

/// A command as one who may read what is in the desk's folder and not write into it; the system's
/// own user may write everywhere, so the test takes off its rights.
fn as_a_stranger(desk: &Desk, arguments: &[&str], input: &str) -> Output {
    let inner = desk.command(arguments);
    let mut command = Command::new(desk.path("program"));
    command.args(inner.get_args()).current_dir(&desk.0);
    if fs::metadata(desk.path("build.toml")).unwrap().uid() == 0 {
        command.uid(65_534).gid(65_534);
    }
    command.stdin(fs::File::open(desk.path(input)).unwrap()).output().unwrap()
}

#[test]
fn a_folder_that_cannot_be_written_loses_nothing_and_says_so() {
    let desk = bench();
    desk.write("brief.toml", "needs = [\"supply\"]\n");
    desk.write("saving", "set budget 800\nsave\n");
    desk.write("saving_elsewhere", "set budget 800\nsave other.toml\n");
    desk.write("nothing", "");
    fs::copy(desk.command(&[]).get_program(), desk.path("program")).unwrap();
    let folders = ["", "catalogue", "catalogue/offers", "rules"].map(|name| desk.path(name));
    let all = |mode: u32| {
        folders
            .iter()
            .for_each(|f| fs::set_permissions(f, fs::Permissions::from_mode(mode)).unwrap())
    };
    let names = || -> Vec<_> {
        folders
            .iter()
            .flat_map(|f| fs::read_dir(f).unwrap().map(|e| e.unwrap().file_name()))
            .collect()
    };
    let (before, build, open) = (names(), desk.read("build.toml"), desk.read("open.toml"));
    all(0o555);
    let tried: Vec<(Vec<&str>, &str, &str)> = vec![
        (vec!["try", "build.toml"], "saving", "build.toml"),
        (vec!["try", "build.toml"], "saving_elsewhere", "other.toml"),
        (vec!["prices", "quote", "build.toml"], "nothing", "build.toml"),
        (vec!["prices", "pin", "open.toml"], "nothing", "open.toml"),
        (IMPORT.to_vec(), "nothing", OFFERS),
        (vec!["sheet", "build.toml", "-o", "sheet.html"], "nothing", "sheet.html"),
        (vec!["plan", "brief.toml", "-o", "planned.toml"], "nothing", "planned.toml"),
        (vec!["rules", "new", "fresh"], "nothing", "fresh"),
    ];
    let said: Vec<Output> =
        tried.iter().map(|(arguments, input, _)| as_a_stranger(&desk, arguments, input)).collect();
    let read = as_a_stranger(&desk, &["audit", "build.toml"], "nothing");
    all(0o755);
    for ((arguments, input, file), output) in tried.iter().zip(&said) {
        let words = aside(output).replace('\n', " ");
        assert_eq!(output.status.code(), Some(2), "{arguments:?} {input}: {words}");
        assert!(
            words.contains("ermission denied") && words.contains(file),
            "{arguments:?} {input}: {words}"
        );
    }
    assert!(
        read.status.code().is_some_and(|code| code < 2),
        "what is only read is read: {}",
        aside(&read)
    );
    assert!(
        names() == before && desk.read("build.toml") == build && desk.read("open.toml") == open
    );
}

#[test]
fn a_file_without_end_does_not_fill_the_memory() {
    let desk = bench();
    std::os::unix::fs::symlink("/dev/zero", desk.path("zero.toml")).unwrap();
    let all: &[(&[&str], &str)] = &[
        (&["audit", "zero.toml"], ""),
        (&["audit", "."], ""),
        (&["try", "zero.toml"], ""),
        (&["try", "build.toml"], "take supply from zero.toml\n"),
        (&["plan", "zero.toml"], ""),
        (&["compare", "build.toml", "zero.toml"], ""),
        (&["prices", "quote", "zero.toml"], ""),
        (&["prices", "pin", "zero.toml"], ""),
        (&["prices", "import", "feed.csv", "--map", "zero.toml"], ""),
        (
            &[
                "prices",
                "import",
                "feed.csv",
                "--map",
                "map.toml",
                "--write",
                "--into",
                "zero.toml",
            ],
            "",
        ),
    ];
    for (arguments, input) in all {
        let inner = desk.command(arguments);
        let mut command = Command::new("/bin/sh");
        command
            .args(["-c", "ulimit -v 1000000; ulimit -t 20; exec \"$0\" \"$@\""])
            .arg(inner.get_program())
            .args(inner.get_args())
            .current_dir(&desk.0);
        desk.write("input", input);
        let output = command.stdin(fs::File::open(desk.path("input")).unwrap()).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", aside(&output));
        assert!(
            ["larger than 64 MiB", "not a file"].iter().any(|says| aside(&output).contains(says)),
            "{arguments:?}: {}",
            aside(&output)
        );
    }
    let endless = desk
        .command(&["try", "build.toml"])
        .stdin(fs::File::open("/dev/zero").unwrap())
        .output()
        .unwrap();
    assert_eq!(endless.status.code(), Some(2), "{}", aside(&endless));
    assert!(
        aside(&endless).contains("line 1 is longer than a command may be"),
        "{}",
        aside(&endless)
    );
}
