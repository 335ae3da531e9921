//! Faults that no user makes: a kill at any moment, a full disk, a file that cannot be written or
//! that changes behind one's back, a reader that goes away. No file is lost, and what is said is
//! right.
#![cfg(unix)]

mod disk;
mod kills;
mod shared;

use std::fs;
use std::path::Path;

use crate::common::desk::Desk;

/// A folder with the small catalogue, its rules, its build, a build with an open line, and a feed
/// with its map.
fn bench() -> Desk {
    let desk = Desk::new();
    copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/base/small"), &desk.0);
    let build = desk.read("build.toml");
    // A comment as long as a book makes the writing take a while.
    let long = format!("# {}\n", "a remark that goes on and on, ".repeat(3)).repeat(LONG);
    desk.write("build.toml", &format!("{long}{build}"));
    desk.write(
        "open.toml",
        &format!("{long}{}", build.replace("part = \"supply/wick-650\"", "any = \"supply\"")),
    );
    desk.write("map.toml", MAP);
    let rows: String = (0..ROWS)
        .map(|n| {
            format!(
                "supply/wick-650;{}.{:02};2024-{:02}-{:02};{}\n",
                n % 90 + 10,
                n % 100,
                n / 28 % 12 + 1,
                n % 28 + 1,
                n
            )
        })
        .collect();
    let days: String = rows.lines().take(300).map(|row| format!("{row}\n")).collect();
    desk.write("feed.csv", &format!("id;price;day;stock\n{days}"));
    desk
}

/// Lines of the remark.
const LONG: usize = 4000;
/// Rows of the feed, before those of a day seen already go.
const ROWS: usize = 336;
/// How the feed is written.
const MAP: &str = "seller = \"Ebb Mail\"\ncurrency = \"EUR\"\ndelimiter = \";\"\ndate = \"YYYY-MM-DD\"\n[columns]\npart = \"id\"\nprice = \"price\"\nseen_on = \"day\"\nstock = \"stock\"\n";
/// Where the feed goes.
const OFFERS: &str = "catalogue/offers/ebb-mail.csv";
/// Takes the feed in.
const IMPORT: &[&str] =
    &["prices", "import", "feed.csv", "--map", "map.toml", "--write", "--into", OFFERS];

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let (old, new) = (entry.as_ref().unwrap().path(), to.join(entry.unwrap().file_name()));
        if old.is_dir() {
            copy(&old, &new);
        } else {
            fs::copy(&old, &new).unwrap();
        }
    }
}

/// Files that a write leaves beside its own while it is at work.
fn litter(folder: &Path) -> Vec<String> {
    let names = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
    names.filter(|n| n.contains(".dryfit-")).collect()
}
