//! A brief's wants and aims as rules: what a customer asks for is held to builds in the same way as
//! what the shop knows.

use std::sync::Arc;

use rhai::{Dynamic, ParseErrorType, Scope};

use crate::build::brief::{Brief, Written};
use crate::kit::{Kit, Layers};
use crate::layer::Layer;
use crate::rules::errors;
use crate::rules::errors::SYNTAX;
use crate::rules::loader::BrokenRule;
use crate::source::{Label, Problem, Problems, Source, Span};
use crate::whatif::plan::PlanWish;
use crate::whatif::search::query::Goal;
use crate::words::{clip, nearest};

/// The rule file that a brief becomes; its stem is the first half of the ids.
const FILE: &str = "brief.rhai";
/// Id of the rule that holds builds to the budget.
pub(crate) const BUDGET: &str = "brief.budget";

/// A kit whose rules hold builds to a brief as well.
pub(crate) struct Wished {
    pub(crate) kit: Kit,
    /// The rules of the wants, in their order.
    pub(crate) wants: Vec<u16>,
    /// What to reach for, the most important first, each with its name; the price is always among
    /// them.
    pub(crate) goals: Vec<(Goal, String)>,
    lines: Vec<BriefRule>,
    brief: Arc<Source>,
    rule_file: String,
}

/// A want or an aim as a function of the brief's rule file.
struct BriefRule {
    /// The whole function in the rule file.
    whole: Span,
    /// The want's own text in it.
    text: Span,
    /// The want in the brief.
    what: Written,
}

/// The rule file that a brief becomes.
struct RuleFile {
    text: String,
    lines: Vec<BriefRule>,
    /// The id of each aim's measure, whether more of it is better, and how the brief writes it.
    aims: Vec<(String, bool, String)>,
}

fn rule_file(base: &Kit, brief: &Brief) -> RuleFile {
    let mut text = String::from("//! What the customer asked for.\n\n");
    let mut lines = Vec::new();
    for (nth, want) in brief.wants.iter().enumerate() {
        let head = format!(
            "/// The customer's wish {}.\n/// Basis: the brief.\nfn want_{}(build) {{\nif (",
            nth + 1,
            nth + 1
        );
        write(
            &mut text,
            &mut lines,
            &head,
            want,
            &format!(
                ") {{ return; }}\nstop(\"not as the customer wished: wish {}\", #{{}});\n}}\n\n",
                nth + 1
            ),
        );
    }
    text.push_str(
        "/// The total is within the budget.\n/// Basis: the brief.\nfn budget(build) \
     {\nif build.has(\"budget\") && build.total > build.budget { stop(\"{total} is over the \
     budget\", #{ total: build.total }); }\n}\n\n",
    );
    let mut aims = Vec::new();
    for (nth, aim) in brief.aims.iter().enumerate() {
        let known = is_known(base, &aim.what);
        if !known {
            let head = format!(
                "/// Aim {}.\n/// Basis: the brief.\n/// Unit: points\nfn aim_{}(build) {{\n(",
                nth + 1,
                nth + 1
            );
            write(&mut text, &mut lines, &head, &aim.what, ")\n}\n\n");
        }
        let id = if known { aim.what.text.clone() } else { format!("brief.aim_{}", nth + 1) };
        aims.push((id, aim.most, aim.what.text.clone()));
    }
    RuleFile { text, lines, aims }
}

/// Makes a kit of the shop's rules and a brief.
/// Errors: a want or an aim that cannot be read, with its place in the brief.
pub(crate) fn wished(layers: &Layers, base: &Kit, brief: &Brief) -> Result<Wished, Problems> {
    check(base, brief)?;
    let RuleFile { text, lines, aims } = rule_file(base, brief);
    let layer = Layer::from_texts("the brief", &[(FILE, &text)]);
    let rule_file = layer.files.first().map_or_else(String::new, |(_, s)| s.name.clone());
    let mut layers = layers.rules.clone();
    layers.push(layer);
    let kit = Kit::with_catalogue(base.catalogue().clone(), &layers)?;
    let rules = kit.rules();
    let mut goals = Vec::new();
    for (id, most, name) in aims {
        match (id.as_str(), rules.find(&id)) {
            ("price", _) => goals.push((Goal::Price, name)),
            (_, Some(rule)) => goals.push((Goal::Measure { rule, most }, name)),
            _ => {}
        }
    }
    if !goals.iter().any(|(g, _)| *g == Goal::Price) {
        goals.push((Goal::Price, "price".to_owned()));
    }
    let wants =
        (1..=brief.wants.len()).filter_map(|n| rules.find(&format!("brief.want_{n}"))).collect();
    let wished = Wished { kit, wants, goals, lines, brief: brief.build.source.clone(), rule_file };
    let own: Vec<Problem> = rules
        .broken_rules()
        .filter(|b| wished.is_own(&b.problem))
        .map(|b| wished.in_the_brief(b))
        .collect();
    Problems(own).or(wished)
}

/// Whether an aim is the price or a measure's id.
fn is_known(base: &Kit, aim: &Written) -> bool {
    aim.text == "price" || base.rules().rule(&aim.text).is_some_and(|r| r.unit.is_some())
}

/// Each want and aim must be one expression by itself.
fn check(base: &Kit, brief: &Brief) -> Result<(), Problems> {
    let (_, engine) = base.inside();
    let mut scope = Scope::new();
    scope.push_dynamic("build", Dynamic::UNIT);
    let mut wrong = Problems::default();
    let aims: Vec<&Written> =
        brief.aims.iter().map(|a| &a.what).filter(|what| !is_known(base, what)).collect();
    for what in brief.wants.iter().chain(aims.iter().copied()) {
        let Err(error) = engine.compile_expression_with_scope(&scope, &what.text) else { continue };
        let text = Source::new("<expression>", what.text.as_str());
        let mut problem = errors::syntax(&text, &error);
        problem.message = "this expression cannot be read".to_owned();
        let label = problem.labels.first().map_or_else(|| "here".to_owned(), |l| l.text.clone());
        problem.labels =
            vec![Label { source: brief.build.source.clone(), span: what.span, text: label }];
        if aims.iter().any(|a| std::ptr::eq(*a, what)) {
            let rules = base.rules();
            let names =
                rules.rules.iter().filter(|r| r.unit.is_some()).map(|r| &*r.id).chain(["price"]);
            problem = match nearest(&what.text, names) {
                _ if rules.rule(&what.text).is_some() => {
                    problem.message = format!("`{}` is a rule, not a measure", what.text);
                    problem.help("an aim is a measure, which has a unit")
                }
                Some(near) => {
                    problem.message = format!("there is no measure `{}`", clip(&what.text, 60));
                    problem.help(format!("did you mean `{near}`?"))
                }
                None => problem.help(
                    "an aim is `price`, the id of a measure (`dryfit rules \
                 list`), or an expression over `build`",
                ),
            };
        } else if matches!(error.err_type(), ParseErrorType::VariableUndefined(_)) {
            problem =
                problem.help("a want asks something of the build: `build.graphics.memory_gb >= 8`");
        }
        wrong.push(problem);
    }
    wrong.or(())
}

fn write(text: &mut String, lines: &mut Vec<BriefRule>, head: &str, what: &Written, tail: &str) {
    let start = text.len();
    text.push_str(head);
    text.push('\n');
    let from = text.len();
    text.push_str(&what.text);
    let own = Span::new(from, text.len());
    text.push('\n');
    text.push_str(tail);
    lines.push(BriefRule { whole: Span::new(start, text.len()), text: own, what: what.clone() });
}

impl Wished {
    /// What a rule holds builds to: a want is known by its own text.
    pub(crate) fn wish(&self, brief: &Brief, rule: &str) -> PlanWish {
        let at = self.kit.rules().find(rule);
        let want = at
            .and_then(|at| self.wants.iter().position(|want| *want == at))
            .and_then(|nth| brief.wants.get(nth));
        match want {
            Some(want) => PlanWish::Want(want.text.clone()),
            None if rule == BUDGET => PlanWish::Budget,
            None => PlanWish::Rule(rule.to_owned()),
        }
    }

    /// Whether a rule is one that the brief became.
    pub(crate) fn is_wish(&self, rule: &str) -> bool {
        let rules = self.kit.rules();
        let file = rules.rule(rule).and_then(|r| rules.files.get(r.file_at as usize));
        file.is_some_and(|f| f.source.name == self.rule_file)
    }

    fn is_own(&self, problem: &Problem) -> bool {
        problem.labels.iter().any(|l| l.source.name == self.rule_file)
    }

    /// A problem of the rule file that the brief became, at its place in the brief.
    pub(crate) fn in_the_brief(&self, broken: BrokenRule) -> Problem {
        if !self.is_own(&broken.problem) {
            return broken.told();
        }
        let BrokenRule { rule, mut problem } = broken;
        let mut labels: Vec<Label> = Vec::new();
        for label in problem.labels {
            if label.source.name != self.rule_file {
                labels.push(label);
                continue;
            }
            let within =
                |s: &Span| s.start() <= label.span.start() && label.span.start() <= s.end();
            if let Some(BriefRule { text: span, what, .. }) =
                self.lines.iter().find(|asked| within(&asked.whole))
            {
                let quoted = self.brief.slice(what.span);
                // An escape in the text moves what follows it, and then the whole text is pointed
                // at.
                let exact = within(span)
                    && quoted.get(1..quoted.len().saturating_sub(1)) == Some(what.text.as_str());
                let from = what.span.start() + 1 + label.span.start().saturating_sub(span.start());
                let len = (label.span.end().min(span.end())).saturating_sub(label.span.start());
                let span = if exact { Span::new(from, from + len) } else { what.span };
                labels.push(Label { source: self.brief.clone(), span, text: label.text });
            }
        }
        labels.dedup_by(|a, b| a.span == b.span && Arc::ptr_eq(&a.source, &b.source));
        problem.labels = labels;
        if rule.is_some() {
            problem.message = format!("this cannot be asked: {}", problem.message);
        } else if problem.code == SYNTAX {
            problem.message = "this expression cannot be read".to_owned();
        }
        problem
    }
}
