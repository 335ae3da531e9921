//! dryfit audits a PC parts list before anyone opens a box: rules written as scripts look at the
//! build, and every look is recorded, so that each finding shows the very values that caused it.
//!
//! The crate has two halves. The **engine** reads, audits and searches; it prints nothing, ends no
//! process and knows no terminal. The **application** (arguments, prompt, presenters, sheet) is
//! behind the feature `app`, which is on by default; another program leaves it out:
//!
//! ```toml
//! dryfit = { version = "0.1", default-features = false }
//! ```
//!
//! # From a list to its findings
//!
//! 1. A [`Layer`] is a folder of files, read from disk, carried by the crate, or made of texts in
//!    memory. [`Layers`] stack them, the lowest first.
//! 2. [`Kit::load`] makes a [`Catalogue`] and compiled rules of the layers.
//! 3. [`Kit::read`] reads a parts list, a [`Source`], against the catalogue into a [`Build`]. All
//!    of it is checked before any rule runs.
//! 4. [`Kit::audit`] runs the rules, or recalls what they said of a build that looks the same to
//!    them, and gives an [`Audit`]: findings, measures, and rules that broke.
//! 5. [`fit`], [`mend`] and [`plan`] search with the same rules: what could stand on a line, which
//!    swaps clear every stop, and which builds meet a customer's [`Brief`].
//!
//! ```
//! use dryfit::{Kit, Layers, Level, Source};
//!
//! // What the crate carries. `Layers::beside(path)` adds the folders found beside a build file.
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
//! // Two lines are no PC yet, and a finding says so.
//! let findings = audit.findings();
//! let missing = findings.iter().find(|f| f.rule == "fit.complete").expect("parts are missing");
//! assert_eq!(missing.level, Level::Stop);
//! assert_eq!(audit.exit_code(), 1);
//!
//! // A finding points at the values that caused it, in the list and in the catalogue.
//! for pointer in &missing.pointers {
//!     if let Some(label) = &pointer.label {
//!         let (line, column) = label.source.line_column(label.span.start());
//!         assert!(line >= 1 && column >= 1, "{}:{line}:{column}", label.source.name);
//!     }
//! }
//!
//! // A measure is a number with a unit.
//! let measures = audit.measures();
//! let draw = measures.iter().find(|m| &*m.id == "power.sustained_draw").expect("it has a rule");
//! assert_eq!(&*draw.unit, "W");
//! # Ok::<(), dryfit::Problems>(())
//! ```
//!
//! `examples/embed` is a whole program on the engine: a catalogue made in memory, lists in JSON,
//! findings in JSON.
//!
//! # Errors
//!
//! A call that reads what a person wrote fails with [`Problems`]: everything that is wrong with the
//! input at once, each [`Problem`] with its places and what would fix it. No input makes the engine
//! panic. A rule that fails does not stop an audit: it is one of [`Audit::broken`], and
//! [`Audit::exit_code`] is 2 then, since a broken rule is never a pass.
//!
//! # Units
//!
//! A measure says its unit. Fields of parts have the unit that their kind declares; where a name
//! ends in a unit (`rated_w`, `height_mm`), that is the unit. Money is exact, in whole cents of its
//! currency ([`Money`]). Places in a text are bytes ([`Span`]); lines and columns count from 1.
//!
//! # Threads
//!
//! A [`Kit`] belongs to one thread, since its scripts and what it remembers are not shared. A
//! [`Catalogue`] is never changed once it is loaded: put it into an [`Arc`](std::sync::Arc) and
//! give each thread a kit of its own with [`Kit::with_catalogue`].
//!
//! ```
//! use std::sync::Arc;
//! use dryfit::{Catalogue, Kit, Layers};
//!
//! let layers = Layers::built_in();
//! let catalogue = Arc::new(Catalogue::load(&layers.catalogue)?);
//! std::thread::scope(|scope| {
//!     for _ in 0..2 {
//!         scope.spawn(|| Kit::with_catalogue(catalogue.clone(), &layers.rules).map(|_| ()));
//!     }
//! });
//! # Ok::<(), dryfit::Problems>(())
//! ```

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

#[cfg(feature = "app")]
#[doc(hidden)]
pub mod app;

mod audit;
mod build;
mod cases;
mod catalogue;
mod config;
mod disk;
#[cfg(feature = "app")]
mod intake;
mod kit;
mod layer;
mod level;
mod limits;
mod packs;
#[cfg(feature = "app")]
mod partsheet;
mod prices;
mod rules;
mod settings;
mod source;
mod trade;
mod waivers;
mod whatif;
mod words;

pub use audit::finding::{Finding, Margin, Pointer};
pub use build::brief::Brief;
pub use build::{Build, Line, Waiver, What};
pub use catalogue::kinds::KindId;
pub use catalogue::{Catalogue, Part};
pub use kit::{Audit, Kit, Layers, Measure};
pub use layer::Layer;
pub use level::Level;
pub use source::{Label, Problem, Problems, Source, Span};
pub use trade::money::{Currency, Money};
pub use whatif::fit::{Fit, FitMeasure, FitRow, fit};
pub use whatif::mend::{Mend, MendChange, MendLoss, MendWay, mend};
pub use whatif::plan::{
    Plan, PlanAdd, PlanAim, PlanAnswer, PlanCost, PlanEffort, PlanReach, PlanUnsold, PlanWayOut,
    PlanWish, plan,
};
pub use whatif::search::{SearchLimits, SearchProgress};

/// The rooms of the crate, for its own tests, benches, fuzzing and peers. It promises nothing.
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

    #[cfg(feature = "app")]
    rooms! { app intake partsheet }
    rooms! {
        audit build cases catalogue config disk kit layer level limits packs prices rules settings
        source trade whatif
    }
}
