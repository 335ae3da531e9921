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
        let path = format!("{}/tests/specs/{name}", env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(path).expect("the file is there");
        let kind = catalogue.kind_id(&kind).expect("it is known");
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
    files_are_read(files.into_iter().map(|f| (text_of(&f["file"]), text_of(&f["kind"]), f)));
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
