//! What scripts touch: every look at the build goes through here and leaves a trace.

use std::cell::{Cell, RefCell};
use std::rc::{Rc, Weak};
use std::sync::Arc;
use std::time::Duration;

use ahash::AHashSet;
use rhai::{Dynamic, EvalAltResult, NativeCallContext, Position};

use crate::audit::ask::{Answer, Ask, Pos, Step};
use crate::audit::eval::View;
use crate::audit::explore::Explorer;
use crate::audit::expr::{Expr, ExprId, Pool};
use crate::audit::memory::Tree;
use crate::audit::proofs::Remembered;
use crate::audit::verdict::Draft;
use crate::build::lack::Lack;
use crate::build::resolve::Resolved;
use crate::catalogue::kinds::KindId;
use crate::catalogue::value::Val;
use crate::rules::engine::shares_variables;
use crate::rules::loader::RuleSet;
use crate::rules::run::on_script_stack;
use crate::rules::thread_time;
use crate::settings::Settings;

/// Result of a host word.
pub type Res<T> = Result<T, Box<EvalAltResult>>;

/// Most operations of one rule.
pub const MAX_OPERATIONS: u64 = 400_000;
/// Longest time of one rule, in time of its own thread: what a busy machine gives to others does
/// not count.
pub const MAX_TIME: Duration = Duration::from_millis(400);
/// Operations from one look at the clock to the next.
const CLOCK_EACH: u64 = 256;
/// Most questions one rule may ask.
pub const MAX_QUESTIONS: usize = 20_000;
/// Most findings of one rule.
pub const MAX_FINDINGS: usize = 200;

/// What is wrong, as the host says it, carried through the script engine.
#[derive(Debug, Clone)]
pub struct HostError {
    /// One sentence.
    pub message: String,
    /// What would fix it.
    pub help: Option<String>,
}

/// A call as a script makes it: where, and in which engine.
pub type Call<'c> = NativeCallContext<'c>;

/// An error of the host's at the place of the call.
pub fn say<T>(message: impl Into<String>) -> Res<T> {
    Err(said(message.into(), None))
}

/// The same, with what would fix it.
pub fn say_help<T>(message: impl Into<String>, help: impl Into<String>) -> Res<T> {
    Err(said(message.into(), Some(help.into())))
}

fn said(message: String, help: Option<String>) -> Box<EvalAltResult> {
    Box::new(EvalAltResult::ErrorRuntime(
        Dynamic::from(HostError { message, help }),
        Position::NONE,
    ))
}

/// Why a run was cut short; no script can catch it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// A part that is not chosen, or a fact that nobody said.
    Lack(Lack),
    /// Too many operations.
    Operations,
    /// Too long.
    Time,
    /// Too many questions.
    Questions,
}

/// A rule or measure while it runs.
#[derive(Debug, Default)]
pub struct Frame {
    /// Which rule.
    pub rule: u16,
    /// Questions asked so far.
    pub path: Vec<Step>,
    seen: AHashSet<Ask>,
    /// Findings raised so far.
    pub drafts: Vec<Draft>,
    /// What `print` and `debug` wrote.
    pub log: Vec<String>,
    /// An error where the engine makes a text of a value, which goes on as if there were none.
    pub unheard: Option<Box<EvalAltResult>>,
    cells: Cells,
}

/// Variables that closures share with what stands around them. One that holds the closure that
/// holds it would live on for ever, so they are emptied when their run is over.
#[derive(Debug, Default)]
struct Cells(Vec<Dynamic>);

impl Drop for Cells {
    fn drop(&mut self) {
        if self.0.is_empty() {
            return;
        }
        on_script_stack(|| {
            for mut cell in self.0.drain(..) {
                if let Some(mut held) = cell.write_lock::<Dynamic>() {
                    *held = Dynamic::UNIT;
                }
            }
        });
    }
}

impl Frame {
    /// A rule about to run.
    pub fn new(rule: u16) -> Self {
        Self { rule, ..Self::default() }
    }

    fn record(&mut self, step: Step) {
        if self.seen.insert(step.ask.clone()) {
            self.path.push(step);
        }
    }

    /// Takes over what a measure asked.
    pub fn append(&mut self, steps: &[Step], measure: u16) {
        for step in steps {
            self.record(Step { measure: step.measure.or(Some(measure)), ..step.clone() });
        }
    }
}

/// Everything that changes while scripts run.
pub struct State {
    /// Expressions.
    pub pool: Pool,
    /// Memory, a tree a rule.
    pub trees: Vec<Tree>,
    /// What all trees weigh.
    pub held: usize,
    /// Proofs of findings, and explorations of rules whose facts are not all known.
    pub(crate) remembered: Remembered,
    /// Running rule and the measures it waits for, innermost last.
    pub frames: Vec<Frame>,
    /// The build.
    pub build: Option<Rc<Resolved>>,
    /// The settings.
    pub settings: Rc<Settings>,
    /// Whether memory is used; off for comparison runs.
    pub remember: bool,
    /// What is forced on a rule whose build is not wholly known.
    pub(crate) explorer: Option<Box<Explorer>>,
}

impl State {
    /// Forgets every verdict, proof and exploration.
    pub fn forget(&mut self) {
        self.trees.iter_mut().for_each(Tree::clear);
        self.held = 0;
        self.remembered = Remembered::default();
    }
}

/// Whoever keeps ids of expressions from one audit to the next holds one of these; while one is
/// held, expressions are not forgotten.
#[derive(Debug, Clone, Default)]
pub struct PoolGuard(Rc<()>);

impl PoolGuard {
    /// Whether both are of one host.
    pub fn same(&self, other: &Self) -> bool {
        Rc::ptr_eq(&self.0, &other.0)
    }
}

/// The host of one engine.
pub struct Host {
    /// What changes.
    pub state: RefCell<State>,
    /// The rules, once loaded.
    pub rules: RefCell<Rc<RuleSet>>,
    operations: Cell<u64>,
    deadline: Cell<Option<Duration>>,
    cut: Cell<Option<Cut>>,
    me: Weak<Self>,
    /// The line that was read last, for reports of broken rules.
    pub reading: Cell<Option<(KindId, u16)>>,
    /// Whether parts may leave out required fields.
    pub sparse: Cell<bool>,
    /// Whether any script has closures that share variables with what stands around them.
    pub(crate) shares: Cell<bool>,
    /// Script runs so far, for figures.
    pub runs: Cell<u64>,
    pool_guard: PoolGuard,
}

impl Host {
    /// A host with no rules yet.
    pub fn new(settings: Settings) -> Rc<Self> {
        Rc::new_cyclic(|me| Self {
            me: me.clone(),
            reading: Cell::new(None),
            sparse: Cell::new(false),
            state: RefCell::new(State {
                pool: Pool::default(),
                trees: Vec::new(),
                held: 0,
                remembered: Remembered::default(),
                frames: Vec::new(),
                build: None,
                settings: Rc::new(settings),
                remember: true,
                explorer: None,
            }),
            rules: RefCell::new(Rc::new(RuleSet::default())),
            operations: Cell::new(0),
            deadline: Cell::new(None),
            cut: Cell::new(None),
            shares: Cell::new(false),
            runs: Cell::new(0),
            pool_guard: PoolGuard::default(),
        })
    }

    /// Starts the count of what a rule may use.
    pub fn start(&self) {
        self.operations.set(0);
        self.deadline.set(None);
        self.cut.set(None);
        self.reading.set(None);
        self.runs.set(self.runs.get() + 1);
    }

    /// Why the last run was cut short, if it was.
    pub fn cut(&self) -> Option<Cut> {
        self.cut.get()
    }

    /// Called by the engine at every operation, callbacks included.
    pub fn tick(&self) -> Option<Dynamic> {
        if self.cut.get().is_some() {
            return Some(Dynamic::UNIT);
        }
        let count = self.operations.get() + 1;
        self.operations.set(count);
        if count > MAX_OPERATIONS {
            self.cut.set(Some(Cut::Operations));
            return Some(Dynamic::UNIT);
        }
        if count.is_multiple_of(CLOCK_EACH) && self.is_late() {
            self.cut.set(Some(Cut::Time));
            return Some(Dynamic::UNIT);
        }
        None
    }

    /// The clock is first read here: the system takes longer to tell a thread's time than a common
    /// rule takes in all.
    fn is_late(&self) -> bool {
        let now = thread_time::worked();
        match self.deadline.get() {
            Some(deadline) => now > deadline,
            None => {
                self.deadline.set(Some(now + MAX_TIME));
                false
            }
        }
    }

    /// Ends the run in a way that no script can catch.
    pub fn stop<T>(&self, cut: Cut) -> Res<T> {
        if self.cut.get().is_none() {
            self.cut.set(Some(cut));
        }
        Err(Box::new(EvalAltResult::ErrorTerminated(Dynamic::UNIT, Position::NONE)))
    }

    /// Keeps expressions from being forgotten while it is held.
    pub fn pool_guard(&self) -> PoolGuard {
        self.pool_guard.clone()
    }

    /// Whether nobody holds an expression's id.
    pub fn is_pool_free(&self) -> bool {
        Rc::strong_count(&self.pool_guard.0) == 1
    }

    /// The build being looked at.
    pub fn build(&self) -> Res<Rc<Resolved>> {
        match &self.state.borrow().build {
            Some(build) => Ok(build.clone()),
            None => say("there is no build to look at here"),
        }
    }

    /// The id of an expression.
    pub fn expr(&self, expr: Expr) -> ExprId {
        self.state.borrow_mut().pool.id(expr)
    }

    /// The value of an expression now.
    pub fn look(&self, id: ExprId) -> Res<Val> {
        let state = self.state.borrow();
        let Some(build) = &state.build else { return say("there is no build to look at here") };
        let view = View { pool: &state.pool, settings: &state.settings, build };
        match view.see(id) {
            Ok(seen) => Ok(seen.keep()),
            Err(open) => {
                drop(state);
                self.stop(Cut::Lack(open))
            }
        }
    }

    /// The number of an expression now.
    pub fn number(&self, id: ExprId) -> Res<f64> {
        let state = self.state.borrow();
        let Some(build) = &state.build else { return say("there is no build to look at here") };
        let view = View { pool: &state.pool, settings: &state.settings, build };
        match view.number(id) {
            Ok(n) => Ok(n),
            // A stand-in: what is made of it is asked as a question.
            Err(Lack::Fact(_)) if state.explorer.is_some() => Ok(1.0),
            Err(open) => {
                drop(state);
                self.stop(Cut::Lack(open))
            }
        }
    }

    /// Puts a question, and records it with its answer.
    pub fn ask(&self, ctx: &Call<'_>, ask: Ask) -> Res<Answer> {
        let pos = self.pos(ctx);
        let mut guard = self.state.borrow_mut();
        let state = &mut *guard;
        let Some(build) = &state.build else { return say("there is no build to look at here") };
        let view = View { pool: &state.pool, settings: &state.settings, build };
        let answered = match &mut state.explorer {
            Some(explorer) => explorer.answer(view, &ask),
            None => view.answer(&ask),
        };
        let answer = match answered {
            Ok(Some(answer)) => answer,
            Ok(None) => {
                return say_help("a number here is out of range", "look for a division by zero");
            }
            Err(open) => {
                drop(guard);
                return self.stop(Cut::Lack(open));
            }
        };
        if let Some(frame) = state.frames.last_mut() {
            if frame.path.len() >= MAX_QUESTIONS {
                drop(guard);
                return self.stop(Cut::Questions);
            }
            frame.record(Step { ask, answer: answer.clone(), pos, measure: None });
        }
        Ok(answer)
    }

    /// Puts a question where the engine gives no place for it, as in the head of a loop.
    pub fn ask_here(&self, ask: Ask) -> Option<Answer> {
        let mut guard = self.state.borrow_mut();
        let state = &mut *guard;
        let build = state.build.as_ref()?;
        let view = View { pool: &state.pool, settings: &state.settings, build };
        let answered = match &mut state.explorer {
            Some(explorer) => explorer.answer(view, &ask),
            None => view.answer(&ask),
        };
        match answered {
            Ok(answer) => {
                let answer = answer?;
                if let Some(frame) = state.frames.last_mut() {
                    frame.record(Step {
                        ask,
                        answer: answer.clone(),
                        pos: Pos::default(),
                        measure: None,
                    });
                }
                Some(answer)
            }
            Err(open) => {
                self.cut.set(Some(Cut::Lack(open)));
                None
            }
        }
    }

    /// Keeps what a script printed, up to a few lines.
    pub fn log(&self, text: &str) {
        if let Some(frame) = self.state.borrow_mut().frames.last_mut()
            && frame.log.len() < 50
        {
            frame.log.push(crate::words::clip(text, 500));
        }
    }

    /// Notes whether a script has closures that share variables.
    pub(crate) fn note_shares(&self, ast: &rhai::AST) {
        self.shares.set(self.shares.get() || shares_variables(ast));
    }

    /// Keeps a variable that closures share, to be emptied at the end of the run.
    pub(crate) fn shared_cell(&self, cell: &Dynamic) {
        if let Some(frame) = self.state.borrow_mut().frames.last_mut().filter(|_| cell.is_shared())
        {
            frame.cells.0.push(cell.clone());
        }
    }

    /// Another handle on this host.
    pub fn shared(&self) -> Rc<Self> {
        // The host is only ever made inside an `Rc` that `me` points back to.
        self.me.upgrade().unwrap_or_else(|| Self::new(Settings::default()))
    }

    /// Whether parts may leave out required fields, as those of rule cases do.
    pub fn sparse(&self) -> bool {
        self.sparse.get()
    }

    /// Puts a question that is answered by yes or no.
    pub fn is(&self, ctx: &Call<'_>, ask: Ask) -> Res<bool> {
        Ok(matches!(self.ask(ctx, ask)?, Answer::Bool(true)))
    }

    /// Puts a question that is answered by a count.
    pub fn count(&self, ctx: &Call<'_>, ask: Ask) -> Res<u32> {
        match self.ask(ctx, ask)? {
            Answer::Count(n) => Ok(n),
            _ => Ok(0),
        }
    }

    /// Where in a script the call stands.
    pub fn pos(&self, ctx: &Call<'_>) -> Pos {
        let at = ctx.call_position();
        let file = ctx.call_source().and_then(|key| key.parse().ok()).unwrap_or(u16::MAX);
        let small = |n: Option<usize>| n.map_or(0, |n| u16::try_from(n).unwrap_or(u16::MAX));
        Pos { file, line: small(at.line()), column: small(at.position()) }
    }

    /// The file stem of the rule that runs, for names of settings and measures without a file.
    pub fn file(&self) -> Arc<str> {
        let state = self.state.borrow();
        let rules = self.rules.borrow();
        state
            .frames
            .last()
            .and_then(|f| rules.rules.get(f.rule as usize))
            .map_or_else(|| "".into(), |r| r.file.clone())
    }
}
