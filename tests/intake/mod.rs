//! Lists of others, read: the shipped examples, and thousands of generated rows.

mod bad;
mod by_hand;
mod choices;
mod exports;
mod fitted;
mod generate;
mod opendocument;
mod said_of_all;
mod score;
mod sentences;

use crate::common::share as part;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::intake::{Aliases, Intake, read_bytes};
use dryfit::inside::layer::Layer;
use score::Score;
use serde_json::Value;

fn catalogue() -> Catalogue {
    Catalogue::load(&[Layer::built_in_catalogue()]).expect("the built-in catalogue is sound")
}

fn read(score: &mut Score, intake: &Intake<'_>, name: &str, bytes: &[u8], truth: &Value) {
    let text = read_bytes(bytes, name).expect("it is a list");
    let rows = intake.read(&text).expect("it is read");
    score::list(score, name, truth, &rows);
}

fn share((all, right): (usize, usize)) -> f64 {
    if all == 0 { 1.0 } else { right as f64 / all as f64 }
}

fn report(score: &Score) -> String {
    let mut out = String::new();
    for failure in score
        .failures
        .iter()
        .take(if std::env::var_os("DRYFIT_ALL_FAILURES").is_some() { usize::MAX } else { 40 })
    {
        out.push_str(failure);
        out.push('\n');
    }
    let line = |what: &str, of: (usize, usize)| {
        format!("{what}: {} of {} ({:.2} %)\n", of.1, of.0, 100.0 * share(of))
    };
    for (class, of) in &score.classes {
        out.push_str(&line(class, *of));
    }
    for (what, of) in [
        ("counts", score.counts),
        ("prices", score.prices),
        ("owned", score.owned),
        ("sure and wrong", score.sure_and_wrong),
    ] {
        out.push_str(&line(what, of));
    }
    out
}

/// The bars of the README beside this file.
fn bars(score: &Score) {
    let class = |name: &str| share(score.classes.get(name).copied().unwrap_or_default());
    let text = report(score);
    for (name, least) in [
        ("sure", 0.97),
        ("either", 0.97),
        ("ask", 0.97),
        ("near", 1.0),
        ("unknown", 0.97),
        ("open", 0.97),
        ("ignored", 0.97),
    ] {
        assert!(class(name) >= least, "{name}\n{text}");
    }
    for (what, of) in [("counts", score.counts), ("prices", score.prices), ("owned", score.owned)] {
        assert!(share(of) >= 0.97, "{what}\n{text}");
    }
    assert!(share(score.sure_and_wrong) < 0.002, "{text}");
}

#[test]
fn the_three_lists_of_the_examples() {
    let catalogue = catalogue();
    let intake = Intake::new(&catalogue, Aliases::default());
    let truth: Value = serde_json::from_str(include_str!("lists/truth.json")).expect("it is JSON");
    let mut score = Score::default();
    for (name, bytes) in [
        ("27-html.html", &include_bytes!("lists/27-html.html")[..]),
        ("51-csv.csv", include_bytes!("lists/51-csv.csv")),
        ("59-forum.txt", include_bytes!("lists/59-forum.txt")),
    ] {
        read(&mut score, &intake, name, bytes, &truth["files"][name]);
    }
    assert!(score.failures.is_empty(), "{}", report(&score));
}

/// Lists that the generator makes for a whole run.
const LISTS: u32 = 2_400;

#[test]
fn generated_lists_of_every_form_and_language() {
    let catalogue = catalogue();
    let intake = Intake::new(&catalogue, Aliases::default());
    let mut score = Score::default();
    for seed in 0..u64::from(part::of(LISTS)) {
        let list = generate::list(seed);
        if let Some(folder) = std::env::var_os("DRYFIT_KEEP_LISTS") {
            let path = std::path::Path::new(&folder).join(&list.name);
            std::fs::write(path, &list.bytes).expect("the folder is there");
        }
        read(&mut score, &intake, &list.name, &list.bytes, &list.truth);
    }
    if std::env::var_os("DRYFIT_ALL_FAILURES").is_some() {
        println!("{}", report(&score));
    }
    bars(&score);
}
