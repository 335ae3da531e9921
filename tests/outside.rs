//! What ships, held to what lies outside it: figures and schemas of others, a browser, cargo, a
//! full disk, a kill at any moment.
//!
//! `cargo test --test outside sheet::` runs one of them.

mod common {
    pub(crate) mod by_hand;
    pub(crate) mod desk;
    pub(crate) mod share;
}
mod book;
mod faults;
mod formats;
mod intake;
mod limits;
mod lsp;
mod pack;
mod packs;
mod sheet;
mod sound;
mod specs;
mod standards;
mod supply;
mod writing;
