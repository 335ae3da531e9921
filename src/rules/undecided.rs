//! What scripts get of places that are undecided while a rule is explored: stand-ins of the right
//! type, whose value nobody reads without asking.

use crate::audit::ask::Ask;
use crate::audit::domain;
use crate::audit::eval::View;
use crate::audit::expr::{Expr, ExprId, LineWord};
use crate::build::fields::BUILD_FIELDS;
use crate::build::lack::Fact;
use crate::catalogue::declared::Takes;
use crate::catalogue::kinds::FieldType;
use crate::catalogue::value::Val;
use crate::rules::host::{Call, Cut, Host, Res, State};

impl Host {
    /// Whether a rule is being explored.
    pub(crate) fn is_exploring(&self) -> bool {
        self.state.borrow().explorer.is_some()
    }

    /// Whether a place is undecided in the exploration that runs, if one does.
    pub(crate) fn is_undecided(&self, id: ExprId) -> bool {
        self.explored(|state, view| state.is_undecided(view, id))
    }

    /// Whether an expression rests on an undecided place.
    pub(crate) fn rests_on_undecided(&self, id: ExprId) -> bool {
        self.explored(|state, view| state.rests_on_undecided(view, id))
    }

    /// Whether it rests on a place of which nobody said what it is, with nothing let go.
    pub(crate) fn rests_on_unknown(&self, id: ExprId) -> bool {
        self.explored(|state, view| {
            state.released.is_nothing() && state.rests_on_undecided(view, id)
        })
    }

    fn explored(
        &self,
        look: impl FnOnce(&mut crate::audit::explore::Explorer, View<'_>) -> bool,
    ) -> bool {
        let mut guard = self.state.borrow_mut();
        let State { pool, settings, build, explorer, .. } = &mut *guard;
        match (explorer, build) {
            (Some(explorer), Some(build)) => look(explorer, View { pool, settings, build }),
            _ => false,
        }
    }

    /// A value of the type that an undecided place has; unknown where a script takes it as plain.
    pub(crate) fn stand_in(&self, id: ExprId) -> Val {
        let state = self.state.borrow();
        let Some(build) = &state.build else { return Val::Absent };
        let view = View { pool: &state.pool, settings: &state.settings, build };
        let fact = |sub| move |kind, nth, field| Fact { kind, nth, field, sub };
        let ty = match view.pool.get(id) {
            Expr::Field(kind, nth, field) => fact(None)(*kind, *nth, *field).schema(build),
            Expr::Sub(kind, nth, field, index, sub) => {
                fact(Some((*index, *sub)))(*kind, *nth, *field).schema(build)
            }
            Expr::Line(_, _, LineWord::FlowUsual | LineWord::Owned | LineWord::Included) => {
                return Val::Flag(false);
            }
            Expr::Line(_, _, LineWord::Mount | LineWord::Flow | LineWord::PartId) => {
                return Val::Text("".into());
            }
            Expr::Build(crate::audit::expr::BuildWord::Field(at)) => {
                return match BUILD_FIELDS.get(*at as usize).map(|f| f.takes) {
                    Some(Takes::Text | Takes::Rows(_)) => Val::Text("".into()),
                    _ => Val::Num(1.0),
                };
            }
            Expr::Cell(table, column, _) => {
                let column =
                    build.catalogue.table(*table).and_then(|t| t.columns.get(*column as usize));
                return match column.map(|c| c.number) {
                    Some(false) => Val::Text("".into()),
                    _ => Val::Num(1.0),
                };
            }
            _ => return Val::Num(1.0),
        };
        match ty.map(|f| &f.ty) {
            Some(FieldType::Number) => Val::Num(1.0),
            Some(FieldType::Text(_)) => Val::Text("".into()),
            Some(FieldType::Flag) => Val::Flag(false),
            Some(FieldType::List(_)) => Val::List(std::iter::empty().collect()),
            Some(FieldType::Counts(_)) => Val::Counts(std::iter::empty().collect()),
            Some(FieldType::Records(_)) | None => Val::Unknown,
        }
    }

    /// Ends the run at a fact that nobody said.
    pub(crate) fn wait_for<T>(&self, ctx: &Call<'_>, id: ExprId) -> Res<T> {
        self.ask(ctx, Ask::Value(id))?;
        let fact = {
            let state = self.state.borrow();
            state.build.as_ref().and_then(|build| {
                let view = View { pool: &state.pool, settings: &state.settings, build };
                domain::facts_of(view, id).first().copied()
            })
        };
        match fact {
            Some(fact) => self.stop(Cut::Lack(crate::build::lack::Lack::Fact(fact))),
            None => crate::rules::host::say("this value is not known here"),
        }
    }

    /// Gives the places that a sum adds up an id, so that one of them can be undecided.
    pub(crate) fn name_addends(&self, field: &str) -> Res<()> {
        let build = self.build()?;
        let mut state = self.state.borrow_mut();
        for (kind, at) in build.catalogue.kinds_with(field) {
            for nth in (0u16..).take(build.slots(*kind).len()) {
                state.pool.id(Expr::Field(*kind, nth, *at));
            }
        }
        Ok(())
    }
}
