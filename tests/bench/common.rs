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
    let per_round = Catalogue::load(&[layer]).expect("the catalogue loads").parts().len();
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

/// The same with offers for every part: those of the shipped ones, up to a tenth cheaper or dearer.
#[allow(dead_code)]
pub(crate) fn grown_and_offered(parts: usize) -> Vec<(String, String)> {
    let mut files = grown(parts);
    let rounds = files.iter().filter(|(b, _)| b.starts_with("parts/processor-")).count();
    let mut state = 7u64;
    for (below, source) in &Layer::built_in_catalogue()
        .files
        .iter()
        .filter(|(b, _)| b.starts_with("offers/"))
        .collect::<Vec<_>>()
    {
        let mut text = source.text.clone();
        let head: Vec<&str> = source.text.lines().next().unwrap_or_default().split(',').collect();
        let price = head.iter().position(|c| *c == "price");
        for round in (1..=rounds).filter(|_| below.ends_with(".csv")) {
            for line in source.text.lines().skip(1).filter(|l| l.contains('/') && !l.contains('"'))
            {
                let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(11);
                let times = 0.9 + 0.2 * ((state >> 40) as f64 / (1u64 << 24) as f64);
                if let Some(cell) = price.and_then(|at| cells.get_mut(at))
                    && let Ok(n) = cell.parse::<f64>()
                {
                    *cell = format!("{:.2}", n * times);
                }
                cells[0] = format!("{}-again-{round}", cells[0]);
                text.push_str(&cells.join(","));
                text.push('\n');
            }
        }
        files.push((below.clone(), text));
    }
    files
}
