//! The same twelve rules over the same builds, five ways, in one run:
//!
//!     cargo run --release --manifest-path tests/peers/rules/Cargo.toml [-- BUILDS [SEED]]
//!
//! - by hand: Rust for this one purpose;
//! - dryfit cold: memory off, every script runs;
//! - dryfit warm: memory on, starting empty, builds it never saw before, first to last;
//! - a Rego interpreter's virtual machine, and the Common Expression Language, rules compiled once.
//!
//! Parts are invented by a seed: 12 kinds of 300. All five say the same words of every build, which
//! is asserted. What the peers take as input is made beforehand and not counted; for dryfit,
//! joining the build with its catalogue and its prices is counted. Ratios are what counts.

mod by_hand;
mod common_expression;
mod parts;
mod rego;

use std::hint::black_box;
use std::rc::Rc;
use std::sync::Arc;
use std::time::Duration;

use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::build::{Build, Line};
use dryfit::inside::catalogue::Catalogue;
use dryfit::inside::kit::Kit;
use dryfit::inside::layer::Layer;
use dryfit::inside::source::Source;
use jiff::civil::date;

use parts::{KINDS, List, Part, Random};

/// Parts a kind.
const EACH: usize = 300;
/// Builds whose inputs are held at once: the peers' are large.
const BATCH: usize = 500;
const SETTINGS: &str = "[hand]\nvalue = 0.2\nunit = \"of rating\"\n[radiator_depth]\nvalue = 55\nunit = \"mm\"\n[filter]\nvalue = 0.7\n";

struct Ours {
    kit: Kit,
    catalogue: Arc<Catalogue>,
    base: Build,
    all: Vec<u16>,
}

impl Ours {
    fn new(parts: &[Vec<Part>]) -> Self {
        let files = parts::texts(parts);
        let texts: Vec<(&str, &str)> =
            files.iter().map(|(path, text)| (path.as_str(), text.as_str())).collect();
        let catalogue = Arc::new(
            Catalogue::load(&[Layer::from_texts("parts", &texts)]).expect("the catalogue loads"),
        );
        let rules = Layer::from_texts(
            "rules",
            &[("fit.rhai", include_str!("rules.rhai")), ("settings.toml", SETTINGS)],
        );
        let kit = Kit::with_catalogue(catalogue.clone(), &[rules]).expect("the rules load");
        assert!(kit.rules().broken.is_empty(), "{:?}", kit.rules().broken);
        let head = "budget = \"4500.00 EUR\"\n[[line]]\npart = \"os/p0\"\n";
        let base = kit.read(&Source::new("base", head), date(2026, 11, 20)).expect("it reads");
        let all = (0u16..).take(kit.rules().rules.len()).collect();
        Self { kit, catalogue, base, all }
    }

    fn build(&self, list: &List, parts: &[Vec<Part>]) -> Arc<Build> {
        let line = |line: &parts::Line| {
            let part = self.catalogue.part(&parts[line.kind][line.part].id).expect("it is there");
            let mut put = Line::of(part.clone(), line.count as u32);
            put.mount = line.mount.map(|(mount, _)| mount.into());
            put.flow = line.mount.map(|(_, flow)| flow.into());
            put
        };
        Arc::new(self.base.with_lines(list.lines.iter().map(line).collect()))
    }

    fn audit(&self, build: &Arc<Build>) -> Vec<dryfit::inside::audit::finding::Brief> {
        self.kit
            .audit_with(&Rc::new(Resolved::new(build.clone(), self.catalogue.clone())), &self.all)
            .briefs()
    }
}

fn sorted(mut texts: Vec<String>) -> Vec<String> {
    texts.sort();
    texts
}

fn ours(found: Vec<dryfit::inside::audit::finding::Brief>) -> Vec<String> {
    sorted(
        found
            .into_iter()
            .map(|b| format!("{} {} {}", b.rule.trim_start_matches("fit."), b.level, b.message))
            .collect(),
    )
}

fn hand(found: Vec<by_hand::Finding>) -> Vec<String> {
    sorted(found.into_iter().map(|f| format!("{} {} {}", f.rule, f.level, f.text)).collect())
}

/// Time that this thread has spent on a core, by the nanosecond: what other programs take of a busy
/// machine is not counted.
fn on_core() -> Duration {
    let spent = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(spent.tv_sec as u64, spent.tv_nsec as u32)
}

/// Times a run over a batch.
fn timed<I, T>(spent: &mut Duration, batch: &[I], mut run: impl FnMut(&I) -> T) -> Vec<T> {
    let start = on_core();
    let found = batch.iter().map(|input| black_box(run(input))).collect();
    *spent += on_core() - start;
    found
}

fn main() {
    let number = |nth: usize, or: usize| {
        std::env::args().nth(nth).and_then(|a| a.parse().ok()).unwrap_or(or)
    };
    let (count, seed) = (number(1, 20_000), number(2, 1) as u64);
    let parts = parts::parts(EACH, seed);
    let mut random = Random(seed + 1);
    let lists: Vec<List> = (0..count).map(|_| parts::list(&parts, &mut random)).collect();
    let typed = by_hand::Typed::new(&parts);
    let (cold, warm) = (Ours::new(&parts), Ours::new(&parts));
    cold.kit.remember(false);
    let (mut machine, expressions) =
        (rego::Rego::new(&parts), common_expression::Expressions::new(&parts));
    let mut spent = [Duration::ZERO; 5];
    let mut joining = Duration::ZERO;
    let mut findings = 0;
    let mut late = (0, Duration::ZERO);
    // In turns, a batch each, so that a busy moment of the machine falls on all.
    for (nth, batch) in lists.chunks(BATCH).enumerate() {
        let builds: Vec<_> = batch.iter().map(|list| typed.build(list)).collect();
        let expected: Vec<_> =
            timed(&mut spent[0], &builds, by_hand::audit).into_iter().map(hand).collect();
        findings += expected.iter().map(Vec::len).sum::<usize>();
        let agree = |who: &str, said: Vec<Vec<String>>| {
            for ((said, expected), list) in said.iter().zip(&expected).zip(batch) {
                assert_eq!(said, expected, "{who} says otherwise of {list:?}");
            }
        };
        let builds: Vec<_> = batch.iter().map(|list| cold.build(list, &parts)).collect();
        agree(
            "dryfit cold",
            timed(&mut spent[1], &builds, |b| cold.audit(b)).into_iter().map(ours).collect(),
        );
        let builds: Vec<_> = batch.iter().map(|list| warm.build(list, &parts)).collect();
        timed(&mut joining, &builds, |b| Resolved::new(b.clone(), warm.catalogue.clone()));
        let before = (warm.kit.script_runs(), spent[2]);
        agree(
            "dryfit warm",
            timed(&mut spent[2], &builds, |b| warm.audit(b)).into_iter().map(ours).collect(),
        );
        if nth == lists.len() / BATCH - 1 {
            late = (warm.kit.script_runs() - before.0, spent[2] - before.1);
        }
        let inputs: Vec<_> = batch.iter().map(|list| machine.input(list)).collect();
        agree(
            "Rego",
            timed(&mut spent[3], &inputs, |i| machine.audit(i))
                .iter()
                .map(|f| sorted(rego::texts(f)))
                .collect(),
        );
        let inputs: Vec<_> = batch.iter().map(|list| expressions.input(list)).collect();
        agree(
            "the expression language",
            timed(&mut spent[4], &inputs, |i| expressions.audit(i))
                .iter()
                .map(|f| sorted(common_expression::texts(f)))
                .collect(),
        );
    }
    let each = |spent: Duration| spent.as_secs_f64() * 1e6 / count as f64;
    println!(
        "{count} builds, {} kinds of {EACH} parts, {:.2} findings a build, the same words from all",
        KINDS.len(),
        findings as f64 / count as f64
    );
    for (name, spent) in
        ["by hand", "dryfit cold", "dryfit warm", "Rego machine", "expressions"].iter().zip(spent)
    {
        println!("  {name:14} {:7.2} µs a build", each(spent));
    }
    let [hand, cold, warm_spent, rego, expressions] = spent.map(|s| s.as_secs_f64());
    let best = rego.min(expressions);
    println!("best peer / dryfit warm {:.1} (wanted 20)", best / warm_spent);
    println!("dryfit warm / by hand {:.2} (wanted 2)", warm_spent / hand);
    println!("dryfit cold / best peer {:.2} (wanted 1.5)", cold / best);
    println!(
        "of dryfit warm, joining lists with their catalogue, which the others get done beforehand: {:.2} µs",
        each(joining)
    );
    let runs = warm.kit.script_runs();
    println!(
        "{runs} script runs of {}, {} nodes; in the last {BATCH} builds {} runs, {:.2} µs a build",
        count * warm.all.len(),
        warm.kit.memory_nodes(),
        late.0,
        late.1.as_secs_f64() * 1e6 / BATCH as f64
    );
}
