//! The value of an expression, and the answer to a question, for one build.

use crate::audit::ask::{Answer, Ask};
use crate::audit::derived::DERIVED;
use crate::audit::exact_sum::ExactSum;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord, Pool};
use crate::audit::functions::FUNCTIONS;
use crate::build::lack::{Fact, Lack};
use crate::build::resolve::Resolved;
use crate::catalogue::kinds::KindId;
use crate::catalogue::market::Facts;
use crate::catalogue::value::Val;
use crate::settings::Settings;
use crate::trade::money::Money;

/// A value looked at in place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen<'a> {
    /// Nothing there.
    Absent,
    /// A number.
    Num(f64),
    /// A text.
    Text(&'a str),
    /// Yes or no.
    Flag(bool),
    /// A list, counts or records.
    Whole(&'a Val),
}

impl<'a> From<&'a Val> for Seen<'a> {
    fn from(val: &'a Val) -> Self {
        match val {
            // What nobody said never gets so far: it is a `Lack` before.
            Val::Absent | Val::Unknown => Self::Absent,
            Val::Num(n) => Self::Num(*n),
            Val::Text(t) => Self::Text(t),
            Val::Flag(b) => Self::Flag(*b),
            whole => Self::Whole(whole),
        }
    }
}

impl Seen<'_> {
    /// A copy that outlives the build.
    pub fn keep(self) -> Val {
        match self {
            Self::Absent => Val::Absent,
            Self::Num(n) => Val::Num(n),
            Self::Text(t) => Val::Text(t.into()),
            Self::Flag(b) => Val::Flag(b),
            Self::Whole(v) => v.clone(),
        }
    }
}

/// What the offers say of a line, as a number.
pub(crate) fn offer_number(facts: &Facts, word: LineWord) -> Option<f64> {
    let money = |m: &Option<Money>| m.as_ref().map(Money::to_f64);
    match word {
        LineWord::Price => money(&facts.price),
        LineWord::MailRebate => money(&facts.mail_rebate),
        LineWord::Credit => money(&facts.credit),
        LineWord::BundleValue => money(&facts.bundle_value),
        LineWord::Shipping => money(&facts.shipping),
        LineWord::Stock => facts.stock,
        LineWord::Sellers => Some(facts.sellers),
        _ => facts.age_days,
    }
}

/// Everything an expression can look at.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The expressions.
    pub pool: &'a Pool,
    /// The settings in force.
    pub settings: &'a Settings,
    /// The build.
    pub build: &'a Resolved,
}

impl<'a> View<'a> {
    /// The value of an expression.
    pub fn see(self, id: ExprId) -> Result<Seen<'a>, Lack> {
        Ok(match self.pool.get(id) {
            Expr::Const(bits) => Seen::Num(f64::from_bits(*bits)),
            Expr::Word(text) => Seen::Text(text),
            Expr::Field(kind, nth, field) => self.field(*kind, *nth, *field)?.into(),
            Expr::Sub(kind, nth, field, index, sub) => match self.field(*kind, *nth, *field)? {
                Val::Records(records) => {
                    let value = records.get(*index as usize).and_then(|r| r.get(*sub as usize));
                    if value.is_some_and(Val::is_unknown) {
                        let sub = Some((*index, *sub));
                        let (kind, nth, field) = (*kind, *nth, *field);
                        return Err(Lack::Fact(Fact { kind, nth, field, sub }));
                    }
                    value.map_or(Seen::Absent, Seen::from)
                }
                _ => Seen::Absent,
            },
            Expr::KeyOf(counts, key) => match (self.see(*counts)?, self.see(*key)?) {
                (Seen::Whole(counts), Seen::Text(key)) => Seen::Num(counts.count_of(key)),
                _ => Seen::Absent,
            },
            Expr::Line(kind, nth, word) => self.line(*kind, *nth, *word)?,
            Expr::Build(word) => self.build_word(*word)?,
            Expr::Setting(at) => self.settings.value(*at).into(),
            Expr::Cell(table, column, row) => {
                match (self.build.catalogue.table(*table), self.see(*row)?) {
                    (Some(table), Seen::Text(row)) => table.cell(row, *column).into(),
                    _ => Seen::Absent,
                }
            }
            Expr::Measure(_, inner) => self.see(*inner)?,
            _ => Seen::Num(self.number(id)?),
        })
    }

    fn field(self, kind: KindId, nth: u16, field: u16) -> Result<&'a Val, Lack> {
        match self.build.slot(kind, nth) {
            None => Ok(&Val::Absent),
            Some(slot) => match &slot.part {
                None => Err(Lack::Open(kind, nth)),
                Some(part) => match part.values.get(field as usize).unwrap_or(&Val::Absent) {
                    Val::Unknown => Err(Lack::Fact(Fact { kind, nth, field, sub: None })),
                    value => Ok(value),
                },
            },
        }
    }

    fn line(self, kind: KindId, nth: u16, word: LineWord) -> Result<Seen<'a>, Lack> {
        let Some(slot) = self.build.slot(kind, nth) else { return Ok(Seen::Absent) };
        let open = || Lack::Open(kind, nth);
        let of = |n: Option<f64>| n.map_or(Seen::Absent, Seen::Num);
        Ok(match word {
            LineWord::Count => Seen::Num(slot.count),
            LineWord::Mount => (&slot.mount).into(),
            LineWord::Flow => (&slot.flow).into(),
            LineWord::FlowUsual => Seen::Flag(slot.flow_usual),
            LineWord::Owned => Seen::Flag(slot.owned),
            LineWord::Included => Seen::Flag(slot.included),
            LineWord::PartId => Seen::Text(&slot.part.as_ref().ok_or_else(open)?.id),
            LineWord::SupportDays => {
                let part = slot.part.as_ref().ok_or_else(open)?;
                let field = self
                    .build
                    .catalogue
                    .kind(part.kind)
                    .and_then(|k| k.field("support_until"))
                    .map(|(at, _)| at);
                of(field
                    .and_then(|at| part.values.get(at as usize))
                    .and_then(Val::as_text)
                    .and_then(|day| self.build.days_until(day)))
            }
            _ => {
                slot.part.as_ref().ok_or_else(open)?;
                of(offer_number(self.build.facts(slot), word))
            }
        })
    }

    fn build_word(self, word: BuildWord) -> Result<Seen<'a>, Lack> {
        if let BuildWord::Field(at) = word {
            return Ok(self.build.build.values.get(at as usize).map_or(Seen::Absent, Seen::from));
        }
        if let Some((kind, nth)) = self.build.open_line() {
            return Err(Lack::Open(kind, nth));
        }
        Ok(Seen::Num(if word == BuildWord::Total {
            self.build.total()
        } else {
            self.build.unpriced()
        }))
    }

    /// The number of an expression; not a number where there is none.
    pub fn number(self, id: ExprId) -> Result<f64, Lack> {
        let expr = self.pool.get(id);
        match expr {
            Expr::Const(bits) => return Ok(f64::from_bits(*bits)),
            Expr::Field(kind, nth, field) => {
                return Ok(self.field(*kind, *nth, *field)?.as_num().unwrap_or(f64::NAN));
            }
            Expr::Setting(at) => return Ok(self.settings.value(*at).as_num().unwrap_or(f64::NAN)),
            _ => {}
        }
        if let Some(n) = self.pool.worked(id) {
            return Ok(n);
        }
        let n = self.work_out(id, expr)?;
        self.pool.keep(id, n);
        Ok(n)
    }

    fn work_out(self, id: ExprId, expr: &Expr) -> Result<f64, Lack> {
        Ok(match expr {
            Expr::Bin(op, a, b) => op.apply(self.number(*a)?, self.number(*b)?) + 0.0,
            Expr::Un(op, a) => op.apply(self.number(*a)?) + 0.0,
            Expr::Measure(_, inner) => self.number(*inner)?,
            Expr::Sum(name) => self.sum(name)?,
            Expr::Pieces(kind) => {
                let mut sum = ExactSum::default();
                self.build.slots(*kind).iter().for_each(|s| sum.add(s.count));
                sum.total()
            }
            Expr::Func(at, args) => {
                let mut values = [0.0; 8];
                for (value, arg) in values.iter_mut().zip(args) {
                    *value = self.number(*arg)?;
                }
                FUNCTIONS
                    .get(*at as usize)
                    .map_or(f64::NAN, |f| (f.run)(values.get(..args.len()).unwrap_or(&[])))
            }
            Expr::Derived(at) => match DERIVED.get(*at as usize) {
                Some(derived) => (derived.run)(self.build)?,
                None => f64::NAN,
            },
            _ => match self.see(id)? {
                Seen::Num(n) => n,
                _ => f64::NAN,
            },
        })
    }

    fn sum(self, name: &str) -> Result<f64, Lack> {
        let mut sum = ExactSum::default();
        for (id, field) in self.build.catalogue.kinds_with(name) {
            for (slot, nth) in self.build.slots(*id).iter().zip(0u16..) {
                let part = slot.part.as_ref().ok_or(Lack::Open(*id, nth))?;
                match part.values.get(*field as usize) {
                    Some(Val::Num(n)) => sum.add(n * slot.count),
                    Some(Val::Unknown) => {
                        let (kind, field) = (*id, *field);
                        return Err(Lack::Fact(Fact { kind, nth, field, sub: None }));
                    }
                    _ => return Ok(f64::NAN),
                }
            }
        }
        Ok(sum.total())
    }

    /// The answer to a question about this build; `None` when a number is not finite, so that the
    /// script must say why.
    pub fn answer(self, ask: &Ask) -> Result<Option<Answer>, Lack> {
        Ok(Some(match ask {
            Ask::Lines(kind) => Answer::Count(self.build.slots(*kind).len() as u32),
            Ask::Len(e) => Answer::Count(match self.see(*e)? {
                Seen::Whole(Val::List(words)) => words.len() as u32,
                Seen::Whole(Val::Records(records)) => records.len() as u32,
                Seen::Whole(Val::Counts(pairs)) => pairs.len() as u32,
                _ => 0,
            }),
            Ask::Value(e) => {
                let seen = self.see(*e)?;
                self.whole_is_known(*e, seen)?;
                Answer::Value(seen.keep())
            }
            Ask::Assigned(e) => return self.pool.assigned(*e, |id| self.number(id)),
            yes_or_no => return Ok(self.holds(yes_or_no)?.map(Answer::Bool)),
        }))
    }

    /// Records are read as a whole only where every one of their fields is known.
    fn whole_is_known(self, id: ExprId, seen: Seen<'_>) -> Result<(), Lack> {
        let (Seen::Whole(Val::Records(records)), Expr::Field(kind, nth, field)) =
            (seen, self.pool.get(id))
        else {
            return Ok(());
        };
        for (record, index) in records.iter().zip(0u16..) {
            if let Some(sub) = record.iter().position(Val::is_unknown) {
                let sub = Some((index, u16::try_from(sub).unwrap_or(u16::MAX)));
                let (kind, nth, field) = (*kind, *nth, *field);
                return Err(Lack::Fact(Fact { kind, nth, field, sub }));
            }
        }
        Ok(())
    }

    /// Whether a question of yes or no is answered by yes; never so for the others. `None` as for
    /// [`Self::answer`].
    pub(crate) fn holds(self, ask: &Ask) -> Result<Option<bool>, Lack> {
        let compare = |a: &ExprId, b: &ExprId, held: fn(f64, f64) -> bool| {
            let (x, y) = (self.number(*a)?, self.number(*b)?);
            Ok((x.is_finite() && y.is_finite()).then(|| held(x, y)))
        };
        Ok(Some(match ask {
            Ask::Has(kind, nth) => self.build.slots(*kind).len() > *nth as usize,
            Ask::Chosen(kind, nth) => match self.build.slot(*kind, *nth) {
                Some(slot) if slot.part.is_none() => return Err(Lack::Open(*kind, *nth)),
                slot => slot.is_some(),
            },
            Ask::Present(e) => match self.see(*e)? {
                Seen::Absent => false,
                Seen::Num(n) => n.is_finite(),
                _ => true,
            },
            Ask::Truth(e) => matches!(self.see(*e)?, Seen::Flag(true)),
            Ask::Less(a, b) => return compare(a, b, |x, y| x < y),
            Ask::LessEqual(a, b) => return compare(a, b, |x, y| x <= y),
            Ask::Equal(a, b) => match (self.see(*a)?, self.see(*b)?) {
                // Equal words of a catalogue are one text in memory, which need not be read.
                (Seen::Text(a), Seen::Text(b)) if std::ptr::eq(a, b) => true,
                (a, b) => a == b,
            },
            Ask::Contains(list, word) => match (self.see(*list)?, self.see(*word)?) {
                (Seen::Whole(Val::List(words)), Seen::Text(word)) => {
                    words.iter().any(|w| **w == *word)
                }
                (Seen::Whole(counts @ Val::Counts(_)), Seen::Text(word)) => {
                    counts.count_of(word) > 0.0
                }
                _ => false,
            },
            Ask::Lines(_) | Ask::Len(_) | Ask::Value(_) | Ask::Assigned(_) => false,
        }))
    }
}
