//! dryfit.
pub mod audit;
pub mod build;
pub mod cases;
pub mod catalogue;
pub mod kit;
pub mod layer;
pub mod repl;
pub mod report;
pub mod rules;
pub mod settings;
pub mod source;
pub mod trade;
pub mod whatif;

pub use audit::finding::Finding;
pub use build::Build;
pub use kit::{Audit, Kit, Layers};
