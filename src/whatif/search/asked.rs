//! Which kinds of lines a rule asked about: as long as nothing of these kinds changes, it says the
//! same.

use std::collections::BTreeSet;

use ahash::AHashSet;

use crate::audit::ask::Ask;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord, Pool};
use crate::audit::memory::Stands;
use crate::audit::verdict::Verdict;
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::KindId;
use crate::kit::{Audit, Kit};

/// Kinds of lines that were asked about.
#[derive(Debug, Default)]
pub(crate) struct Asked {
    /// Those kinds.
    pub(crate) kinds: BTreeSet<KindId>,
    /// Those of them that were asked where they are fitted or which way they blow.
    pub(crate) placed: BTreeSet<KindId>,
    /// Whether every kind was asked about.
    pub(crate) every: bool,
}

impl Asked {
    /// Takes in what another asked.
    pub(crate) fn join(&mut self, other: Self) {
        self.kinds.extend(other.kinds);
        self.placed.extend(other.placed);
        self.every |= other.every;
    }

    fn ask(&mut self, pool: &Pool, catalogue: &Catalogue, ask: &Ask, seen: &mut AHashSet<ExprId>) {
        if let Ask::Has(kind, _) | Ask::Chosen(kind, _) | Ask::Lines(kind) = ask {
            self.kinds.insert(*kind);
        }
        for expr in ask.exprs() {
            self.expr(pool, catalogue, expr, seen);
        }
    }

    fn expr(
        &mut self,
        pool: &Pool,
        catalogue: &Catalogue,
        id: ExprId,
        seen: &mut AHashSet<ExprId>,
    ) {
        let mut open = vec![id];
        while let Some(id) = open.pop() {
            if !seen.insert(id) {
                continue;
            }
            match pool.get(id) {
                Expr::Line(kind, _, word) => {
                    self.kinds.insert(*kind);
                    if matches!(word, LineWord::Mount | LineWord::Flow | LineWord::FlowUsual) {
                        self.placed.insert(*kind);
                    }
                }
                Expr::Field(kind, ..) | Expr::Sub(kind, ..) | Expr::Pieces(kind) => {
                    self.kinds.insert(*kind);
                }
                Expr::Sum(name) => {
                    self.kinds.extend(catalogue.kinds_with(name).iter().map(|(kind, _)| *kind));
                }
                Expr::Build(BuildWord::Total | BuildWord::Unpriced) | Expr::Derived(_) => {
                    self.every = true;
                }
                Expr::Cell(_, _, a) | Expr::Measure(_, a) | Expr::Un(_, a) => open.push(*a),
                Expr::KeyOf(a, b) | Expr::Bin(_, a, b) => open.extend([*a, *b]),
                Expr::Func(_, args) => open.extend(args.iter().copied()),
                Expr::Assign(assign) => open.extend(assign.exprs()),
                Expr::Const(_) | Expr::Word(_) | Expr::Setting(_) | Expr::Build(_) => {}
            }
        }
    }

    fn verdict(&mut self, pool: &Pool, catalogue: &Catalogue, verdict: &Verdict) {
        let mut seen = AHashSet::new();
        for step in verdict.path.iter() {
            self.ask(pool, catalogue, &step.ask, &mut seen);
        }
    }
}

/// What a rule asked on any build so far: of its tree, which grows, each node is looked at once.
#[derive(Default)]
pub(crate) struct AskedByRule {
    asked: Asked,
    /// Nodes of the tree that were looked at, and expressions below them.
    nodes: usize,
    seen: AHashSet<ExprId>,
    generation: u32,
}

impl AskedByRule {
    /// With what the rule has asked by now.
    pub(crate) fn now(&mut self, kit: &Kit, rule: u16) -> &Asked {
        let (host, _) = kit.inside();
        let held = host.state.borrow();
        let Some(tree) = held.trees.get(rule as usize) else { return &self.asked };
        if self.generation != tree.generation() {
            // What was asked before stays asked.
            (self.nodes, self.generation) = (0, tree.generation());
            self.seen.clear();
        }
        for at in self.nodes..tree.len() {
            if let Some(Stands::Ask { ask, .. }) = tree.node(at as u32) {
                self.asked.ask(&held.pool, kit.catalogue(), ask, &mut self.seen);
            }
        }
        self.nodes = tree.len();
        &self.asked
    }
}

/// What some rules asked on the way to their verdicts on a build.
pub(crate) fn of_verdict(
    audit: &Audit,
    which: impl Fn(u16) -> bool,
    mut told: impl FnMut(u16, Asked),
) {
    let catalogue = audit.build().catalogue.clone();
    let mut all = Vec::new();
    audit.with_view(|view, _| {
        for (rule, verdict) in audit.verdicts().filter(|(rule, _)| which(*rule)) {
            let mut asked = Asked::default();
            match verdict {
                Some(verdict) => asked.verdict(view.pool, &catalogue, verdict),
                None => asked.every = true,
            }
            all.push((rule, asked));
        }
    });
    all.into_iter().for_each(|(rule, asked)| told(rule, asked));
}
