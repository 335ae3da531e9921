//! What a rule said, before it is put in words: the leaves of its memory.

use std::rc::Rc;
use std::sync::Arc;

use crate::audit::ask::Step;
use crate::audit::expr::{ExprId, WEIGHT_BYTES};
use crate::audit::message::Message;
use crate::catalogue::kinds::KindId;
use crate::level::Level;

/// What fills a hole in a message.
#[derive(Debug, Clone, PartialEq)]
pub enum Hole {
    /// The value of an expression.
    Expr(ExprId),
    /// The name of the part on a line.
    Line(KindId, u16),
    /// The name of a record: kind, line, field, which.
    Record(KindId, u16, u16, u16),
    /// Several, shown as a list.
    Many(Vec<Hole>),
    /// Text of the script's own.
    Text(Arc<str>),
}

impl Hole {
    /// Bytes held, itself among them.
    pub(crate) fn bytes(&self) -> usize {
        size_of_val(self)
            + match self {
                Self::Expr(_) | Self::Line(..) | Self::Record(..) => 0,
                Self::Many(many) => many.iter().map(Self::bytes).sum(),
                Self::Text(text) => text.len(),
            }
    }
}

/// A finding as the script raised it.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Its level by the script.
    pub level: Level,
    /// What it says.
    pub message: Message,
    /// Pointers that the script added.
    pub at: Vec<Hole>,
    /// How many questions had been asked when it was raised: the last one decided it.
    pub asked: usize,
}

/// What one path through a rule ends in.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Findings, for a rule.
    pub drafts: Vec<Draft>,
    /// The number, for a measure; none when it does not apply.
    pub value: Option<ExprId>,
    /// The questions on the way here.
    pub path: Rc<[Step]>,
}

impl Draft {
    /// What it weighs among what is remembered.
    pub(crate) fn weight(&self) -> usize {
        let at: usize = self.at.iter().map(Hole::bytes).sum();
        (size_of_val(self) + self.message.bytes() + at).div_ceil(WEIGHT_BYTES)
    }
}

impl Verdict {
    /// What it weighs among what is remembered: its steps and what was said.
    pub(crate) fn weight(&self) -> usize {
        let answers: usize = self.path.iter().map(|step| step.answer.weight()).sum();
        1 + self.path.len() + answers + self.drafts.iter().map(Draft::weight).sum::<usize>()
    }
}
