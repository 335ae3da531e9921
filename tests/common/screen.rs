//! What a terminal shows of the bytes that it gets: enough of one for a line editor and coloured
//! text, and a picture of it.

/// Rows of a picture, in its units.
const ROW: usize = 18;
/// Columns of it.
const COLUMN: f64 = 8.4;
/// Room around the text.
const MARGIN: usize = 14;

/// A cell: a character, and how it is painted.
#[derive(Clone, PartialEq, Default)]
struct Cell {
    letter: Option<char>,
    style: Vec<u16>,
}

/// A screen as high as it needs to be.
pub(crate) struct Screen {
    wide: usize,
    rows: Vec<Vec<Cell>>,
    at: (usize, usize),
    style: Vec<u16>,
    /// The beginning of a sequence whose end has not come yet.
    held: String,
}

impl Screen {
    pub(crate) fn new(wide: usize) -> Self {
        let (rows, style, held) = (vec![Vec::new()], Vec::new(), String::new());
        Self { wide, rows, at: (0, 0), style, held }
    }

    /// Shows more text.
    pub(crate) fn take(&mut self, text: &str) {
        let text = std::mem::take(&mut self.held) + text;
        let mut rest = text.as_str();
        while let Some(c) = rest.chars().next() {
            if c == '\u{1b}' {
                let Some(end) = rest[1..].find(|c: char| c.is_ascii_alphabetic()) else {
                    self.held = rest.to_owned();
                    return;
                };
                self.obey(&rest[1..end + 2]);
                rest = &rest[end + 2..];
                continue;
            }
            match c {
                '\r' => self.at.1 = 0,
                '\n' => self.down(),
                c if c.is_control() => {}
                c => self.put(c),
            }
            rest = &rest[c.len_utf8()..];
        }
    }

    fn down(&mut self) {
        self.at.0 += 1;
        if self.at.0 == self.rows.len() {
            self.rows.push(Vec::new());
        }
    }

    fn put(&mut self, c: char) {
        if self.at.1 == self.wide {
            self.at.1 = 0;
            self.down();
        }
        let (row, column) = self.at;
        let cells = &mut self.rows[row];
        if cells.len() <= column {
            cells.resize(column + 1, Cell::default());
        }
        cells[column] = Cell { letter: Some(c), style: self.style.clone() };
        self.at.1 += 1;
    }

    fn obey(&mut self, sequence: &str) {
        let Some(words) = sequence.strip_prefix('[') else { return };
        let (numbers, word) = words.split_at(words.len() - 1);
        let number = numbers.parse::<usize>().unwrap_or(1);
        match word {
            "m" => {
                for code in numbers.split(';').map(|n| n.parse::<u16>().unwrap_or(0)) {
                    match code {
                        0 => self.style.clear(),
                        39 => self.style.retain(|s| *s < 30),
                        code => self.style.push(code),
                    }
                }
            }
            "K" => self.rows[self.at.0].truncate(self.at.1),
            "J" => {
                self.rows.truncate(self.at.0 + 1);
                self.rows[self.at.0].truncate(self.at.1);
            }
            "A" => self.at.0 = self.at.0.saturating_sub(number),
            "B" => (0..number).for_each(|_| self.down()),
            "C" => self.at.1 = (self.at.1 + number).min(self.wide),
            "D" => self.at.1 = self.at.1.saturating_sub(number),
            _ => {}
        }
    }

    fn line(&self, row: usize) -> String {
        let letters = self.rows[row].iter().map(|c| c.letter.unwrap_or(' '));
        letters.collect::<String>().trim_end().to_owned()
    }

    /// All of it.
    pub(crate) fn text(&self) -> String {
        (0..self.rows.len()).map(|row| self.line(row) + "\n").collect()
    }

    fn is_prompt(line: &str) -> bool {
        line.starts_with('>') || line.starts_with("*>")
    }

    /// Prompts shown.
    pub(crate) fn prompts(&self) -> usize {
        (0..self.rows.len()).filter(|row| Self::is_prompt(&self.line(*row))).count()
    }

    /// The cursor stands behind a prompt where nothing is typed.
    pub(crate) fn is_at_prompt(&self) -> bool {
        matches!(self.line(self.at.0).as_str(), ">" | "*>")
    }

    /// A picture of it, up to the last prompt.
    pub(crate) fn svg(&self) -> String {
        let last = (0..self.rows.len()).rfind(|row| Self::is_prompt(&self.line(*row)));
        let rows = last.unwrap_or(self.rows.len());
        let (wide, high) =
            ((self.wide as f64 * COLUMN) as usize + 2 * MARGIN, rows * ROW + 2 * MARGIN);
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" \
             role=\"img\" aria-label=\"A session at the prompt of dryfit\">\n\
             <rect width=\"{wide}\" height=\"{high}\" rx=\"6\" fill=\"#fbfaf4\"/>\n\
             <g font-family=\"ui-monospace, monospace\" font-size=\"14\" fill=\"#23292c\" \
             style=\"white-space: pre\">\n"
        );
        for row in 0..rows {
            let y = MARGIN + row * ROW + 13;
            let cells = &self.rows[row];
            let mut from = 0;
            while from < cells.len() {
                let style = &cells[from].style;
                let to = (from..cells.len()).find(|at| cells[*at].style != *style);
                let to = to.unwrap_or(cells.len());
                let text: String =
                    cells[from..to].iter().map(|c| c.letter.unwrap_or(' ')).collect();
                // How far blanks are drawn is the terminal's affair.
                let text = text.trim_end();
                if !text.is_empty() {
                    let x = MARGIN as f64 + from as f64 * COLUMN;
                    let long = text.chars().count() as f64 * COLUMN;
                    out.push_str(&format!(
                        "<text x=\"{x:.1}\" y=\"{y}\" textLength=\"{long:.1}\"{}>{}</text>\n",
                        painted(style),
                        escaped(text)
                    ));
                }
                from = to;
            }
        }
        out + "</g>\n</svg>\n"
    }
}

fn painted(style: &[u16]) -> String {
    let mut out = String::new();
    for code in style {
        out.push_str(match code {
            1 => " font-weight=\"bold\"",
            2 => " fill-opacity=\"0.62\"",
            31 => " fill=\"#982a1c\"",
            32 => " fill=\"#2d5f38\"",
            33 => " fill=\"#745000\"",
            34 => " fill=\"#2b5c74\"",
            35 => " fill=\"#6b3a78\"",
            36 => " fill=\"#1f6470\"",
            _ => "",
        });
    }
    out
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
