//! What each command does: arguments as meant, library called, a page written.

use std::io::{self, BufWriter, Stderr, Stdout, Write as _};
use std::path::{Path, PathBuf};

use crate::app::interrupt;
use crate::app::left_out;
use crate::app::prompt;
use crate::app::report;
use crate::app::report::sheet::{Mixed, Sheet, sheet as sheet_of};
use crate::app::report::style::{Look, Role};
use crate::app::report::terminal::problems_text;
use crate::config::Config;
use crate::disk;
use crate::intake::{Text, read_bytes};
use crate::kit::Kit;
use crate::layer::{self, read_source};
use crate::source::{Problem, Problems};
use crate::whatif::mix::mix;
use crate::whatif::open_lines::settle;
use clap::CommandFactory as _;

use crate::app::args::{BaseArgs, Cli, SheetArgs, TryArgs};
use crate::app::batch;
use crate::app::prompt::search_commands::weighed;

pub(crate) mod ask;
mod audit;
mod config;
pub(crate) mod intake;
mod packs;
pub(crate) mod parts;
mod parts_check;
pub(crate) mod prices;
pub(crate) mod rules;
mod rules_test;

pub(crate) use audit::audit;
pub(crate) use config::config;

/// Bytes held before they are written.
const BUFFER: usize = 64 << 10;

/// Where everything is written: one buffered way out, and one aside for what is wrong with the
/// input. Neither is locked while threads work.
pub(crate) struct Page {
    out: BufWriter<Stdout>,
    aside: BufWriter<Stderr>,
    failed: Option<io::Error>,
}

impl Page {
    /// Takes hold of both streams.
    pub(crate) fn new() -> Self {
        Self {
            out: BufWriter::with_capacity(BUFFER, io::stdout()),
            aside: BufWriter::with_capacity(BUFFER, io::stderr()),
            failed: None,
        }
    }

    fn note(&mut self, result: io::Result<()>) {
        if let Err(error) = result {
            self.failed.get_or_insert(error);
        }
    }

    pub(crate) fn write(&mut self, text: &str) {
        let result = self.out.write_all(text.as_bytes());
        self.note(result);
    }

    /// Writes with both streams at hand; false when it is no use to go on.
    pub(crate) fn stream(
        &mut self,
        write: impl FnOnce(&mut dyn io::Write, &mut dyn io::Write) -> io::Result<()>,
    ) -> bool {
        let result = write(&mut self.out, &mut self.aside);
        self.note(result);
        self.failed.is_none()
    }

    /// What is wrong with the input: said aside, and the code for it.
    pub(crate) fn refuse(&mut self, problems: &Problems) -> u8 {
        left_out::told(problems);
        let look = Look::of(&io::stderr());
        let result = self.aside.write_all(problems_text(look, problems).as_bytes());
        self.note(result);
        2
    }

    /// Says a sentence aside, where it is not taken for the answer.
    pub(crate) fn note_aside(&mut self, sentence: &str) {
        let text = Look::of(&io::stderr()).paragraph(sentence);
        let result = self.aside.write_all(text.as_bytes());
        self.note(result);
    }

    /// Writes a document, safe to show on a terminal too.
    pub(crate) fn json(&mut self, document: &serde_json::Value) {
        let result = report::json::write(document, &mut self.out);
        self.note(result);
    }

    /// Sends on what was written so far; false when nobody reads it any more.
    pub(crate) fn flush(&mut self) -> bool {
        self.aside.flush().and_then(|()| self.out.flush()).is_ok()
    }

    /// Writes what is left. A reader that went away early is no error; a full disk is.
    pub(crate) fn close(mut self, code: u8) -> u8 {
        for problem in left_out::take() {
            let text = Look::of(&io::stderr()).problem(Role::Strong, &problem);
            let result = self.aside.write_all(text.as_bytes());
            self.note(result);
        }
        // What was wrong comes first where both streams end on one screen.
        let aside = self.aside.flush();
        let out = self.out.flush();
        self.note(out);
        self.note(aside);
        match self.failed.take() {
            Some(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                let look = Look::of(&io::stderr());
                let text = look.problem(
                    Role::Wrong,
                    &Problem::new(format!("the report could not be written: {error}")),
                );
                let _ = self.aside.write_all(text.as_bytes());
                let _ = self.aside.flush();
                2
            }
            _ => code,
        }
    }
}

/// A kit of the folders found beside a file.
pub(crate) fn kit_beside(file: &Path, base: &BaseArgs) -> Result<Kit, Problems> {
    left_out::kit(&batch::layers(file, base)?)
}

/// A kit for questions that no build is part of: the folders found from here.
pub(crate) fn kit_here(base: &BaseArgs) -> Result<Kit, Problems> {
    kit_beside(Path::new("."), base)
}

/// `dryfit sheet`: the code is the audit's own; a build that must not be made has a sheet too,
/// which says so.
pub(crate) fn sheet(args: &SheetArgs, page: &mut Page) -> Result<u8, Problems> {
    let (html, code, broken) = made_sheet(args)?;
    if !broken.0.is_empty() {
        page.refuse(&broken);
    }
    if args.output == Path::new("-") {
        page.write(&html);
    } else {
        interrupt::may_write()?;
        disk::write_whole(&args.output, html.as_bytes(), true)?;
    }
    Ok(code)
}

/// The page, its code, and the rules that broke: a sheet without them must not pass in silence.
fn made_sheet(args: &SheetArgs) -> Result<(String, u8, Problems), Problems> {
    let source = read_source(&args.build)?;
    let kit = kit_beside(&args.build, &args.base)?;
    let build = kit.read(&source, args.base.today())?;
    // As an audit judges it: the same parts on open lines, so the same total.
    let audit = kit.audit(&settle(&kit, &build)?.build);
    let broken = Problems(audit.broken().iter().map(|b| b.told()).collect());
    let config = Config::beside(&args.build)?;
    let page = Sheet {
        kit: &kit,
        audit: &audit,
        file: &file_name(&args.build),
        mixed: None,
        leaves: &args.leaf,
        config: &config,
    };
    let Some(other) = &args.mix else {
        return Ok((sheet_of(&page)?, audit.exit_code(), broken));
    };
    let theirs = kit.read(&read_source(other)?, args.base.today())?;
    let measure = weighed(&kit, Some(&args.by))?;
    let mix = interrupt::search(args.limit.time(), |limits| {
        mix(&kit, &build, &theirs, measure.as_ref().map(|m| m.rule), limits)
    })?;
    let measure = measure.as_ref().map_or(("", ""), |m| (&*m.title, &*m.unit));
    let mixed = Mixed { mix: &mix, other: &file_name(other), measure };
    Ok((sheet_of(&Sheet { mixed: Some(&mixed), ..page })?, audit.exit_code(), broken))
}

/// A file or a paste (`-`) as text, with what it is called and the place whose shop reads it.
pub(crate) fn pasted(path: &Path) -> Result<(Text, String, &Path), Problem> {
    if path != Path::new("-") {
        let name = path.display().to_string();
        return Ok((read_bytes(&layer::read_bytes(path)?, &name)?, name, path));
    }
    let name = "the paste".to_owned();
    let bytes = layer::read_all(io::stdin().lock(), &name)?
        .map_err(|e| Problem::new(format!("cannot read {name}: {e}")))?;
    Ok((read_bytes(&bytes, &name)?, name, Path::new(".")))
}

/// The name of a file without its folders.
pub(crate) fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

pub(crate) fn trial(args: TryArgs) -> u8 {
    let today = args.base.today();
    prompt::run(&prompt::TryOptions {
        build: args.build.unwrap_or_else(|| PathBuf::from("new-build.toml")),
        new: args.new,
        script: args.script,
        keep_going: args.keep_going,
        limit: args.limit.time(),
        trust_unknown: args.trust.trust_unknown,
        plain: args.plain,
        rules: args.base.rules,
        catalogue: args.base.catalogue,
        today,
    })
}

pub(crate) fn completions(shell: clap_complete::Shell, page: &mut Page) {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "dryfit", &mut text);
    page.write(&String::from_utf8_lossy(&text));
}

/// `dryfit man`: one page that holds every command, since a page a command would want installing
/// one by one.
pub(crate) fn man(page: &mut Page) {
    let mut root = Cli::command();
    root.build();
    match man_page(&root) {
        Ok(text) => page.write(&text),
        Err(error) => page.note(Err(error)),
    }
}

fn man_page(root: &clap::Command) -> io::Result<String> {
    let whole = clap_mangen::Man::new(root.clone());
    let (mut head, mut tail) = (Vec::new(), Vec::new());
    whole.render_title(&mut head)?;
    whole.render_name_section(&mut head)?;
    whole.render_synopsis_section(&mut head)?;
    whole.render_description_section(&mut head)?;
    whole.render_extra_section(&mut tail)?;
    let mut text = String::from_utf8_lossy(&head).into_owned();
    for command in leaves(root) {
        let mut section = Vec::new();
        let part = clap_mangen::Man::new(command.clone());
        part.render_synopsis_section(&mut section)?;
        part.render_description_section(&mut section)?;
        part.render_options_section(&mut section)?;
        text.push_str(&format!(
            ".SH {}\n{}",
            command.get_bin_name().unwrap_or("").to_uppercase(),
            String::from_utf8_lossy(&section).replace(".SH ", ".SS ")
        ));
    }
    text.push_str(&String::from_utf8_lossy(&tail));
    Ok(text)
}

/// Commands that do something themselves.
fn leaves(command: &clap::Command) -> Vec<&clap::Command> {
    let below = command.get_subcommands().filter(|c| c.get_name() != "help");
    below
        .flat_map(|c| {
            // A command with arguments and commands of its own does something itself, too.
            let itself = !c.has_subcommands() || c.get_positionals().next().is_some();
            itself.then_some(c).into_iter().chain(leaves(c))
        })
        .collect()
}
