//! Excerpts of lists and catalogue files with carets under the values, drawn by a library.

use std::collections::BTreeMap;
use std::sync::Arc;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use crate::app::report::escape::{acts, indented, inert, inert_char, width};
use crate::app::report::style::{Look, Role};
use crate::source::{Label, Source, floor_boundary};

/// Bytes of a line shown on either side of a value, where it is so long that all of it would take
/// time; the library cuts what is shown to the page.
const SIDE: usize = 4096;

/// The lines that labels stand on, each with carets under the value and its words beside them,
/// no wider than the page. Words that have no room beside their carets follow below.
pub(crate) fn excerpts(look: Look, role: Role, labels: &[Label]) -> String {
    let files = files(labels);
    if files.is_empty() {
        return String::new();
    }
    let room = look.width.saturating_sub(INDENT.len());
    let last = files.iter().filter_map(|(_, lines)| lines.keys().next_back()).max();
    let beside = room.saturating_sub(last.map_or(0, |l| l.to_string().len()) + 4);
    let mut below = Vec::new();
    let mut group = Group::with_level(caret_level(role));
    for (source, lines) in &files {
        let first = lines.keys().next().copied().unwrap_or(1);
        let mut text = String::new();
        let mut snippet_marks = Vec::new();
        let mut is_cut = false;
        for line in first..=lines.keys().next_back().copied().unwrap_or(first) {
            let spots = lines.get(&line).map_or(&[][..], |spots| spots);
            let shown = Shown::cut(source, line, spots);
            is_cut |= shown.is_cut;
            let trimmed = width(&shown.text) > beside;
            let alone = spots.len() == 1;
            for (spot, range) in spots.iter().zip(shown.ranges) {
                let words = spot.words.join("; ");
                let reach = |to: usize| width(shown.text.get(..to).unwrap_or(""));
                let column = reach(if alone { range.end } else { range.start });
                // The library shows the value's surroundings where the line leaves the page.
                let long = reach(range.end) - reach(range.start);
                let end = 1 + if trimmed { column.min(long.max(beside / 2)) } else { column };
                let fits = !words.is_empty() && end + width(&words) <= beside;
                snippet_marks.push((
                    text.len() + range.start..text.len() + range.end,
                    fits.then(|| words.clone()),
                ));
                below.extend(Some(words).filter(|w| !fits && !w.is_empty()));
            }
            text.push_str(&shown.text);
            text.push('\n');
        }
        let carets = snippet_marks
            .into_iter()
            .map(|(range, words)| AnnotationKind::Primary.span(range).label(words));
        let name = inert(&source.name);
        let snippet = Snippet::source(text).line_start(first).annotations(carets);
        group = match lines.values().flatten().next().filter(|_| is_cut) {
            // The library counts columns in what it is given, which is not the whole line.
            Some(spot) => {
                let (line, column) = source.line_column(spot.from);
                let origin = Origin::path(name).line(line).char_column(column);
                group.element(origin).element(snippet)
            }
            None => group.element(snippet.path(name)),
        };
    }
    let drawn = renderer(look, room).render(&[group]);
    let mut out = String::new();
    for line in drawn.lines().map(str::trim_end).filter(|l| !l.is_empty()) {
        out.push_str(&format!("{INDENT}{}\n", fitted(line, room)));
    }
    for words in below {
        out.push_str(&indented(&words, "    ", "      ", look.width));
    }
    out
}

const INDENT: &str = "  ";

/// A value with its words: where it starts and ends in its file.
struct Spot {
    from: usize,
    to: usize,
    words: Vec<String>,
}

/// A file with what is marked in it, by line.
type FileSpots<'a> = (&'a Arc<Source>, BTreeMap<usize, Vec<Spot>>);

/// Labels by file, in the order met, and by line; those on the same value are joined.
fn files(labels: &[Label]) -> Vec<FileSpots<'_>> {
    let mut files: Vec<FileSpots<'_>> = Vec::new();
    for label in labels {
        let source = &label.source;
        let at = files.iter().position(|(s, _)| Arc::ptr_eq(s, source)).unwrap_or_else(|| {
            files.push((source, BTreeMap::new()));
            files.len() - 1
        });
        let from = floor_boundary(&source.text, label.span.start().min(source.text.len()));
        let to = floor_boundary(&source.text, label.span.end().min(source.text.len())).max(from);
        let words = Some(inert(&label.text)).filter(|t| !t.is_empty());
        let (line, _) = source.line_column(from);
        let Some((_, lines)) = files.get_mut(at) else { continue };
        let spots = lines.entry(line).or_default();
        match spots.iter_mut().find(|s| s.from == from) {
            Some(spot) => spot.words.extend(words.filter(|w| !spot.words.contains(w))),
            None => spots.push(Spot { from, to, words: words.into_iter().collect() }),
        }
        spots.sort_by_key(|s| s.from);
    }
    files
}

/// A line as it is shown: nothing in it that acts, what is far from its values cut away.
struct Shown {
    text: String,
    ranges: Vec<std::ops::Range<usize>>,
    /// Whether something is left out before a value.
    is_cut: bool,
}

impl Shown {
    fn cut(source: &Source, line: usize, spots: &[Spot]) -> Self {
        // A line between is folded away.
        if spots.is_empty() {
            return Self { text: String::new(), ranges: Vec::new(), is_cut: false };
        }
        let start = source.offset(line, 1);
        let whole = source.text.get(start..).unwrap_or("");
        let whole = whole.split('\n').next().unwrap_or("").trim_end_matches('\r');
        let mut shown =
            Self { text: String::new(), ranges: vec![0..0; spots.len()], is_cut: false };
        let inside = |at: usize| at.saturating_sub(start).min(whole.len());
        let near = |at: usize| {
            spots.iter().any(|s| at + SIDE >= inside(s.from) && at <= inside(s.from) + SIDE)
        };
        let mut left_out = false;
        for (at, c) in whole.char_indices().chain([(whole.len(), ' ')]) {
            for (spot, range) in spots.iter().zip(&mut shown.ranges) {
                if at == inside(spot.from) {
                    range.start = shown.text.len();
                }
                if at <= inside(spot.to) {
                    range.end = shown.text.len();
                }
            }
            if near(at) {
                shown.text.push(if c == '\t' || !acts(c) { c } else { inert_char(c) });
                left_out = false;
            } else if !std::mem::replace(&mut left_out, true) {
                shown.text.push('…');
                shown.is_cut = true;
            }
        }
        for range in &mut shown.ranges {
            // Something stands here even where nothing is written.
            range.end = range.end.max(ceil(&shown.text, range.start + 1)).min(shown.text.len());
        }
        shown
    }
}

/// The next place at or after `at` where a character starts.
fn ceil(text: &str, at: usize) -> usize {
    (at..=text.len()).find(|i| text.is_char_boundary(*i)).unwrap_or(text.len())
}

/// A drawn line cut to the page, its colours left whole.
fn fitted(line: &str, room: usize) -> String {
    let (mut used, mut cut, mut colour) = (0, None, false);
    for (at, c) in line.char_indices() {
        if colour || c == '\u{1b}' {
            colour = c != 'm';
            continue;
        }
        if used < room {
            cut = Some(at);
        }
        used += width(c.encode_utf8(&mut [0; 4]));
    }
    match cut.filter(|_| used > room) {
        Some(at) => {
            let mut text = line.get(..at).unwrap_or("").to_owned();
            text.push('…');
            if line.contains('\u{1b}') {
                text.push_str("\u{1b}[0m");
            }
            text
        }
        None => line.to_owned(),
    }
}

fn renderer(look: Look, room: usize) -> Renderer {
    let plain = if look.colour { Renderer::styled() } else { Renderer::plain() };
    let style = if look.drawing { DecorStyle::Unicode } else { DecorStyle::Ascii };
    plain.term_width(room).decor_style(style)
}

/// The library's level, which gives the carets their colour.
fn caret_level(role: Role) -> Level<'static> {
    match role {
        Role::Level(crate::level::Level::Stop) | Role::Wrong => Level::ERROR,
        Role::Level(crate::level::Level::Caution) => Level::WARNING,
        _ => Level::INFO,
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/app/report/excerpt.rs"]
mod tests;
