//! Expressions over places: what a tracked value remembers of where it came from.
//!
//! Equal expressions share one id, so a comparison is two small numbers, and a rule's memory is a
//! tree of them.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use ahash::AHashMap;

use crate::audit::ask::Answer;
use crate::audit::assigned::AssignExpr;
use crate::audit::derived::DERIVED;
use crate::catalogue::kinds::KindId;

/// An expression in the pool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ExprId(u32);

impl ExprId {
    /// Its place in the pool, for tables beside it.
    pub(crate) fn at(self) -> usize {
        self.0 as usize
    }
}

/// A place in a build, its catalogue or its settings, or something worked out from places.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Expr {
    /// A number a script wrote, by its bits.
    Const(u64),
    /// A text a script wrote.
    Word(Arc<str>),
    /// A field of the part on a line.
    Field(KindId, u16, u16),
    /// A sub-field of a record: kind, line, field, which record, which sub-field.
    Sub(KindId, u16, u16, u16, u16),
    /// The count of a word in a table of counts.
    KeyOf(ExprId, ExprId),
    /// Something of the line itself.
    Line(KindId, u16, LineWord),
    /// Something of the build itself.
    Build(BuildWord),
    /// A setting.
    Setting(u16),
    /// A cell of a table: table, column, row.
    Cell(u16, u16, ExprId),
    /// Count times field over every line whose kind has the field.
    Sum(Arc<str>),
    /// Pieces of a kind.
    Pieces(KindId),
    /// What a measure gave: a name put on an expression.
    Measure(u16, ExprId),
    /// Two numbers made one.
    Bin(Op, ExprId, ExprId),
    /// One number changed.
    Un(UnOp, ExprId),
    /// A function of the trade's arithmetic.
    Func(u16, Box<[ExprId]>),
    /// A figure that the host works out from the whole build.
    Derived(u16),
    /// Which thing gets which place.
    Assign(Arc<AssignExpr>),
}

impl Expr {
    /// The expressions that this one is made of.
    pub(crate) fn operands(&self) -> impl Iterator<Item = ExprId> + '_ {
        let (pair, args, assign) = match self {
            Expr::Bin(_, a, b) | Expr::KeyOf(a, b) => ([Some(*a), Some(*b)], None, None),
            Expr::Un(_, a) | Expr::Measure(_, a) | Expr::Cell(_, _, a) => {
                ([Some(*a), None], None, None)
            }
            Expr::Func(_, args) => ([None; 2], Some(args), None),
            Expr::Assign(assign) => ([None; 2], None, Some(assign)),
            _ => ([None; 2], None, None),
        };
        let args = args.into_iter().flat_map(|args| args.iter().copied());
        let assigned = assign.into_iter().flat_map(|assign| assign.exprs());
        pair.into_iter().flatten().chain(args).chain(assigned)
    }

    fn weight(&self) -> usize {
        let beside = match self {
            Self::Word(text) | Self::Sum(text) => text.len(),
            // Each has a key of its own besides.
            Self::Func(_, args) => 2 * size_of_val(&**args),
            // Amounts stand beside the place they are of, ways in boxes of their own.
            Self::Assign(assign) => assign.exprs().count() * 4 * size_of::<ExprId>(),
            _ => 0,
        };
        1 + beside / WEIGHT_BYTES
    }
}

/// Words of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LineWord {
    /// Pieces.
    Count,
    /// Where it is fitted.
    Mount,
    /// Which way it blows.
    Flow,
    /// Whether nobody says which way it blows, so that it counts as is usual at its mount.
    FlowUsual,
    /// Whether the customer has it.
    Owned,
    /// Whether it came in a box.
    Included,
    /// The part's id, read when a script looks at a name.
    PartId,
    /// Price of one at the till.
    Price,
    /// What comes back by post for one.
    MailRebate,
    /// Credit for a later purchase that comes with one.
    Credit,
    /// Stated value of what comes with one.
    BundleValue,
    /// Shipping of an order of this alone.
    Shipping,
    /// Pieces in stock.
    Stock,
    /// Sellers that have it.
    Sellers,
    /// Age of the chosen offer.
    OfferAge,
    /// Days until the maker's support ends.
    SupportDays,
}

/// Words of a build.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BuildWord {
    /// One of `BUILD_FIELDS`.
    Field(u8),
    /// Price of what is to be bought.
    Total,
    /// Lines without an offer.
    Unpriced,
}

/// Arithmetic on two numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Op {
    Add,
    Sub,
    Mul,
    Div,
    Rem,
    Pow,
    Min,
    Max,
}

/// Arithmetic on one number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum UnOp {
    Neg,
    Abs,
    Floor,
    Ceil,
    Round,
    Sqrt,
}

impl Op {
    /// The result; not finite where there is none.
    pub fn apply(self, a: f64, b: f64) -> f64 {
        match self {
            Self::Add => a + b,
            Self::Sub => a - b,
            Self::Mul => a * b,
            Self::Div => a / b,
            Self::Rem => a % b,
            Self::Pow => a.powf(b),
            Self::Min => a.min(b),
            Self::Max => a.max(b),
        }
    }

    /// Whether finite numbers can give a result that is not.
    pub fn can_fail(self) -> bool {
        matches!(self, Self::Div | Self::Rem | Self::Pow)
    }

    /// How it is written.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Add => "+",
            Self::Sub => "-",
            Self::Mul => "*",
            Self::Div => "/",
            Self::Rem => "%",
            Self::Pow => "**",
            Self::Min => "min",
            Self::Max => "max",
        }
    }
}

impl UnOp {
    /// The result.
    pub fn apply(self, a: f64) -> f64 {
        match self {
            Self::Neg => -a,
            Self::Abs => a.abs(),
            Self::Floor => a.floor(),
            Self::Ceil => a.ceil(),
            Self::Round => a.round(),
            Self::Sqrt => a.sqrt(),
        }
    }

    /// How it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::Neg => "-",
            Self::Abs => "abs",
            Self::Floor => "floor",
            Self::Ceil => "ceil",
            Self::Round => "round",
            Self::Sqrt => "sqrt",
        }
    }
}

/// Bytes that weigh as much as one node, step or expression.
pub(crate) const WEIGHT_BYTES: usize = 64;

/// An assignment with its numbers, by their bits.
type SolvedKey = (ExprId, Box<[u64]>);
/// What the answers of assignments may weigh that are kept.
const MOST_SOLVED: usize = 16_384;

/// Assignments that were solved.
#[derive(Debug, Default)]
struct Solved {
    answers: AHashMap<SolvedKey, Option<Answer>>,
    weight: usize,
}

impl Solved {
    fn keep(&mut self, key: SolvedKey, answer: Option<Answer>) {
        if self.weight >= MOST_SOLVED {
            *self = Self::default();
        }
        let numbers = size_of_val(&*key.1) / WEIGHT_BYTES;
        self.weight += 2 + numbers + answer.as_ref().map_or(0, Answer::weight);
        self.answers.insert(key, answer);
    }
}

/// Every expression met so far, each once.
#[derive(Debug, Default)]
pub struct Pool {
    exprs: Vec<Expr>,
    ids: AHashMap<Expr, ExprId>,
    /// Numbers worked out for the build being looked at, each with the look it belongs to.
    worked: Vec<Cell<(u32, f64)>>,
    look: Cell<u32>,
    /// Assignments solved, by their numbers: several rules ask for the same, and a search again.
    solved: RefCell<Solved>,
    /// How deep each is, and how many nodes a walk over it meets.
    extents: Vec<(u32, u32)>,
    /// Fields that are summed over lines.
    sums: Vec<Arc<str>>,
    /// What all of them weigh.
    weight: usize,
}

/// Deepest and largest expression: it is walked by recursion.
pub const MAX_EXTENT: (u32, u32) = (2_000, 200_000);

/// What a cell of a table weighs among them: its row is looked up by name.
const CELL_WEIGHT: u32 = 50;

impl Pool {
    /// The id of an expression.
    pub fn id(&mut self, expr: Expr) -> ExprId {
        if let Some(id) = self.ids.get(&expr) {
            return *id;
        }
        let id = ExprId(u32::try_from(self.exprs.len()).unwrap_or(u32::MAX));
        if let Expr::Sum(field) = &expr {
            self.sums.push(field.clone());
        }
        self.weight += expr.weight();
        self.exprs.push(expr.clone());
        self.worked.push(Cell::new((0, 0.0)));
        self.extents.push(self.extent(&expr));
        self.ids.insert(expr, id);
        id
    }

    /// The fields that are summed over lines.
    pub(crate) fn sums(&self) -> &[Arc<str>] {
        &self.sums
    }

    /// The id of an expression that is there already.
    pub(crate) fn find(&self, expr: &Expr) -> Option<ExprId> {
        self.ids.get(expr).copied()
    }

    fn extent(&self, expr: &Expr) -> (u32, u32) {
        let of = |id: &ExprId| self.extents.get(id.0 as usize).copied().unwrap_or((0, 1));
        let join = |(d, n): (u32, u32), (e, m): (u32, u32)| (d.max(e), n.saturating_add(m));
        let (depth, nodes) = expr.operands().map(|id| of(&id)).fold((0, 0), join);
        let own = if matches!(expr, Expr::Cell(..)) { CELL_WEIGHT } else { 1 };
        (depth.saturating_add(own), nodes.saturating_add(own))
    }

    /// Whether an expression is longer than anything should walk over: doubling a number a few
    /// dozen times gets there.
    pub(crate) fn too_long(&self, id: ExprId) -> bool {
        self.extents
            .get(id.0 as usize)
            .is_some_and(|(depth, nodes)| *depth > MAX_EXTENT.0 || *nodes > MAX_EXTENT.1)
    }

    /// A number a script wrote.
    pub fn number(&mut self, n: f64) -> ExprId {
        self.id(Expr::Const((n + 0.0).to_bits()))
    }

    /// The expression of an id.
    pub fn get(&self, id: ExprId) -> &Expr {
        // Ids come from this pool only; the fallback keeps the function total.
        const NOTHING: Expr = Expr::Const(0);
        self.exprs.get(id.0 as usize).unwrap_or(&NOTHING)
    }

    /// Whether an expression rests on what the whole list costs, so that it moves with every price;
    /// with `lines`, on what is asked for a single line as well.
    pub(crate) fn rests_on_prices(&self, id: ExprId, lines: bool) -> bool {
        let rests = |id: &ExprId| self.rests_on_prices(*id, lines);
        match self.get(id) {
            Expr::Build(BuildWord::Total | BuildWord::Unpriced) => true,
            Expr::Line(
                _,
                _,
                LineWord::Price
                | LineWord::MailRebate
                | LineWord::Credit
                | LineWord::BundleValue
                | LineWord::Shipping,
            ) => lines,
            Expr::Derived(at) => DERIVED.get(*at as usize).is_some_and(|d| d.unit == "money"),
            expr => expr.operands().any(|id| rests(&id)),
        }
    }

    /// Starts to look at another build: nothing worked out before counts.
    pub fn invalidate(&self) {
        let next = self.look.get().wrapping_add(1);
        if next == 0 {
            self.worked.iter().for_each(|w| w.set((0, 0.0)));
        }
        self.look.set(next.max(1));
    }

    /// The number that was worked out in this look.
    pub(crate) fn worked(&self, id: ExprId) -> Option<f64> {
        self.worked
            .get(id.0 as usize)
            .map(Cell::get)
            .filter(|(look, _)| *look == self.look.get() && *look != 0)
            .map(|(_, n)| n)
    }

    /// Keeps a number for the rest of this look.
    pub(crate) fn keep(&self, id: ExprId, n: f64) {
        if let Some(cell) = self.worked.get(id.0 as usize) {
            cell.set((self.look.get(), n));
        }
    }

    /// Who gets what in an assignment, its numbers as `number` has them; `None` where a number is
    /// out of range, no best answer was proven, or it is no assignment.
    pub(crate) fn assigned<E>(
        &self,
        id: ExprId,
        mut number: impl FnMut(ExprId) -> Result<f64, E>,
    ) -> Result<Option<Answer>, E> {
        let Expr::Assign(assign) = self.get(id) else { return Ok(None) };
        let mut bits = Vec::new();
        let problem = assign.problem(|id| {
            let n = number(id)?;
            bits.push(n.to_bits());
            Ok(n)
        })?;
        let key = (id, bits.into_boxed_slice());
        if let Some(known) = self.solved.borrow().answers.get(&key) {
            return Ok(known.clone());
        }
        let answer = crate::audit::assigned::answer(&problem);
        self.solved.borrow_mut().keep(key, answer.clone());
        Ok(answer)
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.exprs.len()
    }

    /// What they weigh: one each, and more where one holds texts or long lists.
    pub(crate) fn weight(&self) -> usize {
        self.weight
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.exprs.is_empty()
    }
}
