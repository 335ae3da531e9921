//! What the shop's own scripts work out for a printed page: a number, or which part sits where.
//! Nothing is raised and nothing is remembered.

use std::rc::Rc;

use rhai::{Array, Scope};

use crate::build::resolve::Resolved;
use crate::build::wiring::Entry;
use crate::catalogue::kinds::KindId;
use crate::kit::Kit;
use crate::rules::tracked::{BuildRef, LineRef, Num, RecordRef};

/// A part in a slot or socket.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seated {
    /// The line, by kind.
    pub line: (KindId, u16),
    /// The slot or socket, a record of the board.
    pub seat: Entry,
}

impl Kit {
    fn value(&self, build: &Rc<Resolved>, text: &str) -> Option<rhai::Dynamic> {
        self.look_at(build);
        let mut scope = Scope::new();
        scope.push("build", BuildRef);
        let expression = self.expression(&scope, text, |problem, _| problem).ok()?;
        let (value, _frame) = self.run_expression(&expression, &mut scope);
        value.ok().map(rhai::Dynamic::flatten)
    }

    /// The number that an expression over a build gives; none where the scripts at hand cannot
    /// tell.
    #[doc(hidden)]
    pub fn reckon(&self, build: &Rc<Resolved>, text: &str) -> Option<f64> {
        let value = self.value(build, text)?;
        let number = value.clone().try_cast::<Num>().map(|n| n.value);
        number
            .or_else(|| value.as_float().ok())
            .or_else(|| value.as_int().ok().map(|n| n as f64))
            .filter(|n| n.is_finite())
    }

    /// Pairs of a line and a record that an expression over a build gives; none where the scripts
    /// at hand cannot tell.
    #[doc(hidden)]
    pub fn seated(&self, build: &Rc<Resolved>, text: &str) -> Option<Vec<Seated>> {
        let pairs = self.value(build, text)?.try_cast::<Array>()?;
        let pair = |value: rhai::Dynamic| {
            let pair = value.try_cast::<Array>()?;
            let line = pair.first()?.clone().try_cast::<LineRef>()?;
            let seat = pair.get(1)?.clone().try_cast::<RecordRef>()?;
            let seat = Entry {
                kind: seat.line.kind,
                nth: seat.line.nth,
                field: seat.field,
                index: seat.index,
            };
            Some(Seated { line: (line.kind, line.nth), seat })
        };
        pairs.into_iter().map(pair).collect()
    }
}
