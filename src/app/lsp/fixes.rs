//! Changes that clear findings, as code actions.

use std::time::{Duration, Instant};

use lsp_types::{CodeAction, CodeActionKind, Diagnostic};
use serde_json::{Value, json};

use super::positions::Encoding;
use super::text_edits;
use crate::app::repairs::{Bench, Repair, Target};
use crate::whatif::search::SearchLimits;

/// How long the smallest repair of all is looked for where nobody asked for it alone.
const SOON: Duration = Duration::from_secs(2);

/// What code actions are wanted for.
pub(crate) struct Wanted {
    /// The text's name in the editor.
    pub(crate) uri: String,
    /// Findings to clear, with what the editor was told of each.
    pub(crate) findings: Vec<(Target, Diagnostic)>,
    /// Whether every stop is to be cleared.
    pub(crate) all: bool,
    /// Whether that is asked for as `source.fixAll`.
    pub(crate) fix_all: bool,
}

/// The code actions that were found.
pub(crate) fn found(
    bench: &mut Bench,
    wanted: &Wanted,
    encoding: Encoding,
    limits: SearchLimits<'_>,
) -> Vec<Value> {
    let mut actions = Vec::new();
    for (target, said) in &wanted.findings {
        for (nth, swap) in bench.swaps(target, limits).iter().enumerate() {
            let title = format!("{}: clears {}", swap.title, target.rule);
            let edits = text_edits::of(&bench.source.text, &swap.replacements, encoding);
            let best = nth == 0 && swap.cautions() == 0;
            let kind = CodeActionKind::QUICKFIX;
            actions.push(action(&title, kind, &wanted.uri, edits, Some(said), best));
        }
    }
    if !wanted.all {
        return actions;
    }
    // Beside swaps it is offered as far as it is found while somebody waits.
    let soon = Instant::now().checked_add(SOON).filter(|_| !wanted.fix_all);
    let until = [limits.until, soon].into_iter().flatten().min();
    let ways = bench.ways(SearchLimits { until, ..limits });
    let (kind, most) = match wanted.fix_all {
        true => (CodeActionKind::SOURCE_FIX_ALL, 1),
        false => (CodeActionKind::QUICKFIX, ways.len()),
    };
    let mend = |way: &Repair| {
        let edits = text_edits::of(&bench.source.text, &way.replacements, encoding);
        action(&way.title, kind.clone(), &wanted.uri, edits, None, false)
    };
    actions.extend(ways.iter().take(most).map(mend));
    actions
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
