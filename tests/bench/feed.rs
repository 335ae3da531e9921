//! A feed taken in, beside a bare parse of the same file; memory for a short feed and a long one.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use dryfit::inside::kit::Kit;
use dryfit::inside::prices::import::{Map, import};
use dryfit::inside::source::Source;

#[path = "../common/feed.rs"]
mod made;
#[path = "../common/watch.rs"]
mod watch;

/// Most that the bar allows, import over bare parse.
const MOST: f64 = 3.0;

pub(crate) fn run(kit: &Kit, rows: usize, times: usize) {
    let folder =
        Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("feed-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("a folder can be made");
    let parts: Vec<&str> = kit.catalogue().parts().map(|p| &*p.id).collect();
    let map = Map::read(&Source::new("map.toml", made::MAP)).expect("the map reads");
    let path = folder.join("feed.csv");
    // A year and more, one row in four a new offer: the most that there can be to check, to keep
    // and to write.
    made::write(&parts, &path, rows, rows);
    let into = folder.join("new.csv");
    let take = |into: Option<&Path>| {
        import(kit.catalogue(), &map, &path, into, &folder.join("none.csv"), &mut |_, _| {})
            .expect("the feed is whole")
    };
    let [mut bare, mut dry, mut written] = [Duration::MAX; 3];
    // In turns, so that a busy moment of the machine falls on all three; the best of each counts.
    for _ in 0..times {
        bare = bare.min(super::median(1, || parse(&path, rows)));
        dry = dry.min(super::median(1, || assert_eq!(take(None).rows, rows as u64)));
        written = written
            .min(super::median(1, || assert_eq!(take(Some(&into)).added, rows.div_ceil(4) as u64)));
        fs::remove_file(&into).expect("it was written");
    }
    println!(
        "feed of {rows} rows: bare parse {bare:?}; checked {dry:?}, {:.2} times; written and synced too {written:?}, {:.2} times",
        super::ratio(dry, bare),
        super::ratio(written, bare)
    );
    fs::write(folder.join("map.toml"), made::MAP).expect("the map can be written");
    // A fortnight over and over, and new days without end.
    for (what, days) in [("fourteen days", 14), ("every offer new", rows)] {
        let peaks = [rows / 100, rows].map(|rows| {
            made::write(&parts, &path, rows, days);
            peak_mib(&folder)
        });
        println!(
            "  peak memory, {what}: {:.1} MiB for {} rows, {:.1} MiB for {rows}",
            peaks[0],
            rows / 100,
            peaks[1]
        );
    }
    let _ = fs::remove_dir_all(&folder);
    assert!(
        times < 3 || super::ratio(written, bare) <= MOST,
        "more than {MOST} times a bare parse"
    );
}

fn parse(path: &Path, rows: usize) {
    let mut reader =
        csv::ReaderBuilder::new().delimiter(b';').from_path(path).expect("the feed is there");
    let mut row = csv::StringRecord::new();
    let mut count = 0;
    while reader.read_record(&mut row).expect("the feed is whole") {
        count += 1;
    }
    assert_eq!(count, rows);
}

fn peak_mib(folder: &Path) -> f64 {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dryfit"));
    command
        .args(["prices", "import", "feed.csv", "--map", "map.toml"])
        .current_dir(folder)
        .stdout(Stdio::null());
    let mut child = command.spawn().expect("it starts");
    let used = watch::watch(&mut child, Duration::from_secs(60)).expect("it ends");
    assert_eq!(used.code, Some(0));
    used.peak_kb as f64 / 1024.0
}
