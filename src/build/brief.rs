//! A brief as its author wrote it: what a customer asks for, before any part is chosen.

use std::sync::Arc;

use jiff::civil::Date;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{Build, read};
use crate::catalogue::Catalogue;
use crate::catalogue::declared::{Declared, Row, Takes, key};
use crate::catalogue::field_reader::sound;
use crate::level::Level;
use crate::source::{Problem, Problems, Source, Span};

/// What a brief says beside what a build does.
pub(crate) const BRIEF: Declared = Declared {
    of: "a brief",
    keys: &[
        key("needs", Takes::Texts, "kinds that there must be"),
        key(
            "wants",
            Takes::Texts,
            "what the build must meet, as expressions over `build` that say yes or no",
        ),
        key("minimise", Takes::TextOrTexts, "`price`, a measure, or an expression over `build`"),
        key("maximise", Takes::TextOrTexts, "a measure, or an expression over `build`"),
        key(
            "tolerate",
            Takes::Words(&["caution", "advice"]),
            "the worst that the build may have, never a stop; left out, a list has cautions only \
             where none without them meets the brief",
        ),
    ],
};
/// Most wants in a brief.
pub const MAX_WANTS: usize = 40;
/// Longest want or aim, in bytes: all of them together stay well below what a rule file may have.
pub const MAX_WANT: usize = 4 << 10;
/// Most things to weigh against one another.
pub const MAX_AIMS: usize = 3;

/// What a customer asks for.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Brief {
    /// The fields and lines, with an open line for each kind that is needed.
    pub build: Build,
    /// What a build must meet: Rhai expressions over `build`, answered by yes or no.
    #[doc(hidden)]
    pub wants: Vec<Written>,
    /// What to reach for, the most important first: `price`, a measure, or an expression over
    /// `build`.
    #[doc(hidden)]
    pub aims: Vec<Aim>,
    /// The worst that a build may have beside advice, where the brief says so; a stop is never
    /// tolerated.
    pub tolerate: Option<Level>,
}

/// A text with its place.
#[derive(Debug, Clone)]
pub struct Written {
    /// The text.
    pub text: String,
    /// Where it stands, quotes included.
    pub span: Span,
}

/// What to reach for.
#[derive(Debug, Clone)]
pub struct Aim {
    /// Whether more is better.
    pub most: bool,
    /// `price`, the id of a measure, or an expression.
    pub what: Written,
}

impl Brief {
    /// Reads a brief. `today` stands in for `priced_on` where the file leaves it out.
    ///
    /// # Errors
    /// Every problem of the file, each with its place.
    pub fn parse(
        source: &Arc<Source>,
        catalogue: &Catalogue,
        today: Date,
    ) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        let Some(parsed) = sound(source, &mut problems) else { return Err(problems) };
        let table = parsed.get_ref();
        let build = read::parse_brief(source, catalogue, today, &BRIEF, table, &mut problems);
        if build.lines.is_empty() && problems.0.is_empty() {
            problems.push(
                Problem::new("this brief needs nothing")
                    .at(source, Span::default(), "no `needs` and no `[[line]]`")
                    .help("name the kinds: needs = [\"processor\", \"board\"]"),
            );
        }
        let mut reader = Reader { source, problems: &mut problems };
        let row = Row { table, whole: Span::default() };
        let wants = reader.texts("wants", row.items("wants"));
        if wants.len() > MAX_WANTS
            && let Some(value) = table.get("wants")
        {
            reader.wrong(
                value.span(),
                &format!("a brief has {MAX_WANTS} wants at the most"),
                format!("{} wants", wants.len()),
            );
        }
        let aims = reader.aims(table);
        let tolerate = row.text("tolerate").and_then(Level::by_name).filter(|l| *l < Level::Stop);
        problems.or(Self { build, wants, aims, tolerate })
    }
}

struct Reader<'a> {
    source: &'a Arc<Source>,
    problems: &'a mut Problems,
}

impl Reader<'_> {
    fn wrong(&mut self, span: impl Into<Span>, message: &str, label: impl Into<String>) {
        self.problems.push(Problem::new(message).at(self.source, span.into(), label));
    }

    fn texts(&mut self, key: &str, items: &[Spanned<DeValue<'_>>]) -> Vec<Written> {
        items.iter().filter_map(|item| self.text(key, item)).collect()
    }

    fn text(&mut self, key: &str, item: &Spanned<DeValue<'_>>) -> Option<Written> {
        match item.get_ref().as_str().map(str::trim) {
            Some(text) if text.len() > MAX_WANT => {
                self.wrong(
                    item.span(),
                    &format!("an expression in a brief has {} KiB at the most", MAX_WANT >> 10),
                    format!("{} bytes", text.len()),
                );
                None
            }
            Some(text) if !text.is_empty() => {
                Some(Written { text: text.to_owned(), span: item.span().into() })
            }
            Some(_) => {
                self.wrong(item.span(), &format!("`{key}` is empty here"), "nothing written");
                None
            }
            None => None,
        }
    }

    fn aims(&mut self, table: &DeTable<'_>) -> Vec<Aim> {
        let mut aims = Vec::new();
        // The order in the file is the order of importance.
        for (key, value) in
            table.iter().filter(|(k, _)| matches!(&**k.get_ref(), "minimise" | "maximise"))
        {
            let most = &**key.get_ref() == "maximise";
            let texts = match value.get_ref() {
                DeValue::Array(items) => self.texts(key.get_ref(), items),
                _ => self.text(key.get_ref(), value).into_iter().collect(),
            };
            aims.extend(texts.into_iter().map(|what| Aim { most, what }));
        }
        if let Some(aim) = aims.get(MAX_AIMS) {
            let span = aim.what.span;
            self.wrong(
                span,
                &format!("a brief weighs {MAX_AIMS} things at the most"),
                "one too many",
            );
        }
        for aim in aims.iter().filter(|a| a.most && a.what.text == "price") {
            let problem = Problem::new("the price is never to be raised")
                .at(self.source, aim.what.span, "here")
                .help("write `minimise = \"price\"`");
            self.problems.push(problem);
        }
        aims
    }
}
