//! What people see, word for word: golden cases, refusals, the prompt, the README's tour.
//!
//! `cargo test --test golden cases::` runs one of them. `DRYFIT_BLESS=1` writes anew what is
//! written down; read it before you keep it.

mod cases;
mod common {
    pub(crate) mod desk;
    pub(crate) mod screen;
    pub(crate) mod share;
    pub(crate) mod watch;
}
mod glance;
mod pictures;
mod prompt;
mod readme;
mod refused;
mod words;
