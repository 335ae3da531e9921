//! What people see: one stream of findings, several presenters.

pub(crate) mod abreast;
pub mod escape;
mod excerpt;
pub mod glance;
pub mod hosts;
pub mod json;
pub(crate) mod layered;
mod located;
pub mod markdown;
pub mod page;
mod page_templates;
pub mod reference;
pub mod sarif;
pub(crate) mod search_json;
pub mod sheet;
pub mod style;
pub mod table;
pub(crate) mod templates;
pub mod terminal;
pub mod texts;
pub mod unsettled;
mod view;
pub(crate) mod why_json;

use layered::MOST_NAMED;

pub use layered::Layered;

use style::Look;
use terminal::Terminal;
use texts::TextFormat;

use std::collections::{BTreeMap, HashMap};
use std::io;
use std::sync::Arc;

use jiff::civil::Date;

use crate::app::counted::count;
use crate::app::repairs::Repair;
use crate::audit::finding::Finding;
use crate::build::What;
use crate::build::bill::Total;
use crate::build::resolve::Resolved;
use crate::catalogue::value::Val;
use crate::kit::evidence::MOST_ASKED;
use crate::kit::{Audit, Cause, Measure, OpenRule, Question, Ruling, causes};
use crate::level::Level;
use crate::rules::loader::BrokenRule;
use crate::settings::RuleChoice;
use crate::source::{Problem, Problems};
use crate::whatif::open_lines::Choice;
use crate::words::some_of;

/// The result for one build file.
#[derive(Debug, Clone)]
pub struct Report {
    /// The file as the user named it.
    pub file: String,
    /// What the rules say, or why nothing can be said.
    pub outcome: Result<Box<Audited>, Arc<Problems>>,
}

/// What the rules say of a build, with nothing left to work out: it may go from one thread to
/// another.
#[derive(Debug, Clone)]
pub struct Audited {
    /// What the job is called.
    pub title: String,
    /// Offers count as of this day.
    pub priced_on: Date,
    /// Currency of every amount.
    pub currency: Arc<str>,
    /// Goods and shipping of what has an offer.
    pub total: f64,
    /// The same with how much of it is shipping.
    pub paid: Total,
    pub budget: Option<f64>,
    /// Lines without an offer.
    pub unpriced: usize,
    /// Kinds of the lines left open.
    pub open: Vec<String>,
    /// What stands on lines that were left open; the verdict is of the build with these in place.
    pub chosen: Vec<Choice>,
    /// What the customer wishes of lines that were left open: the kind's title, and the words.
    pub wishes: Vec<(String, String)>,
    /// Why other lines stay open.
    pub left: Vec<Problem>,
    /// Findings, the worst first, the waived ones last; the same said twice is one.
    pub findings: Vec<Merged>,
    /// Advice for the bench that only the sheet shows.
    pub bench: Vec<Merged>,
    /// What is at fault, with the places of its stops among the findings; empty unless asked for.
    pub causes: Vec<Cause>,
    /// Findings accepted as they were (`--accept`): they are no reason to fail.
    pub accepted: Vec<Merged>,
    /// Whether the search for changes that clear findings was ended by nothing but its end; none
    /// when nothing was looked for.
    pub fixes_searched: Option<bool>,
    pub measures: Vec<Measure>,
    /// Rules that wait for an open line, and for which kind.
    pub waiting: Vec<(String, String)>,
    pub broken: Vec<BrokenRule>,
    /// What is odd about waivers; each counts as a caution.
    pub waivers: Vec<Problem>,
    /// What the shop decided of single rules.
    pub decided: Vec<(String, RuleChoice)>,
    /// Which rules are not those of the lowest layer.
    pub layered: Layered,
    /// What is odd in the rules' scripts and still runs.
    pub warnings: Vec<Problem>,
    /// Rules that facts decide which nobody said.
    pub open_rules: Vec<OpenRule>,
    /// The facts to look up, those that decide most first.
    pub questions: Vec<Question>,
    /// Stops that are ruled out where parts are as usual: rule and message.
    pub off: Vec<(String, String)>,
    pub ruling: Ruling,
    /// 0, 1, 2 or 3.
    pub code: u8,
}

/// A finding, with how often the rule raised it in the same words.
#[derive(Debug, Clone)]
pub struct Merged {
    /// What it is known by: the same while lines move and figures change.
    pub id: String,
    /// The finding, with the pointers of all.
    pub finding: Finding,
    pub times: usize,
    /// Proven changes of the list that clear it; none unless they were looked for.
    pub fixes: Vec<Repair>,
}

/// What a reader wants to see of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wishes {
    /// Every finding in full, every waiting rule by name.
    pub all: bool,
    /// Every measure.
    pub measures: bool,
    /// The reader is at the prompt, where commands need no list.
    pub prompt: bool,
}

/// Where a presenter writes.
pub type Out<'o> = &'o mut dyn io::Write;

/// One way of showing reports, as they come or once all have.
pub trait Stream {
    /// What stands before the first report.
    fn begin(&mut self, _out: Out<'_>) -> io::Result<()> {
        Ok(())
    }

    /// Writes one report. What is wrong with the input goes to `aside` where the format has no
    /// place for it.
    fn report(&mut self, report: Report, out: Out<'_>, aside: Out<'_>) -> io::Result<()>;

    /// What stands after the last.
    fn end(&mut self, _tally: &Tally, _out: Out<'_>, _aside: Out<'_>) -> io::Result<()> {
        Ok(())
    }
}

/// Shows one report to a person.
pub(crate) fn show(
    report: Report,
    plain: bool,
    look: Look,
    wishes: Wishes,
    out: Out<'_>,
    aside: Out<'_>,
) -> io::Result<()> {
    let mut way: Box<dyn Stream> = match plain {
        true => Box::new(TextFormat::plain(wishes)),
        false => Box::new(Terminal::new(look, look, wishes)),
    };
    way.report(report, out, aside)?;
    way.end(&Tally::default(), out, aside)
}

/// How many lists came out how.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tally {
    /// Lists with nothing that fails.
    pub clear: usize,
    /// Lists that fail, whether on a stop or on what the shop fails on besides.
    pub failed: usize,
    /// Lists among them without a stop.
    pub below_stop: usize,
    /// Lists that are not settled.
    pub open: usize,
    /// Lists without a verdict.
    pub broken: usize,
    /// Files that are no lists and were passed over.
    pub passed_over: usize,
}

impl Tally {
    /// Counts a list by the code it ends with, and the one it would end with on stops alone.
    pub fn add(&mut self, code: u8, at_stop: u8) {
        self.below_stop += usize::from(code == 1 && at_stop != 1);
        match code {
            0 => self.clear += 1,
            1 => self.failed += 1,
            3 => self.open += 1,
            _ => self.broken += 1,
        }
    }

    pub fn lists(&self) -> usize {
        self.clear + self.failed + self.open + self.broken
    }

    /// The code for all: the first of 2, 1, 3 and 0 that one of them has.
    pub fn code(&self) -> u8 {
        match (self.broken, self.failed, self.open) {
            (0, 0, 0) => 0,
            (0, 0, _) => 3,
            (0, _, _) => 1,
            _ => 2,
        }
    }
}

impl Report {
    /// The file's name without folder and ending.
    pub fn name(&self) -> &str {
        let name = self.file.rsplit(['/', '\\']).next().unwrap_or(&self.file);
        name.strip_suffix(".toml").unwrap_or(name)
    }

    /// 0 when nothing stops the build, 1 when something does, 2 when the input or a rule is broken.
    pub fn code(&self) -> u8 {
        self.outcome.as_ref().map_or(2, |a| a.code)
    }

    /// The same, failing on findings of a level or above instead of on stops.
    pub fn code_at(&self, level: Level) -> u8 {
        match &self.outcome {
            Ok(audited) if audited.code != 2 && audited.fails_at(level) => 1,
            // Care is more than found cautions.
            Ok(audited) if audited.ruling == Ruling::Care && level <= Level::Caution => 1,
            _ => self.code(),
        }
    }
}

impl Audited {
    /// Takes from an audit all that a presenter shows.
    pub fn new(audit: &Audit) -> Self {
        Self::of(audit, merge(audit.findings()).0)
    }

    fn of(audit: &Audit, findings: Vec<Merged>) -> Self {
        let resolved = audit.build();
        let build = &resolved.build;
        let catalogue = &resolved.catalogue;
        let open = build.lines.iter().filter(|l| matches!(l.what, What::Open { .. }));
        Self {
            title: build.title().to_owned(),
            priced_on: build.priced_on,
            currency: build.currency.clone(),
            total: resolved.total(),
            paid: resolved.paid(),
            budget: build.field("budget").and_then(Val::as_num),
            unpriced: resolved.unpriced() as usize,
            open: open
                .filter_map(|l| catalogue.kind(l.kind()))
                .map(|k| k.name.to_string())
                .collect(),
            chosen: Vec::new(),
            wishes: wishes(resolved),
            left: Vec::new(),
            findings,
            causes: Vec::new(),
            bench: merge(audit.sheet_findings()).0,
            accepted: Vec::new(),
            fixes_searched: None,
            measures: audit.measures(),
            waiting: audit.waiting(),
            broken: audit.broken(),
            waivers: audit.waiver_problems(),
            decided: audit.decided(),
            layered: Layered::of(audit.rule_set()),
            warnings: audit.warnings(),
            open_rules: audit.open_rules(),
            questions: audit.questions(),
            off: audit.off(),
            ruling: audit.ruling(),
            code: audit.exit_code(),
        }
    }

    /// The same, each stop and caution pointing at the fewest facts that prove it.
    pub(crate) fn proven(audit: &Audit) -> Self {
        Self::of(audit, merge(proven(audit)).0)
    }

    /// The same with what is at fault, which takes longer to find than the findings do.
    pub fn with_causes(audit: &Audit) -> Self {
        let found = proven(audit);
        let mut causes = causes(audit, &found);
        let (findings, places) = merge(found);
        for cause in &mut causes {
            cause.findings =
                cause.findings.iter().filter_map(|at| places.get(*at).copied()).collect();
            cause.findings.dedup();
        }
        Self { causes, ..Self::of(audit, findings) }
    }

    /// The wishes that no rule checks, a sentence each.
    pub fn wish_sentences(&self) -> impl Iterator<Item = String> {
        self.wishes.iter().map(|(title, wish)| {
            format!("The customer wrote of the {title}: \"{wish}\"; no rule checks such words")
        })
    }

    /// Findings in force at a level.
    pub fn at(&self, level: Level) -> impl Iterator<Item = &Merged> {
        self.findings.iter().filter(move |m| m.finding.level == level && m.finding.waived.is_none())
    }

    /// Whether a finding in force is of a level or above; what is odd about a waiver counts as a
    /// caution.
    pub fn fails_at(&self, level: Level) -> bool {
        let found = |m: &Merged| m.finding.waived.is_none() && m.finding.level >= level;
        self.findings.iter().any(found) || level <= Level::Caution && !self.waivers.is_empty()
    }

    pub fn measure(&self, id: &str) -> Option<&Measure> {
        self.measures.iter().find(|m| *m.id == *id)
    }

    /// Open kinds that rules wait for, each with these rules.
    pub fn waits(&self) -> Vec<(&str, Vec<&str>)> {
        let mut kinds: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for (rule, kind) in &self.waiting {
            kinds.entry(kind).or_default().push(rule);
        }
        kinds.into_iter().collect()
    }

    /// Findings that are signed off.
    pub fn waived(&self) -> impl Iterator<Item = &Merged> {
        self.findings.iter().filter(|m| m.finding.waived.is_some())
    }

    /// One word for all of it: `broken`, `stop`, `open`, `care` or `build`.
    pub fn verdict(&self) -> &'static str {
        self.ruling.key()
    }

    /// Works the verdict out again from what is shown: findings may have been accepted, and lines
    /// left without a part.
    pub fn settle(&mut self) {
        let may = |level: Level| self.open_rules.iter().any(|o| !o.waived && o.level >= level);
        self.ruling = if self.ruling == Ruling::Broken {
            Ruling::Broken
        } else if !self.left.is_empty() || self.fails_at(Level::Stop) {
            // What no part can be put into cannot be built.
            Ruling::Stop
        } else if may(Level::Stop) {
            Ruling::Open
        } else if self.fails_at(Level::Caution) || may(Level::Caution) || !self.off.is_empty() {
            Ruling::Care
        } else {
            Ruling::Build
        };
        self.code = self.ruling.code();
    }

    /// What the shop decided of single rules and which are its own, a sentence each.
    pub fn decisions(&self) -> Vec<String> {
        // What one line of the settings decides of many rules is one sentence.
        let same = |a: &RuleChoice, b: &RuleChoice| a.names == b.names && a.layer == b.layer;
        let decided = self.decided.iter().enumerate().filter_map(|(at, (id, choice))| {
            if self.decided.iter().take(at).any(|(_, other)| same(other, choice)) {
                return None;
            }
            Some(match self.decided.iter().filter(|(_, other)| same(other, choice)).count() {
                1 => format!("{id} {}", choice.words()),
                rules => format!("{} {}", count(rules, "rule"), choice.words()),
            })
        });
        let accepted = (!self.accepted.is_empty()).then(|| {
            let mut rules: Vec<&str> =
                self.accepted.iter().map(|m| m.finding.rule.as_str()).collect();
            rules.dedup();
            let number = count(self.accepted.len(), "finding");
            format!("{number} accepted as before: {}", some_of(rules, MOST_NAMED))
        });
        decided.chain(self.layered.words()).chain(accepted).collect()
    }

    pub fn money(&self, amount: f64) -> String {
        crate::audit::wording::figure(amount, "money", &self.currency)
    }
}

/// What the customer wishes of open lines; a row that became two lines says it once.
fn wishes(build: &Resolved) -> Vec<(String, String)> {
    let mut wishes = Vec::new();
    for line in &build.build.lines {
        let kind = build.catalogue.kind(line.kind());
        let Some(wish) = kind.zip(line.wish.as_ref()) else { continue };
        let wish = (wish.0.title.clone(), wish.1.to_string());
        if !wishes.contains(&wish) {
            wishes.push(wish);
        }
    }
    wishes
}

/// The findings, stops and cautions with their proof: advice is seldom looked into, and has the
/// most facts to let go.
fn proven(audit: &Audit) -> Vec<Finding> {
    let mut found = audit.findings();
    audit.prove(found.iter_mut().filter(|f| f.level > Level::Advice), MOST_ASKED);
    found
}

/// Joins findings that say the same, keeping the order; with the place that each has come to.
pub(crate) fn merge(findings: Vec<Finding>) -> (Vec<Merged>, Vec<usize>) {
    let mut merged: Vec<Merged> = Vec::with_capacity(findings.len());
    let mut places = Vec::with_capacity(findings.len());
    for finding in findings {
        let same = |m: &Merged| {
            m.finding.rule == finding.rule
                && m.finding.level == finding.level
                && m.finding.message == finding.message
                && m.finding.waived.is_some() == finding.waived.is_some()
        };
        let Some((at, held)) = merged.iter_mut().enumerate().find(|(_, m)| same(m)) else {
            places.push(merged.len());
            merged.push(Merged { id: String::new(), finding, times: 1, fixes: Vec::new() });
            continue;
        };
        places.push(at);
        held.times += 1;
        for pointer in finding.pointers {
            if !held.finding.pointers.iter().any(|p| p.place == pointer.place) {
                held.finding.pointers.push(pointer);
            }
        }
        for subject in finding.subjects {
            if !held.finding.subjects.contains(&subject) {
                held.finding.subjects.push(subject);
            }
        }
    }
    name_all(&mut merged);
    (merged, places)
}

/// Gives every finding its id: of its rule, what it says but for figures, and the parts it is
/// about; those alike are numbered.
fn name_all(merged: &mut [Merged]) {
    let mut known: HashMap<String, usize> = HashMap::new();
    for entry in merged {
        let finding = &entry.finding;
        let mut subjects: Vec<&str> = finding.subjects.iter().map(String::as_str).collect();
        subjects.sort_unstable();
        let texts = [finding.rule.as_str(), &finding.template].into_iter().chain(subjects);
        let id = hash(texts);
        let times = known.entry(id.clone()).or_default();
        *times += 1;
        entry.id = if *times == 1 { id } else { format!("{id}-{times}") };
    }
}

/// A hash of texts that stays the same for every version of the program and the compiler: FNV-1a.
pub fn hash<'t>(texts: impl Iterator<Item = &'t str>) -> String {
    let step = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    let all =
        texts.fold(0xcbf2_9ce4_8422_2325, |hash, text| text.bytes().chain([0]).fold(hash, step));
    // In letters only: a number in hexadecimal may read as a word of some program's own.
    (0..16).rev().map(|at| char::from(b'a' + ((all >> (4 * at)) & 15) as u8)).collect()
}
