//! The limits of searches and of what is kept, each met once; the limits of scripts and files are
//! met in `tests/cases/bad`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::rc::Rc;
use std::sync::atomic::AtomicBool;

use dryfit::inside::app::prompt::TryOptions;
use dryfit::inside::app::prompt::history::{self, History};
use dryfit::inside::app::prompt::session::Session;
use dryfit::inside::app::report::page::Page;
use dryfit::inside::app::report::style::Look;
use dryfit::inside::build::Build;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::{Layer, MAX_BUILD_FOLDERS, MAX_BUILDS, MAX_FILES};
use dryfit::inside::source::{Problems, Source};
use dryfit::inside::whatif::edit::{Edit, Word};
use dryfit::inside::whatif::mix::mix;
use dryfit::inside::whatif::open_lines::settle;
use dryfit::inside::whatif::search::SearchLimits;
use dryfit::inside::whatif::trial::{MAX_HELD, MAX_STEPS, Trial};
use jiff::civil::{Date, date};

const RULES: &str = "/// The load stays in bounds.\n/// Basis: made up.\nfn bounds(build) { if build.sum(\"a_w\") > 0 { stop(\"{load} drawn\", #{ load: build.sum(\"a_w\") }); } }\n\
/// Load.\n/// Basis: made up.\n/// Unit: W\nfn load(build) { build.sum(\"a_w\") }\n";

fn today() -> Date {
    date(2026, 11, 20)
}

/// A catalogue with so many pins, each of one watt, all of them for sale; every list of them is
/// stopped.
fn layers(pins: usize) -> Layers {
    let kind = "kind = \"pin\"\n[field.a_w]\ntype = \"number\"\nrequired = true\n";
    let (mut parts, mut offers) = (
        String::from("kind = \"pin\"\ncomplete = true\n"),
        String::from(
            "part,seller,seen_on,price,currency,shipping,stock,instant_off,mail_rebate,credit,bundle,bundle_value\n",
        ),
    );
    for pin in 0..pins {
        let _ = writeln!(parts, "[p{pin}]\nname = \"Pin {pin}\"\na_w = 1");
        let _ = writeln!(offers, "pin/p{pin},Ebb Mail,2026-11-01,{}.00,EUR,,1,,,,,", pin + 1);
    }
    let files = [("kinds/pin.toml", kind), ("parts/pin.toml", &parts), ("offers/pin.csv", &offers)];
    Layers::new(
        vec![Layer::from_texts("small", &files)],
        vec![Layer::from_texts("rules", &[("a.rhai", RULES), ("settings.toml", "")])],
    )
}

fn kit(pins: usize) -> Rc<Kit> {
    Rc::new(Kit::load(&layers(pins)).unwrap_or_else(|e| panic!("{e}")))
}

fn build(kit: &Kit, text: &str) -> Build {
    kit.read(&Source::new("list.toml", text), today()).unwrap_or_else(|e| panic!("{e}"))
}

/// A list of so many pins, from one on.
fn list(from: usize, lines: usize) -> String {
    (from..from + lines).fold(String::new(), |text, pin| {
        text + format!("[[line]]\npart = \"pin/p{pin}\"\n").as_str()
    })
}

fn session(name: &str, kit: &Rc<Kit>, pins: usize, text: &str) -> Session {
    let path =
        std::env::temp_dir().join(format!("dryfit-limits-{name}-{}.toml", std::process::id()));
    std::fs::write(&path, text).unwrap_or_else(|e| panic!("{e}"));
    let options = TryOptions {
        build: path.clone(),
        new: false,
        script: None,
        keep_going: false,
        limit: std::time::Duration::from_secs(60),
        trust_unknown: false,
        plain: true,
        rules: None,
        catalogue: None,
        today: today(),
    };
    let session = Session::with_kit(kit.clone(), layers(pins), &options, false)
        .unwrap_or_else(|e| panic!("{e}"));
    std::fs::remove_file(&path).unwrap_or_else(|e| panic!("{e}"));
    session
}

fn run(session: &mut Session, line: &str) -> Result<String, Problems> {
    let mut page = Page::new(Look { colour: false, drawing: false, width: 100 });
    session.run(line, &mut page, &mut |_, _| None).map(|_| page.text)
}

/// What the program says of a folder it is run in, and that it is an error.
fn refused(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .output()
        .unwrap_or_else(|e| panic!("{e}"));
    let said = String::from_utf8_lossy(&output.stderr).replace('\n', " ");
    assert_eq!(output.status.code(), Some(2), "{said}");
    said
}

/// A folder that goes when the test ends, and a write into it that makes the folders on the way.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("dryfit-limits-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap_or_else(|e| panic!("{e}"));
        Self(path)
    }

    fn write(&self, name: &str, text: &str) {
        let path = self.0.join(name);
        std::fs::create_dir_all(path.parent().unwrap_or(&self.0))
            .and_then(|()| std::fs::write(&path, text))
            .unwrap_or_else(|e| panic!("{e}"));
    }

    /// One text under so many names.
    fn fill(&self, name: &str, text: &str, count: usize) {
        self.write(name, text);
        for nth in 0..count {
            let (from, to) =
                (self.0.join(name), self.0.join(name).with_file_name(format!("n{nth}.toml")));
            // A file system may allow fewer names of one file than the limit.
            std::fs::hard_link(&from, &to)
                .or_else(|_| std::fs::write(&to, text))
                .unwrap_or_else(|e| panic!("{e}"));
        }
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

const LIST: &str = "[[line]]\npart = \"pin/p1\"\n";

#[test]
fn a_folder_holds_so_many_files_builds_and_folders() {
    let rules = Folder::new("rules");
    rules.write("list.toml", LIST);
    rules.write("rules/settings.toml", "");
    rules.fill("rules/more/first.toml", "", MAX_FILES);
    assert!(
        refused(&rules.0, &["audit", "list.toml"]).contains("rules holds more than 10000 files")
    );
    let builds = Folder::new("builds");
    builds.fill("lists/first.toml", LIST, MAX_BUILDS);
    assert!(refused(&builds.0, &["audit", "lists"]).contains("more than 50000 lists under lists"));
    let deep = Folder::new("deep");
    deep.write(&format!("lists/{}list.toml", "in/".repeat(MAX_BUILD_FOLDERS + 1)), LIST);
    assert!(refused(&deep.0, &["audit", "lists"]).contains("more than 16 folders deep"));
}

#[test]
fn a_feed_has_so_many_columns() {
    let folder = Folder::new("feed");
    folder.write("feed.csv", &format!("id;price;day{}\n", ";x".repeat(1_000)));
    folder.write("map.toml", "seller = \"Ebb Mail\"\ncurrency = \"EUR\"\ndelimiter = \";\"\n[columns]\npart = \"id\"\nprice = \"price\"\nseen_on = \"day\"\n");
    let said = refused(&folder.0, &["prices", "import", "feed.csv", "--map", "map.toml"]);
    assert!(said.contains("more than 1000 columns"), "{said}");
}

#[test]
fn open_lines_are_tried_so_often_and_no_more() {
    let kit = kit(100);
    let settled = settle(&kit, &build(&kit, &"[[line]]\nany = \"pin\"\n".repeat(3)))
        .unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(settled.left.len(), 3);
    assert!(
        settled
            .left
            .iter()
            .all(|p| p.to_string().contains("the search was cut short after 4000 builds")),
        "{:?}",
        settled.left
    );
}

#[test]
fn why_tries_so_many_parts_and_says_that_not_all_were_tried() {
    let kit = kit(4200);
    let said = run(&mut session("why", &kit, 4200, &list(0, 1)), "why a.bounds")
        .unwrap_or_else(|e| panic!("{e}"));
    assert!(said.contains("tried only 4000 parts"), "{said}");
}

#[test]
fn mend_says_that_there_are_too_many_lines() {
    let kit = kit(140);
    let mut trial = session("mend", &kit, 140, &list(0, 130));
    for line in ["mend", "mend 1"] {
        let refused = run(&mut trial, line).expect_err("too many").to_string();
        assert!(
            refused.contains(
                "131 lines and kinds could be changed, and a search takes 120 at the most"
            ),
            "{refused}"
        );
    }
}

#[test]
fn lists_that_differ_in_too_many_lines_are_not_mixed() {
    let kit = kit(80);
    let halt = AtomicBool::new(false);
    let limits = SearchLimits::new(&halt);
    let said = |ours: &str, theirs: &str| match mix(
        &kit,
        &build(&kit, ours),
        &build(&kit, theirs),
        None,
        limits,
    ) {
        Ok(_) => String::new(),
        Err(problems) => problems.to_string(),
    };
    let refused = said(&list(0, 29), &list(40, 29));
    assert!(
        refused.contains("these lists differ in 29 lines")
            && refused.contains("28 lines at the most"),
        "{refused}"
    );
    let refused = said(&list(0, 8), &list(0, 1));
    assert!(
        refused.contains("7 of which only one of them has")
            && refused.contains("6 of them in one list only"),
        "{refused}"
    );
    // Just within both.
    assert_eq!(said(&list(0, 13), &list(20, 7)), "");
}

#[test]
fn undo_knows_so_many_steps_and_forgets_the_oldest() {
    let kit = kit(2);
    let source = Source::new("list.toml", list(0, 1).as_str());
    let mut trial = Trial::open(kit, &source, today()).unwrap_or_else(|e| panic!("{e}"));
    for step in 0..MAX_STEPS + 5 {
        let count = Edit::Key {
            line: 0,
            key: "count",
            value: Some(Word::Plain((step % 2 + 2).to_string())),
        };
        trial.edit(&[count]).unwrap_or_else(|e| panic!("{e}"));
    }
    assert_eq!(trial.depth(), (MAX_STEPS, 0));
    trial.undo(MAX_STEPS).unwrap_or_else(|e| panic!("{e}"));
    // The beginning is forgotten by `undo`, but not by `back start`.
    assert_ne!(trial.text(), &*source.text);
    trial.back("start").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(trial.text(), &*source.text);
}

#[test]
fn undo_forgets_the_oldest_of_long_texts_sooner() {
    let kit = kit(2);
    let text = format!("# {}\n{}", "x".repeat(2 << 20), list(0, 1));
    let mut trial = Trial::open(kit, &Source::new("list.toml", text.as_str()), today())
        .unwrap_or_else(|e| panic!("{e}"));
    let most = MAX_HELD / text.len();
    for step in 0..most + 4 {
        let count = Edit::Key {
            line: 0,
            key: "count",
            value: Some(Word::Plain((step % 2 + 2).to_string())),
        };
        trial.edit(&[count]).unwrap_or_else(|e| panic!("{e}"));
    }
    let (steps, _) = trial.depth();
    assert!(steps > most / 2 && steps <= most, "{steps} of {most}");
}

#[test]
fn history_keeps_so_many_lines() {
    let path = std::env::temp_dir().join(format!("dryfit-limits-history-{}", std::process::id()));
    let kept = History::at(&path);
    (0..history::MOST + 3).for_each(|n| kept.add(&format!("undo {}", n + 1)));
    kept.add(&format!("= {}", "1 + ".repeat(history::LONGEST)));
    let entries = kept.entries();
    let _ = std::fs::remove_file(&path);
    assert_eq!(entries.len(), history::MOST);
    assert_eq!(
        (entries.first().map(String::as_str), entries.last().map(String::as_str)),
        (Some("undo 4"), Some("undo 503"))
    );
}

#[test]
fn what_is_shown_ends_and_says_how_much_more_there_is() {
    let kit = kit(80);
    let mut trial = session("shown", &kit, 80, &list(0, 2));
    let rows = run(&mut trial, "fit #1").unwrap_or_else(|e| panic!("{e}"));
    assert!(
        rows.contains(" more that raise more or cost more; `all` shows them")
            || rows.lines().count() < 20,
        "{rows}"
    );
    let values = run(&mut trial, "= let x = []; for n in 0..60 { x.push(n); } x")
        .unwrap_or_else(|e| panic!("{e}"));
    assert!(values.contains("and 20 more"), "{values}");
}
