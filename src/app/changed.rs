//! Which files changed since a revision, asked of git.

use std::collections::HashSet;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use crate::app::git::{git, os_text};
use crate::config;
use crate::source::Problem;

/// What changed in the work tree.
#[derive(Debug)]
pub(crate) struct Changed {
    /// Full paths.
    files: HashSet<PathBuf>,
    /// Whether rules, parts or settings are among them: then every list may come out otherwise.
    everything: bool,
}

impl Changed {
    /// Asks git what differs from a revision in the tree around `folder`, files that it does not
    /// know yet included.
    /// Errors: there is no git, no tree of its own here, or no such revision.
    pub(crate) fn since(revision: &str, folder: &Path) -> Result<Self, Problem> {
        let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        let commit = format!("{revision}^{{commit}}");
        git(here, &["rev-parse", "--is-inside-work-tree"]).map_err(|why| {
            Problem::new(format!("{} is in no git work tree", here.display())).help(why)
        })?;
        git(here, &["rev-parse", "--verify", "--quiet", "--end-of-options", &commit]).map_err(
            |_| {
                Problem::new(format!("there is no revision `{revision}` here"))
                    .help("name a commit, a branch or a tag")
            },
        )?;
        let asked = |words: &[&str]| {
            git(here, words).map_err(|why| Problem::new("git did not say what changed").help(why))
        };
        let top = asked(&["rev-parse", "--show-toplevel"])?;
        let top = PathBuf::from(os_text(top.strip_suffix(b"\n").unwrap_or(&top)));
        // Without programs that the tree itself names.
        let diff = ["diff", "--name-only", "-z", "--no-ext-diff", "--no-textconv", "--no-renames"];
        let differing = asked(&[&diff[..], &["--end-of-options", &commit]].concat())?;
        let top_text = top.to_string_lossy().into_owned();
        let fresh =
            git(Path::new(&top_text), &["ls-files", "-z", "--others", "--exclude-standard"])
                .map_err(|why| Problem::new("git did not say what is new").help(why))?;
        let names = differing.split(|b| *b == 0).chain(fresh.split(|b| *b == 0));
        let files: HashSet<PathBuf> =
            names.filter(|name| !name.is_empty()).map(|name| top.join(os_text(name))).collect();
        let everything =
            files.iter().any(|file| is_of_a_layer(file.strip_prefix(&top).unwrap_or(file)));
        Ok(Self { files, everything })
    }

    /// Whether a list is to be audited again.
    pub(crate) fn has(&self, file: &Path) -> bool {
        self.everything || file.canonicalize().map_or(true, |real| self.files.contains(&real))
    }
}

/// Whether a path belongs to what lists are audited against.
fn is_of_a_layer(path: &Path) -> bool {
    path.file_name() == Some(OsStr::new(config::NAME))
        || path.components().any(|c| matches!(c.as_os_str().to_str(), Some("rules" | "catalogue")))
}
