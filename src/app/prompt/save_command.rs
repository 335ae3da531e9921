//! `save`: the list goes into its file, and what was learnt of catalogue parts into the shop's file
//! of known facts.

use std::path::{Path, PathBuf};
use std::rc::Rc;

use crate::app::counted::count;
use crate::app::left_out;
use crate::app::prompt::session::Session;
use crate::app::report::page::Page;
use crate::app::stamp::Stamp;
use crate::catalogue::KNOWN_FACTS;
use crate::disk;
use crate::layer::read_source;
use crate::source::{Problem, Problems};
use crate::whatif::known_file::{Fact, merged, taken_out};

/// What can be done where the list's file changed meanwhile.
const INSTEAD: &str = "`save!` writes all the same, `save OTHER-FILE` elsewhere, `reload` \
                       takes the file as it is now";

impl Session {
    pub(super) fn save(
        &mut self,
        file: Option<&str>,
        force: bool,
        page: &mut Page,
    ) -> Result<(), Problems> {
        let own = self.disk.path.clone();
        let path = file.map_or_else(|| own.clone(), PathBuf::from);
        let same = same_file(&path, &own);
        if same && !self.trial.unsaved() && !self.disk.changed() {
            page.line(&format!("{} is up to date; nothing is written", own.display()));
            return Ok(());
        }
        // Before the first file is written, all that may keep the second from being written.
        if same {
            self.disk.check(force, INSTEAD)?;
        } else {
            let help = format!("`save! {}` writes over it", path.display());
            disk::must_be_new(&path, force, help)?;
        }
        self.keep_facts(&path, page)?;
        let text = self.trial.text().to_owned();
        let (size, lost) = if same {
            self.disk.save(&text, force, INSTEAD)?
        } else {
            disk::write_whole(&path, text.as_bytes(), force)?;
            (text.len(), Vec::new())
        };
        self.trial.set_saved();
        self.told = false;
        page.line(&format!(
            "wrote {}: {size} bytes, {}",
            path.display(),
            count(text.lines().count(), "line")
        ));
        for lost in lost {
            page.line(&lost);
        }
        Ok(())
    }

    /// Moves the facts of catalogue parts from the list into the nearest shop catalogue. Where a
    /// list has none, or is saved to where another counts, they stay in the list.
    fn keep_facts(&mut self, list: &Path, page: &mut Page) -> Result<(), Problems> {
        let (text, facts) = taken_out(self.trial.text(), self.trial.now().build())?;
        if facts.is_empty() {
            return Ok(());
        }
        let number = count(facts.len(), "fact");
        let Some(folder) = self.shop_catalogue(list)? else {
            page.line(&format!("{number} of catalogue parts kept in the list: no shop catalogue"));
            return Ok(());
        };
        let file = folder.join(KNOWN_FACTS);
        let held = match file.symlink_metadata() {
            Ok(_) => read_source(&file)?.text.clone(),
            Err(_) => String::new(),
        };
        let name = list.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let words = |fact: &Fact| {
            let typed = self.fact_words.get(&(fact.part.clone(), fact.field.clone()));
            typed.map_or_else(|| name.clone(), |typed| format!("{typed} ({name})"))
        };
        let shown = file.display().to_string();
        let written = merged(&held, &shown, &facts, words)?;
        if written != held {
            if let Some(parts) = file.parent().filter(|parts| !parts.exists()) {
                std::fs::create_dir(parts).map_err(|e| {
                    Problem::new(format!("{} cannot be made: {e}", parts.display()))
                })?;
            }
            disk::write_whole(&file, written.as_bytes(), true)?;
        }
        // From here on the facts stand twice, and alike, until the list is written.
        let layers = self.options.layers(&self.options.build)?;
        let kit = Rc::new(left_out::kit(&layers)?);
        self.trial.with_kit(kit)?;
        self.stamp = Stamp::of(&layers);
        self.layers = layers;
        self.trial.replace(text)?;
        page.line(&format!("wrote {shown}: {number}"));
        Ok(())
    }

    /// The folder of the topmost catalogue that is a shop's own, where the list at a place is
    /// audited with it as well.
    fn shop_catalogue(&self, list: &Path) -> Result<Option<PathBuf>, Problems> {
        let top = |layers: &crate::kit::Layers| {
            let folder = layers.catalogue.last().map(|layer| PathBuf::from(&layer.label));
            folder.filter(|folder| folder.is_dir())
        };
        let (ours, theirs) = (top(&self.layers), top(&self.options.layers(list)?));
        Ok(ours.filter(|ours| theirs.is_some_and(|theirs| same_file(ours, &theirs))))
    }
}

fn same_file(a: &Path, b: &Path) -> bool {
    a == b || matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}
