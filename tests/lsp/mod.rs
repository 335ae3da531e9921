//! The language server, as it ships: spoken to over pipes, and by an editor.

mod client;
mod cut;
mod editor;
mod law;
mod layers;
mod lists;
mod places;
mod rules;
mod session;
