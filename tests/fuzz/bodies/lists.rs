//! Targets that read files: kinds and parts, builds, briefs, offers, feeds, rules, waivers.

use std::fs;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use dryfit::inside::build::brief::Brief;
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::Kit;
use dryfit::inside::layer::Layer;
use dryfit::inside::prices::import::{Map, import};
use dryfit::inside::source::Source;
use dryfit::inside::whatif::plan::{best, build_file};
use dryfit::inside::whatif::search::SearchLimits;

use super::desk::{
    LIST, OFFERS, RULES, SETTINGS, folder, harmless, layer, read, refused, rule_layer, shipped,
    small, small_kit, small_layers, text, today,
};

/// What parts one file from the next in an input that is several.
pub(super) const NEXT: &str = "\n=====\n";

/// A kind and its parts: `kinds/x.toml`, `=====`, `parts/x.toml`, `=====`, `tables/x.toml`.
pub(crate) fn catalogue(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let mut files = text.split(NEXT);
    let (kind, parts, table) =
        (files.next().unwrap_or(""), files.next().unwrap_or(""), files.next().unwrap_or(""));
    let mut changed = vec![("kinds/other.toml", kind), ("parts/other.toml", parts)];
    if !table.is_empty() {
        changed.push(("tables/other.toml", table));
    }
    match Catalogue::load(&[layer(&changed)]) {
        Err(problems) => refused(&problems),
        Ok(catalogue) => {
            // What was let in must be fit for rules: every part of it is put on a list.
            let parts: Vec<_> = catalogue.parts().take(12).map(|p| p.id.to_string()).collect();
            let list: String = parts
                .iter()
                .map(|id| format!("[[line]]\npart = \"{}\"\n", id.escape_default()))
                .collect();
            match Kit::with_catalogue(std::sync::Arc::new(catalogue), &[rule_layer(RULES)]) {
                Ok(kit) => read(&kit, &list),
                Err(problems) => refused(&problems),
            }
        }
    }
}

/// A build against the shipped catalogue and rules.
pub(crate) fn list(data: &[u8]) {
    if let Some(text) = text(data) {
        read(&shipped(), text);
    }
}

/// A brief, planned for a moment with the small catalogue.
pub(crate) fn brief(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let kit = small_kit();
    let brief = match Brief::parse(&Source::new("brief.toml", text), kit.catalogue(), today()) {
        Ok(brief) => brief,
        Err(problems) => return refused(&problems),
    };
    let halt = AtomicBool::new(false);
    let mut limits = SearchLimits::new(&halt);
    limits.until = Some(Instant::now() + Duration::from_millis(100));
    match best(&kit, &small_layers(), &brief, limits) {
        Err(problems) => refused(&problems),
        Ok(plan) => {
            for found in &plan.best {
                let written = build_file(&brief, found)
                    .unwrap_or_else(|p| panic!("an answer that cannot be written: {p}"));
                let read = kit.read(&Source::new("answer.toml", written.as_str()), today());
                let build = read
                    .unwrap_or_else(|p| panic!("an answer that cannot be read: {p}\n{written}"));
                let audit = kit.audit(&build);
                assert_eq!(
                    audit.exit_code(),
                    0,
                    "an answer with a stop:\n{written}\n{:?}",
                    audit.findings()
                );
            }
        }
    }
}

/// An offers file over the small catalogue.
pub(crate) fn offers(data: &[u8]) {
    let Some(text) = text(data) else { return };
    match Catalogue::load(&[layer(&[("offers/all.csv", text)])]) {
        Err(problems) => refused(&problems),
        Ok(catalogue) => {
            match Kit::with_catalogue(std::sync::Arc::new(catalogue), &[rule_layer(RULES)]) {
                Err(problems) => refused(&problems),
                Ok(kit) => read(&kit, LIST),
            }
        }
    }
}

/// A map, `=====`, and a feed that is read by it: what is written must be read again, and nothing
/// may be written otherwise.
pub(crate) fn feed(data: &[u8]) {
    let at = data.windows(NEXT.len()).position(|w| w == NEXT.as_bytes()).unwrap_or(data.len());
    let (map, rows) = (&data[..at], data.get(at + NEXT.len()..).unwrap_or_default());
    let Some(map) = text(map) else { return };
    let map = match Map::read(&Source::new("map.toml", map)) {
        Ok(map) => map,
        Err(problems) => return refused(&problems),
    };
    let folder = folder("feed");
    let (from, into) = (folder.join("feed.csv"), folder.join("offers.csv"));
    fs::write(&from, rows).unwrap_or_else(|e| panic!("{e}"));
    fs::write(&into, OFFERS).unwrap_or_else(|e| panic!("{e}"));
    let done = import(&small(), &map, &from, Some(&into), &into, &mut |_, _| {});
    let now = fs::read_to_string(&into).unwrap_or_else(|e| panic!("{e}"));
    match done {
        Err(problems) => {
            assert_eq!(now, OFFERS, "refused, and written all the same");
            refused(&problems);
        }
        Ok(done) => {
            harmless(&dryfit::inside::app::prices::import::words(
                dryfit::inside::app::report::style::Look {
                    colour: false,
                    drawing: false,
                    width: 80,
                },
                "feed.csv",
                &done,
            ));
            assert!(now.starts_with(OFFERS), "what stood there stands there still");
            Catalogue::load(&[layer(&[("offers/all.csv", &now)])])
                .unwrap_or_else(|e| panic!("what was written cannot be read: {e}\n{now}"));
            // A second time there is nothing new in it.
            let again = import(&small(), &map, &from, Some(&into), &into, &mut |_, _| {})
                .unwrap_or_else(|e| panic!("the second time: {e}"));
            assert_eq!(again.added, 0, "the same feed twice gives new rows:\n{now}");
        }
    }
    let left = fs::read_dir(&folder).map(Iterator::count).unwrap_or_default();
    assert_eq!(left, 2, "something was left behind");
}

/// A rule file over the small catalogue.
pub(crate) fn rule(data: &[u8]) {
    let Some(text) = text(data) else { return };
    match Kit::with_catalogue(small(), &[rule_layer(text)]) {
        Err(problems) => refused(&problems),
        Ok(kit) => read(&kit, LIST),
    }
}

/// A shop's waivers, and the same in the list itself.
pub(crate) fn waivers(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let files = [("a.rhai", RULES), ("settings.toml", SETTINGS), ("waivers.toml", text)];
    match Kit::with_catalogue(small(), &[Layer::from_texts("rules", &files)]) {
        Err(problems) => refused(&problems),
        Ok(kit) => read(&kit, LIST),
    }
    read(&small_kit(), &format!("{LIST}\n{text}"));
}
