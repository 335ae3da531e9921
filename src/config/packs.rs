//! `[packs]`: rules and parts of others that a shop uses, each from a folder or from a git
//! repository at a revision.

use std::path::PathBuf;

use semver::VersionReq;

use super::Given;
use super::read::{Reader, Value};
use crate::source::{Label, Problem};

/// Keys of a pack.
pub(crate) const PACK_KEYS: &[&str] = &["folder", "git", "revision", "prefix", "sha256", "needs"];
/// Longest name of a pack, which is a folder's name too.
const MOST_LETTERS: usize = 40;
/// How addresses of repositories begin that git is handed; one without `://` is a path or
/// `host:path`.
const SCHEMES: &[&str] = &["https", "http", "ssh", "git", "file"];

/// A pack that the shop uses.
#[derive(Debug, Clone)]
pub struct Pack {
    /// What the shop calls it.
    pub name: String,
    /// Where it comes from.
    pub origin: Origin,
    /// How the names of its rule files, tables and kinds begin.
    pub prefix: String,
    /// The checksum that its files must have.
    pub sha256: Option<Given<String>>,
    /// The versions of dryfit that it is for.
    pub needs: Option<Given<VersionReq>>,
    /// Where it is named.
    pub place: Label,
}

/// Where a pack comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// A folder of this machine.
    Folder(PathBuf),
    /// A git repository.
    Git {
        /// Its address, as git takes it.
        address: String,
        /// A commit, tag or branch of it.
        revision: String,
    },
}

/// Whether a text may be a pack's prefix: the beginning of file names and of rules' ids.
pub(crate) fn is_prefix(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.len() <= MOST_LETTERS
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

impl Reader<'_> {
    pub(super) fn packs(&mut self, value: &Value<'_>) -> Vec<Pack> {
        let Some(table) = value.get_ref().as_table() else {
            self.wanted(value, "a table of packs");
            return Vec::new();
        };
        let mut packs: Vec<Pack> = Vec::with_capacity(table.len());
        for (key, value) in table {
            let name = key.get_ref().to_string();
            if !is_prefix(&name.replace('-', "_")) {
                let said = format!("`{name}` is no name of a pack");
                let help = "lower-case letters, digits, `-` and `_`, a letter first, 40 at most";
                let problem = Problem::new(said).at(self.source, key.span().into(), "here");
                self.problems.push(problem.help(help));
                continue;
            }
            let place = self.label(key.span());
            if let Some(pack) = self.pack(name, value, place) {
                packs.push(pack);
            }
        }
        packs
    }

    fn pack(&mut self, name: String, value: &Value<'_>, place: Label) -> Option<Pack> {
        let Some(table) = value.get_ref().as_table() else {
            self.wanted(value, "`{ folder = \"…\" }` or `{ git = \"…\", revision = \"…\" }`");
            return None;
        };
        self.known("a pack", table, PACK_KEYS);
        let prefix = match table.get("prefix") {
            None => name.replace('-', "_"),
            Some(value) => {
                let text = self.text(value)?;
                if !is_prefix(&text) {
                    let said = "a prefix is lower-case letters, digits and `_`, a letter first";
                    self.wrong(value.span(), said, "not one");
                    return None;
                }
                text
            }
        };
        let sha256 = table.get("sha256").and_then(|value| {
            let text = self.text(value)?.to_ascii_lowercase();
            if text.len() != 64 || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
                self.wrong(value.span(), "a SHA-256 checksum is 64 hexadecimal digits", "not one");
                return None;
            }
            Some(Given { value: text, place: self.label(value.span()) })
        });
        let needs = table.get("needs").and_then(|value| {
            let text = self.text(value)?;
            match VersionReq::parse(&text) {
                Ok(needs) => Some(Given { value: needs, place: self.label(value.span()) }),
                Err(_) => {
                    let said = "versions of dryfit are wanted here, such as \">= 0.1\"";
                    self.wrong(value.span(), said, "not one");
                    None
                }
            }
        });
        let origin = match (table.get("folder"), table.get("git"), table.get("revision")) {
            (Some(folder), None, None) => Origin::Folder(self.path(folder, true)?),
            (None, Some(git), Some(revision)) => {
                Origin::Git { address: self.repository(git)?, revision: self.revision(revision)? }
            }
            (None, Some(git), None) => {
                let said = "this pack says no `revision`, and what a repository holds today may be \
                            another tomorrow";
                let problem = Problem::new(said).at(self.source, git.span().into(), "here");
                self.problems.push(problem.help("name a tag or a commit: revision = \"v1.0\""));
                return None;
            }
            _ => {
                let said = format!("pack `{name}` comes from one place");
                let help = "write folder = \"…\", or git = \"…\" with revision = \"…\"";
                let problem = Problem::new(said).at(self.source, value.span().into(), "here");
                self.problems.push(problem.help(help));
                return None;
            }
        };
        Some(Pack { name, origin, prefix, sha256, needs, place })
    }

    /// An address that git may be handed: no option, and no way to make git run a program.
    fn repository(&mut self, value: &Value<'_>) -> Option<String> {
        let text = self.text(value)?;
        let scheme = text.split_once("://").map(|(scheme, _)| scheme);
        let known = scheme.is_none_or(|s| SCHEMES.contains(&s));
        if text.starts_with('-') || text.contains("::") || text.contains(char::is_control) || !known
        {
            let said = "this is no address of a repository";
            let help = format!("a path, host:path, or an address of {}", SCHEMES.join(", "));
            let problem = Problem::new(said).at(self.source, value.span().into(), "here");
            self.problems.push(problem.help(help));
            return None;
        }
        Some(text)
    }

    fn revision(&mut self, value: &Value<'_>) -> Option<String> {
        let text = self.text(value)?;
        let letter =
            |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-' | '/' | '+');
        if text.starts_with('-') || !text.chars().all(letter) || text.contains("..") {
            self.wrong(value.span(), "a tag, a branch or a commit is wanted here", "not one");
            return None;
        }
        Some(text)
    }
}
