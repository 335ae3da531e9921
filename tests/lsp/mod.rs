//! The language server, as it ships: spoken to over pipes, and by an editor.

mod client;
mod editor;
mod law;
mod lists;
mod rules;
mod session;
