//! Packs: fetching those that a shop names, making one, and telling what another version changes.

pub(crate) mod differ;
pub(crate) mod fetch;
pub(crate) mod make;
mod repository;
