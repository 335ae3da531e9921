//! Memory: for each rule, a tree of the questions it asked and where the answers led.
//!
//! A path known by its answers gives its verdict with no script run, for builds never seen before.

use std::rc::Rc;

use ahash::AHashMap;

use crate::audit::ask::{Answer, Ask, Step};
use crate::audit::eval::View;
use crate::audit::verdict::Verdict;
use crate::build::lack::Lack;

/// No such node.
const NONE: u32 = u32::MAX;

/// Where answers other than yes and no lead. Counts are told apart by comparing, the few first;
/// most nodes have none and pay one pointer.
#[derive(Debug, Default)]
pub(crate) struct Many(Option<Box<Answers>>);

#[derive(Debug, Default)]
struct Answers {
    few: Vec<(Answer, u32)>,
    rest: AHashMap<Answer, u32>,
}

/// Answers that are looked through one by one.
const LINEAR_SEARCH_MAX: usize = 8;

impl Many {
    /// The node that an answer leads to.
    pub(crate) fn get(&self, answer: &Answer) -> u32 {
        let Some(held) = &self.0 else { return NONE };
        match held.few.iter().find(|(known, _)| known == answer) {
            Some((_, at)) => *at,
            None if held.rest.is_empty() => NONE,
            None => held.rest.get(answer).copied().unwrap_or(NONE),
        }
    }

    /// Every node that some answer leads to.
    pub(crate) fn values(&self) -> impl Iterator<Item = &u32> {
        self.0.iter().flat_map(|held| held.few.iter().map(|(_, at)| at).chain(held.rest.values()))
    }

    /// Where the node of an answer is kept, none yet if it is new.
    fn slot(&mut self, answer: &Answer) -> &mut u32 {
        let held = self.0.get_or_insert_default();
        let found = held.few.iter().position(|(known, _)| known == answer);
        let at = match found {
            Some(at) => at,
            None if held.few.len() >= LINEAR_SEARCH_MAX => {
                return held.rest.entry(answer.clone()).or_insert(NONE);
            }
            None => {
                held.few.push((answer.clone(), NONE));
                held.few.len() - 1
            }
        };
        &mut held.few[at].1
    }
}

/// The questions of one rule.
#[derive(Debug, Default)]
pub struct Tree {
    nodes: Vec<Node>,
    /// Nodes, and what its verdicts hold.
    weight: usize,
    /// How often it was emptied: what was noted beside its nodes before is of no use after.
    generation: u32,
}

#[derive(Debug)]
enum Node {
    Ask { ask: Ask, no: u32, yes: u32, many: Many },
    Leaf(Rc<Verdict>),
}

/// What a walk came to.
#[derive(Debug)]
pub enum Walk {
    /// A known verdict.
    Known(Rc<Verdict>),
    /// The script must run.
    Unknown,
    /// A question about a line whose part is not chosen.
    Waits(Lack),
}

/// A node as a walk sees it; a child that is not known yet has no node.
pub(crate) enum Stands<'a> {
    /// A question with where no, yes, or another answer leads.
    Ask { ask: &'a Ask, no: u32, yes: u32, many: &'a Many },
    /// The end of a known way.
    Leaf(&'a Rc<Verdict>),
}

/// A rule answered otherwise on the same answers: it looks at something that is not traced, or at
/// chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Impure;

impl Tree {
    /// Follows answers that are given one by one, as far as they are known.
    pub(crate) fn walk_by(
        &self,
        mut answer: impl FnMut(&Ask) -> Result<Option<Answer>, Lack>,
    ) -> Walk {
        self.follow(|ask, [no, yes], many| {
            Ok(answer(ask)?.map(|answer| match answer {
                Answer::Bool(false) => no,
                Answer::Bool(true) => yes,
                answer => many.get(&answer),
            }))
        })
    }

    /// Follows a build's answers as far as they are known.
    pub fn walk(&self, view: View<'_>) -> Walk {
        // The most are of yes or no, and their answers need no room in memory.
        self.follow(|ask, [no, yes], many| match ask {
            Ask::Lines(_) | Ask::Len(_) | Ask::Value(_) | Ask::Assigned(_) => {
                Ok(view.answer(ask)?.map(|answer| many.get(&answer)))
            }
            _ => Ok(view.holds(ask)?.map(|held| if held { yes } else { no })),
        })
    }

    /// Goes where each question leads; none where it has no answer.
    #[inline]
    fn follow(
        &self,
        mut leads: impl FnMut(&Ask, [u32; 2], &Many) -> Result<Option<u32>, Lack>,
    ) -> Walk {
        let mut at = 0u32;
        loop {
            let next = match self.nodes.get(at as usize) {
                None => return Walk::Unknown,
                Some(Node::Leaf(verdict)) => return Walk::Known(verdict.clone()),
                Some(Node::Ask { ask, no, yes, many }) => leads(ask, [*no, *yes], many),
            };
            at = match next {
                Err(lack) => return Walk::Waits(lack),
                Ok(None) => return Walk::Unknown,
                Ok(Some(next)) => next,
            };
        }
    }

    /// Adds a path and its verdict.
    /// Errors: the path parts from a known one without a differing answer.
    pub fn insert(&mut self, path: &[Step], verdict: &Rc<Verdict>) -> Result<(), Impure> {
        let mut at = 0usize;
        for step in path {
            if at == self.nodes.len() {
                self.nodes.push(Node::Ask {
                    ask: step.ask.clone(),
                    no: NONE,
                    yes: NONE,
                    many: Many::default(),
                });
                self.weight += 1;
            }
            let fresh = u32::try_from(self.nodes.len()).unwrap_or(NONE);
            let next = match self.nodes.get_mut(at) {
                Some(Node::Ask { ask, no, yes, many }) if *ask == step.ask => match &step.answer {
                    Answer::Bool(false) => no,
                    Answer::Bool(true) => yes,
                    answer => many.slot(answer),
                },
                _ => return Err(Impure),
            };
            if *next == NONE {
                *next = fresh;
            }
            at = *next as usize;
        }
        match self.nodes.get(at) {
            None => {
                self.nodes.push(Node::Leaf(verdict.clone()));
                self.weight += 1 + verdict.weight();
                Ok(())
            }
            Some(Node::Leaf(known))
                if known.drafts == verdict.drafts && known.value == verdict.value =>
            {
                Ok(())
            }
            Some(_) => Err(Impure),
        }
    }

    /// What stands at a node, for a walk over more than one build at a time; node 0 is the first
    /// question.
    pub(crate) fn node(&self, at: u32) -> Option<Stands<'_>> {
        self.nodes.get(at as usize).map(|node| match node {
            Node::Leaf(verdict) => Stands::Leaf(verdict),
            Node::Ask { ask, no, yes, many } => Stands::Ask { ask, no: *no, yes: *yes, many },
        })
    }

    /// How often it was emptied.
    pub(crate) fn generation(&self) -> u32 {
        self.generation
    }

    /// Nodes held.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Nodes, and what its verdicts hold: what memory is bounded by.
    pub fn weight(&self) -> usize {
        self.weight
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.nodes = Vec::new();
        self.weight = 0;
        self.generation += 1;
    }
}
