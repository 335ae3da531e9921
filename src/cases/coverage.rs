//! What the cases saw of the rules: which fired, which stayed silent, and how each comparison was
//! answered.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;

use super::CasesReport;
use crate::audit::ask::{Answer, Pos};
use crate::catalogue::Catalogue;
use crate::kit::{Audit, Outcome};
use crate::rules::loader::{RuleSet, ScriptFile};
use crate::rules::outline::Outline;
use crate::rules::tokens::Token;
use crate::source::{Label, Span};

/// What the cases saw.
#[derive(Default)]
pub(super) struct Seen {
    fired: HashSet<String>,
    silent: HashSet<String>,
    answers: BTreeMap<(u16, u16, u16), BTreeSet<bool>>,
    lines: HashSet<(u16, u16)>,
    raised: HashSet<Arc<str>>,
}

impl Seen {
    /// Notes which rules fired or stayed silent, and how their comparisons were answered.
    pub(super) fn look(&mut self, audit: &Audit) {
        for (rule, outcome) in audit.outcomes() {
            let Outcome::Known(verdict) = outcome else { continue };
            let fired = if rule.unit.is_some() {
                verdict.value.is_some()
            } else {
                !verdict.drafts.is_empty()
            };
            if fired {
                self.fired.insert(rule.id.to_string())
            } else {
                self.silent.insert(rule.id.to_string())
            };
            self.raised.extend(verdict.drafts.iter().map(|d| d.message.template.clone()));
            for step in verdict.path.iter() {
                let Pos { file, line, column } = step.pos;
                self.lines.insert((file, line));
                if let (Answer::Bool(answer), true) = (&step.answer, step.ask.compares()) {
                    self.answers.entry((file, line, column)).or_default().insert(*answer);
                }
            }
        }
    }

    /// Writes down what no case saw of a layer's rules.
    pub(super) fn report(
        &self,
        catalogue: &Catalogue,
        rules: &RuleSet,
        layer: &str,
        only: Option<&str>,
        report: &mut CasesReport,
    ) {
        for rule in rules
            .rules
            .iter()
            .filter(|r| r.flaw.is_none() && r.layer == layer && only.is_none_or(|o| *r.file == *o))
        {
            if !self.fired.contains(&*rule.id) {
                report.unfired.push(rule.id.to_string());
            }
            let judges = rule.unit.is_none() && rule.step.is_none();
            if judges && !self.silent.contains(&*rule.id) {
                report.unsilent.push(rule.id.to_string());
            }
        }
        let of_layer = |file: u16| {
            rules
                .files
                .get(file as usize)
                .filter(|f| f.layer == layer && only.is_none_or(|o| *f.stem == *o))
        };
        for ((file, line, column), answers) in &self.answers {
            if let (1, Some(file)) = (answers.len(), of_layer(*file)) {
                let at = file.source.offset(*line as usize, *column as usize);
                let label = Label {
                    source: file.source.clone(),
                    span: Span::new(at, at + 1),
                    text: String::new(),
                };
                report.one_sided.push((label, !answers.contains(&true)));
            }
        }
        for (file, at) in rules.files.iter().zip(0u16..).filter(|(_, at)| of_layer(*at).is_some()) {
            self.unreached(catalogue, file, at, report);
        }
    }

    /// Comparisons of figures on lines that no case asked anything on, and findings that no case
    /// raised: branches that nothing reached.
    fn unreached(
        &self,
        catalogue: &Catalogue,
        file: &ScriptFile,
        at: u16,
        report: &mut CasesReport,
    ) {
        let outline = Outline::read(&file.source.text);
        let mut told = HashSet::new();
        for (i, token) in outline.tokens.iter().enumerate() {
            let raises = ["stop", "caution", "advice", "step"].iter().any(|w| token.word(w))
                && outline.is(i, 1, "(");
            let template = outline.near(i, 2).and_then(Token::quoted).filter(|_| raises);
            let (line, _) = file.source.line_column(token.span.start());
            let small = u16::try_from(line).unwrap_or(u16::MAX);
            let missed = match template {
                Some(template) => !self.raised.contains(template),
                None => {
                    compares_figures(catalogue, &outline, i) && !self.lines.contains(&(at, small))
                }
            };
            if missed && told.insert(small) {
                report.unreached.push(Label {
                    source: file.source.clone(),
                    span: token.span,
                    text: String::new(),
                });
            }
        }
    }
}

/// Whether a sign compares fields of lines: plain numbers of the script's own ask nothing of the
/// build.
fn compares_figures(catalogue: &Catalogue, outline: &Outline<'_>, at: usize) -> bool {
    let sign = ["<", "<=", ">", ">="].iter().any(|s| outline.is(at, 0, s));
    let field = |name: isize| {
        outline
            .near(at, name)
            .is_some_and(|t| catalogue.kinds.iter().any(|k| k.field(t.text).is_some()))
    };
    sign && ((field(-1) && outline.is(at, -2, "."))
        || (outline.is(at, 2, ".") && field(3) && !outline.is(at, 4, "(")))
}
