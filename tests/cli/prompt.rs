//! The prompt as a user meets it: in a terminal, through a pipe, and killed in the middle of a
//! save.

#[path = "prompt/desk.rs"]
mod desk;
#[cfg(unix)]
#[path = "prompt/saves.rs"]
mod saves;
#[path = "prompt/scripts.rs"]
mod scripts;
#[cfg(unix)]
#[path = "prompt/searches.rs"]
mod searches;
#[cfg(unix)]
#[path = "prompt/terminal.rs"]
mod terminal;
