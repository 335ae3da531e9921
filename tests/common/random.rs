//! Random builds out of a catalogue, the same in every run.

use std::sync::Arc;

use dryfit::inside::build::{Build, Line};
use dryfit::inside::catalogue::{Catalogue, Part};

/// A small generator of random numbers, so that every run meets the same builds.
pub(crate) struct Random(pub(crate) u64);

impl Random {
    /// A number from 0 to below `n`.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}

/// A list with a part of every kind that a machine needs, taken at random: most are wrong in
/// several ways.
pub(crate) fn random_build(catalogue: &Catalogue, random: &mut Random, base: &Build) -> Build {
    let mut lines = Vec::new();
    let mut push = |kind: &str, random: &mut Random, count: u32, mount: Option<(&str, &str)>| {
        let kind = catalogue.kind_id(kind).expect("the kind is there");
        let parts: Vec<&Arc<Part>> = catalogue.parts_of(kind).collect();
        let part = parts[random.below(parts.len())].clone();
        let mut line = Line::of(part, count);
        if let Some((mount, flow)) = mount {
            (line.mount, line.flow) = (Some(mount.into()), Some(flow.into()));
        }
        lines.push(line);
    };
    for kind in ["processor", "board", "chassis", "supply", "os", "display"] {
        push(kind, random, 1, None);
    }
    let top = [("top", "out"), ("front", "in")][random.below(2)];
    push("cooler", random, 1, Some(top));
    for kind in ["memory", "storage", "graphics"] {
        let count = 1 + random.below(2) as u32;
        push(kind, random, if kind == "graphics" { 1 } else { count }, None);
    }
    for mount in [("front", "in"), ("rear", "out")] {
        let count = 1 + random.below(3) as u32;
        push("fan", random, count, Some(mount));
    }
    base.with_lines(lines)
}
