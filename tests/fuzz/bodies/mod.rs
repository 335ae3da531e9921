//! What each fuzzing target does with its bytes. No input may panic, hang, or make memory say
//! otherwise than a fresh run.
//!
//! Plain code on stable Rust: `tests/laws/fuzz_seeds.rs` runs it over the seeds, so that the
//! targets cannot rot.
// A target uses one of these.
#![allow(dead_code)]

#[path = "../../common/changes.rs"]
mod changes;
mod desk;
mod editor;
mod lists;
mod trials;
mod ways_in;

pub(crate) use editor::lsp;
pub(crate) use lists::{brief, catalogue, feed, list, offers, rule, waivers};
pub(crate) use trials::{edits, prompt};
pub(crate) use ways_in::{config, intake, pack, page};

/// What a target does with its bytes.
pub(crate) type Target = fn(&[u8]);

/// Every target by name.
pub(crate) const TARGETS: &[(&str, Target)] = &[
    ("catalogue", catalogue),
    ("list", list),
    ("brief", brief),
    ("offers", offers),
    ("feed", feed),
    ("rule", rule),
    ("prompt", prompt),
    ("waivers", waivers),
    ("edits", edits),
    ("intake", intake),
    ("page", page),
    ("config", config),
    ("pack", pack),
    ("lsp", lsp),
];
