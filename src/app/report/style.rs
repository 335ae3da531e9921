//! The look of a report: a few quiet colours, a few lines, and words that say it all without
//! either.

use owo_colors::Style;

use crate::app::report::escape::{indented, inert};
use crate::app::report::excerpt::excerpts;
use crate::level::Level;
use crate::source::{Label, Problem};

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

/// What a heading says of the text under it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    Level(Level),
    /// A rule that failed.
    Broken,
    /// Input that can't be used.
    Wrong,
    /// Nothing speaks against it.
    Good,
    Aside,
}

impl Tone {
    pub fn word(self) -> &'static str {
        match self {
            Self::Level(Level::Stop) => "STOP",
            Self::Level(Level::Caution) => "CAUTION",
            Self::Level(Level::Advice) => "ADVICE",
            Self::Broken => "ERROR",
            Self::Wrong => "ERROR",
            Self::Good => "BUILD",
            Self::Aside => "NOTE",
        }
    }

    fn style(self, colour: bool) -> Style {
        let style = Style::new();
        if !colour {
            return style;
        }
        match self {
            Self::Level(Level::Stop) => style.red().bold(),
            Self::Level(Level::Caution) => style.yellow().bold(),
            Self::Level(Level::Advice) => style.blue().bold(),
            Self::Broken | Self::Wrong => style.magenta().bold(),
            Self::Good => style.green().bold(),
            Self::Aside => style.bold(),
        }
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

    pub fn paint(self, tone: Tone, text: &str) -> String {
        if self.colour { tone.style(true).style(text).to_string() } else { text.to_owned() }
    }

    /// A heading: the level's word, then what it is about.
    pub fn heading(self, tone: Tone, about: &str) -> String {
        let lead = format!("{} ", tone.word());
        indented(about, &lead, "  ", self.width).replacen(
            tone.word(),
            &self.paint(tone, tone.word()),
            1,
        )
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

    /// Excerpts with marks under the values.
    pub fn excerpts(self, tone: Tone, labels: &[&Label]) -> String {
        excerpts(self, tone, labels)
    }

    pub(crate) fn faint(self, text: &str) -> String {
        if self.colour { Style::new().dimmed().style(text).to_string() } else { text.to_owned() }
    }

    /// A problem: what is wrong, where, and what would fix it.
    pub fn problem(self, tone: Tone, problem: &Problem) -> String {
        let mut out = self.heading(tone, &inert(&problem.message));
        let labels: Vec<&Label> = problem.labels.iter().collect();
        out.push_str(&self.excerpts(tone, &labels));
        out.push_str(&self.noted("Try:", problem.help.as_deref().unwrap_or("")));
        out
    }
}
