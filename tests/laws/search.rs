//! Searches say what trying every build says: plans, mends and mixtures over random catalogues and
//! random rule scripts.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use dryfit::inside::build::bill::Total;
use dryfit::inside::build::brief::Brief;
use dryfit::inside::build::{Build, What};
use dryfit::inside::catalogue::Part;
use dryfit::inside::kit::{Kit, Layers};
use dryfit::inside::layer::Layer;
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::edit::apply;
use dryfit::inside::whatif::mend::{edits, mend};
use dryfit::inside::whatif::mix::mix;
use dryfit::inside::whatif::plan::{PlanWish, plan};
use dryfit::inside::whatif::search::SearchLimits;
use jiff::civil::date;
use proptest::prelude::*;

use crate::runs;
use crate::scripts::{MEASURES, catalogue, script, widget};
use crate::sellers::{cheapest, offers};

/// Random sets of rules, each with a catalogue and a brief of its own.
const SETS: u32 = 2_000;

static NEVER: AtomicBool = AtomicBool::new(false);

pub(crate) fn limits() -> SearchLimits<'static> {
    SearchLimits::new(&NEVER)
}

pub(crate) fn layers(rules: &str) -> Layers {
    Layers::new(
        Vec::new(),
        vec![Layer::from_texts(
            "rules",
            &[("a.rhai", rules), ("m.rhai", MEASURES), ("settings.toml", "[limit]\nvalue = 3\n")],
        )],
    )
}

/// Every build that the open lines make, with its price in the smallest unit; parts without an
/// offer do not stand on an open line.
fn every_build(kit: &Kit, base: &Build) -> Vec<(Build, i64)> {
    let mut all = vec![base.clone()];
    for (at, line) in base.lines.iter().enumerate() {
        let What::Open { kind, .. } = &line.what else { continue };
        let mut next = Vec::new();
        for build in &all {
            for part in kit.catalogue().parts_of(*kind).filter(|p| is_sold(kit, p)) {
                let mut build = build.clone();
                build.lines[at].what = What::Part(part.clone());
                next.push(build);
            }
        }
        all = next;
    }
    all.into_iter().map(|build| (build.clone(), cheapest(kit, &build))).collect()
}

/// A list of widgets, and a box if there is to be one.
fn list(lines: &[(usize, u32, bool)], boxed: Option<usize>) -> String {
    let mut text = String::new();
    for (part, count, owned) in lines {
        let _ =
            writeln!(text, "[[line]]\npart = \"widget/w{part}\"\ncount = {count}\nowned = {owned}");
    }
    if let Some(boxed) = boxed {
        let _ = writeln!(text, "[[line]]\npart = \"box/b{boxed}\"");
    }
    text
}

/// What another part loses in `a_w`, of which more is better, and in `c_mm`, of which less is, in
/// percent points of the figure's size, below nothing too.
fn loss(kit: &Kit, from: &Part, to: &Part) -> i64 {
    let of = |part: &Part, name: &str| {
        let (at, _) = kit.catalogue().kind(part.kind)?.field(name)?;
        part.values[at as usize].as_num()
    };
    let share = |better: Option<f64>, worse: Option<f64>, whole: Option<f64>| {
        let (Some(better), Some(worse), Some(whole)) = (better, worse, whole) else { return 0 };
        if better > worse && whole != 0.0 {
            (((better - worse) / whole.abs()).min(1.0) * 100.0).ceil() as i64
        } else {
            0
        }
    };
    let (a, b) = (of(from, "a_w"), of(to, "a_w"));
    let (c, d) = (of(from, "c_mm"), of(to, "c_mm"));
    share(a, b, a) + share(d, c, d)
}

/// Every list that is at most so many changes away from a build, with what it loses: another part
/// on a line, fewer pieces or up to two more, a line dropped where another of its kind stays, a
/// line added.
fn every_change(kit: &Kit, build: &Build, most: usize) -> Vec<(usize, i64, Build)> {
    let sold = |part: &Arc<Part>| is_sold(kit, part);
    let mut all: Vec<(usize, i64, Build, Vec<usize>)> = vec![(0, 0, build.clone(), Vec::new())];
    for at in 0..build.lines.len() {
        let line = &build.lines[at];
        let own = line.part().expect("a part").clone();
        let mut next = all.clone();
        for (changes, lost, other, dropped) in all.iter().filter(|b| b.0 < most) {
            for part in kit.catalogue().parts_of(line.kind()).filter(|p| p.id != own.id && sold(p))
            {
                let mut other = other.clone();
                other.lines[at].what = What::Part(part.clone());
                other.lines[at].owned = false;
                next.push((changes + 1, lost + loss(kit, &own, part), other, dropped.clone()));
            }
            for count in 1..=line.count + 2 {
                if count == line.count || (line.owned && count > line.count) {
                    continue;
                }
                let mut other = other.clone();
                other.lines[at].count = count;
                let gone = f64::from(line.count.saturating_sub(count)) / f64::from(line.count);
                let lost = lost + (gone * 100.0).ceil() as i64;
                next.push((changes + 1, lost, other, dropped.clone()));
            }
            let dropped = [dropped.as_slice(), &[at]].concat();
            next.push((changes + 1, lost + 100, other.clone(), dropped));
        }
        all = next;
    }
    let stays = |dropped: &[usize]| {
        let kinds = build.lines.iter().map(|l| l.kind());
        kinds.into_iter().all(|kind| {
            build.lines.iter().enumerate().any(|(at, l)| l.kind() == kind && !dropped.contains(&at))
        })
    };
    all.retain(|(.., dropped)| stays(dropped));
    let mut left: Vec<(usize, i64, Build)> = Vec::new();
    for (changes, lost, mut other, dropped) in all {
        let mut at = 0;
        other.lines.retain(|_| {
            at += 1;
            !dropped.contains(&(at - 1))
        });
        left.push((changes, lost, other));
    }
    with_added(kit, build, most, left)
}

fn is_sold(kit: &Kit, part: &Part) -> bool {
    !kit.catalogue().offers.history(&part.id).is_empty()
}

/// The same lists, and each with a line more of either kind.
fn with_added(
    kit: &Kit,
    build: &Build,
    most: usize,
    mut all: Vec<(usize, i64, Build)>,
) -> Vec<(usize, i64, Build)> {
    for kind in ["widget", "box"] {
        let kind = kit.catalogue().kind_id(kind).expect("a kind");
        let single = kit.catalogue().kind(kind).is_some_and(|k| k.single);
        if single && build.lines.iter().any(|l| l.kind() == kind) {
            continue;
        }
        let mut next = all.clone();
        for (changes, lost, other) in all.iter().filter(|b| b.0 < most) {
            for part in kit.catalogue().parts_of(kind).filter(|p| is_sold(kit, p)) {
                let mut other = other.clone();
                let mut line = build.lines[0].clone();
                line.what = What::Part(part.clone());
                (line.count, line.owned, line.mount, line.flow) = (1, false, None, None);
                line.included = true;
                other.lines.push(line);
                next.push((changes + 1, *lost, other));
            }
        }
        all = next;
    }
    all
}

/// Whether nothing stops a build and no rule breaks on it, each script run anew.
fn passes(kit: &Kit, build: &Build) -> bool {
    kit.remember(false);
    let audit = kit.audit(build);
    let broken = audit
        .outcomes()
        .any(|(r, o)| r.unit.is_none() && matches!(o, dryfit::inside::kit::Outcome::Broken(_)));
    !broken && audit.worst() != Some(Level::Stop)
}

/// The rules that caution of a build.
fn cautions(kit: &Kit, build: &Build) -> BTreeSet<Arc<str>> {
    let found = kit.audit(build).briefs().into_iter();
    found.filter(|b| b.level == Level::Caution && !b.waived).map(|b| b.rule).collect()
}

/// What a wish is called in the violations that are counted by hand.
fn name(wish: &PlanWish) -> String {
    match wish {
        PlanWish::Want(text) => format!("the want `{text}`"),
        PlanWish::Budget => "the budget".to_owned(),
        PlanWish::Rule(id) | PlanWish::NoCaution(id) => format!("rule {id}"),
        other => panic!("no such wish: {other:?}"),
    }
}

fn budget_minor(build: &Build) -> Option<i64> {
    let at = dryfit::inside::build::fields::build_field("budget")?;
    build.values[at as usize].as_num().map(|n| (n * 100.0).round() as i64)
}

fn beats(a: &[f64], b: &[f64]) -> bool {
    a.iter().zip(b).all(|(x, y)| x <= y)
}

proptest! {
    #![proptest_config(runs::config(SETS))]
    #[test]
    fn a_plan_is_what_trying_every_build_gives(
        widgets in (widget(0), widget(1), widget(2), widget(3), widget(4)),
        rules in script(),
        few in 1..4usize,
        prices in prop::collection::vec(0..9u32, 8),
        open in 1..4usize,
        fixed in prop::option::of(0..5usize),
        boxed in any::<bool>(),
        budget in prop::option::of(4..40u32),
        aim in prop::sample::select(&["minimise = \"price\"", "minimise = \"m.load\"", "maximise = \"m.load\"", "maximise = \"m.legs\"\nminimise = \"m.load\"", "minimise = \"build.sum(\\\"a_w\\\") * 2 - build.total\""][..]),
        want in prop::option::of(prop::sample::select(&["build.sum(\"a_w\") > 4", "build.all(\"widget\").some(|w| w.lit)", "measure(\"m.load\") <= 20"][..])),
        tolerate in prop::option::of(any::<bool>()),
    ) {
        let widgets = [widgets.0, widgets.1, widgets.2, widgets.3, widgets.4];
        let catalogue = catalogue(&widgets, &offers(&prices));
        // With all of the rules hardly a build passes.
        let rules: String = rules.split_inclusive("\n}\n").take(few).collect();
        let layers = layers(&rules);
        let kit = Kit::with_catalogue(catalogue.clone(), &layers.rules).expect("the rules load");
        let mut text = format!("{aim}\n");
        if let Some(cautions) = tolerate { let _ = writeln!(text, "tolerate = \"{}\"", if cautions { "caution" } else { "advice" }); }
        if let Some(budget) = budget { let _ = writeln!(text, "budget = \"{budget}.00 EUR\""); }
        if let Some(want) = want { let _ = writeln!(text, "wants = [{want:?}]"); }
        if let Some(part) = fixed { let _ = writeln!(text, "[[line]]\npart = \"widget/w{part}\"\nowned = true"); }
        for n in 0..open { let _ = writeln!(text, "[[line]]\nany = \"widget\"\ncount = {}", n % 2 + 1); }
        if boxed { text.push_str("[[line]]\nany = \"box\"\n"); }
        let brief = Brief::parse(&Source::new("brief.toml", text.as_str()), &catalogue, date(2026, 11, 20)).expect("the brief reads");
        let plan = match plan(&kit, &layers, &brief, limits()) {
            Ok(plan) => plan,
            // A want may break on every build, as `measure` may of a part that leaves something
            // out.
            Err(_) => return Ok(()),
        };
        prop_assert!(plan.proven && plan.front_proven);
        if !plan.left_out.is_empty() {
            // Some rule breaks on whatever was tried: that is said, and nothing is held to it.
            prop_assert_eq!(plan.exit_code(), 2);
        }
        prop_assume!(plan.left_out.is_empty());

        // The same by hand: the brief's rules are asked of a kit that knows them, each build from
        // the start.
        let goals = format!("/// G.\n/// Basis: none.\n/// Unit: x\nfn g(build) {{ build.sum(\"a_w\") * 2 - build.total }}\n/// W.\n/// Basis: none.\nfn w(build) {{ if !({}) {{ stop(\"no\", #{{}}); }} }}\n", want.unwrap_or("true"));
        let mut hand = layers.rules.clone();
        hand.push(Layer::from_texts("hand", &[("hand.rhai", goals.as_str())]));
        let judge = Kit::with_catalogue(catalogue.clone(), &hand).expect("the rules load");
        judge.remember(false);
        let held_to = |level: Level| {
        let judge = &judge;
        let mut passing: Vec<Vec<f64>> = Vec::new();
        let mut violated: Vec<Vec<String>> = Vec::new();
        for (build, cost) in every_build(judge, &brief.build) {
            let audit = judge.audit(&build);
            let broken = audit.outcomes().any(|(r, o)| r.unit.is_none() && matches!(o, dryfit::inside::kit::Outcome::Broken(_)));
            let over = budget_minor(&build).is_some_and(|b| cost > b);
            if broken || audit.worst().is_some_and(|w| w >= level) || over {
                let stops = audit.findings().into_iter().filter(|f| f.level >= level).map(|f| f.rule);
                let breaks = audit.outcomes().filter(|(_, o)| matches!(o, dryfit::inside::kit::Outcome::Broken(_))).map(|(r, _)| r.id.to_string());
                let names = stops.chain(breaks).map(|id| if id == "hand.w" { format!("the want `{}`", want.unwrap_or("")) } else { format!("rule {id}") });
                violated.push(names.chain(over.then(|| "the budget".to_owned())).collect());
                continue;
            }
            let measures = audit.measures();
            let of = |id: &str| measures.iter().find(|m| *m.id == *id).and_then(|m| m.value);
            let score = match aim {
                "minimise = \"price\"" => vec![],
                "minimise = \"m.load\"" => vec![of("m.load")],
                "maximise = \"m.load\"" => vec![of("m.load").map(|n| -n)],
                "minimise = \"build.sum(\\\"a_w\\\") * 2 - build.total\"" => vec![of("hand.g")],
                _ => vec![of("m.legs").map(|n| -n), of("m.load")],
            };
            let Some(mut score) = score.into_iter().collect::<Option<Vec<f64>>>() else { continue };
            score.push(cost as f64);
            passing.push(score);
        }
        (passing, violated)
        };
        // Where the brief does not say, cautions pass only if nothing without them meets it.
        let level = if tolerate == Some(true) { Level::Stop } else { Level::Caution };
        let (mut passing, mut violated) = held_to(level);
        prop_assert!(!plan.cautioned || tolerate.is_none());
        if tolerate.is_none() && passing.is_empty() {
            (passing, violated) = held_to(Level::Stop);
            prop_assert!(plan.cautioned || !plan.empty.is_empty());
        }
        passing.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
        if let Some(more) = &plan.spared_for {
            // The best is as good as the cheapest, and has none of the cautions it is rid of.
            let (best, first) = (&plan.best[0], &passing[0]);
            let dearer = best.total.minor() as f64 - first[first.len() - 1];
            prop_assert_eq!(dearer, more.minor() as f64);
            prop_assert!(dearer <= first[first.len() - 1] * if plan.cautioned { 0.1 } else { 0.01 }, "{}\n{}", rules, text);
            let rid = |f: &dryfit::inside::audit::finding::Brief| plan.spared.iter().all(|rule| **rule != *f.rule);
            prop_assert!(best.remains.iter().all(rid), "{}\n{}", rules, text);
            return Ok(());
        }
        let sign = |v: &[f64]| -> Vec<f64> {
            v.iter().enumerate().map(|(at, n)| if at == 0 && aim.starts_with("maximise") { -n } else { *n }).collect()
        };
        let minor = |m: &Total| m.minor() as f64;
        let found: Vec<Vec<f64>> = plan.best.iter().map(|a| { let mut s = sign(&a.values); *s.last_mut().expect("a goal") = minor(&a.total); s }).collect();
        let best: Vec<Vec<f64>> = passing.iter().take(5).cloned().collect();
        prop_assert_eq!(&found, &best, "{}\n{}", rules, text);

        for answer in &plan.best {
            let audit = judge.audit(&answer.build);
            let mut told: Vec<(String, String)> = answer.remains.iter().map(|f| (f.rule.to_string(), f.message.clone())).collect();
            let mut is: Vec<(String, String)> = audit.findings().into_iter().filter(|f| !f.rule.starts_with("hand.")).map(|f| (f.rule, f.message)).collect();
            told.sort();
            is.sort();
            prop_assert_eq!(told, is, "{}\n{}", rules, text);
        }
        if let (Some(best), true) = (passing.first(), plan.costs_proven) {
            // Letting a want or the budget go gains what is told, and nothing is told of a stop.
            for cost in &plan.costs {
                prop_assert!(cost.proven && cost.gain.is_some_and(|(_, gain)| gain > 0.0));
                let wish = !matches!(&cost.of, PlanWish::Rule(_));
                prop_assert!(wish, "{:?} {:?}", cost.of, best);
            }
        }

        let mut front: Vec<Vec<f64>> = passing.iter().filter(|p| !passing.iter().any(|q| q != *p && beats(q, p))).cloned().collect();
        front.dedup();
        if passing.first().is_some_and(|p| p.len() > 1) {
            let mut mine: Vec<Vec<f64>> = plan.front.iter().map(|a| { let mut s = sign(&a.values); *s.last_mut().expect("a goal") = minor(&a.total); s }).collect();
            mine.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
            prop_assert_eq!(&mine, &front, "{}\n{}", rules, text);
        }
        prop_assert_eq!(plan.best.is_empty(), passing.is_empty());
        if passing.is_empty() && plan.empty.is_empty() && plan.broken.is_empty() {
            prop_assert!(!plan.conflict.is_empty() && plan.conflict_smallest, "{}\n{}", rules, text);
            let conflict: Vec<String> = plan.conflict.iter().map(name).collect();
            let met = |set: &[String]| violated.iter().any(|v| !set.iter().any(|rule| v.contains(rule)));
            prop_assert!(!met(&conflict), "{:?}\n{}\n{}", plan.conflict, rules, text);
            // No rule by itself is to blame when more than one is named.
            let alone = violated.iter().flatten().any(|rule| !met(std::slice::from_ref(rule)));
            prop_assert!(plan.conflict.len() == 1 || !alone, "{:?}\n{}\n{}", plan.conflict, rules, text);
        }
    }

    #[test]
    fn a_mend_is_what_trying_every_swap_gives(
        widgets in (widget(0), widget(1), widget(2), widget(3), widget(4)),
        rules in script(),
        few in 1..4usize,
        prices in prop::collection::vec(0..9u32, 8),
        lines in prop::collection::vec((0..5usize, 1..3u32, any::<bool>()), 1..3),
        boxed in prop::option::of(0..3usize),
    ) {
        let widgets = [widgets.0, widgets.1, widgets.2, widgets.3, widgets.4];
        let catalogue = catalogue(&widgets, &offers(&prices));
        let rules: String = rules.split_inclusive("\n}\n").take(few).collect();
        let kit = Kit::with_catalogue(catalogue.clone(), &layers(&rules).rules).expect("the rules load");
        let text = list(&lines, boxed);
        let build = kit.read(&Source::new("build.toml", text.as_str()), date(2026, 11, 20)).expect("the build reads");
        let mended = mend(&kit, &build, limits());
        prop_assert!(mended.proven);
        prop_assume!(mended.left_out.is_empty());
        let fresh = Kit::with_catalogue(catalogue.clone(), &layers(&rules).rules).expect("the rules load");
        if fresh.audit(&build).worst() != Some(Level::Stop) {
            prop_assert!(mended.stops.is_empty());
            return Ok(());
        }
        let mut told: Vec<(usize, i64, i64)> = mended.ways.iter().filter(|w| !w.sparing)
            .map(|w| (w.changes.len(), w.loss, w.total.minor())).collect();
        told.sort_unstable();
        // Every list that is as few changes away as the best, or one less, by hand; where there is
        // none, every list that is two away.
        let fewest = told.first().map_or(2, |w| w.0);
        let mut ways: Vec<(usize, i64, i64)> = Vec::new();
        let before = cautions(&fresh, &build);
        let mut sparing: Option<(i64, i64)> = None;
        for (changes, loss, other) in every_change(&fresh, &build, fewest) {
            if changes > 0 && passes(&fresh, &other) {
                let price = cheapest(&fresh, &other);
                ways.push((changes, loss, price));
                if changes == fewest && cautions(&fresh, &other).is_subset(&before) {
                    let best = sparing.get_or_insert((loss, price));
                    *best = (*best).min((loss, price));
                }
            }
        }
        ways.sort_unstable();
        ways.dedup();
        let worse = |a: &(usize, i64, i64), b: &(usize, i64, i64)| a != b && b.0 <= a.0 && b.1 <= a.1 && b.2 <= a.2;
        let best: Vec<(usize, i64, i64)> =
            ways.iter().filter(|w| !ways.iter().any(|o| worse(w, o))).copied().collect();
        let found: Vec<(usize, i64, i64)> = told.iter().filter(|w| w.0 <= fewest).copied().collect();
        prop_assert_eq!(&found, &best, "{}\n{}", rules, text);
        // Beside those stands the best that raises no caution.
        if let Some(way) = mended.ways.iter().find(|w| w.sparing) {
            prop_assert!(cautions(&fresh, &way.build).is_subset(&before), "{}\n{}", rules, text);
            prop_assert_eq!(Some((way.loss, way.total.minor())), sparing, "{}\n{}", rules, text);
        }
        for way in &mended.ways {
            prop_assert!(passes(&fresh, &way.build), "{}\n{}", rules, text);
            prop_assert_eq!(way.total.minor(), cheapest(&fresh, &way.build));
            let edited = apply(&text, &edits(&way.changes)).expect("the edits apply");
            let edited = fresh.read(&Source::new("build.toml", edited.as_str()), date(2026, 11, 20)).expect("it reads");
            prop_assert!(passes(&fresh, &edited) && cheapest(&fresh, &edited) == way.total.minor());
        }
    }

    #[test]
    fn a_mix_is_what_trying_every_mixture_gives(
        widgets in (widget(0), widget(1), widget(2), widget(3), widget(4)),
        rules in script(),
        few in 1..4usize,
        prices in prop::collection::vec(1..9u32, 8),
        ours in prop::collection::vec((0..5usize, 1..3u32, any::<bool>()), 1..5),
        theirs in prop::collection::vec((0..5usize, 1..3u32, any::<bool>()), 1..5),
        boxes in (prop::option::of(0..3usize), prop::option::of(0..3usize)),
        most in any::<bool>(),
    ) {
        let widgets = [widgets.0, widgets.1, widgets.2, widgets.3, widgets.4];
        let catalogue = catalogue(&widgets, &offers(&prices));
        let rules: String = rules.split_inclusive("\n}\n").take(few).collect();
        let kit = Kit::with_catalogue(catalogue.clone(), &layers(&rules).rules).expect("the rules load");
        let read = |text: &str| kit.read(&Source::new("build.toml", text), date(2026, 11, 20)).expect("the build reads");
        let (a, b) = (read(&list(&ours, boxes.0)), read(&list(&theirs, boxes.1)));
        let load = kit.rules().find("m.load").expect("a measure");
        let mixed = mix(&kit, &a, &b, Some((load, most)), limits()).expect("they mix");
        prop_assert!(mixed.complete && mixed.counted);
        prop_assume!(mixed.left_out.is_empty());
        let fresh = Kit::with_catalogue(catalogue.clone(), &layers(&rules).rules).expect("the rules load");
        let mut good: Vec<u32> = Vec::new();
        for taken in 0..1u32 << mixed.differences.len() {
            let mut lines = Vec::new();
            for line in &a.lines {
                let at = mixed.differences.iter().position(|d| d.ours.as_ref().is_some_and(|o| o.spans.whole == line.spans.whole));
                match at.filter(|at| taken & (1 << at) != 0) {
                    Some(at) => lines.extend(mixed.differences[at].theirs.clone()),
                    None => lines.push(line.clone()),
                }
            }
            let extra = mixed.differences.iter().enumerate().filter(|(at, d)| d.ours.is_none() && taken & (1 << at) != 0);
            lines.extend(extra.filter_map(|(_, d)| d.theirs.clone()));
            if passes(&fresh, &a.with_lines(lines)) {
                good.push(taken);
            }
        }
        let mut found: Vec<u32> = mixed.passing.iter().map(|m| m.taken).collect();
        found.sort_unstable();
        prop_assert_eq!(&found, &good, "{}", rules);
        let keys: Vec<(f64, f64)> = mixed.passing.iter().filter_map(|m| Some((m.total.money.to_f64(), if most { -m.value? } else { m.value? }))).collect();
        for mixture in &mixed.passing {
            let Some(value) = mixture.value else { continue };
            let key = (mixture.total.money.to_f64(), if most { -value } else { value });
            let beaten = keys.iter().any(|k| k.0 <= key.0 && k.1 <= key.1 && *k != key);
            prop_assert_eq!(mixture.on_front, !beaten);
        }
        // The way across, step by step, or none where a search over everything that passes finds
        // none.
        let all = ((1u64 << mixed.differences.len()) - 1) as u32;
        let mut reached = vec![0u32];
        let mut at = 0;
        while good.contains(&0) && at < reached.len() {
            for bit in 0..mixed.differences.len() {
                let next = reached[at] ^ (1 << bit);
                if good.contains(&next) && !reached.contains(&next) {
                    reached.push(next);
                }
            }
            at += 1;
        }
        let there = good.contains(&0) && reached.contains(&all);
        prop_assert_eq!(mixed.path.is_some(), there, "{}", rules);
        if let Some(path) = &mixed.path {
            let mut here = 0u32;
            for bit in path {
                here ^= 1 << bit;
                prop_assert!(good.contains(&here));
            }
            prop_assert_eq!(here, all);
        }
    }
}
