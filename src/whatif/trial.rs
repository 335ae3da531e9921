//! A build being changed: every state is a text, every change a step that can be taken back.

use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;

use crate::audit::finding::Brief;
use crate::build::Build;
use crate::kit::{Audit, Kit, Measure, Ruling};
use crate::source::{Problem, Problems, Source};
use crate::whatif::diff::{Change, between};
use crate::whatif::edit::{self, Edit};
use crate::whatif::open_lines::{Choice, Settled, settle};
use crate::words::clip;

/// Most steps that can be taken back; older ones are forgotten.
pub const MAX_STEPS: usize = 10_000;
/// Most bytes of text that the steps hold together; the oldest go first, and the last one stays
/// whatever its size.
pub const MAX_HELD: usize = 64 << 20;
/// The mark of the state that the trial began with.
pub const START: &str = "start";

/// One state of a build, audited.
pub struct Snapshot {
    /// Its text.
    pub source: Arc<Source>,
    written: Build,
    /// What the rules say of it, each open line with the part that is chosen for it.
    pub audit: Audit,
    /// What is chosen for open lines.
    pub chosen: Vec<Choice>,
    /// Lines that stay open, and why.
    pub left: Vec<Problem>,
    /// Wants that cannot be read: their lines stay open.
    pub unread: Problems,
    /// The findings, a line each, the worst first.
    pub briefs: Vec<Brief>,
    /// The measures.
    pub measures: Vec<Measure>,
}

impl Snapshot {
    /// Reads and audits a text.
    pub fn of(kit: &Kit, source: &Arc<Source>, today: Date) -> Result<Self, Problems> {
        let written = Build::parse_begun(source, kit.catalogue(), today)?;
        let (settled, unread) = match settle(kit, &written) {
            Ok(settled) => (settled, Problems::default()),
            Err(unread) => {
                let (build, choices, left) = (written.clone(), Vec::new(), Vec::new());
                (Settled { build, choices, left }, unread)
            }
        };
        let audit = kit.audit(&settled.build);
        let (briefs, measures) = (audit.briefs(), audit.measures());
        let (chosen, left) = (settled.choices, settled.left);
        Ok(Self { source: source.clone(), written, audit, chosen, left, unread, briefs, measures })
    }

    /// The build as it is written: open lines are open.
    pub fn build(&self) -> &Build {
        &self.written
    }

    /// The verdict. What no part can be put into cannot be built.
    pub fn ruling(&self) -> Ruling {
        match self.audit.ruling() {
            Ruling::Broken => Ruling::Broken,
            _ if !self.left.is_empty() => Ruling::Stop,
            ruling => ruling,
        }
    }
}

/// A build being changed.
pub struct Trial {
    kit: Rc<Kit>,
    today: Date,
    now: Snapshot,
    start: Arc<Source>,
    saved: Arc<Source>,
    before: Vec<Arc<Source>>,
    after: Vec<Arc<Source>>,
    marks: BTreeMap<String, Arc<Source>>,
}

impl Trial {
    /// Begins with a text.
    pub fn open(kit: Rc<Kit>, source: &Arc<Source>, today: Date) -> Result<Self, Problems> {
        let now = Snapshot::of(&kit, source, today)?;
        Ok(Self {
            kit,
            today,
            now,
            start: source.clone(),
            saved: source.clone(),
            before: Vec::new(),
            after: Vec::new(),
            marks: BTreeMap::new(),
        })
    }

    /// The kit it is audited with.
    pub fn kit(&self) -> &Rc<Kit> {
        &self.kit
    }

    /// The day that stands in for `priced_on`.
    pub fn today(&self) -> Date {
        self.today
    }

    /// The present state.
    pub fn now(&self) -> &Snapshot {
        &self.now
    }

    /// The present text.
    pub fn text(&self) -> &str {
        &self.now.source.text
    }

    /// Whether the text differs from what was last read or saved.
    pub fn unsaved(&self) -> bool {
        self.saved.text != self.now.source.text
    }

    /// Takes note that the present text was saved.
    pub fn set_saved(&mut self) {
        self.saved = self.now.source.clone();
    }

    /// How many steps can be taken back, and how many forward.
    pub fn depth(&self) -> (usize, usize) {
        (self.before.len(), self.after.len())
    }

    /// Makes edits as one step; nothing happens when they change nothing.
    /// Errors: an edit that does not go, or a text that is no good build; the state stays as it
    /// was.
    pub fn edit(&mut self, edits: &[Edit]) -> Result<Change, Problems> {
        let text = edit::apply(self.text(), edits)?;
        self.replace(text)
    }

    /// Takes another text as one step.
    /// Errors: the text is no good build; the state stays as it was.
    pub fn replace(&mut self, text: String) -> Result<Change, Problems> {
        if text == self.text() {
            return Ok(between(&self.now, &self.now));
        }
        let source = Source::new(self.now.source.name.clone(), text);
        let present = self.now.source.clone();
        let change = self.go(&source)?;
        self.before.push(present);
        let mut held: usize = self.before.iter().map(|step| step.text.len()).sum();
        let mut over = self.before.len().saturating_sub(MAX_STEPS);
        for step in self.before.iter().skip(over).take(self.before.len().saturating_sub(over + 1)) {
            if held <= MAX_HELD {
                break;
            }
            held -= step.text.len();
            over += 1;
        }
        self.before.drain(..over);
        self.after.clear();
        Ok(change)
    }

    /// Moves to a text and says what that changed; the stacks stay.
    fn go(&mut self, source: &Arc<Source>) -> Result<Change, Problems> {
        let next = Snapshot::of(&self.kit, source, self.today)?;
        let change = between(&self.now, &next);
        self.now = next;
        Ok(change)
    }

    /// Takes steps back, as many as there are; gives how many were taken.
    /// Errors: there is no step to take back, or the rules changed so that the older text is no
    /// good build.
    pub fn undo(&mut self, steps: usize) -> Result<(usize, Change), Problems> {
        self.step(steps, true)
    }

    /// Takes steps forward again, as many as there are; gives how many were taken.
    /// Errors: there is no step to take again, or the rules changed so that the text is no good
    /// build.
    pub fn redo(&mut self, steps: usize) -> Result<(usize, Change), Problems> {
        self.step(steps, false)
    }

    fn step(&mut self, steps: usize, back: bool) -> Result<(usize, Change), Problems> {
        let (from, what) = if back { (&self.before, "undo") } else { (&self.after, "redo") };
        let steps = steps.min(from.len());
        let Some(source) = from.iter().rev().take(steps).next_back().cloned() else {
            return Err(Problem::new(format!("there is nothing to {what}")).into());
        };
        let present = self.now.source.clone();
        let change = self.go(&source)?;
        let (mut from, mut to) = (&mut self.before, &mut self.after);
        if !back {
            std::mem::swap(&mut from, &mut to);
        }
        to.push(present);
        for _ in 1..steps {
            to.extend(from.pop());
        }
        from.pop();
        Ok((steps, change))
    }

    /// Names the present state; a mark of that name moves here.
    /// Errors: the name cannot be a mark's.
    pub fn mark(&mut self, name: &str) -> Result<(), Problem> {
        let good = !name.is_empty()
            && name.chars().count() <= 40
            && name.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c));
        if !good || name == START {
            let help = if name == START {
                "`start` is the state that the trial began with"
            } else {
                "letters, digits, - _ and ., 40 at the most"
            };
            return Err(Problem::new(format!("`{}` cannot be the name of a mark", clip(name, 40)))
                .help(help));
        }
        self.marks.insert(name.to_owned(), self.now.source.clone());
        Ok(())
    }

    /// Goes to a marked state, as one step that can be taken back.
    /// Errors: there is no such mark, or its text is no good build by now.
    pub fn back(&mut self, name: &str) -> Result<Change, Problems> {
        let text = self.marked(name)?.text.clone();
        self.replace(text)
    }

    /// The text of a mark; `start` is the text that the trial began with.
    pub fn marked(&self, name: &str) -> Result<&Arc<Source>, Problem> {
        if name == START {
            return Ok(&self.start);
        }
        self.marks.get(name).ok_or_else(|| {
            let problem = Problem::new(format!("there is no mark `{}`", clip(name, 40)));
            let names = self.marks.keys().map(String::as_str).chain([START]);
            match crate::words::nearest(name, names.clone()) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem.help(format!("marks: {}", crate::words::some_of(names, 20))),
            }
        })
    }

    /// Every mark with its text, in order of name.
    pub fn marks(&self) -> impl Iterator<Item = (&str, &Arc<Source>)> {
        self.marks.iter().map(|(name, source)| (name.as_str(), source))
    }

    /// What differs between a mark and another mark or the present state.
    /// Errors: there is no such mark, or its text is no good build by now.
    pub fn against(&self, from: &str, to: Option<&str>) -> Result<Change, Problems> {
        let old = Snapshot::of(&self.kit, self.marked(from)?, self.today)?;
        match to {
            None => Ok(between(&old, &self.now)),
            Some(to) => Ok(between(&old, &Snapshot::of(&self.kit, self.marked(to)?, self.today)?)),
        }
    }

    /// Takes other rules or another catalogue for the same text.
    /// Errors: the text is no good build by them; everything stays as it was.
    pub fn with_kit(&mut self, kit: Rc<Kit>) -> Result<Change, Problems> {
        let next = Snapshot::of(&kit, &self.now.source, self.today)?;
        let change = between(&self.now, &next);
        self.kit = kit;
        self.now = next;
        Ok(change)
    }

    /// Takes the text that stands in the file now, as one step.
    /// Errors: the text is no good build; the state stays as it was.
    pub fn take_file(&mut self, text: String) -> Result<Change, Problems> {
        let change = self.replace(text)?;
        self.set_saved();
        Ok(change)
    }
}
