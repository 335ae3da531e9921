//! The handbook: a static site that a person reads like a trade's own, made of what the rules,
//! kinds and tables say of themselves.

mod subjects;

use std::fs;
use std::path::{Path, PathBuf};

use crate::app::report::escape::inert;
use crate::app::report::templates::environment;
use crate::kit::{Kit, Layers};
use crate::source::{Problem, Problems};

const TEMPLATES: &[(&str, &str)] = &[
    ("frame.html", include_str!("page/frame.html")),
    ("index.html", include_str!("page/index.html")),
    ("subject.html", include_str!("page/subject.html")),
    ("rule.html", include_str!("page/rule.html")),
    ("kinds.html", include_str!("page/kinds.html")),
    ("kind.html", include_str!("page/kind.html")),
    ("tables.html", include_str!("page/tables.html")),
    ("table.html", include_str!("page/table.html")),
    ("words.html", include_str!("page/words.html")),
    ("settings.html", include_str!("page/settings.html")),
];
/// What marks a folder as one that a handbook may be written over.
const MARK: &str = ".dryfit-book";

pub struct BookFile {
    /// Its path from the handbook's folder, with `/` between names.
    pub below: String,
    pub text: String,
}

/// Every file of the handbook of these rules.
/// Errors: a page's own template fails, which no input should bring about.
pub fn pages(kit: &Kit, layers: &Layers) -> Result<Vec<BookFile>, Problems> {
    let subjects = subjects::gather(kit, layers);
    let env = environment(TEMPLATES, clean).map_err(|e| failed(&e))?;
    let mut files = Vec::new();
    for page in subjects.pages() {
        let rendered = env.get_template(page.template).and_then(|t| t.render(&page.values));
        files.push(BookFile { below: page.below, text: rendered.map_err(|e| failed(&e))? });
    }
    let fixed = [
        ("book.css", include_str!("page/book.css").to_owned()),
        ("search.js", include_str!("page/search.js").to_owned()),
        ("found.js", subjects.search_index()),
        (MARK, format!("dryfit {}\n", env!("CARGO_PKG_VERSION"))),
    ];
    files.extend(fixed.map(|(below, text)| BookFile { below: below.to_owned(), text }));
    Ok(files)
}

fn failed(error: &minijinja::Error) -> Problem {
    Problem::new(format!("a template of the handbook fails: {error}"))
}

/// A text for a page: inert, with its line ends.
fn clean(text: &str) -> String {
    text.split('\n').map(inert).collect::<Vec<_>>().join("\n")
}

/// Writes the handbook whole or not at all.
/// Errors: the folder holds something else, or cannot be written.
pub fn write(files: &[BookFile], into: &Path) -> Result<(), Problem> {
    let empty = fs::read_dir(into).map_or(!into.exists(), |mut e| e.next().is_none());
    if !empty && !into.join(MARK).is_file() {
        return Err(Problem::new(format!("{} holds something else", into.display()))
            .help("name a folder that is not there, is empty, or holds a handbook"));
    }
    let beside =
        |what: &str| PathBuf::from(format!("{}.{what}-{}", into.display(), std::process::id()));
    let (new, old) = (beside("new"), beside("old"));
    let cannot = |e| Problem::new(format!("cannot write {}: {e}", into.display()));
    let written = put(files, &new).and_then(|()| {
        if into.exists() {
            fs::rename(into, &old)?;
        }
        fs::rename(&new, into).inspect_err(|_| {
            let _ = fs::rename(&old, into);
        })
    });
    let _ = fs::remove_dir_all(&new);
    let _ = fs::remove_dir_all(&old);
    written.map_err(cannot)
}

fn put(files: &[BookFile], folder: &Path) -> std::io::Result<()> {
    let _ = fs::remove_dir_all(folder);
    for file in files {
        let path = folder.join(&file.below);
        fs::create_dir_all(path.parent().unwrap_or(folder))?;
        fs::write(path, &file.text)?;
    }
    Ok(())
}
