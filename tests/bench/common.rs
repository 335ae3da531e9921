//! What the benches share.

use std::time::{Duration, Instant};

use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::layer::Layer;

/// The middle of several timings.
pub(crate) fn median(times: usize, mut run: impl FnMut()) -> Duration {
    let mut all: Vec<Duration> = (0..times)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    all.sort();
    all[times / 2]
}

/// The same parts again under other names, until there are enough.
pub(crate) fn grown(parts: usize) -> Vec<(String, String)> {
    let layer = Layer::built_in_catalogue();
    let mut files: Vec<(String, String)> = layer
        .files
        .iter()
        .filter(|(b, _)| !b.starts_with("offers/"))
        .map(|(b, s)| (b.clone(), s.text.clone()))
        .collect();
    let sources: Vec<(String, String)> =
        files.iter().filter(|(b, _)| b.starts_with("parts/")).cloned().collect();
    let per_round = Catalogue::load(&[layer]).expect("the catalogue loads").parts.len();
    for round in 1..=parts / per_round {
        for (below, text) in &sources {
            // No part of the catalogue has a name that ends so.
            let renamed: String = text
                .lines()
                .map(|l| match l.strip_prefix('[').and_then(|l| l.strip_suffix(']')) {
                    Some(name) => format!("[{name}-again-{round}]\n"),
                    None => format!("{l}\n"),
                })
                .collect();
            files.push((below.replace(".toml", &format!("-{round}.toml")), renamed));
        }
    }
    files
}
