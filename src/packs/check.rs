//! What a pack may be called and may hold: all of its names begin with its prefix, so that nothing
//! of it takes the place of anything in silence.

use std::collections::BTreeMap;
use std::sync::Arc;

use toml::de::DeTable;

use super::{Held, parts_of};
use crate::catalogue::field_reader::key_span;
use crate::config::Pack;
use crate::layer::Layer;
use crate::source::{Problem, Problems, Source, Span};

/// Whether a name belongs to a prefix: `quay` or `quay_fit`.
fn is_of(name: &str, prefix: &str) -> bool {
    name.strip_prefix(prefix).is_some_and(|rest| rest.is_empty() || rest.starts_with('_'))
}

/// The name that a file below a rules or catalogue folder is known by: without folder and endings.
fn stem(below: &str) -> &str {
    let file = below.rsplit('/').next().unwrap_or(below);
    file.split('.').next().unwrap_or(file)
}

/// Holds the names of a pack to its prefix.
pub(super) fn names(held: &Held, name: &str, prefix: &str, problems: &mut Problems) {
    let start = Span::default();
    let layers = [&held.rules, &held.catalogue];
    for (below, source) in layers.iter().filter_map(|l| l.as_ref()).flat_map(|l| &l.files) {
        match below.as_str() {
            "settings.toml" => settings(source, name, prefix, problems),
            "layer.toml" => {
                let said = format!("pack `{name}` would stand alone, without what lies below it");
                problems.push(Problem::new(said).at(source, start, "this file"));
            }
            "waivers.toml" => {
                let said = format!("pack `{name}` waives findings, which only a shop may do");
                problems.push(Problem::new(said).at(source, start, "this file"));
            }
            _ if !is_of(stem(below), prefix) => problems.push(
                Problem::new(format!("`{below}` of pack `{name}` does not begin with its prefix"))
                    .at(source, start, "this file")
                    .help(format!("a name such as {prefix}_{} is wanted", stem(below))),
            ),
            _ => {}
        }
    }
}

/// Settings of a pack are of its own rules; what a shop decides of rules is the shop's.
fn settings(source: &Arc<Source>, name: &str, prefix: &str, problems: &mut Problems) {
    let (table, _) = DeTable::parse_recoverable(&source.text);
    for (key, _) in table.get_ref() {
        let (word, span) = (&**key.get_ref(), key_span(key));
        if word == "rule" {
            let said = format!("pack `{name}` decides about rules, which only a shop may do");
            problems.push(Problem::new(said).at(source, span, "take this out"));
        } else if !is_of(word, prefix) {
            let said = format!("pack `{name}` sets `{word}`, which is not its own");
            let help = format!("its settings begin with {prefix}");
            problems.push(Problem::new(said).at(source, span, "here").help(help));
        }
    }
}

/// Holds packs to one another and to the layers under them: rules, then catalogue.
pub(super) fn against_others(
    held: &[(&Pack, Held)],
    below: (&[Layer], &[Layer]),
    problems: &mut Problems,
) {
    for (at, (pack, _)) in held.iter().enumerate() {
        for (other, _) in held.iter().take(at) {
            if is_of(&pack.prefix, &other.prefix) || is_of(&other.prefix, &pack.prefix) {
                let said = format!(
                    "packs `{}` and `{}` have prefixes that cannot be told apart",
                    other.name, pack.name
                );
                problems.push(
                    Problem::new(said)
                        .at(&other.place.source, other.place.span, other.prefix.clone())
                        .at(&pack.place.source, pack.place.span, pack.prefix.clone())
                        .help("each pack has a prefix of its own"),
                );
            }
        }
        let lower = |layers: &[Layer]| {
            let named = |below: &str| {
                below.ends_with(".rhai")
                    || ["kinds/", "tables/"].iter().any(|f| below.starts_with(f))
            };
            let mut files = layers.iter().flat_map(|layer| &layer.files);
            files
                .find(|(below, _)| named(below) && is_of(stem(below), &pack.prefix))
                .map(|(_, source)| source.clone())
        };
        if let Some(source) = lower(below.0).or_else(|| lower(below.1)) {
            problems.push(
                Problem::new(format!("the prefix `{}` is taken", pack.prefix))
                    .at(&pack.place.source, pack.place.span, "of this pack")
                    .at(&source, Span::default(), "by this file")
                    .help("a prefix that no other file's name begins with"),
            );
        }
    }
    parts(held, below.1, problems);
}

/// A part of one id comes from one place: a pack does not change what others say of a part.
fn parts(held: &[(&Pack, Held)], below: &[Layer], problems: &mut Problems) {
    let of_packs = || held.iter().filter_map(|(pack, one)| Some((pack, one.catalogue.as_ref()?)));
    if of_packs().next().is_none() {
        return;
    }
    let mut known: BTreeMap<String, (Arc<Source>, Span)> = BTreeMap::new();
    let files = |layer: &Layer| -> Vec<Arc<Source>> {
        let parts = layer.files.iter().filter(|(below, _)| below.starts_with("parts/"));
        parts.map(|(_, source)| source.clone()).collect()
    };
    for source in below.iter().flat_map(files) {
        for (id, span) in parts_of(&source) {
            known.insert(id, (source.clone(), span));
        }
    }
    for (pack, layer) in of_packs() {
        for source in files(layer) {
            for (id, span) in parts_of(&source) {
                if let Some((first, place)) = known.get(&id) {
                    problems.push(
                        Problem::new(format!("pack `{}` gives {id} again", pack.name))
                            .at(first, *place, "it is here already")
                            .at(&source, span, "and here")
                            .help("take one of the two packs, or ask for another id"),
                    );
                } else {
                    known.insert(id, (source.clone(), span));
                }
            }
        }
    }
}
