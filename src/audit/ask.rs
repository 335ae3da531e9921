//! The questions a rule asks of a build: the nodes of its memory.

use std::sync::Arc;

use crate::audit::expr::{ExprId, WEIGHT_BYTES};
use crate::catalogue::kinds::KindId;
use crate::catalogue::value::Val;

/// A question that a script put to the build.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Ask {
    /// Is there an nth line of this kind?
    Has(KindId, u16),
    /// Is the part of this line chosen? There is one answer only: while it is open, the rule waits.
    Chosen(KindId, u16),
    /// How many lines of this kind are there?
    Lines(KindId),
    /// Is there a value, and a finite one if a number?
    Present(ExprId),
    /// Is the flag set?
    Truth(ExprId),
    /// Is the first less than the second?
    Less(ExprId, ExprId),
    /// Is the first at most the second?
    LessEqual(ExprId, ExprId),
    /// Are they the same?
    Equal(ExprId, ExprId),
    /// Does the list hold the word?
    Contains(ExprId, ExprId),
    /// How long is the list?
    Len(ExprId),
    /// What exactly is it?
    Value(ExprId),
    /// Which thing gets which place?
    Assigned(ExprId),
}

impl Ask {
    /// The expressions it looks at.
    pub fn exprs(&self) -> impl Iterator<Item = ExprId> {
        let (a, b) = match self {
            Self::Has(..) | Self::Chosen(..) | Self::Lines(_) => (None, None),
            Self::Present(a)
            | Self::Truth(a)
            | Self::Len(a)
            | Self::Value(a)
            | Self::Assigned(a) => (Some(*a), None),
            Self::Less(a, b) | Self::LessEqual(a, b) | Self::Equal(a, b) | Self::Contains(a, b) => {
                (Some(*a), Some(*b))
            }
        };
        a.into_iter().chain(b)
    }

    /// Whether it compares two things, so that it can decide a finding by a margin.
    pub fn compares(&self) -> bool {
        matches!(
            self,
            Self::Less(..)
                | Self::LessEqual(..)
                | Self::Equal(..)
                | Self::Contains(..)
                | Self::Truth(_)
        )
    }
}

/// What a build answers.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Answer {
    /// Yes or no.
    Bool(bool),
    /// A number of things.
    Count(u32),
    /// The value itself.
    Value(Val),
    /// For each thing the ways of its pieces that have one.
    Places(Arc<[Box<[u16]>]>),
}

impl Answer {
    /// Bytes held beside the answer itself.
    fn bytes(&self) -> usize {
        match self {
            Self::Bool(_) | Self::Count(_) => 0,
            Self::Value(value) => value.bytes(),
            Self::Places(ways) => ways.iter().map(|ways| size_of_val(ways) + 2 * ways.len()).sum(),
        }
    }

    /// What it weighs among what is remembered, beside the step or node that has it.
    pub(crate) fn weight(&self) -> usize {
        self.bytes() / WEIGHT_BYTES
    }
}

/// Where in a script a question was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Pos {
    /// Which rule file.
    pub file: u16,
    /// Line, from 1; 0 when unknown.
    pub line: u16,
    /// Column, from 1, in Unicode scalars.
    pub column: u16,
}

/// A question, its answer, and where it was asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The question.
    pub ask: Ask,
    /// The answer.
    pub answer: Answer,
    /// Where.
    pub pos: Pos,
    /// The measure in which it was asked, if not in the rule itself.
    pub measure: Option<u16>,
}
