//! What the targets share: a small catalogue, the shipped kit, and what must be so of everything
//! that is said.

use std::cell::OnceCell;
use std::io;
use std::path::PathBuf;
use std::rc::Rc;
use std::sync::Arc;

use dryfit::inside::app::report::style::Look;
use dryfit::inside::app::report::terminal::Terminal;
use dryfit::inside::app::report::texts::TextFormat;
use dryfit::inside::app::report::{Audited, Report, Stream, Tally, Wishes, hosts, json, sarif};
use dryfit::inside::audit::finding::Finding;
use dryfit::inside::build::Build;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::{Audit, Kit, Layers};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::source::{Problems, Source};
use jiff::civil::{Date, date};

/// The largest input that is worth the time.
pub(crate) const MOST: usize = 64 << 10;

pub(crate) const WIDGET: &str = include_str!("../seeds/base/widget.toml");
pub(crate) const BOX: &str = include_str!("../seeds/base/box.toml");
pub(crate) const SHADE: &str = include_str!("../seeds/base/shade.toml");
pub(crate) const PARTS: &str = include_str!("../seeds/base/parts.toml");
pub(crate) const OFFERS: &str = include_str!("../seeds/base/offers.csv");
pub(crate) const RULES: &str = include_str!("../seeds/base/rules.rhai");
pub(crate) const SETTINGS: &str = "[limit]\nvalue = 3\n";
pub(crate) const LIST: &str = include_str!("../seeds/base/list.toml");

thread_local! {
    static SMALL: OnceCell<Arc<Catalogue>> = const { OnceCell::new() };
    static SMALL_KIT: OnceCell<Rc<Kit>> = const { OnceCell::new() };
    static SHIPPED: OnceCell<Rc<Kit>> = const { OnceCell::new() };
}

pub(crate) fn today() -> Date {
    date(2026, 11, 20)
}

/// The bytes as a text, when they are one and not too long.
pub(crate) fn text(data: &[u8]) -> Option<&str> {
    std::str::from_utf8(data).ok().filter(|t| t.len() <= MOST)
}

/// A layer with the small catalogue, a file of it put in another's place.
pub(crate) fn layer(changed: &[(&str, &str)]) -> Layer {
    let mut files = vec![
        ("kinds/widget.toml", WIDGET),
        ("kinds/box.toml", BOX),
        ("tables/shade.toml", SHADE),
        ("parts/all.toml", PARTS),
        (
            "parts/box.toml",
            "kind = \"box\"\ncomplete = true\n[b0]\nname = \"Box 0\"\na_w = 2\ntag = \"red\"\n",
        ),
        ("offers/all.csv", OFFERS),
    ];
    files.retain(|(name, _)| changed.iter().all(|(other, _)| other != name));
    files.extend(changed);
    Layer::from_texts("small", &files)
}

pub(crate) fn small() -> Arc<Catalogue> {
    SMALL.with(|held| {
        held.get_or_init(|| {
            Arc::new(Catalogue::load(&[layer(&[])]).unwrap_or_else(|e| panic!("{e}")))
        })
        .clone()
    })
}

pub(crate) fn rule_layer(rules: &str) -> Layer {
    Layer::from_texts("rules", &[("a.rhai", rules), ("settings.toml", SETTINGS)])
}

pub(crate) fn small_kit() -> Rc<Kit> {
    SMALL_KIT.with(|held| {
        held.get_or_init(|| {
            Rc::new(
                Kit::with_catalogue(small(), &[rule_layer(RULES)])
                    .unwrap_or_else(|e| panic!("{e}")),
            )
        })
        .clone()
    })
}

/// The layers of the small kit, for what loads its own.
pub(crate) fn small_layers() -> Layers {
    Layers::new(vec![layer(&[])], vec![rule_layer(RULES)])
}

pub(crate) fn shipped() -> Rc<Kit> {
    SHIPPED.with(|held| {
        held.get_or_init(|| {
            Rc::new(Kit::load(&Layers::built_in()).unwrap_or_else(|e| panic!("{e}")))
        })
        .clone()
    })
}

/// A folder of this process for what must be on disk.
pub(crate) fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("dryfit-fuzz-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap_or_else(|e| panic!("{e}"));
    folder
}

/// Whether a character acts on a terminal or turns the text around.
fn acts(c: char) -> bool {
    c.is_control() && c != '\n'
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// What is shown must be harmless, whatever was in the files.
pub(crate) fn harmless(shown: &str) {
    assert!(!shown.contains(acts), "this acts on a terminal: {shown:?}");
}

/// Shows a report in every way there is.
pub(crate) fn show(outcome: Result<&Audit, &Problems>) {
    let outcome = match outcome {
        Ok(audit) => Ok(Box::new(Audited::with_causes(audit))),
        Err(problems) => Err(Arc::new(problems.clone())),
    };
    let report = Report { file: "list.toml".to_owned(), outcome };
    let wishes = Wishes { all: true, measures: true, prompt: false };
    let look = Look { colour: false, drawing: true, width: 40 };
    let ways: [&mut dyn Stream; 10] = [
        &mut TextFormat::plain(wishes),
        &mut Terminal::new(look, look, wishes),
        &mut TextFormat::brief(),
        &mut TextFormat::markdown(),
        &mut json::Json::default(),
        &mut json::JsonLines,
        &mut sarif::Sarif::default(),
        &mut TextFormat::github(),
        &mut hosts::Gitlab::default(),
        &mut TextFormat::junit(Level::Stop),
    ];
    for way in ways {
        let (mut out, mut aside): (Vec<u8>, Vec<u8>) = (Vec::new(), Vec::new());
        let done: io::Result<()> = way
            .begin(&mut out)
            .and_then(|()| way.report(report.clone(), &mut out, &mut aside))
            .and_then(|()| way.end(&Tally::default(), &mut out, &mut aside));
        assert!(done.is_ok());
        harmless(&String::from_utf8_lossy(&out));
        harmless(&String::from_utf8_lossy(&aside));
    }
}

/// Everything an audit says, in words, but for how long a script may have run.
pub(crate) fn said(audit: &Audit) -> String {
    let findings: Vec<Finding> = audit.findings();
    let measures: Vec<_> =
        audit.measures().into_iter().map(|m| (m.id, m.value.map(f64::to_bits), m.words)).collect();
    let broken: Vec<String> = audit
        .broken()
        .iter()
        .map(|p| {
            p.to_string().replace("it ran longer than 400 ms", "it ran past 400000 operations")
        })
        .collect();
    format!(
        "{findings:#?}\n{measures:#?}\n{broken:#?}\n{:?}\n{}",
        audit.waiting(),
        audit.exit_code()
    )
}

/// Audits from memory twice and once afresh; all must say the same.
pub(crate) fn audited(kit: &Kit, build: &Build) {
    let first = kit.audit(build);
    let known = said(&first);
    assert_eq!(known, said(&kit.audit(build)), "memory says otherwise than the first run");
    kit.remember(false);
    let fresh = said(&kit.audit(build));
    kit.remember(true);
    assert_eq!(known, fresh, "memory says otherwise than a fresh run");
    show(Ok(&first));
}

/// Reads a list against a kit, audits what can be read, and shows what cannot.
pub(crate) fn read(kit: &Kit, text: &str) {
    match kit.read(&Source::new("list.toml", text), today()) {
        Ok(build) => audited(kit, &build),
        Err(problems) => refused(&problems),
    }
}

/// Something was refused: it must say why, and harmlessly.
pub(crate) fn refused(problems: &Problems) {
    assert!(!problems.0.is_empty(), "refused without a reason");
    show(Err(problems));
}
