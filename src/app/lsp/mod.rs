//! `dryfit lsp`: verdicts in the editor while one types, over standard input and output, in the
//! Language Server Protocol.
//!
//! One thread holds the documents, the kits and all that is answered at once; another runs the
//! searches, on kits of its own; a third reads what the editor sends, so that a request can be
//! called back while another is answered. Nothing is written to disk: the server answers with
//! edits, and the editor makes them.
//!
//! | files | idea |
//! |---|---|
//! | `server`, `inbox`, `sync`, `requests` | what comes from the editor, in order |
//! | `positions`, `uris`, `documents` | texts, places in them, their names |
//! | `shops` | layers with what is open over what is on disk; a kit a shop |
//! | `list_view`, `diagnostics`, `layer_diagnostics` | what is said of a text |
//! | `toml_outline`, `toml_cursor` | a TOML text that need not be whole, and the cursor in it |
//! | `searcher`, `answers` | searches aside, and their answers in JSON |

mod answers;
mod completion;
mod cursor_requests;
mod diagnostics;
mod documents;
mod fixes;
mod folding;
mod format;
mod hints;
mod hover;
mod inbox;
mod layer_diagnostics;
mod list_actions;
mod list_view;
mod navigation;
mod offer_completion;
mod positions;
mod rename;
mod requests;
mod script_completion;
mod script_words;
mod searcher;
mod server;
mod shops;
mod sync;
mod text_edits;
mod toml_cursor;
mod toml_outline;
mod uris;

pub use server::answer;
pub(crate) use server::{LspOptions, run};
