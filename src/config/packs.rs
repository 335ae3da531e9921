//! `[packs]`: rules and parts of others that a shop uses, each from a folder or from a git
//! repository at a revision.

use std::path::PathBuf;

use semver::VersionReq;
use toml::Spanned;
use toml::de::DeValue;

use super::Given;
use super::read::Reader;
use crate::catalogue::declared::{Declared, Row, Takes, key};
use crate::catalogue::field_reader::found;
use crate::source::{Label, Span};

/// A pack, as `dryfit.toml` names it.
pub(crate) const PACK: Declared = Declared {
    of: "a pack",
    keys: &[
        key("folder", Takes::Text, "the folder it lies in, from the folder of this file"),
        key("git", Takes::Text, "the address of its git repository"),
        key("revision", Takes::Text, "a commit, tag or branch of the repository"),
        key("prefix", Takes::Text, "how its names begin; its own name when left out"),
        key("sha256", Takes::Text, "the checksum that its files must have"),
        key("needs", Takes::Text, "the versions of dryfit that it is for, such as >= 0.1"),
    ],
};
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

/// Whether a text may be the name of a pack.
pub(crate) fn is_pack_name(name: &str) -> bool {
    is_prefix(&name.replace('-', "_"))
}

impl Reader<'_> {
    pub(super) fn packs(&mut self, value: &Spanned<DeValue<'_>>) -> Vec<Pack> {
        let Some(table) = value.get_ref().as_table() else {
            let this = format!("this is {}", found(value.get_ref()));
            self.wrong(value.span().into(), "`packs` must be a table of packs", &this);
            return Vec::new();
        };
        let mut packs: Vec<Pack> = Vec::with_capacity(table.len());
        for (key, value) in table {
            let name = key.get_ref().to_string();
            if !is_pack_name(&name) {
                let said = format!("`{name}` is no name of a pack");
                let help = "lower-case letters, digits, `-` and `_`, a letter first, 40 at most";
                self.reading.wrong("invalid", key.span(), said, "here", help);
                continue;
            }
            let place = self.label(key.span().into());
            let row = PACK.row(value, &mut self.reading);
            packs.extend(row.and_then(|row| self.pack(name, row, place)));
        }
        packs
    }

    fn pack(&mut self, name: String, row: Row<'_, '_>, place: Label) -> Option<Pack> {
        let prefix = match row.get("prefix") {
            None => name.replace('-', "_"),
            Some(_) => {
                let said = "a prefix is lower-case letters, digits and `_`, a letter first";
                self.sound(row, "prefix", said, is_prefix)?
            }
        };
        let is_sum = |text: &str| text.len() == 64 && text.bytes().all(|b| b.is_ascii_hexdigit());
        let said = "a SHA-256 checksum is 64 hexadecimal digits";
        let sha256 = self.sound(row, "sha256", said, is_sum);
        let sha256 = sha256.map(|text| self.given(text.to_ascii_lowercase(), row.span("sha256")));
        let said = "versions of dryfit are wanted here, such as \">= 0.1\"";
        let needs = self.sound(row, "needs", said, |text| VersionReq::parse(text).is_ok());
        let needs = needs.and_then(|text| VersionReq::parse(&text).ok());
        let needs = needs.map(|needs| self.given(needs, row.span("needs")));
        let origin = match (row.get("folder"), row.get("git"), row.get("revision")) {
            (Some(_), None, None) => Origin::Folder(self.path(row, "folder", true)?),
            (None, Some(_), Some(_)) => {
                Origin::Git { address: self.repository(row)?, revision: self.revision(row)? }
            }
            (None, Some(git), None) => {
                let said = "this pack says no `revision`, and what a repository holds today may be \
                            another tomorrow";
                let help = "name a tag or a commit: revision = \"v1.0\"";
                self.reading.wrong("invalid", git.span(), said, "here", help);
                return None;
            }
            _ => {
                let said = format!("pack `{name}` comes from one place");
                let help = "write folder = \"…\", or git = \"…\" with revision = \"…\"";
                self.reading.wrong("invalid", row.whole, said, "here", help);
                return None;
            }
        };
        Some(Pack { name, origin, prefix, sha256, needs, place })
    }

    fn given<T>(&self, value: T, span: Span) -> Given<T> {
        Given { value, place: self.label(span) }
    }

    /// A text that passes; `said` says what it must be.
    fn sound(
        &mut self,
        row: Row<'_, '_>,
        key: &str,
        said: &str,
        passes: impl Fn(&str) -> bool,
    ) -> Option<String> {
        let text = self.text(row, key)?;
        if !passes(&text) {
            self.wrong(row.span(key), said, "not one");
            return None;
        }
        Some(text)
    }

    /// An address that git may be handed: no option, and no way to make git run a program.
    fn repository(&mut self, row: Row<'_, '_>) -> Option<String> {
        let text = self.text(row, "git")?;
        let scheme = text.split_once("://").map(|(scheme, _)| scheme);
        let known = scheme.is_none_or(|s| SCHEMES.contains(&s));
        if text.starts_with('-') || text.contains("::") || text.contains(char::is_control) || !known
        {
            let said = "this is no address of a repository";
            let help = format!("a path, host:path, or an address of {}", SCHEMES.join(", "));
            self.reading.wrong("invalid", row.span("git"), said, "here", help);
            return None;
        }
        Some(text)
    }

    fn revision(&mut self, row: Row<'_, '_>) -> Option<String> {
        let letter =
            |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-' | '/' | '+');
        let said = "a tag, a branch or a commit is wanted here";
        self.sound(row, "revision", said, |text| {
            !text.starts_with('-') && text.chars().all(letter) && !text.contains("..")
        })
    }
}
