//! The look of a report: a few quiet colours, a few lines, and words that say it all without
//! either.

use owo_colors::Style;

use crate::app::report::escape::{indented, inert};
use crate::app::report::excerpt::excerpts;
use crate::kit::Ruling;
use crate::level::Level;
use crate::source::Problem;

/// Narrowest page.
const MIN_WIDTH: usize = 20;
/// Widest page: longer lines are hard to read.
const MAX_WIDTH: usize = 110;
/// Page where there is no terminal.
const PIPE_WIDTH: usize = 100;

/// How text is laid out.
#[derive(Debug, Clone, Copy)]
pub struct Look {
    pub colour: bool,
    /// Line drawing beyond ASCII.
    pub drawing: bool,
    /// Columns of the page.
    pub width: usize,
}

/// What a piece of text is, which decides its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Nothing in particular.
    Plain,
    /// What the eye should find.
    Strong,
    Faint,
    /// Better than before.
    Good,
    /// A finding's level.
    Level(Level),
    /// Input that can't be used, a rule that failed.
    Wrong,
    /// A command's word.
    Command,
    /// A part's id.
    Part,
    Number,
    /// A line of a text that goes.
    Out,
    /// A line of a text that comes.
    In,
    /// What differs within a line that goes.
    OutMark,
    /// What differs within a line that comes.
    InMark,
}

impl Role {
    /// The colour of a verdict.
    pub(crate) fn of_verdict(ruling: Ruling) -> Self {
        match ruling {
            Ruling::Stop => Self::Level(Level::Stop),
            Ruling::Broken => Self::Wrong,
            Ruling::Open | Ruling::Care => Self::Level(Level::Caution),
            Ruling::Build => Self::Good,
        }
    }

    fn style(self) -> Option<Style> {
        let style = Style::new();
        Some(match self {
            Self::Plain => return None,
            Self::Strong | Self::Command => style.bold(),
            Self::Faint => style.dimmed(),
            Self::Good => style.green().bold(),
            Self::Wrong => style.magenta().bold(),
            Self::Level(Level::Stop) => style.red().bold(),
            Self::Level(Level::Caution) => style.yellow().bold(),
            Self::Level(Level::Advice) => style.blue().bold(),
            Self::Part => style.cyan(),
            Self::Number => style.magenta(),
            Self::Out => style.red(),
            Self::In => style.green(),
            Self::OutMark => style.red().bold().underline(),
            Self::InMark => style.green().bold().underline(),
        })
    }

    /// A text in this role; the text must be inert already.
    pub fn paint(self, text: &str) -> String {
        self.style().map_or_else(|| text.to_owned(), |style| style.style(text).to_string())
    }
}

impl Look {
    /// The look that fits where text goes: colour and drawing on a terminal only, `NO_COLOR`
    /// obeyed.
    pub fn of(stream: &impl std::io::IsTerminal) -> Self {
        let terminal = stream.is_terminal();
        let set = |name: &str| std::env::var_os(name).is_some_and(|v| !v.is_empty());
        let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
            .iter()
            .filter_map(|n| std::env::var(n).ok())
            .find(|v| !v.is_empty())
            .unwrap_or_default()
            .to_lowercase();
        let dumb = std::env::var("TERM").is_ok_and(|t| t == "dumb");
        let columns = std::env::var("COLUMNS")
            .ok()
            .and_then(|c| c.trim().parse::<usize>().ok())
            .filter(|c| *c > 0);
        let measured = || {
            if terminal {
                terminal_size::terminal_size().map(|(w, _)| usize::from(w.0)).filter(|w| *w > 0)
            } else {
                None
            }
        };
        Self {
            colour: terminal && !set("NO_COLOR") && !dumb,
            drawing: terminal && !dumb && (locale.contains("utf-8") || locale.contains("utf8")),
            width: columns.or_else(measured).unwrap_or(PIPE_WIDTH).clamp(MIN_WIDTH, MAX_WIDTH),
        }
    }

    /// The look of standard output.
    pub fn stdout() -> Self {
        Self::of(&std::io::stdout())
    }

    /// The same, without colour and drawing where that is asked for.
    pub(crate) fn stdout_or_plain(plain: bool) -> Self {
        let look = Self::stdout();
        if plain { Self { colour: false, drawing: false, ..look } } else { look }
    }

    /// A text in a role where there is colour; the text must be inert already.
    pub fn paint(self, role: Role, text: &str) -> String {
        if self.colour { role.paint(text) } else { text.to_owned() }
    }

    /// A paragraph whose further lines are set in.
    pub fn hanging(self, text: &str) -> String {
        indented(&inert(text), "", "  ", self.width)
    }

    /// A paragraph, set in a little.
    pub fn paragraph(self, text: &str) -> String {
        indented(&inert(text), "  ", "  ", self.width)
    }

    /// A paragraph with a word in front of it.
    pub fn noted(self, word: &str, text: &str) -> String {
        if text.is_empty() {
            String::new()
        } else {
            indented(&format!("{word} {}", inert(text)), "  ", "    ", self.width)
        }
    }

    /// A problem: what is wrong, where, and what would fix it.
    pub fn problem(self, role: Role, problem: &Problem) -> String {
        let word = match role {
            Role::Level(level) => level.word().to_uppercase(),
            Role::Wrong => "ERROR".to_owned(),
            _ => "NOTE".to_owned(),
        };
        let head = indented(&inert(&problem.message), &format!("{word} "), "  ", self.width);
        let mut out = head.replacen(&word, &self.paint(role, &word), 1);
        out.push_str(&excerpts(self, role, &problem.labels));
        out.push_str(&self.noted("Try:", problem.help.as_deref().unwrap_or("")));
        out
    }
}
