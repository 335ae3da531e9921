//! Pages of makers and tables of wholesalers, read: the examples, and pages that a generator
//! writes.

mod by_hand;
mod generate;
mod labels;
mod score;
mod sentences;

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

#[test]
fn the_examples() {
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let truth: Value = serde_json::from_str(include_str!("truth.json")).expect("it is JSON");
    let mut score = Score::default();
    for file in truth["files"].as_array().expect("files") {
        let name = file["file"].as_str().expect("a name");
        let path = format!("{}/tests/specs/{name}", env!("CARGO_MANIFEST_DIR"));
        let bytes = std::fs::read(path).expect("the file is there");
        let kind = catalogue.kind_id(file["kind"].as_str().expect("a kind")).expect("it is known");
        let text = read_bytes(&bytes, name).expect("it is text");
        let parts =
            import(&catalogue, kind, &text, &SheetMap::default(), name).expect("it is read");
        score::source(&mut score, name, file, &parts);
    }
    let text = report(&score);
    if std::env::var_os("DRYFIT_ALL_FAILURES").is_some() {
        println!("{text}");
    }
    assert!(
        score.right * 10 >= score.facts * 9 && score.wrong == 0 && score.invented == 0,
        "{text}"
    );
}

#[test]
fn generated_pages_and_feeds() {
    let catalogue =
        Catalogue::load(&[Layer::built_in_catalogue()]).expect("the catalogue is sound");
    let mut score = Score::default();
    for seed in 0..600 {
        let source = generate::source(seed);
        let kind = catalogue.kind_id(&source.kind).expect("it is known");
        let text = read_bytes(source.text.as_bytes(), "page").expect("it is text");
        let name = format!("{}-{seed}", source.kind);
        match import(&catalogue, kind, &text, &SheetMap::default(), &name) {
            Ok(parts) => score::source(&mut score, &name, &source.truth, &parts),
            Err(problem) => score.failures.push(format!("{name}: {problem:?}\n{}", source.text)),
        }
    }
    let text = report(&score);
    if std::env::var_os("DRYFIT_ALL_FAILURES").is_some() {
        println!("{text}");
    }
    let told = score.right + score.wrong;
    assert!(
        score.right * 10 >= score.facts * 9
            && score.wrong * 200 < told
            && score.invented * 200 < told,
        "{text}"
    );
}
