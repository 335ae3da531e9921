//! Rules that say nothing which another rule does not say too, and tables that no script reads.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use jiff::civil::Date;

use crate::audit::verdict::Verdict;
use crate::cases::Suite;
use crate::kit::{Audit, Kit, Layers};
use crate::layer::carried_catalogue;
use crate::level::Level;
use crate::rules::loader::Rule;
use crate::rules::outline::Outline;
use crate::rules::tokens::Token;
use crate::source::{Problem, Source, Span};

/// What cases show of a rule that they make raise something.
struct Raised {
    levels: BTreeSet<Level>,
    /// Rules that raise as much each time, for reasons that its own ways hold.
    always: BTreeSet<u16>,
}

/// Rules of a layer that another implies: on every way on which a case of any layer makes them
/// raise something, their answers already say that the other raises as much.
pub(super) fn implied(kit: &Kit, layers: &Layers, layer: &str, found: &mut Vec<Problem>) {
    let rules = kit.rules();
    let raises = |r: &&Rule| r.unit.is_none() && r.flaw.is_none() && !r.levels().is_empty();
    let ids = |own: bool| -> BTreeSet<String> {
        let wanted = rules.rules.iter().filter(raises).filter(|r| !own || r.layer == layer);
        wanted.map(|r| r.id.to_string()).collect()
    };
    let (own, all) = (ids(true), ids(false));
    if own.is_empty() {
        return;
    }
    let own_at: BTreeSet<u16> = own.iter().filter_map(|id| rules.find(id)).collect();
    let mut raised = BTreeMap::new();
    for layer in &layers.rules {
        let suite = Suite::read(layer, None, kit.catalogue(), &rules, &kit.settings());
        // What a case sets otherwise is no plain number on its ways.
        for case in suite.cases.iter().filter(|case| case.settings.is_empty()) {
            if case.run_rules(kit, &own, |audit| !fired(audit).is_empty()) {
                case.run_rules(kit, &all, |audit| note(kit, &own_at, &fired(audit), &mut raised));
            }
        }
    }
    // A part of each kind of which nothing is known goes every way that a rule has for it.
    let unknown: Vec<String> = kit
        .catalogue()
        .kinds
        .iter()
        .map(|kind| format!("[[line]]\nkind = \"{0}\"\nname = \"{0}\"\n", kind.name))
        .collect();
    let source = Source::new("every kind".to_owned(), unknown.concat());
    if let Ok(build) = kit.read(&source, Date::constant(2000, 1, 1)) {
        note(kit, &own_at, &fired(&kit.audit(&build)), &mut raised);
    }
    for (at, told) in &raised {
        let Some(rule) = rules.rules.get(*at as usize).filter(|r| own.contains(&*r.id)) else {
            continue;
        };
        // Of two that say the same, the one that comes later is too much.
        let mutual = |by: &u16| raised.get(by).is_some_and(|other| other.always.contains(at));
        // What goes on the sheet only is not said in an audit.
        let said = |by: &u16| rules.rules.get(*by as usize).is_some_and(|r| !r.on_sheet);
        let mut others = told.always.iter().filter(|by| said(by));
        let by = others.find(|by| *by < at || !mutual(by));
        let whole = rule.levels().iter().all(|level| told.levels.contains(level));
        let by = by.and_then(|by| rules.rules.get(*by as usize)).filter(|_| whole);
        let (Some(by), None) = (by, &rule.deprecated) else { continue };
        let file = |rule: &Rule| rules.files.get(rule.file_at as usize).map(|f| f.source.clone());
        let (Some(source), Some(other)) = (file(rule), file(by)) else { continue };
        let said = format!("whenever `{}` raises something, `{}` does too", rule.id, by.id);
        found.push(
            Problem::new(said)
                .code("implied-rule")
                .at(&source, rule.span(), "this rule")
                .at(&other, by.span(), "this one speaks already")
                .help("take it out, or let it speak where the other is silent"),
        );
    }
}

/// Every way of an audit's rules that raises something, with the worst that it raises.
fn fired(audit: &Audit) -> Vec<(u16, Rc<Verdict>, Level)> {
    let worst = |(at, verdict): (u16, &Rc<Verdict>)| {
        Some((at, verdict.clone(), verdict.drafts.iter().map(|draft| draft.level).max()?))
    };
    audit.ways().filter_map(worst).collect()
}

/// Notes which rules raise as much as each of a layer's that raises something, and must.
fn note(
    kit: &Kit,
    own: &BTreeSet<u16>,
    fired: &[(u16, Rc<Verdict>, Level)],
    raised: &mut BTreeMap<u16, Raised>,
) {
    for (at, verdict, level) in fired.iter().filter(|(at, ..)| own.contains(at)) {
        let others = fired.iter().filter(|(by, ..)| by != at).flat_map(|(by, other, _)| {
            let as_much = other.drafts.iter().filter(|draft| draft.level >= *level);
            as_much.map(|draft| (*by, other.path.get(..draft.asked).unwrap_or(&other.path)))
        });
        let worst = verdict.drafts.iter().find(|draft| draft.level == *level);
        let way = worst.and_then(|draft| verdict.path.get(..draft.asked)).unwrap_or(&verdict.path);
        let always: BTreeSet<u16> = kit.implied(way, others).into_iter().collect();
        let levels = verdict.drafts.iter().map(|draft| draft.level);
        match raised.get_mut(at) {
            Some(held) => {
                held.levels.extend(levels);
                held.always.retain(|by| always.contains(by));
            }
            None => {
                raised.insert(*at, Raised { levels: levels.collect(), always });
            }
        }
    }
}

/// Tables and columns that a shop's own catalogue brings in and no script names.
pub(super) fn tables(kit: &Kit, layers: &Layers, found: &mut Vec<Problem>) {
    let Some(top) = layers.catalogue.last().filter(|_| layers.catalogue.len() > 1) else { return };
    let rules = kit.rules();
    let outlines: Vec<Outline<'_>> =
        rules.files.iter().map(|file| Outline::read(&file.source.text)).collect();
    let named: BTreeSet<&str> = outlines
        .iter()
        .flat_map(|outline| outline.tokens.iter().filter_map(Token::quoted))
        .collect();
    for (below, source) in top.files.iter().filter(|(below, _)| below.starts_with("tables/")) {
        let carried = carried_catalogue(below).unwrap_or("");
        let spot = |text: &str| {
            let at = source.text.find(text).unwrap_or(0);
            Span::new(at, at + text.len().min(source.text.len() - at))
        };
        let of_file = |name: &str| source.text.contains(&format!("\"{name}\""));
        let tables = kit.catalogue().tables.iter().filter(|table| of_file(&table.name));
        for table in tables.filter(|table| below.ends_with(&format!("/{}.toml", table.name))) {
            let idle = |what: String, place: Span| {
                Problem::new(format!("no rule reads {what}"))
                    .code("unused-table")
                    .at(source, place, "nobody reads it")
                    .help("take it out, or read it: table(\"TABLE\", row, \"COLUMN\")")
            };
            if carried.is_empty() && !named.contains(&*table.name) {
                found.push(idle(format!("table `{}`", table.name), spot("table")));
                continue;
            }
            for column in &table.columns {
                let heading = format!("[column.{}]", column.name);
                let own = source.text.contains(&heading) && !carried.contains(&heading);
                if own && !named.contains(&*column.name) {
                    let what = format!("column `{}` of table `{}`", column.name, table.name);
                    found.push(idle(what, spot(&heading)));
                }
            }
        }
    }
}
