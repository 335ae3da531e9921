//! dryfit: a parts list put together loosely, to see whether it fits, before anyone opens a box.
//!
//! The pipeline, text to words:
//!
//! 1. `layer` reads folders, one over the other, or what the binary carries.
//! 2. `catalogue` makes kinds, parts, tables and offers of them, every value with its place.
//! 3. `build` reads a parts list against the catalogue; all of it is checked before any rule
//!    runs.
//! 4. `rules` compiles scripts; through their words every look at the build leaves a trace.
//! 5. `audit` keeps that trace as a memory, so that what is known needs no script, and explains
//!    findings by it.
//! 6. The application, behind the feature `app`, shows them.
//!
//! [`Kit`] joins 1 to 5, and [`Kit::audit`] is the one call that everything else stands on.
//!
//! ```
//! use dryfit::source::Source;
//! use dryfit::{Kit, Layers};
//!
//! // What the binary carries; `Layers::beside(path)` adds the folders found beside a build file.
//! let kit = Kit::load(&Layers::built_in())?;
//! let list = Source::new("desk.toml", r#"
//! purpose = "office"
//! [[line]]
//! part = "supply/tarn-650"
//! [[line]]
//! part = "chassis/skerry-reef"
//! "#);
//! let build = kit.read(&list, jiff::civil::date(2026, 11, 20))?;
//! let audit = kit.audit(&build);
//!
//! // A list of two lines is no machine yet, and that is what it says.
//! let findings = audit.findings();
//! let missing = findings.iter().find(|f| f.rule == "fit.complete").expect("parts are missing");
//! assert_eq!(missing.level.to_string(), "stop");
//! assert_eq!(audit.exit_code(), 1);
//!
//! // Measures are numbers with a unit.
//! let draw = audit.measures().into_iter().find(|m| &*m.id == "power.sustained_draw").expect("it is reckoned");
//! assert_eq!(&*draw.unit, "W");
//! # Ok::<(), dryfit::source::Problems>(())
//! ```
//!
//! Errors are [`source::Problems`]: everything wrong with an input at once, each with its places
//! and what would mend it.

#![cfg_attr(
    not(test),
    warn(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::print_stdout,
        clippy::print_stderr,
        clippy::dbg_macro
    )
)]
// `pub` is for `inside` too, which is not there without the application.
#![cfg_attr(not(feature = "app"), allow(unreachable_pub))]

#[cfg(feature = "app")]
#[doc(hidden)]
pub mod app;
mod audit;
mod build;
mod cases;
mod catalogue;
mod disk;
mod kit;
mod layer;
mod level;
mod limits;
mod prices;
mod rules;
mod settings;
mod source;
mod trade;
mod waivers;
mod whatif;
mod words;

pub use audit::finding::Finding;
pub use build::Build;
pub use kit::{Audit, Kit, Layers};

/// The rooms of the crate, for its own tests, benches, fuzzing and peers. It promises nothing.
#[cfg(feature = "app")]
#[doc(hidden)]
pub mod inside {
    macro_rules! rooms {
        ($($room:ident)*) => {
            $(
                /// What this room shows to the rest of the crate.
                pub mod $room {
                    #[allow(unused_imports)]
                    pub use crate::$room::*;
                }
            )*
        };
    }

    rooms! {
        app audit build cases catalogue disk kit layer level limits prices rules settings source trade
        whatif
    }
}
