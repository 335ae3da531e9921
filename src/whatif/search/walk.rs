//! A rule's tree of questions walked for many builds at once: what it may end in.

use crate::audit::ask::Answer;
use crate::audit::expr::ExprId;
use crate::audit::memory::{Many, Stands, Tree};
use crate::audit::verdict::{Draft, Verdict};
use crate::level::Level;

use super::abstract_eval::Sight;
use super::classes::ByPlace;
use super::seen::Seen;
use crate::audit::interval::Span;
use crate::audit::ranges::{BREAK, NO, Possible, Ranges as _, YES};

/// Some build passes.
pub(crate) const PASS: u8 = 1;
/// Some build is stopped.
pub(crate) const BLOCK: u8 = 2;
/// Some build goes where no script has gone yet, or where only a full audit decides.
pub(crate) const UNKNOWN: u8 = 4;

/// Most questions looked at in one walk.
const MOST_QUESTIONS: usize = 4_000;
/// No such node.
const NONE: u32 = u32::MAX;

/// How much of a rule's ends is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Depth {
    /// Only whether every build is stopped: the first that is not ends the walk.
    AllStopped,
    /// Whether builds are stopped, pass, or both.
    Mixed,
    /// Every end.
    Whole,
}

/// What is known of one rule in one search.
#[derive(Default)]
pub(crate) struct Track {
    /// By node of its tree.
    nodes: Vec<Known>,
    /// Which places it rests on, and for how large a tree that was found out.
    deps: (usize, u64),
    /// From which level on a finding of its own stops a build; the shop's choice of level counts.
    pub(crate) level: Option<Level>,
    /// Another level that all of its findings have.
    pub(crate) chosen: Option<Level>,
    /// Whether a finding of it may be signed off, so that only a full audit decides.
    pub(crate) waivable: bool,
    /// How many builds in a row taught nothing new.
    pub(crate) misses: u32,
    /// Nodes of the tree of which it was found out after how many questions a build is stopped.
    settled: usize,
    stack: Vec<u32>,
    generation: u32,
    pub(super) seen: Seen,
    pub(super) classes: ByPlace,
}

/// What is known of a question.
enum Known {
    Nothing,
    /// It rests on nothing that may change.
    Fixed(Possible),
    /// It rests on one place: the answers by choice, and what they come to over the choices last
    /// looked at.
    One {
        place: usize,
        bits: Vec<u8>,
        over: (u32, u8),
    },
    /// The same for a question with many answers, with where each choice leads in a tree of some
    /// size.
    Many {
        place: usize,
        answers: Vec<Option<Answer>>,
        leads: (usize, Vec<u32>),
        over: (u32, Vec<u32>),
    },
    /// It rests on several places.
    Several,
    /// Where a way ends.
    End(u8),
}

impl Track {
    /// A rule with the levels that count for it.
    pub(crate) fn new(level: Option<Level>, chosen: Option<Level>, waivable: bool) -> Self {
        Self { level, chosen, waivable, ..Self::default() }
    }

    pub(super) fn keep_step(&mut self, tree: &Tree) {
        if self.generation != tree.generation() {
            self.generation = tree.generation();
            self.nodes.clear();
            self.settled = 0;
            self.deps = (0, 0);
            self.seen = Seen::default();
            self.classes = ByPlace::default();
        }
    }

    /// Where a rule has raised a stop, it stops whatever it asks after that: the way ends there.
    fn settle(&mut self, tree: &Tree) {
        for at in self.settled..tree.len() {
            let Some(Stands::Leaf(verdict)) = tree.node(at as u32) else { continue };
            let stops = verdict.drafts.iter().filter(|draft| self.stops(draft));
            let Some(asked) = stops.map(|draft| draft.asked).min() else { continue };
            let mut to = 0;
            for step in verdict.path.iter().take(asked) {
                if let Some(Stands::Ask { no, yes, many, .. }) = tree.node(to) {
                    to = child(&step.answer, no, yes, many);
                }
            }
            self.put(to, Known::End(self.stopped()));
        }
        self.settled = tree.len();
    }

    fn stops(&self, draft: &Draft) -> bool {
        self.level.is_some_and(|level| self.chosen.unwrap_or(draft.level) >= level)
    }

    /// What a way with a stop ends in.
    fn stopped(&self) -> u8 {
        if self.waivable { UNKNOWN } else { BLOCK }
    }

    /// Which places the rule rests on, as far as its tree is known.
    pub(crate) fn deps(&mut self, tree: &Tree, sight: &mut Sight<'_>) -> u64 {
        self.keep_step(tree);
        if self.deps.0 == tree.len() {
            return self.deps.1;
        }
        let (from, mut mask) = self.deps;
        for at in from..tree.len() {
            mask |= match tree.node(at as u32) {
                Some(Stands::Ask { ask, .. }) => sight.ask_deps(ask),
                Some(Stands::Leaf(verdict)) => verdict.value.map_or(0, |value| sight.deps(value)),
                None => 0,
            };
        }
        self.deps = (tree.len(), mask);
        mask
    }

    /// What the rule may end in.
    pub(crate) fn walk(
        &mut self,
        tree: &Tree,
        sight: &mut Sight<'_>,
        depth: Depth,
        mut ends: Option<&mut Vec<ExprId>>,
    ) -> u8 {
        self.keep_step(tree);
        self.settle(tree);
        let mut mask = 0;
        let mut steps = 0;
        let mut stack = std::mem::take(&mut self.stack);
        stack.clear();
        stack.push(0);
        while let Some(at) = stack.pop() {
            steps += 1;
            if steps > MOST_QUESTIONS {
                mask |= UNKNOWN;
                break;
            }
            let Some(node) = (at != NONE).then(|| tree.node(at)).flatten() else {
                mask |= UNKNOWN;
                continue;
            };
            match node {
                Stands::Leaf(verdict) => {
                    mask |= self.end(at, verdict);
                    if let (Some(ends), Some(value)) = (ends.as_deref_mut(), verdict.value)
                        && !ends.contains(&value)
                    {
                        ends.push(value);
                    }
                }
                Stands::Ask { .. } if let Some(end) = self.ended(at) => mask |= end,
                Stands::Ask { ask, no, yes, many } => {
                    self.learn(at, ask, sight);
                    mask |= self.follow(at, (ask, no, yes, many), tree.len(), sight, &mut stack);
                }
            }
            let enough = match depth {
                Depth::AllStopped => mask & (PASS | UNKNOWN) != 0,
                Depth::Mixed => mask & BLOCK != 0 && mask & (PASS | UNKNOWN) != 0,
                Depth::Whole => false,
            };
            if enough {
                break;
            }
        }
        self.stack = stack;
        mask
    }

    fn ended(&self, at: u32) -> Option<u8> {
        match self.nodes.get(at as usize) {
            Some(Known::End(end)) => Some(*end),
            _ => None,
        }
    }

    pub(super) fn end(&mut self, at: u32, verdict: &Verdict) -> u8 {
        if let Some(end) = self.ended(at) {
            return end;
        }
        let stops = verdict.drafts.iter().any(|draft| self.stops(draft));
        let end = if stops { self.stopped() } else { PASS };
        self.put(at, Known::End(end));
        end
    }

    fn put(&mut self, at: u32, known: Known) {
        let at = at as usize;
        if self.nodes.len() <= at {
            self.nodes.resize_with(at + 16, || Known::Nothing);
        }
        if let Some(slot) = self.nodes.get_mut(at) {
            *slot = known;
        }
    }

    fn learn(&mut self, at: u32, ask: &crate::audit::ask::Ask, sight: &mut Sight<'_>) {
        if self.nodes.get(at as usize).is_some_and(|k| !matches!(k, Known::Nothing)) {
            return;
        }
        let deps = sight.ask_deps(ask);
        let held = sight.pin.take();
        let known = match sight.notes.place_of(deps) {
            _ if deps == 0 => Known::Fixed(sight.answers(ask)),
            Some(place) if deps.is_power_of_two() => {
                let count = sight.space.places.get(place).map_or(0, |p| p.choices.len());
                let mut bits = Vec::with_capacity(count);
                let mut answers = Vec::new();
                for choice in (0u32..).take(count) {
                    sight.pin = Some((place, choice));
                    match sight.answers(ask) {
                        Possible::Bits(b) => bits.push(b),
                        Possible::These(mut these) => {
                            answers.push(if these.len() == 1 { these.pop() } else { None })
                        }
                        Possible::Any => answers.push(None),
                    }
                }
                if bits.len() == count {
                    Known::One { place, bits, over: (0, 0) }
                } else {
                    Known::Many { place, answers, leads: (0, Vec::new()), over: (0, Vec::new()) }
                }
            }
            _ => Known::Several,
        };
        sight.pin = held;
        self.put(at, known);
    }

    /// Goes on to every question or end that a question may lead to.
    fn follow(
        &mut self,
        at: u32,
        node: Branch<'_>,
        size: usize,
        sight: &mut Sight<'_>,
        stack: &mut Vec<u32>,
    ) -> u8 {
        let (ask, no, yes, many) = node;
        let pinned =
            |place: usize| sight.pin.filter(|(p, _)| *p == place).map(|(_, at)| at as usize);
        match self.nodes.get_mut(at as usize) {
            Some(Known::Fixed(Possible::Bits(bits))) => both(*bits, no, yes, stack),
            Some(Known::Fixed(possible)) => lead(possible, no, yes, many, stack),
            Some(Known::One { place, bits, over }) => {
                let answer = |choice: usize| bits.get(choice).copied().unwrap_or(NO | YES);
                let any = match (pinned(*place), sight.state.doms.get(*place)) {
                    (Some(choice), _) => answer(choice),
                    (None, Some(dom)) => {
                        if over.0 != dom.stamp() {
                            let all = dom.alive.iter().fold(0, |any, c| any | answer(*c as usize));
                            *over = (dom.stamp(), all);
                        }
                        over.1
                    }
                    (None, None) => NO | YES,
                };
                both(any, no, yes, stack)
            }
            Some(Known::Many { place, answers, leads, over }) => {
                if leads.0 != size {
                    let to = |a: &Option<Answer>| {
                        a.as_ref().map_or(ANYWHERE, |a| child(a, no, yes, many))
                    };
                    *leads = (size, answers.iter().map(to).collect());
                    over.0 = 0;
                }
                let one;
                let children: &[u32] = match (pinned(*place), sight.state.doms.get(*place)) {
                    (Some(choice), _) => {
                        one = [leads.1.get(choice).copied().unwrap_or(ANYWHERE)];
                        &one
                    }
                    (None, Some(dom)) => {
                        if over.0 != dom.stamp() {
                            *over = (dom.stamp(), led_to(&dom.alive, &leads.1));
                        }
                        &over.1
                    }
                    (None, None) => &[ANYWHERE],
                };
                if children.contains(&ANYWHERE) {
                    stack.extend(many.values());
                    return UNKNOWN;
                }
                stack.extend(children);
                0
            }
            _ => match sight.answers(ask) {
                Possible::Bits(bits) => both(bits, no, yes, stack),
                possible => lead(&possible, no, yes, many, stack),
            },
        }
    }

    /// What a measure can come to: its hull over every way that may be taken, and whether some way
    /// is not known.
    pub(crate) fn value(&mut self, tree: &Tree, sight: &mut Sight<'_>) -> (Span, bool) {
        let mut ends = Vec::new();
        let mask = self.walk(tree, sight, Depth::Whole, Some(&mut ends));
        let mut span = Span { gap: false, ..Span::NONE };
        for end in ends {
            span = span.join(sight.hull(end).span());
        }
        (span, mask & UNKNOWN != 0)
    }
}

/// A question with where its answers lead.
type Branch<'a> = (&'a crate::audit::ask::Ask, u32, u32, &'a Many);

/// A choice whose answer is not known: it may lead to any child.
const ANYWHERE: u32 = u32::MAX - 1;

fn both(bits: u8, no: u32, yes: u32, stack: &mut Vec<u32>) -> u8 {
    if bits & NO != 0 {
        stack.push(no);
    }
    if bits & YES != 0 {
        stack.push(yes);
    }
    if bits & BREAK != 0 { BLOCK } else { 0 }
}

/// Where the choices that are left lead, each place once.
fn led_to(alive: &[u32], leads: &[u32]) -> Vec<u32> {
    let mut all: Vec<u32> = alive.iter().filter_map(|c| leads.get(*c as usize)).copied().collect();
    all.sort_unstable();
    all.dedup();
    all
}

fn child(answer: &Answer, no: u32, yes: u32, many: &Many) -> u32 {
    match answer {
        Answer::Bool(false) => no,
        Answer::Bool(true) => yes,
        other => many.get(other),
    }
}

fn lead(possible: &Possible, no: u32, yes: u32, many: &Many, stack: &mut Vec<u32>) -> u8 {
    match possible {
        Possible::Bits(bits) => both(*bits, no, yes, stack),
        Possible::These(answers) => {
            for answer in answers {
                let next = child(answer, no, yes, many);
                if !stack.contains(&next) {
                    stack.push(next);
                }
            }
            0
        }
        Possible::Any => {
            stack.extend(many.values());
            UNKNOWN
        }
    }
}
