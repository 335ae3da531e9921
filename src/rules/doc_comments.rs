//! What the doc comment above a public function makes of it: a rule, a measure, a step of the work.

use std::sync::Arc;

use crate::rules::loader::{Better, Rule, ScriptFile};
use crate::rules::scripts::Scripts;
use crate::source::{Problem, Span};
use crate::words::{clip, nearest};

/// What may follow the word that a line begins with.
enum Takes {
    /// Text, over as many lines as it needs.
    Prose,
    /// Text on this line.
    Line,
    /// One of these.
    Words(&'static [&'static str]),
    /// A whole number.
    Number,
    /// Tags, with commas between them.
    Tags,
    /// A version.
    Version,
}

/// A line of a doc comment that begins with a word of its own.
struct Head {
    word: &'static str,
    takes: Takes,
    /// How it is written.
    shows: &'static str,
}

const fn head(word: &'static str, takes: Takes, shows: &'static str) -> Head {
    Head { word, takes, shows }
}

/// Every such line.
const HEADS: [Head; 13] = [
    head("Name", Takes::Line, "a measure's name in reports, such as `Name: spare watts`"),
    head("Unit", Takes::Line, "`Unit: W`"),
    head("Basis", Takes::Prose, "`Basis: the maker's figures`"),
    head("Remedy", Takes::Prose, "`Remedy: a larger power supply`"),
    head(
        "Offer",
        Takes::Line,
        "what a customer is offered: `Offer: a further fan or another case`",
    ),
    head("Better", Takes::Words(&["more", "less"]), "`Better: more` or `Better: less`"),
    head("Assume", Takes::Words(&["never"]), "`Assume: never`"),
    head(
        "Shown",
        Takes::Words(&["on the sheet", "in comparisons"]),
        "`Shown: on the sheet` or, of a measure, `Shown: in comparisons`",
    ),
    head("Step", Takes::Number, "the step's place in the order of work, such as `Step: 20`"),
    head("For", Takes::Words(&["office"]), "`For: office`"),
    head("Tags", Takes::Tags, "`Tags: electrical, two-person`: lower-case letters, figures and -"),
    head("Since", Takes::Version, "the version that brought it in, such as `Since: 1.2`"),
    head("Deprecated", Takes::Prose, "what to use instead: `Deprecated: fit.card_room tells more`"),
];

/// The rule that a public function is, by its doc comment.
pub(super) fn rule(
    file: &ScriptFile,
    file_at: u16,
    scripts: &Arc<Scripts>,
    name: &str,
    params: usize,
    comments: &[&str],
) -> Result<Rule, Box<Problem>> {
    let span = || scripts.standing(file_at, name).0;
    let problem = |message: String, help: &str| {
        Box::new(Problem::new(message).at(&file.source, span(), "here").help(help))
    };
    if params != 1 {
        return Err(problem(
            format!("`{name}` takes {params} arguments, and a rule takes one, the build"),
            "write `private fn` before a helper",
        ));
    }
    let doc = Doc::read(comments).map_err(|wrong| {
        let place = line_before(&file.source.text, span().start(), &wrong.line);
        let problem = Problem::new(format!("`{name}` says {}", wrong.says)).code("rule-comment");
        Box::new(problem.at(&file.source, place.unwrap_or_else(span), "here").help(wrong.help))
    })?;
    if doc.title.is_empty() {
        return Err(problem(
            format!("`{name}` is public and has no doc comment, so it is no rule"),
            "write `/// What it checks.` above it, or `private fn` for a helper",
        ));
    }
    let some = |word: &str| doc.said(word).map(str::to_owned);
    let text = |word: &str| some(word).unwrap_or_default();
    let mut tags = file.tags.clone();
    tags.extend(tags_of(doc.said("Tags").unwrap_or("")));
    tags.sort();
    tags.dedup();
    Ok(Rule {
        id: format!("{}.{name}", file.stem).into(),
        file: file.stem.clone(),
        function: name.to_owned(),
        title: doc.title.as_str().into(),
        name: some("Name").unwrap_or_else(|| name.replace('_', " ")).into(),
        why: doc.why.clone(),
        basis: text("Basis"),
        remedy: text("Remedy"),
        offer: text("Offer"),
        on_sheet: doc.said("Shown") == Some("on the sheet"),
        compared: doc.said("Shown") == Some("in comparisons"),
        unit: doc.said("Unit").map(Into::into),
        better: match doc.said("Better") {
            Some("more") => Some(Better::More),
            Some(_) => Some(Better::Less),
            None => None,
        },
        assumes_nothing: doc.said("Assume").is_some(),
        step: doc.said("Step").and_then(|step| step.parse().ok()),
        audience: some("For"),
        tags,
        since: some("Since"),
        deprecated: some("Deprecated"),
        file_at,
        scripts: scripts.clone(),
        layer: file.layer.clone(),
        over: None,
        flaw: None,
        off: false,
        counts_as: None,
    })
}

/// Where a line of a comment stands, before a function.
fn line_before(text: &str, function: usize, line: &str) -> Option<Span> {
    let at = text.get(..function)?.rfind(line)?;
    Some(Span::new(at, at + line.len()))
}

/// The tags of a whole file: those of its `//! Tags:` line.
/// Errors: the line, where what it says is no list of tags.
pub(super) fn tags_of_file(text: &str) -> Result<Vec<String>, (Span, String)> {
    for (at, _) in text.match_indices("//!") {
        let start = text[..at].rfind('\n').map_or(0, |end| end + 1);
        let line = text[start..].lines().next().unwrap_or("").trim_end();
        let about = line.trim_start().strip_prefix("//!").map(str::trim);
        if let Some(said) = about.and_then(|about| about.strip_prefix(FILE_TAGS)) {
            return match fits(&Takes::Tags, said.trim()) {
                true => Ok(tags_of(said)),
                false => {
                    Err((Span::new(start, start + line.len()), format!("write {}", shown("Tags"))))
                }
            };
        }
    }
    Ok(Vec::new())
}

/// What the line of a file's own tags begins with.
pub(super) const FILE_TAGS: &str = "Tags:";

fn shown(word: &str) -> &'static str {
    HEADS.iter().find(|h| h.word == word).map_or("", |h| h.shows)
}

fn tags_of(said: &str) -> Vec<String> {
    said.split(',').map(|tag| tag.trim().to_owned()).filter(|tag| !tag.is_empty()).collect()
}

/// Whether what follows a word is what belongs there.
fn fits(takes: &Takes, said: &str) -> bool {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    match takes {
        Takes::Prose | Takes::Line => true,
        Takes::Words(words) => words.contains(&said),
        Takes::Number => said.parse::<u32>().is_ok(),
        Takes::Tags => said
            .split(',')
            .map(str::trim)
            .all(|tag| tag.starts_with(|c: char| c.is_ascii_lowercase()) && tag.chars().all(plain)),
        Takes::Version => {
            let number = |n: &str| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit());
            said.len() < 40 && said.split('.').all(number)
        }
    }
}

/// A doc comment, taken apart.
#[derive(Debug, Default)]
struct Doc {
    title: String,
    why: String,
    /// What stands behind each word, in the order written.
    said: Vec<(&'static str, String)>,
}

/// What is wrong with a line of a doc comment.
#[derive(Debug)]
struct Wrong {
    line: String,
    says: String,
    help: String,
}

impl Doc {
    fn said(&self, word: &str) -> Option<&str> {
        self.said.iter().find(|(w, _)| *w == word).map(|(_, text)| text.as_str())
    }

    fn read(comments: &[&str]) -> Result<Self, Wrong> {
        let mut doc = Self::default();
        // Where a line that begins with no word goes: the title, the reason, or a text before it.
        let mut open: Option<&'static str> = None;
        let mut lines: Vec<(&str, String)> = Vec::new();
        for raw in comments.iter().flat_map(|c| c.lines()).map(str::trim) {
            let line = match raw.strip_prefix("///") {
                Some(line) => line.trim_start_matches('/').trim(),
                None => raw.trim_start_matches(['/', '*']).trim_end_matches("*/").trim(),
            };
            match begun(line, doc.title.is_empty()).map_err(|(says, help)| Wrong {
                line: raw.to_owned(),
                says,
                help,
            })? {
                Some((head, said)) => {
                    if doc.said(head.word).is_some() {
                        return Err(Wrong {
                            line: raw.to_owned(),
                            says: format!("`{}:` twice", head.word),
                            help: "one line holds it all".to_owned(),
                        });
                    }
                    open = matches!(head.takes, Takes::Prose).then_some(head.word);
                    // A word of a set may end as a sentence does.
                    let said = match head.takes {
                        Takes::Words(_) | Takes::Tags => said.trim_end_matches('.'),
                        _ => said,
                    };
                    doc.said.push((head.word, said.to_owned()));
                    lines.push((head.word, raw.to_owned()));
                }
                None => {
                    let last = doc.said.last_mut().filter(|(word, _)| Some(*word) == open);
                    let into = match last {
                        Some((_, text)) => text,
                        None if doc.title.is_empty() => &mut doc.title,
                        None => &mut doc.why,
                    };
                    if !into.is_empty() && !line.is_empty() {
                        into.push(' ');
                    }
                    into.push_str(line);
                }
            }
        }
        doc.held(&lines)?;
        Ok(doc)
    }

    /// Holds what is said to what each word takes.
    fn held(&self, lines: &[(&str, String)]) -> Result<(), Wrong> {
        for ((word, said), (_, line)) in self.said.iter().zip(lines) {
            let Some(head) = HEADS.iter().find(|h| h.word == *word) else { continue };
            let says = match said.is_empty() {
                true => format!("`{word}:` and nothing after it"),
                false if fits(&head.takes, said) => continue,
                false => format!("`{word}: {}`, which means nothing", clip(said, 60)),
            };
            let help = format!("write {}, or take the line out", head.shows);
            return Err(Wrong { line: line.clone(), says, help });
        }
        Ok(())
    }
}

/// A word that a line begins with, and what follows it.
type Begun<'l> = Option<(&'static Head, &'l str)>;

/// How a line begins, or what is wrong where nobody knows its word. A title may begin with a word
/// of its own, unless it is nearly one of these.
fn begun(line: &str, title: bool) -> Result<Begun<'_>, (String, String)> {
    let Some((before, said)) = line.split_once(':') else { return Ok(None) };
    if let Some(head) = HEADS.iter().find(|h| h.word == before) {
        return Ok(Some((head, said.trim())));
    }
    let word = before.trim_end();
    let one = !word.is_empty() && word.chars().all(char::is_alphabetic);
    let bare = |word: &str| word.to_lowercase().trim_end_matches('s').to_owned();
    let known = HEADS.iter().any(|h| bare(h.word) == bare(word));
    let begins = word.starts_with(char::is_uppercase) && before == word && !title;
    let ends = said.is_empty() || said.starts_with(char::is_whitespace);
    if !one || !ends || !known && !begins {
        return Ok(None);
    }
    let words = || HEADS.iter().map(|h| h.word);
    let help = match nearest(word, words()) {
        Some(near) => format!("did you mean `{near}:`?"),
        None => format!(
            "known are {}; for a sentence with a colon, begin the line with another of its words",
            words().collect::<Vec<_>>().join(", ")
        ),
    };
    Err((format!("`{}:`, and no line begins so", clip(before, 40)), help))
}

#[cfg(test)]
#[path = "../../tests/unit/rules/doc_comments.rs"]
mod tests;
