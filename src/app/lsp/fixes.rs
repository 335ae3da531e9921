//! Changes that clear findings, as code actions: each swap was audited with every rule, and its
//! text read again, before it is offered.

use std::time::{Duration, Instant};

use lsp_types::{CodeAction, CodeActionKind, Diagnostic};
use serde_json::{Value, json};

use super::searcher::Bench;
use super::text_edits;
use crate::app::counted::count;
use crate::level::Level;
use crate::source::Problems;
use crate::trade::money::Money;
use crate::whatif::edit::{self, Edit};
use crate::whatif::fit::FitRow;
use crate::whatif::mend::edits;
use crate::whatif::search::SearchLimits;
use crate::whatif::trial::Snapshot;

/// Swaps offered for one finding.
const SWAPS: usize = 3;
/// Lines of one finding whose parts are tried.
const LINES: usize = 4;
/// Sets of changes offered that clear every stop.
const WAYS: usize = 3;

/// How long the smallest repair of all is looked for where nobody asked for it alone.
const SOON: Duration = Duration::from_secs(5);

/// What code actions are wanted for.
pub(crate) struct Wanted {
    /// The text's name in the editor.
    pub(crate) uri: String,
    /// Findings to clear.
    pub(crate) findings: Vec<Finding>,
    /// Whether every stop is to be cleared.
    pub(crate) all: bool,
    /// Whether that is asked for as `source.fixAll`.
    pub(crate) fix_all: bool,
}

/// A finding to clear.
pub(crate) struct Finding {
    /// The rule.
    pub(crate) rule: String,
    /// The lines that it rests on, from 0, the likeliest first.
    pub(crate) lines: Vec<usize>,
    /// What the editor was told of it.
    pub(crate) said: Diagnostic,
}

/// The code actions that were found.
///
/// # Errors
/// An edit of the text that cannot be made.
pub(crate) fn found(
    bench: &mut Bench,
    wanted: &Wanted,
    limits: SearchLimits<'_>,
) -> Result<Vec<Value>, Problems> {
    let mut actions = Vec::new();
    for finding in &wanted.findings {
        let mut swaps = Vec::new();
        for line in finding.lines.iter().take(LINES) {
            swaps.extend(swaps_on(bench, finding, *line, limits));
        }
        swaps.sort_by_key(|s| (s.raised, s.more.is_none(), s.more.map_or(0, |m| m.minor())));
        for (nth, swap) in swaps.into_iter().take(SWAPS).enumerate() {
            let edits = text_edits::between(&bench.source.text, &swap.text, bench.encoding);
            actions.push(action(
                &swap.title(&finding.rule),
                CodeActionKind::QUICKFIX,
                &wanted.uri,
                edits,
                Some(&finding.said),
                nth == 0 && swap.raised == 0,
            ));
        }
    }
    if wanted.all {
        actions.extend(mends(bench, wanted, limits)?);
    }
    Ok(actions)
}

/// A swap that clears a finding.
struct Swap {
    name: String,
    line: usize,
    more: Option<Money>,
    /// Cautions that come with it.
    raised: usize,
    /// The list with it.
    text: String,
}

impl Swap {
    fn title(&self, rule: &str) -> String {
        let more = self.more.map_or_else(|| "no offer".to_owned(), signed);
        let cautions = match self.raised {
            0 => String::new(),
            n => format!(", raises {}", count(n, "caution")),
        };
        let name = &self.name;
        format!("Swap line {} for {name} ({more}{cautions}): clears {rule}", self.line + 1)
    }
}

fn signed(money: Money) -> String {
    if money.minor() > 0 { format!("+{money}") } else { money.to_string() }
}

/// The best swaps on one line, proven.
fn swaps_on(
    bench: &mut Bench,
    finding: &Finding,
    line: usize,
    limits: SearchLimits<'_>,
) -> Vec<Swap> {
    let fit = bench.fit(line, limits);
    let clears = |row: &&FitRow| {
        row.stops() == 0 && row.cleared.iter().any(|(rule, _)| *rule == finding.rule)
    };
    let mut rows: Vec<&FitRow> =
        fit.rows.iter().filter(clears).filter(|r| r.price.is_some()).collect();
    rows.sort_by_key(|r| (r.cautions(), r.more.is_none(), r.more.map_or(0, |m| m.minor())));
    let mut swaps = Vec::new();
    for row in rows {
        if swaps.len() >= SWAPS || limits.over() {
            break;
        }
        let edit = Edit::Part { line, part: row.part.id.to_string() };
        let Ok(text) = edit::apply(&bench.source.text, &[edit]) else { continue };
        if proven(bench, &text, finding) {
            swaps.push(Swap {
                name: row.part.name.to_string(),
                line,
                more: row.more,
                raised: row.cautions(),
                text,
            });
        }
    }
    swaps
}

/// Whether a text reads, and its rule finds less than before, with nothing left open.
fn proven(bench: &Bench, text: &str, finding: &Finding) -> bool {
    let source = crate::source::Source::new(bench.source.name.clone(), text);
    let of = |source| Snapshot::of(&bench.kit, source, bench.today);
    let (Ok(before), Ok(after)) = (of(&bench.source), of(&source)) else { return false };
    let number =
        |s: &Snapshot| s.briefs.iter().filter(|b| *b.rule == *finding.rule && !b.waived).count();
    let open = after.audit.open_rules().iter().any(|o| o.rule == finding.rule);
    !open && number(&after) < number(&before)
}

/// Sets of changes that clear every stop.
fn mends(
    bench: &mut Bench,
    wanted: &Wanted,
    limits: SearchLimits<'_>,
) -> Result<Vec<Value>, Problems> {
    // Beside swaps it is offered as far as it is found while somebody waits.
    let soon = Instant::now().checked_add(SOON).filter(|_| !wanted.fix_all);
    let until = [limits.until, soon].into_iter().flatten().min();
    let mend = bench.mend(SearchLimits { until, ..limits });
    let mut actions = Vec::new();
    for (nth, way) in mend.ways.iter().take(WAYS).enumerate() {
        let text = edit::apply(&bench.source.text, &edits(&way.changes))?;
        let source = crate::source::Source::new(bench.source.name.clone(), text.clone());
        let Ok(after) = Snapshot::of(&bench.kit, &source, bench.today) else { continue };
        if after.audit.worst() == Some(Level::Stop) || !after.audit.broken().is_empty() {
            continue;
        }
        let proof = if mend.proven { "no smaller fix exists" } else { "best so far" };
        let title = format!(
            "Mend every stop: {} ({}; {proof})",
            count(way.changes.len(), "change"),
            signed(way.more)
        );
        let kind = match wanted.fix_all {
            true if nth == 0 => CodeActionKind::SOURCE_FIX_ALL,
            true => continue,
            false => CodeActionKind::QUICKFIX,
        };
        let edits = text_edits::between(&bench.source.text, &text, bench.encoding);
        actions.push(action(&title, kind, &wanted.uri, edits, None, false));
    }
    Ok(actions)
}

/// A code action that edits one text.
pub(crate) fn action(
    title: &str,
    kind: CodeActionKind,
    uri: &str,
    edits: Vec<lsp_types::TextEdit>,
    said: Option<&Diagnostic>,
    preferred: bool,
) -> Value {
    let action = CodeAction {
        title: title.to_owned(),
        kind: Some(kind),
        diagnostics: said.map(|d| vec![d.clone()]),
        is_preferred: preferred.then_some(true),
        ..CodeAction::default()
    };
    let mut action = json!(action);
    let edit = json!({ "changes": { uri: edits } });
    if let Some(action) = action.as_object_mut() {
        action.insert("edit".to_owned(), edit);
    }
    action
}
