//! Open lines: each resolved to the cheapest part that meets its wants and stops nothing, with the
//! runner-up.

mod cheapest;

use std::borrow::Cow;
use std::rc::Rc;
use std::sync::Arc;

use self::cheapest::Search;
use crate::build::resolve::Resolved;
use crate::build::{Build, What};
use crate::catalogue::Part;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::kit::filters::{CompiledFilter, FilterValue};
use crate::source::{Label, Problem, Problems, Span};
use crate::trade::money::Money;

/// Most builds that are audited before the search gives up.
pub const MOST_AUDITS: usize = 4_000;

/// A build with its open lines resolved as far as they can be.
pub struct Settled {
    /// The build, with the choices in place.
    pub build: Build,
    /// What was chosen, in the order of the lines.
    pub choices: Vec<Choice>,
    /// Lines that stay open, and why.
    pub left: Vec<Problem>,
}

/// What stands on a line that was left open.
#[derive(Debug, Clone)]
pub struct Choice {
    /// Its place among the lines.
    pub line: usize,
    /// Its kind.
    pub kind: Arc<str>,
    /// What its kind is called.
    pub title: String,
    /// Where it is fitted.
    pub mount: Option<Arc<str>>,
    /// Pieces.
    pub count: u32,
    /// The part.
    pub part: Arc<Part>,
    /// Price of one at the till.
    pub price: Money,
    /// The next cheapest that passes, with the price of one; all else stays as chosen.
    pub runner_up: Option<(Arc<Part>, Money)>,
    /// What the whole list costs more with the runner-up.
    pub difference: Option<Money>,
    /// Cheaper parts that meet the wants and would stop the build, with the rules that say so.
    pub passed_over: Vec<(Arc<Part>, Vec<String>)>,
    /// Cheaper parts that would pass, if a seller had one in stock.
    pub unsold: Vec<Arc<Part>>,
}

/// One line with the parts that meet its wants, the cheapest first.
struct OpenLine {
    line: usize,
    parts: Vec<(Arc<Part>, Money)>,
    /// Those that no seller has in stock.
    unsold: Vec<(Arc<Part>, Money)>,
}

/// A line's place among those of its kind.
pub(crate) fn nth_of(build: &Resolved, kind: KindId, line: usize) -> u16 {
    build
        .slots(kind)
        .iter()
        .position(|s| s.line == line && !s.included)
        .and_then(|at| u16::try_from(at).ok())
        .unwrap_or(0)
}

/// Resolves the open lines of a build.
/// Errors: wants that cannot be read, or that are no questions about a part.
pub fn settle(kit: &Kit, build: &Build) -> Result<Settled, Problems> {
    let (mut settled, picked) = pick(kit, build)?;
    let Some((mut search, lines, chosen)) = picked else { return Ok(settled) };
    settled.choices = lines
        .iter()
        .zip(&chosen)
        .filter_map(|(open, at)| search.choice(&settled.build, open, *at))
        .collect();
    Ok(settled)
}

/// A build as an audit judges it, each open line with the part that is chosen for it. Wants that
/// cannot be read leave their line as it is.
pub(crate) fn as_judged<'b>(kit: &Kit, build: &'b Build) -> Cow<'b, Build> {
    if build.lines.iter().all(|line| line.part().is_some()) {
        return Cow::Borrowed(build);
    }
    pick(kit, build).map_or(Cow::Borrowed(build), |(settled, _)| Cow::Owned(settled.build))
}

/// What a search for the cheapest parts had to choose from, and what it chose.
type Picked<'a> = (Search<'a>, Vec<OpenLine>, Vec<usize>);

/// Puts the cheapest parts that pass on the open lines of a build.
fn pick<'a>(kit: &'a Kit, build: &'a Build) -> Result<(Settled, Option<Picked<'a>>), Problems> {
    let mut settled = Settled { build: build.clone(), choices: Vec::new(), left: Vec::new() };
    let mut lines = Vec::new();
    let mut wrong = Problems::default();
    for (at, line) in build.lines.iter().enumerate() {
        let What::Open { kind, wants } = &line.what else { continue };
        match candidates(kit, build, at, *kind, wants) {
            Ok(found) if found.sold.is_empty() => {
                let why = match found.unsold.len() {
                    0 => "no part that a seller has meets its wants".to_owned(),
                    n => format!("no seller has a part in stock that meets its wants ({n} do)"),
                };
                settled.left.push(nothing(kit, build, at, &why));
            }
            Ok(Candidates { sold, unsold }) => {
                lines.push(OpenLine { line: at, parts: sold, unsold });
            }
            Err(problem) => wrong.push(*problem),
        }
    }
    if lines.is_empty() || !wrong.0.is_empty() {
        return wrong.or((settled, None));
    }
    let mut search = Search::new(kit, build);
    let mut chosen = search.cheapest(&lines);
    if chosen.is_none() {
        (lines, chosen) = search.without_hopeless(lines, &mut settled.left);
    }
    let Some(chosen) = chosen else { return Ok((settled, None)) };
    settled.build = search.with(&lines, &chosen);
    Ok((settled, Some((search, lines, chosen))))
}

fn nothing(kit: &Kit, build: &Build, line: usize, why: &str) -> Problem {
    let kind = build.lines.get(line).map_or(KindId(0), crate::build::Line::kind);
    let name = kit.catalogue().kind(kind).map_or("", |k| &k.title);
    let span = build.lines.get(line).map_or_else(Span::default, |l| l.spans.part);
    Problem::new(format!("the open {name} line stays open: {why}"))
        .at(&build.source, span, "left open")
        .help("loosen its wants, or name a part")
}

/// The parts that meet the wants of an open line, the cheapest first.
#[derive(Default)]
pub(crate) struct Candidates {
    /// Those that a seller has in stock.
    pub(crate) sold: Vec<(Arc<Part>, Money)>,
    /// Those that have a price and no seller with one in stock.
    pub(crate) unsold: Vec<(Arc<Part>, Money)>,
}

/// The wants of an open line, ready to be asked of parts.
struct Wants<'a> {
    kit: &'a Kit,
    build: &'a Build,
    line: usize,
    kind: KindId,
    asked: Vec<(CompiledFilter, &'a str, Span)>,
}

impl<'a> Wants<'a> {
    fn new(
        kit: &'a Kit,
        build: &'a Build,
        line: usize,
        kind: KindId,
        wants: &'a [(String, Span)],
    ) -> Result<Self, Box<Problem>> {
        let mut all = Self { kit, build, line, kind, asked: Vec::new() };
        for (text, span) in wants {
            let asked = kit.asked(kind, text).map_err(|p| all.at(p, *span))?;
            all.asked.push((asked, text, *span));
        }
        Ok(all)
    }

    /// A problem of a want at its place in the list.
    fn at(&self, mut problem: Box<Problem>, span: Span) -> Box<Problem> {
        let text = problem.labels.first().map_or_else(String::new, |l| l.text.clone());
        problem.labels = vec![Label { source: self.build.source.clone(), span, text }];
        problem
    }

    /// The wants that a part does not meet, once it is there.
    fn unmet(&self, resolved: &Rc<Resolved>, nth: u16) -> Result<Vec<&'a str>, Box<Problem>> {
        let mut unmet = Vec::new();
        for (asked, text, span) in &self.asked {
            match self.kit.answer(asked, resolved, nth).map_err(|p| self.at(p, *span))? {
                FilterValue::Flag(true) => {}
                FilterValue::Flag(false) | FilterValue::Absent => unmet.push(*text),
                _ => {
                    let problem = Problem::new("a want is a question, answered by yes or no")
                        .help("compare it: `memory_gb >= 8`");
                    return Err(self.at(Box::new(problem), *span));
                }
            }
        }
        Ok(unmet)
    }

    /// The build with a part on the line, and the part's place among those of its kind.
    fn with(&self, part: &Arc<Part>) -> (Rc<Resolved>, u16) {
        let build = Arc::new(self.build.with_part(self.line, part));
        let resolved = Rc::new(Resolved::new(build, self.kit.catalogue().clone()));
        let nth = nth_of(&resolved, self.kind, self.line);
        (resolved, nth)
    }
}

/// The parts that may stand on an open line.
/// Errors: wants that cannot be read, or that are no questions about a part.
pub(crate) fn candidates(
    kit: &Kit,
    build: &Build,
    line: usize,
    kind: KindId,
    wants: &[(String, Span)],
) -> Result<Candidates, Box<Problem>> {
    let wants = Wants::new(kit, build, line, kind, wants)?;
    let market = kit.catalogue().market(&build.currency, build.priced_on);
    let mut found = Candidates::default();
    for part in kit.catalogue().parts_of(kind) {
        let (price, sellers) = if wants.asked.is_empty() {
            let Some(facts) = market.known(kit.catalogue(), part) else { continue };
            (facts.price, facts.sellers)
        } else {
            let (resolved, nth) = wants.with(part);
            let Some(slot) = resolved.slot(kind, nth) else { continue };
            let facts = resolved.facts(slot);
            if facts.price.is_none() || !wants.unmet(&resolved, nth)?.is_empty() {
                continue;
            }
            (facts.price, facts.sellers)
        };
        let Some(price) = price else { continue };
        let into = if sellers > 0.0 { &mut found.sold } else { &mut found.unsold };
        into.push((part.clone(), price));
    }
    for parts in [&mut found.sold, &mut found.unsold] {
        parts.sort_by(|a, b| a.1.minor().cmp(&b.1.minor()).then_with(|| a.0.id.cmp(&b.0.id)));
    }
    Ok(found)
}

/// The wants of an open line that a part does not meet; none for a line that is not open.
pub(crate) fn unmet_wants(
    kit: &Kit,
    build: &Build,
    line: usize,
    part: &Arc<Part>,
) -> Result<Vec<String>, Problems> {
    let Some(What::Open { kind, wants }) = build.lines.get(line).map(|l| &l.what) else {
        return Ok(Vec::new());
    };
    let wants = Wants::new(kit, build, line, *kind, wants).map_err(|p| Problems::from(*p))?;
    let (resolved, nth) = wants.with(part);
    let unmet = wants.unmet(&resolved, nth).map_err(|p| Problems::from(*p))?;
    Ok(unmet.into_iter().map(str::to_owned).collect())
}

impl Choice {
    /// What its line is called: "open fan line at the front".
    pub(crate) fn line_words(&self) -> String {
        let mount = self.mount.as_ref().map_or_else(String::new, |m| format!(" at the {m}"));
        format!("open {} line{mount}", self.title)
    }
}

/// The choices in words, a sentence each.
pub fn words(choices: &[Choice]) -> Vec<String> {
    choices
        .iter()
        .map(|choice| {
            let (line, part) = (choice.line_words(), &choice.part);
            let mut text = format!(
                "The {line} is judged with {} ({}) at {}",
                part.name, part.id, choice.price
            );
            match (&choice.runner_up, choice.difference) {
                (Some((part, price)), Some(more)) => {
                    let goods = price.minor().saturating_sub(choice.price.minor());
                    let alone = goods.saturating_mul(i64::from(choice.count)) == more.minor();
                    // A part of another seller may save shipping, or cost some.
                    let shipping = if alone { "" } else { " with shipping" };
                    text.push_str(&format!(
                        "; next is {} ({}) at {price}, {more} more{shipping}",
                        part.name, part.id
                    ));
                }
                _ => text.push_str("; nothing else passes"),
            }
            let count = choice.passed_over.len();
            if count > 0 {
                let mut rules: Vec<&str> = choice
                    .passed_over
                    .iter()
                    .flat_map(|(_, rules)| rules.iter().map(String::as_str))
                    .collect();
                rules.sort_unstable();
                rules.dedup();
                text.push_str(&format!(
                    "; {} cheaper {} by {}",
                    count,
                    if count == 1 { "one is stopped" } else { "ones are stopped" },
                    rules.join(", ")
                ));
            }
            if !choice.unsold.is_empty() {
                let ids: Vec<&str> = choice.unsold.iter().map(|p| &*p.id).collect();
                let are = if ids.len() == 1 { "is" } else { "are" };
                text.push_str(&format!("; {} {are} cheaper and out of stock", ids.join(", ")));
            }
            text + "."
        })
        .collect()
}
