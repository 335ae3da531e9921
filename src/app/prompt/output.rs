//! What the prompt writes: text in a few roles, made inert, painted when there is a terminal for
//! it.

use owo_colors::Style;

use crate::app::report::escape::{inert_char, inert_json, width, wrap};
use crate::app::report::style::{Look, Tone};
use crate::level::Level;
use crate::source::Problem;

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
    /// Something went wrong.
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
    fn style(self) -> Option<Style> {
        let style = Style::new();
        Some(match self {
            Self::Plain => return None,
            Self::Strong | Self::Command => style.bold(),
            Self::Faint => style.dimmed(),
            Self::Good => style.green().bold(),
            Self::Level(Level::Stop) | Self::Wrong => style.red().bold(),
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

/// A text that keeps its letters, with nothing in it that acts on a terminal.
pub fn safe(text: &str) -> String {
    // A tab is as wide as the terminal likes, so no column would hold.
    text.chars().map(|c| if c == '\t' { ' ' } else { inert_char(c) }).collect()
}

/// On a page narrower than this, further lines of a text are set in by two columns only.
const NARROW: usize = 48;

/// Columns that the word at the head of a row takes at most.
const AT_HEAD: usize = 9;

/// A page being written.
#[derive(Debug, Clone)]
pub struct Page {
    pub look: Look,
    /// Every line that is finished.
    pub text: String,
    /// The line being written.
    row: Vec<(Role, String)>,
}

impl Page {
    /// An empty page.
    pub fn new(look: Look) -> Self {
        Self { look, text: String::new(), row: Vec::new() }
    }

    pub fn put(&mut self, role: Role, text: &str) -> &mut Self {
        self.row.push((role, safe(text)));
        self
    }

    pub fn say(&mut self, text: &str) -> &mut Self {
        self.put(Role::Plain, text)
    }

    /// Ends the line; where it is longer than the page it is broken between words.
    pub fn end(&mut self) -> &mut Self {
        while self.row.last().is_some_and(|(_, t)| t.trim_end_matches(' ').is_empty()) {
            self.row.pop();
        }
        if let Some((_, last)) = self.row.last_mut() {
            last.truncate(last.trim_end_matches(' ').len());
        }
        if self.used() > self.look.width {
            self.broken();
        }
        self.verbatim()
    }

    /// Ends the line and leaves it as it is.
    pub fn verbatim(&mut self) -> &mut Self {
        for (role, text) in std::mem::take(&mut self.row) {
            self.text.push_str(&if self.look.colour { role.paint(&text) } else { text });
        }
        self.text.push('\n');
        self
    }

    /// Columns of the row so far.
    fn used(&self) -> usize {
        self.row.iter().map(|(_, text)| width(text)).sum()
    }

    /// Breaks the row between words, with later lines set in a little.
    fn broken(&mut self) {
        let mut rows: Vec<(Role, String)> = Vec::new();
        let (mut used, mut blank) = (0, true);
        for (role, text) in std::mem::take(&mut self.row) {
            let mut out = String::new();
            for word in text.split_inclusive(' ') {
                let bare = width(word.trim_end_matches(' '));
                if used > 2 && bare > 0 && used + bare > self.look.width {
                    out.truncate(out.trim_end_matches(' ').len());
                    out.push_str("\n  ");
                    (used, blank) = (2, true);
                }
                // Blanks that only fill a column up are not worth a line that is short already: one
                // is enough, but behind the word at a row's head, which stands below others.
                let below_others = self.look.width >= NARROW && used <= AT_HEAD;
                if bare == 0 && used >= 2 && blank && !below_others {
                    continue;
                }
                out.push_str(word);
                used += width(word);
                blank = word.ends_with(' ');
            }
            rows.push((role, out));
        }
        self.row = rows;
    }

    /// A document for a program, safe to show on a terminal too.
    pub fn json(&mut self, document: &serde_json::Value) {
        self.text.push_str(&inert_json(&format!("{document:#}\n")));
    }

    /// A line of plain text above all that is there.
    pub fn above(&mut self, text: &str) {
        self.text.insert_str(0, &(safe(text) + "\n"));
    }

    pub fn line(&mut self, text: &str) -> &mut Self {
        self.say(text).end()
    }

    /// A word in a role, filled up to a width, and a blank.
    pub fn cell(&mut self, role: Role, text: &str, wide: usize) -> &mut Self {
        let pad = wide.saturating_sub(width(&safe(text)));
        self.put(role, text).say(&" ".repeat(pad + 1))
    }

    /// The same, set at the right of its width.
    pub fn right(&mut self, role: Role, text: &str, wide: usize) -> &mut Self {
        let pad = wide.saturating_sub(width(&safe(text)));
        self.put(role, &format!("{}{text}", " ".repeat(pad))).say(" ")
    }

    /// Text after what stands on the line already; further lines are set in by `indent`.
    pub fn flow(&mut self, role: Role, text: &str, indent: usize) -> &mut Self {
        let used = self.used();
        let text = safe(&text.replace(['\n', '\t'], " "));
        let indent = if self.look.width < NARROW { 2 } else { indent };
        let room = self.look.width.saturating_sub(indent).max(12);
        // The first line is shorter when it starts after the indent: wrap as if its beginning were
        // part of the text.
        let lead = used.saturating_sub(indent);
        let (lead, fresh) = if lead + 8 > room { (0, used > 0) } else { (lead, false) };
        let glued = format!("{}{text}", "x".repeat(lead));
        for (at, line) in wrap(&glued, room).iter().enumerate() {
            if at > 0 || fresh {
                self.end().say(&" ".repeat(indent));
            }
            self.put(role, line.get(if at == 0 { lead } else { 0 }..).unwrap_or(""));
        }
        self.end()
    }

    /// A sentence after what stands on the line already, with a word small at the right end of its
    /// last line.
    pub fn ended(&mut self, text: &str, word: &str, indent: usize) -> &mut Self {
        let (room, wide) = (self.look.width.saturating_sub(indent), width(word));
        let lines = wrap(&safe(text), room);
        let last = lines.last().map_or(0, |l| width(l));
        if room < 24 || last + 2 + wide > room {
            self.flow(Role::Plain, text, indent);
            let gap = self.look.width.checked_sub(wide).filter(|gap| *gap >= indent).unwrap_or(2);
            return self.say(&" ".repeat(gap)).put(Role::Faint, word).end();
        }
        for (at, line) in lines.iter().enumerate() {
            if at > 0 {
                self.end().say(&" ".repeat(indent));
            }
            self.say(line);
        }
        self.say(&" ".repeat(room - last - wide)).put(Role::Faint, word).end()
    }

    /// An arrow, or what stands for it where nothing is drawn.
    pub fn arrow(&self) -> &'static str {
        if self.look.drawing { "→" } else { "->" }
    }

    /// A problem: what is wrong, where, and what would fix it.
    pub fn problem(&mut self, problem: &Problem) -> &mut Self {
        let word = Tone::Wrong.word();
        self.put(Role::Wrong, word).say(" ").flow(Role::Plain, &problem.message, 2);
        let labels: Vec<_> = problem.labels.iter().collect();
        let excerpts = self.look.excerpts(Tone::Broken, &labels);
        self.text.push_str(&excerpts);
        if let Some(help) = &problem.help {
            self.say("  ").flow(Role::Plain, &format!("Try: {help}"), 4);
        }
        self
    }
}
