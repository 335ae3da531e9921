//! Pages of makers and tables of wholesalers, read: the examples, and pages that a generator
//! writes.

mod by_hand;
mod generate;
mod labels;
mod score;
mod sentences;

use crate::common::share;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::intake::read_bytes;
use dryfit::inside::layer::Layer;
use dryfit::inside::partsheet::{SheetMap, import};
use score::Score;
use serde_json::Value;

fn report(score: &Score) -> String {
    format!(
        "{}\n{} of {} facts read, {} wrong, {} invented",
        score.failures.join("\n"),
        score.right,
        score.facts,
        score.wrong,
        score.invented
    )
}

/// Reads files of this folder, each with its kind and its truth, and holds what is read to it.
fn files_are_read(files: impl Iterator<Item = (String, String, Value)>) {
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let mut score = Score::default();
    for (name, kind, truth) in files {
        let bytes = std::fs::read(&name).expect("the file is there");
        let kind = catalogue.kind_id(&kind).expect("it is known");
        let name = name.rsplit('/').next().unwrap_or(&name).to_owned();
        let text = read_bytes(&bytes, &name).expect("it is text");
        let read = import(&catalogue, kind, &text, &SheetMap::default(), &name);
        let read = read.unwrap_or_else(|problem| {
            score.failures.push(format!("{name}: {problem:?}"));
            Vec::new()
        });
        score::source(&mut score, &name, &truth, &read);
    }
    let text = told(&score);
    assert!(
        score.right * 10 >= score.facts * 9 && score.wrong == 0 && score.invented == 0,
        "{text}"
    );
}

/// The report, printed where all failures are asked for.
fn told(score: &Score) -> String {
    let text = report(score);
    if std::env::var_os("DRYFIT_ALL_FAILURES").is_some() {
        println!("{text}");
    }
    text
}

fn text_of(value: &Value) -> String {
    value.as_str().expect("a text").to_owned()
}

#[test]
fn the_examples() {
    let truth: Value = serde_json::from_str(include_str!("truth.json")).expect("it is JSON");
    let files = truth["files"].as_array().expect("files").clone();
    files_are_read(files.into_iter().map(|f| {
        let path = format!("{}/tests/specs/{}", env!("CARGO_MANIFEST_DIR"), text_of(&f["file"]));
        (path, text_of(&f["kind"]), f)
    }));
}

#[test]
fn generated_pages_and_feeds() {
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let mut score = Score::default();
    for seed in 0..u64::from(share::of(2_400)) {
        let source = generate::source(seed);
        let kind = catalogue.kind_id(&source.kind).expect("it is known");
        let text = read_bytes(source.text.as_bytes(), "page").expect("it is text");
        let name = format!("{}-{seed}", source.kind);
        match import(&catalogue, kind, &text, &SheetMap::default(), &name) {
            Ok(parts) => score::source(&mut score, &name, &source.truth, &parts),
            Err(problem) => score.failures.push(format!("{name}: {problem:?}\n{}", source.text)),
        }
    }
    let text = told(&score);
    let told = score.right + score.wrong;
    assert!(
        score.right * 10 >= score.facts * 9
            && score.wrong * 200 < told
            && score.invented * 200 < told,
        "{text}"
    );
}

/// A table that names the line of products only: its rows stay parts of their own, and what stands
/// there twice alike is one part.
#[test]
fn rows_of_one_name_stay_parts_of_their_own() {
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let kind = catalogue.kind_id("supply").expect("it is known");
    let feed = "Product line,Wattage,Form factor\nQuern,550 W,ATX\nQuern,650 W,ATX\n\
                Quern,550 W,ATX\nSluice,550 W,ATX\nQuern,750 W,ATX\n";
    let text = read_bytes(feed.as_bytes(), "feed.csv").expect("it is text");
    let parts = import(&catalogue, kind, &text, &SheetMap::default(), "feed.csv").expect("reads");
    let told: Vec<(&str, String, usize)> = parts
        .iter()
        .map(|part| {
            let rated = part.fields.iter().find(|(name, _)| name == "rated_w");
            let rated = rated.map_or_else(String::new, |(_, read)| read.value.to_string());
            (part.id.as_str(), rated, part.notes.len())
        })
        .collect();
    let of = |id, w: &str, notes| (id, w.to_owned(), notes);
    let wanted = [
        of("supply/quern", "550.0", 0),
        of("supply/quern-2", "650.0", 1),
        of("supply/sluice", "550.0", 0),
        of("supply/quern-3", "750.0", 1),
    ];
    assert_eq!(told, wanted);
}
