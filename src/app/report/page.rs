//! What the prompt writes: text in a few roles, made inert, painted when there is a terminal for
//! it.

use crate::app::report::escape::{inert_char, inert_json, width, wrap};
use crate::app::report::style::{Look, Role};
use crate::source::Problem;

/// A text that keeps its letters, with nothing in it that acts on a terminal.
pub fn safe(text: &str) -> String {
    // A tab is as wide as the terminal likes, so no column would hold.
    text.chars().map(|c| if c == '\t' { ' ' } else { inert_char(c) }).collect()
}

/// On a page narrower than this, further lines of a text are set in by two columns only.
const NARROW: usize = 48;

/// Columns beside which a word at the right end has no place.
const LEAST_ROOM: usize = 24;

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
    /// Texts that are laid out already; templates say where they stand.
    blocks: Vec<String>,
}

impl Page {
    /// An empty page.
    pub fn new(look: Look) -> Self {
        Self { look, text: String::new(), row: Vec::new(), blocks: Vec::new() }
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
            self.text.push_str(&self.look.paint(role, &text));
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

    /// Keeps a text that is laid out already; templates put it where they say `block(NUMBER)`.
    pub(crate) fn keep(&mut self, laid_out: String) -> usize {
        self.blocks.push(laid_out);
        self.blocks.len() - 1
    }

    /// Writes a text that was kept.
    pub(crate) fn kept(&mut self, number: usize) -> &mut Self {
        self.text.push_str(self.blocks.get(number).map_or("", String::as_str));
        self
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
        let indent = if self.look.width < NARROW { indent.min(2) } else { indent };
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
    pub fn ended(&mut self, role: Role, text: &str, word: &str, indent: usize) -> &mut Self {
        let text = safe(text);
        let (room, wide) = (self.look.width.saturating_sub(indent), width(word));
        let has_room =
            |lines: &Vec<String>| lines.last().is_some_and(|l| width(l) + 2 + wide <= room);
        // Broken a little earlier, the last line may have room for the word.
        let most = wrap(&text, room).len();
        let broken = (room * 2 / 3..=room).rev().map(|narrower| wrap(&text, narrower));
        let lines = broken.take_while(|lines| lines.len() == most).find(has_room);
        let Some(lines) = lines.filter(|_| room >= LEAST_ROOM) else {
            self.flow(role, &text, indent);
            let gap = self.look.width.checked_sub(wide).filter(|gap| *gap >= indent).unwrap_or(2);
            return self.say(&" ".repeat(gap)).put(Role::Faint, word).end();
        };
        for (at, line) in lines.iter().enumerate() {
            if at > 0 {
                self.end().say(&" ".repeat(indent));
            }
            self.put(role, line);
        }
        let last = lines.last().map_or(0, |line| width(line));
        self.say(&" ".repeat(room - last - wide)).put(Role::Faint, word).end()
    }

    /// An arrow, or what stands for it where nothing is drawn.
    pub fn arrow(&self) -> &'static str {
        if self.look.drawing { "→" } else { "->" }
    }

    /// A problem: what is wrong, where, and what would fix it.
    pub fn problem(&mut self, problem: &Problem) -> &mut Self {
        self.text.push_str(&self.look.problem(Role::Wrong, problem));
        self
    }
}
