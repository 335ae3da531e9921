//! A trial at the prompt: commands in, pages out.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use crate::app::commands::file_name;
use crate::app::left_out;
use crate::app::prompt::build_file::OnDisk;
use crate::app::prompt::command::{Command, parse};
use crate::app::prompt::record::Record;
use crate::app::prompt::state_line::Judged;
use crate::app::prompt::{TryOptions, change_report};
use crate::app::report::page::Page;
use crate::app::report::sheet::{Sheet, sheet};
use crate::app::report::style::Look;
use crate::app::report::style::Role;
use crate::app::stamp::Stamp;
use crate::config::Config;
use crate::disk;
use crate::kit::prompt_eval::Variables;
use crate::kit::{Kit, Layers};
use crate::layer::read_source;
use crate::source::{Problem, Problems, Source};
use crate::whatif::diff::Change;
use crate::whatif::trial::Trial;

/// Asks which of several is meant; none when nobody is there to answer or no answer came.
pub type Ask<'a> = &'a mut dyn FnMut(&str, &[String]) -> Option<usize>;

/// What follows a command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// The next command.
    On,
    /// A check failed: a stop stands, or a rule is broken.
    Failed(u8),
    Leave,
}

/// A trial at the prompt.
pub struct Session {
    /// The build being changed.
    pub trial: Trial,
    pub(super) options: TryOptions,
    pub(super) layers: Layers,
    pub(super) stamp: Stamp,
    pub(super) disk: OnDisk,
    /// The text on disk that was last spoken of, so that one change is told once.
    pub(super) told: bool,
    /// The words of facts that were typed, by part and field.
    pub(super) fact_words: HashMap<(String, String), String>,
    pub variables: Variables,
    /// Whether somebody is there.
    pub(super) live: bool,
    /// Whether leaving with unsaved changes was asked about just now.
    pub(super) leaving: bool,
    /// The state as it was judged last.
    pub(super) judged: Option<Judged>,
    /// The total when the first state line was drawn.
    pub(super) start_total: Option<f64>,
    /// The measure in the state line.
    pub(super) watch: Option<String>,
    /// Commands that ran, and the file that they are written to.
    pub(super) record: Record,
}

/// What a build begins with.
const NEW_BUILD: &str = "title = \"New build\"\n";

impl Session {
    /// Reads a build and what it is audited with.
    pub fn open(options: &TryOptions, live: bool) -> Result<Self, Problems> {
        let layers = options.layers(&options.build)?;
        let kit = Rc::new(left_out::kit(&layers)?);
        Self::with_kit(kit, layers, options, live)
    }

    /// The same with a kit that is loaded already.
    pub fn with_kit(
        kit: Rc<Kit>,
        layers: Layers,
        options: &TryOptions,
        live: bool,
    ) -> Result<Self, Problems> {
        let stamp = Stamp::of(&layers);
        let disk = if options.new {
            OnDisk::to_be(&options.build)?
        } else {
            OnDisk::read(&options.build).map_err(Problems::from)?
        };
        let source = if options.new {
            Source::new(options.build.display().to_string(), NEW_BUILD)
        } else {
            read_source(&options.build)?
        };
        if !options.new {
            // A file without lines is a mistake, a new build without lines is a start.
            kit.read(&source, options.today)?;
        }
        let trial = Trial::open(kit, &source, options.today)?;
        Ok(Self {
            trial,
            options: options.clone(),
            layers,
            stamp,
            disk,
            told: false,
            fact_words: HashMap::new(),
            variables: Variables::default(),
            live,
            leaving: false,
            judged: None,
            start_total: None,
            watch: None,
            record: Record::default(),
        })
    }

    /// How pages look now: the terminal may have been resized.
    pub fn look(&self) -> Look {
        Look::stdout_or_plain(self.options.plain)
    }

    /// Runs a line of input and writes its result to a page.
    /// Errors: why there is no result; the trial stays as it was.
    pub fn run(&mut self, line: &str, page: &mut Page, ask: Ask<'_>) -> Result<Next, Problems> {
        let Some(command) = parse(line)? else { return Ok(Next::On) };
        if !matches!(command, Command::Quit { .. }) {
            self.leaving = false;
        }
        let kept = Record::keeps(&command).then(|| line.to_owned());
        let mut chosen: Vec<(String, String)> = Vec::new();
        let next = self.command(command, page, &mut |question, choices| {
            let at = ask(question, choices)?;
            chosen.push((question.to_owned(), choices.get(at)?.clone()));
            Some(at)
        })?;
        if let Some(line) = kept {
            self.record.add(&line, &chosen, page);
        }
        Ok(next)
    }

    fn command(
        &mut self,
        command: Command,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<Next, Problems> {
        match command {
            Command::Swap { slot, part } => self.swap(&slot, &part, page, ask)?,
            Command::Add(line) => self.add(line, page)?,
            Command::Drop { slot } => self.drop_line(&slot, page, ask)?,
            Command::Take { slot, file } => self.take(&slot, &file, page)?,
            Command::Set { words } => self.set(&words, page, ask)?,
            Command::Know { place, value } => self.know(&place, &value, page, ask)?,
            Command::Forget { place } => self.forget(&place, page, ask)?,
            Command::Ask => self.ask_for_facts(page),
            Command::Undo(steps) => {
                let (done, change) = self.trial.undo(steps)?;
                stepped(page, "undone", done, steps, &change);
            }
            Command::Redo(steps) => {
                let (done, change) = self.trial.redo(steps)?;
                stepped(page, "done again", done, steps, &change);
            }
            Command::Mark(name) => {
                self.trial.mark(&name)?;
                page.line(&format!("marked as {name}"));
            }
            Command::Back(name) => {
                let change = self.trial.back(&name)?;
                change_report::change(page, &change);
            }
            Command::Marks => self.marks(page),
            Command::Diff(from, to) => self.diff(from.as_deref(), to.as_deref(), page)?,
            Command::Why { rule, all } => self.why(rule.as_deref(), all, page, ask)?,
            Command::Fit { slot, by, all } => self.fit(&slot, by.as_deref(), all, page, ask)?,
            Command::Steps { slot } => self.steps(&slot, page, ask)?,
            Command::Mend { way, all } => self.mend(way, all, page)?,
            Command::Mix { file, by, take } => self.mix(&file, by.as_deref(), take, page)?,
            Command::Audit { all } => self.audit(all, page),
            Command::Measures(pattern) => self.measures(pattern.as_deref(), page)?,
            Command::Parts { words, all } => self.parts(&words, all, page)?,
            Command::Lines => change_report::lines(page, self.trial.now()),
            Command::Watch(measure) => self.watch(measure.as_deref(), page)?,
            Command::Source(file) => return self.source(&file, page, ask),
            Command::Log { file, force } => self.record.log(file.as_deref(), force, page)?,
            Command::History(most) => self.history(most, page),
            Command::Check => return Ok(self.check(page)),
            Command::Save { file, force } => self.save(file.as_deref(), force, page)?,
            Command::Sheet { file, force } => self.sheet(&file, force, page)?,
            Command::Reload => self.reload(page)?,
            Command::Help(name) => super::help::help(page, self.trial.kit(), name.as_deref())?,
            Command::Quit { force } => return Ok(self.quit(force, page)),
            Command::Expression(text) => self.expression(&text, page)?,
        }
        Ok(Next::On)
    }

    fn check(&self, page: &mut Page) -> Next {
        let now = self.trial.now();
        let (counts, ruling) = (change_report::counts(now), now.ruling());
        let words = change_report::counts_in_words(counts, now.audit.to_look_up());
        page.put(Role::of_verdict(ruling), ruling.words());
        if !words.is_empty() {
            page.say(&format!(": {}", words.join(", ")));
        }
        page.end();
        let broken = self.trial.now().audit.broken();
        for problem in &broken {
            page.problem(&problem.told());
        }
        match now.ruling().code() {
            0 => Next::On,
            code => {
                for found in self
                    .trial
                    .now()
                    .briefs
                    .iter()
                    .filter(|f| f.level == crate::level::Level::Stop && !f.waived)
                {
                    page.say("  ").put(Role::Strong, &found.rule).say(" ").flow(
                        Role::Plain,
                        &found.message,
                        4,
                    );
                }
                Next::Failed(code)
            }
        }
    }

    fn quit(&mut self, force: bool, page: &mut Page) -> Next {
        if self.live && !force && self.trial.unsaved() && !self.leaving {
            self.leaving = true;
            page.line("there are unsaved changes: `save` keeps them, once more leaves without");
            return Next::On;
        }
        Next::Leave
    }

    fn marks(&self, page: &mut Page) {
        let none = self.trial.marks().next().is_none();
        for (name, source) in self.trial.marks() {
            let here = if source.text == self.trial.text() { " (here)" } else { "" };
            page.line(&format!("{name}{here}"));
        }
        if none {
            page.line(
                "no marks yet; `mark NAME` makes one, and `start` is always the state at the start",
            );
        }
    }

    fn expression(&mut self, text: &str, page: &mut Page) -> Result<(), Problems> {
        let build = self.trial.now().audit.build().clone();
        let kit = self.trial.kit().clone();
        let done = kit.evaluate(&build, &mut self.variables, text);
        for name in self.variables.take_gone() {
            page.line(&format!(
                "`{name}` is no more: a function ends with its expression, a line \
             with the catalogue it was read with"
            ));
        }
        let done = done.map_err(|p| Problems::from(*p))?;
        for line in &done.log {
            page.put(Role::Faint, &format!("printed: {line}")).end();
        }
        for line in &done.raised {
            page.line(&format!("raised {line}"));
        }
        let single = done.words.len() == 1;
        for words in done.words.iter().filter(|w| !w.is_empty()) {
            page.put(Role::Strong, words);
            if let (true, Some(formula)) = (single, &done.formula) {
                page.put(Role::Faint, &format!("  = {formula}"));
            }
            page.end();
        }
        Ok(())
    }

    fn sheet(&self, file: &str, force: bool, page: &mut Page) -> Result<(), Problems> {
        let path = PathBuf::from(file);
        disk::must_be_new(&path, force, format!("`sheet! {}` writes over it", path.display()))?;
        let html = sheet(&Sheet {
            kit: self.trial.kit(),
            audit: &self.trial.now().audit,
            file: &file_name(&self.options.build),
            mixed: None,
            leaves: &[],
            config: &Config::beside(&self.options.build)?,
        })?;
        disk::write_whole(&path, html.as_bytes(), force)?;
        page.line(&format!("wrote {}", path.display()));
        Ok(())
    }

    /// Reads everything again; what is broken leaves the last good set in place.
    fn reload(&mut self, page: &mut Page) -> Result<(), Problems> {
        self.reload_kit(page)?;
        if !self.disk.changed() {
            return Ok(());
        }
        let fresh = OnDisk::read(&self.options.build).map_err(Problems::from)?;
        if self.trial.unsaved() {
            page.line(&format!(
                "{} changed on disk; the trial has unsaved changes of its own and stays as it is",
                self.options.build.display()
            ));
            self.told = true;
            return Ok(());
        }
        let source = read_source(&self.options.build)?;
        let change = self.trial.take_file(source.text.clone())?;
        self.disk = fresh;
        page.line(&format!("{} was read again", self.options.build.display()));
        change_report::change(page, &change);
        Ok(())
    }

    fn reload_kit(&mut self, page: &mut Page) -> Result<(), Problems> {
        let layers = self.options.layers(&self.options.build)?;
        self.stamp = Stamp::of(&layers);
        let kit = Rc::new(left_out::kit(&layers)?);
        let broken: Vec<Problem> = kit.rules().broken.clone();
        if !broken.is_empty() {
            return Err(Problems(broken));
        }
        let counts = (kit.rules().rules.len(), kit.catalogue().parts().len());
        let change = self.trial.with_kit(kit).inspect_err(left_out::told)?;
        self.layers = layers;
        left_out::take().iter().for_each(|problem| {
            page.problem(problem);
        });
        page.line(&format!("read again: {} rules and measures, {} parts", counts.0, counts.1));
        if change.says_more_than_text() {
            change_report::change(page, &change);
        }
        Ok(())
    }

    /// Looks at the disk before a prompt: rules and catalogue come in by themselves.
    pub fn notice(&mut self, page: &mut Page) {
        let now = Stamp::of(&self.layers);
        if now != self.stamp {
            let changed = self.stamp.changed(&now);
            let first = changed.first().map_or_else(String::new, |p| p.display().to_string());
            let more = if changed.len() > 1 {
                format!(" and {} more", changed.len() - 1)
            } else {
                String::new()
            };
            page.line(&format!("{first}{more} changed on disk"));
            self.stamp = now;
            if let Err(problems) = self.reload_kit(page) {
                problems.0.iter().take(8).for_each(|p| {
                    page.problem(p);
                });
                page.line("the last good set stays in force");
            }
        }
        if !self.told && self.disk.changed() {
            self.told = true;
            page.line(&format!(
                "{} changed on disk; `reload` takes it up, `save` would refuse",
                self.options.build.display()
            ));
        }
    }

    /// Another build file, read as this one was.
    pub(super) fn other(
        &self,
        file: &str,
    ) -> Result<(Arc<crate::source::Source>, crate::build::Build), Problems> {
        let beside = self
            .options
            .build
            .parent()
            .map(|p| p.join(file))
            .filter(|p| !Path::new(file).exists() && p.exists());
        let path = beside.unwrap_or_else(|| PathBuf::from(file));
        let source = read_source(&path)?;
        let build = self.trial.kit().read(&source, self.options.today)?;
        Ok((source, build))
    }
}

/// What a step back or forward changed.
fn stepped(page: &mut Page, word: &str, done: usize, asked: usize, change: &Change) {
    if asked > 1 || done != asked {
        let short = if done < asked { ", which is all there were" } else { "" };
        page.line(&format!("{word}: {}{short}", crate::app::counted::count(done, "step")));
    } else {
        page.line(word);
    }
    change_report::change(page, change);
}
