//! A parts list as its author wrote it: lines, wishes, waivers, each with its place in the text.

pub mod bill;
pub mod brief;
pub mod chambers;
pub mod fields;
pub mod lack;
pub mod orders;
mod quote;
pub(crate) mod read;
pub mod resolve;
mod usual;
pub mod waivers;

use std::ffi::OsStr;
use std::path::Path;
use std::sync::Arc;

use jiff::civil::Date;

use crate::catalogue::kinds::KindId;
use crate::catalogue::market::Facts;
use crate::catalogue::ranks::Ranking;
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, Part};
use crate::source::{Problems, Source, Span};
use crate::trade::money::Money;

pub use read::{CaseBuild, MAX_COUNT, MAX_LINES};

/// A parts list that was read and checked: what [`Kit::audit`](crate::Kit::audit) takes.
///
/// It is data and holds no rule; clone it and change its lines to look at another list.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Build {
    /// The text it was read from.
    pub source: Arc<Source>,
    /// Values of `BUILD_FIELDS`, in that order.
    #[doc(hidden)]
    pub values: Vec<Val>,
    /// Where each is written.
    #[doc(hidden)]
    pub spans: Vec<Span>,
    /// The currency of its prices, as a code of three letters.
    pub currency: Arc<str>,
    /// Offers count as of this day.
    pub priced_on: Date,
    /// Its lines in the order written.
    pub lines: Vec<Line>,
    /// Findings signed off in the list itself.
    pub waivers: Vec<Waiver>,
    /// Ids of parts that are worth having when they come with another, whatever else the sellers
    /// give away.
    pub bundles: Vec<Arc<str>>,
}

/// What a line cost on the day it was quoted.
#[derive(Debug, Clone, Copy)]
pub struct Quote {
    /// Price of one at the till.
    pub price: Money,
    /// The day.
    pub on: Date,
    /// Where it is written.
    pub span: Span,
}

/// One line of a build.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Line {
    /// The part, or what may stand here.
    pub what: What,
    /// Pieces, from 1 to 99.
    pub count: u32,
    /// Where it is fitted, such as `front`; none where the list leaves it to the rules.
    pub mount: Option<Arc<str>>,
    /// Which way it blows: `in` or `out`.
    pub flow: Option<Arc<str>>,
    /// Whether the list does not say so, and `flow` is how its mount is usually turned.
    pub flow_usual: bool,
    /// Whether the customer has it already: it costs nothing and is checked all the same.
    pub owned: bool,
    /// Whether the parts in its packaging join the build.
    pub included: bool,
    /// What the customer wishes of a line that was left open, in words that no rule checks.
    pub wish: Option<Arc<str>>,
    /// What it cost when it was quoted.
    #[doc(hidden)]
    pub quoted: Option<Quote>,
    /// What the sellers say, written on the spot in a rule case; the offers are asked otherwise.
    #[doc(hidden)]
    pub stated: Option<Box<Facts>>,
    /// Where the line and its values are written.
    #[doc(hidden)]
    pub spans: LineSpans,
}

/// What stands on a line.
#[derive(Debug, Clone)]
pub enum What {
    /// A part.
    Part(Arc<Part>),
    /// Nothing yet: any part of a kind that meets the wants.
    Open {
        /// The kind.
        kind: KindId,
        /// Rhai expressions over the part, with their places.
        wants: Vec<(String, Span)>,
    },
}

/// Places of a line's values.
#[derive(Debug, Clone, Copy, Default)]
pub struct LineSpans {
    /// The whole line.
    pub whole: Span,
    /// `part = …` or `any = …`.
    pub part: Span,
    /// `count = …`.
    pub count: Span,
    /// `mount = …`.
    pub mount: Span,
    /// `flow = …`.
    pub flow: Span,
    /// `owned = …`.
    pub owned: Span,
}

/// A finding signed off, with a reason, initials and an end date. The finding stays in the audit
/// and carries its waiver.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Waiver {
    /// Id of the rule.
    pub rule: String,
    /// Id of the part, or the kind of line, that it is limited to; `build` for the list as a
    /// whole; none for every finding of the rule.
    pub subject: Option<String>,
    /// Why.
    pub reason: String,
    /// Whose initials.
    pub by: String,
    /// Last day it counts.
    pub until: Date,
    /// Where it is written.
    pub span: Span,
    /// In which file.
    pub source: Arc<Source>,
}

impl What {
    /// The kind of the part, or of what is left open.
    pub(crate) fn kind(&self) -> KindId {
        match self {
            Self::Part(part) => part.kind,
            Self::Open { kind, .. } => *kind,
        }
    }
}

impl Line {
    /// A line of `count` pieces of a part: bought, fitted nowhere in particular, with what comes in
    /// its packaging. It is written nowhere, so its places are empty.
    pub fn of(part: Arc<Part>, count: u32) -> Self {
        Self { count, ..Self::new(What::Part(part)) }
    }

    /// A line with one of these to be bought, written nowhere.
    pub(crate) fn new(what: What) -> Self {
        Self {
            what,
            count: 1,
            mount: None,
            flow: None,
            flow_usual: false,
            owned: false,
            included: true,
            wish: None,
            quoted: None,
            stated: None,
            spans: LineSpans::default(),
        }
    }

    /// The kind of what stands here.
    pub fn kind(&self) -> KindId {
        self.what.kind()
    }

    /// The part on this line; none while it is open.
    pub fn part(&self) -> Option<&Arc<Part>> {
        match &self.what {
            What::Part(part) => Some(part),
            What::Open { .. } => None,
        }
    }

    /// This line with a part on it. In place of another part it is to be bought: who owned that
    /// one, what it was quoted at and what sellers said of it goes. An open line says of itself
    /// whose the part is, so all but its wants stays.
    pub(crate) fn with_part(&self, part: &Arc<Part>) -> Self {
        let mut line = self.clone();
        if self.part().is_some_and(|now| now.id == part.id) {
            return line;
        }
        if self.part().is_some() {
            (line.owned, line.quoted, line.stated) = (false, None, None);
        }
        line.what = What::Part(part.clone());
        line
    }
}

impl Build {
    /// Reads a build file. `today` stands in for `priced_on` where the file leaves it out.
    ///
    /// # Errors
    /// Every problem of the file, each with its place.
    pub fn parse(
        source: &Arc<Source>,
        catalogue: &Catalogue,
        today: Date,
    ) -> Result<Self, Problems> {
        read::parse(source, catalogue, today, false)
    }

    /// The same for a build that somebody is writing: it may have no lines yet.
    pub(crate) fn parse_begun(
        source: &Arc<Source>,
        catalogue: &Catalogue,
        today: Date,
    ) -> Result<Self, Problems> {
        read::parse(source, catalogue, today, true)
    }

    /// The same list with other lines.
    #[must_use]
    pub fn with_lines(&self, lines: Vec<Line>) -> Self {
        Self { lines, ..self.clone() }
    }

    /// By what its parts are better or worse than others, for what it is used for.
    #[doc(hidden)]
    pub fn ranking(&self, catalogue: &Catalogue) -> Ranking {
        let purpose = fields::build_field("purpose").and_then(|at| self.values.get(at as usize));
        Ranking::of(catalogue, purpose.and_then(Val::as_text).map(|text| &**text))
    }

    /// The title, or the file's name without folder and ending.
    pub fn title(&self) -> &str {
        let name = &self.source.name;
        match self.values.first() {
            Some(Val::Text(title)) => title,
            _ => Path::new(name).file_stem().and_then(OsStr::to_str).unwrap_or(name),
        }
    }

    /// The value of one of its fields.
    pub(crate) fn field(&self, name: &str) -> Option<&Val> {
        self.values.get(usize::from(fields::build_field(name)?))
    }

    /// The build with a part put on one of its lines, by [`Line::with_part`].
    pub(crate) fn with_part(&self, line: usize, part: &Arc<Part>) -> Self {
        let mut build = self.clone();
        if let Some(slot) = build.lines.get_mut(line) {
            *slot = slot.with_part(part);
        }
        build
    }

    /// Lines of a kind with their places in `lines`.
    pub fn of_kind(&self, kind: KindId) -> impl Iterator<Item = (usize, &Line)> {
        self.lines.iter().enumerate().filter(move |(_, l)| l.kind() == kind)
    }
}
