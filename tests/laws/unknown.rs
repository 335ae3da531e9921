//! What is called certain where facts are missing holds in every completion of them, and what is
//! called settled is settled so.
//!
//! Random catalogues of which facts are struck out, random rules; each is held to audits of the
//! same catalogue with the gaps filled at random, which is all that the oracle knows.

use std::collections::BTreeSet;

use dryfit::inside::audit::finding::Settled;
use dryfit::inside::kit::{Audit, Kit, Ruling};
use dryfit::inside::level::Level;
use dryfit::inside::source::Source;
use jiff::civil::date;
use proptest::prelude::*;

use crate::runs;
use crate::scripts::{catalogue_of, kit, script, widget};

/// Sets of rules and catalogues.
const SETS: u32 = 300;
/// Completions of each.
const COMPLETIONS: usize = 24;

/// What a finding is about, without the figures in it: the same in every completion.
type Key = (String, Level, String);

fn key(rule: &str, level: Level, message: &str) -> Key {
    let about = [" with ", " is ", " lists "].iter().filter_map(|mark| message.find(mark)).min();
    let about = about.and_then(|at| message.get(..at)).unwrap_or("total");
    (rule.to_owned(), level, about.to_owned())
}

fn audit(kit: &Kit, list: &str) -> Audit {
    let build = kit.read(&Source::new("list", list), date(2026, 11, 20)).expect("the list reads");
    kit.audit(&build)
}

/// The fields of a widget that may be struck out, by the beginning of their line.
const FIELDS: &[&str] = &["a_w", "b_w", "c_mm", "tag", "hint", "lit", "words", "plugs", "legs"];

/// A widget without some of its fields.
fn struck(text: &str, strike: u16) -> String {
    let goes = |line: &str| {
        FIELDS
            .iter()
            .enumerate()
            .any(|(at, field)| strike & (1 << at) != 0 && line.starts_with(&format!("{field} =")))
    };
    text.lines().filter(|line| !goes(line)).map(|line| format!("{line}\n")).collect()
}

/// The struck widget with its gaps filled by what `pick` says: a number from 0 up to its argument.
fn filled(text: &str, strike: u16, pick: &mut dyn FnMut(usize) -> usize) -> String {
    const WORDS: [&str; 3] = ["red", "blue", "grey"];
    let mut out = struck(text, strike);
    for (at, field) in FIELDS.iter().enumerate() {
        // What the widget left out itself is a gap as well.
        if strike & (1 << at) == 0 && text.lines().any(|l| l.starts_with(&format!("{field} ="))) {
            continue;
        }
        let half = |n: usize| n as f64 / 2.0;
        let value = match *field {
            // From end to end of what it may be.
            "a_w" => match pick(17) {
                13 => "-1e12".to_owned(),
                14 => "1e12".to_owned(),
                15 => "-2.5".to_owned(),
                16 => "40".to_owned(),
                n => half(n).to_string(),
            },
            "c_mm" => half(pick(13)).to_string(),
            "b_w" if pick(3) == 0 => continue,
            "b_w" => half(pick(13)).to_string(),
            "tag" => format!("{:?}", WORDS[pick(3)]),
            "hint" if pick(3) == 0 => continue,
            "hint" => format!("{:?}", WORDS[pick(3)]),
            "lit" => (pick(2) == 0).to_string(),
            "words" => format!("{:?}", WORDS.iter().filter(|_| pick(2) == 0).collect::<Vec<_>>()),
            "plugs" => format!("{{ red = {}, blue = {} }}", pick(4), pick(3)),
            _ => {
                let legs: Vec<String> = (0..pick(3))
                    .map(|_| {
                        format!("{{ size = {}, tone = {:?} }}", half(pick(13)), WORDS[pick(3)])
                    })
                    .collect();
                format!("[{}]", legs.join(", "))
            }
        };
        out.push_str(&format!("{field} = {value}\n"));
    }
    out
}

/// What rules of an audit are broken.
fn broken(audit: &Audit) -> BTreeSet<String> {
    audit.broken().iter().filter_map(|b| b.rule.as_deref().map(str::to_owned)).collect()
}

proptest! {
    #![proptest_config(runs::config(SETS))]
    #[test]
    fn what_is_certain_holds_in_every_completion(
        widgets in prop::collection::vec(widget(0), 3..=3),
        strikes in prop::collection::vec(any::<u16>(), 3..=3),
        keep in any::<u16>(),
        rules in script(),
        lines in prop::collection::vec(0..3usize, 1..4),
        seed in any::<u64>(),
    ) {
        let widgets: Vec<String> = widgets
            .iter()
            .enumerate()
            .map(|(at, text)| text.replace("[w0]", &format!("[w{at}]")).replace("Widget 0", &format!("Widget {at}")))
            .collect();
        let strikes: Vec<u16> = strikes.iter().map(|s| s & keep & 0x1ff).collect();
        let list: String = lines.iter().map(|w| format!("[[line]]\npart = \"widget/w{w}\"\n")).collect();
        let gaps: String = widgets.iter().zip(&strikes).map(|(w, s)| struck(w, *s)).collect();
        let unknown = kit(&catalogue_of(&format!("kind = \"widget\"\n{gaps}"), ""), &rules);
        let seen = audit(&unknown, &list);
        let certain: BTreeSet<Key> = seen
            .findings()
            .iter()
            .filter(|f| f.settled == Settled::Certain)
            .map(|f| key(&f.rule, f.level, &f.message))
            .collect();
        let open: BTreeSet<String> = seen.open_rules().into_iter().map(|o| o.rule).collect();
        let already = broken(&seen);
        let mut state = seed | 1;
        let mut pick = |below: usize| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 33) as usize % below.max(1)
        };
        for _ in 0..COMPLETIONS {
            let whole: String =
                widgets.iter().zip(&strikes).map(|(w, s)| filled(w, *s, &mut pick)).collect();
            let complete =
                kit(&catalogue_of(&format!("kind = \"widget\"\ncomplete = true\n{whole}"), ""), &rules);
            let told = audit(&complete, &list);
            let failed = broken(&told);
            let found: BTreeSet<Key> =
                told.findings().iter().map(|f| key(&f.rule, f.level, &f.message)).collect();
            for sure in certain.iter().filter(|k| !failed.contains(&k.0)) {
                prop_assert!(found.contains(sure), "{sure:?} was certain\n{rules}\n{gaps}\nas\n{whole}\n{list}");
            }
            for here in &found {
                prop_assert!(
                    certain.contains(here) || open.contains(&here.0) || already.contains(&here.0),
                    "{here:?} was ruled out\n{rules}\n{gaps}\nas\n{whole}\n{list}"
                );
            }
            if seen.ruling() == Ruling::Stop && failed.is_empty() {
                prop_assert_eq!(told.ruling(), Ruling::Stop);
            }
        }
        // The same on a kit that has seen other lists meanwhile.
        let words = |a: &Audit| format!("{:?} {:?} {:?}", a.ruling(), a.open_rules(), a.questions());
        let fresh = kit(&catalogue_of(&format!("kind = \"widget\"\n{gaps}"), ""), &rules);
        audit(&fresh, "[[line]]\npart = \"widget/w1\"\n[[line]]\npart = \"box/b1\"\n");
        audit(&fresh, &list);
        prop_assert_eq!(words(&audit(&fresh, &list)), words(&seen));
    }
}

/// The fields of each widget of a list that pointers name: the place of the line, and the field.
fn pointed(places: &[String], lines: usize) -> BTreeSet<(usize, usize)> {
    let mut found = BTreeSet::new();
    for place in places {
        let Some(rest) = place.strip_prefix("widget") else { continue };
        let (nth, rest) = match rest.strip_prefix('[').and_then(|r| r.split_once(']')) {
            Some((nth, rest)) => (nth.parse().unwrap_or(0), rest),
            None => (0, rest),
        };
        let Some(field) = rest.strip_prefix('.') else { continue };
        let field = field.split(['[', '.']).next().unwrap_or(field);
        if let Some(at) = FIELDS.iter().position(|f| *f == field).filter(|_| nth < lines) {
            found.insert((nth, at));
        }
    }
    found
}

proptest! {
    #![proptest_config(runs::config(SETS))]
    #[test]
    fn the_facts_that_are_pointed_at_prove_the_finding(
        widgets in prop::collection::vec(widget(0), 3..=3),
        rules in script(),
        order in Just(vec![0usize, 1, 2]).prop_shuffle(),
        count in 1..=3usize,
        seed in any::<u64>(),
    ) {
        let widgets: Vec<String> = widgets
            .iter()
            .enumerate()
            .map(|(at, text)| {
                let text: String = text.lines().filter(|l| !l.starts_with("includes")).map(|l| format!("{l}\n")).collect();
                text.replace("[w0]", &format!("[w{at}]")).replace("Widget 0", &format!("Widget {at}"))
            })
            .collect();
        let order: Vec<usize> = order.into_iter().take(count).collect();
        let list: String = order.iter().map(|w| format!("[[line]]\npart = \"widget/w{w}\"\n")).collect();
        let file = |widgets: &[String]| format!("kind = \"widget\"\ncomplete = true\n{}", widgets.concat());
        let known = kit(&catalogue_of(&file(&widgets), ""), &rules);
        let seen = audit(&known, &list);
        let mut state = seed | 1;
        let mut pick = |below: usize| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 33) as usize % below.max(1)
        };
        for finding in seen.proven().iter().take(4) {
            let places: Vec<String> = finding.pointers.iter().map(|p| p.place.clone()).collect();
            if places.len() >= dryfit::inside::audit::finding::MAX_POINTERS {
                continue;
            }
            let kept = pointed(&places, order.len());
            let this = key(&finding.rule, finding.level, &finding.message);
            for _ in 0..COMPLETIONS / 2 {
                let other: Vec<String> = widgets
                    .iter()
                    .enumerate()
                    .map(|(at, text)| {
                        let line = order.iter().position(|w| *w == at);
                        let strike = (0..FIELDS.len())
                            .filter(|f| line.is_none_or(|line| !kept.contains(&(line, *f))))
                            .fold(0u16, |strike, f| strike | (1 << f));
                        // A kept field that is left out stays left out.
                        let absent = |f: &&str| !text.lines().any(|l| l.starts_with(&format!("{f} =")));
                        let filled = filled(text, strike, &mut pick);
                        let gone: Vec<&str> = FIELDS
                            .iter()
                            .enumerate()
                            .filter(|(f, name)| strike & (1 << f) == 0 && absent(name))
                            .map(|(_, name)| *name)
                            .collect();
                        filled
                            .lines()
                            .filter(|l| !gone.iter().any(|g| l.starts_with(&format!("{g} ="))))
                            .map(|l| format!("{l}\n"))
                            .collect()
                    })
                    .collect();
                let told = audit(&kit(&catalogue_of(&file(&other), ""), &rules), &list);
                if broken(&told).contains(&this.0) {
                    continue;
                }
                let found: BTreeSet<Key> =
                    told.findings().iter().map(|f| key(&f.rule, f.level, &f.message)).collect();
                prop_assert!(
                    found.contains(&this),
                    "{this:?} rests on {places:?} alone\n{rules}\n{}\nas\n{}\n{list}",
                    widgets.concat(),
                    other.concat()
                );
            }
        }
    }
}
