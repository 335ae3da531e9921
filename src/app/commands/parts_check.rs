//! What `dryfit parts check` does: a shop's catalogue looked at by itself.

use std::collections::BTreeMap;
use std::path::PathBuf;

use super::parts::readers;
use crate::app::args::BaseArgs;
use crate::app::commands::{Page, kit_here};
use crate::app::counted::count;
use crate::app::report::style::Look;
use crate::build::What;
use crate::catalogue::Part;
use crate::catalogue::kinds::{Field, FieldType, Kind, KindId};
use crate::catalogue::value::Val;
use crate::kit::Kit;
use crate::layer::{Layer, read_source};
use crate::source::Problems;
use crate::words::some_of;

/// Fewest parts that give a figure before one of them can be out of the ordinary.
const ENOUGH: usize = 6;
/// How many times more or less than any other part's a figure must be to be out of the ordinary.
const FAR: f64 = 2.0;
/// Fewest fields that two parts must give alike to be taken for one.
const ALIKE: usize = 6;
/// Facts that are named.
const SHOWN: usize = 12;

/// `dryfit parts check`: what is odd, a section each; of the shop's own parts where it has any.
pub(super) fn run(builds: &[PathBuf], base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let kit = kit_here(base)?;
    let catalogue = kit.catalogue();
    let own = own_parts(&kit);
    let mut odd = Vec::new();
    let mut twins = Vec::new();
    let mut empty = Vec::new();
    for kind in (0..catalogue.kinds.len()).filter_map(|at| u16::try_from(at).ok()).map(KindId) {
        let Some(schema) = catalogue.kind(kind) else { continue };
        let parts: Vec<&Part> = catalogue.parts_of(kind).map(|p| &**p).collect();
        odd.extend(odd_figures(schema, &parts, &own));
        twins.extend(alike(schema, &parts, &own));
        empty.extend(never_given(&kit, schema, &parts));
    }
    let bare: Vec<&str> = catalogue
        .parts()
        .map(|p| &*p.id)
        .filter(|id| own.contains(id) && catalogue.offers.history(id).is_empty())
        .collect();
    let mut offers = Vec::new();
    if !bare.is_empty() {
        let names = some_of(bare.iter().copied(), 8);
        offers.push(format!("{}: {names}.", count(bare.len(), "part")));
    }
    let sections = [
        ("Out of the ordinary: a slip of the pen?", odd),
        ("One part under two names?", twins),
        ("No seller offers", offers),
        ("Rules read these, and no part gives them", empty),
        ("Look up first", wanted_facts(builds, base, &kit)?),
        ("Left out, as they cannot be read", left_out_parts(&kit, page)),
    ];
    let look = Look::stdout();
    page.write(&look.paragraph(&format!("{} checked.", count(own.len(), "part"))));
    for (title, found) in &sections {
        if !found.is_empty() {
            page.write(&format!("\n{title}\n"));
            found.iter().for_each(|sentence| page.write(&look.paragraph(sentence)));
        }
    }
    if sections.iter().all(|(_, found)| found.is_empty()) {
        page.write(&look.paragraph("Nothing is odd."));
    }
    Ok(if catalogue.broken().is_empty() { 0 } else { 2 })
}

/// The parts that the catalogue leaves out, their problems told in full first.
fn left_out_parts(kit: &Kit, page: &mut Page) -> Vec<String> {
    let broken = kit.catalogue().broken();
    if broken.is_empty() {
        return Vec::new();
    }
    page.refuse(&Problems(broken.iter().flat_map(|b| b.problems.iter().cloned()).collect()));
    let names = some_of(broken.iter().flat_map(|b| &b.parts).map(|p| &**p), 8);
    vec![format!("{}: {names}.", count(broken.iter().map(|b| b.parts.len()).sum(), "part"))]
}

/// The parts that are checked: those that the shop's files give or change, else all.
fn own_parts(kit: &Kit) -> Vec<&str> {
    let built_in: BTreeMap<String, String> = Layer::built_in_catalogue()
        .files
        .iter()
        .map(|(_, source)| (source.name.clone(), source.text.clone()))
        .collect();
    let shop = |p: &&Part| built_in.get(&p.source.name) != Some(&p.source.text);
    let all = || kit.catalogue().parts().map(|p| &**p);
    let own: Vec<&str> = all().filter(shop).map(|p| &*p.id).collect();
    if own.is_empty() { all().map(|p| &*p.id).collect() } else { own }
}

/// Figures that are twice as much, or half as much, as those of any other part of the kind. Days
/// and years are terms, not figures, and 0 is a word of its own.
fn odd_figures(kind: &Kind, parts: &[&Part], own: &[&str]) -> Vec<String> {
    let mut out = Vec::new();
    for (at, field) in kind.fields.iter().enumerate() {
        if field.unit.is_empty() || matches!(&*field.unit, "years" | "days") {
            continue;
        }
        let given = |p: &&Part| p.spans.get(at).is_some_and(|s| !s.is_empty());
        let mut values: Vec<(f64, &str)> = parts
            .iter()
            .copied()
            .filter(|p| given(p))
            .filter_map(|p| Some((p.values.get(at)?.as_num()?, &*p.id)))
            .filter(|(value, _)| *value > 0.0)
            .collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        if values.len() < ENOUGH {
            continue;
        }
        let ends = [
            (values.first(), values.get(1), true),
            (values.last(), values.get(values.len() - 2), false),
        ];
        for (end, next, low) in ends {
            let (Some((value, id)), Some((next, _))) = (end, next) else { continue };
            let far = if low { next / value } else { value / next };
            if far > FAR && own.contains(id) {
                let side = if low { "least" } else { "most" };
                out.push(format!(
                    "{id}: {} is {value} {}; the {side} of any other is {next} {}.",
                    field.name, field.unit, field.unit
                ));
            }
        }
    }
    out
}

/// Parts of one maker that give many fields and all of them alike, a sentence a group.
fn alike(kind: &Kind, parts: &[&Part], own: &[&str]) -> Vec<String> {
    let mut groups: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for part in parts {
        let mut said = Vec::new();
        for (at, field) in kind.fields.iter().enumerate() {
            let given = part.spans.get(at).is_some_and(|s| !s.is_empty());
            if given && !matches!(&*field.name, "name" | "manual") {
                said.push(format!("{}={:?}", field.name, part.values.get(at).map(Val::show)));
            }
        }
        if said.len() >= ALIKE {
            groups.entry(said.join(" ")).or_default().push(&part.id);
        }
    }
    let mut out = Vec::new();
    for ids in groups.values().filter(|ids| ids.len() > 1 && ids.iter().any(|id| own.contains(id)))
    {
        out.push(format!("{} are alike in every field.", ids.join(" and ")));
    }
    out
}

/// Fields that no part of the kind gives although rules read them, and that have no usual meaning
/// when they are left out.
fn never_given(kit: &Kit, kind: &Kind, parts: &[&Part]) -> Vec<String> {
    let empty = |at: usize| parts.iter().all(|p| p.spans.get(at).is_none_or(|s| s.is_empty()));
    let matters = |field: &Field| {
        !field.optional
            && field.absent.is_none()
            && !matches!(field.ty, FieldType::Records(_))
            && !readers(kit, kind, &field.name).is_empty()
    };
    let names: Vec<&str> = kind
        .fields
        .iter()
        .enumerate()
        .filter(|(at, field)| !parts.is_empty() && empty(*at) && matters(field))
        .map(|(_, field)| &*field.name)
        .collect();
    if names.is_empty() {
        return Vec::new();
    }
    vec![format!("{}: {}.", kind.title, names.join(", "))]
}

/// The facts that the parts of the shop's lists lack, those first that most rules read in most
/// lists.
fn wanted_facts(builds: &[PathBuf], base: &BaseArgs, kit: &Kit) -> Result<Vec<String>, Problems> {
    let catalogue = kit.catalogue();
    let mut wanted: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    let files = if builds.is_empty() { Vec::new() } else { crate::app::lists::only_lists(builds)? };
    for file in files {
        let build = kit.read(&read_source(&file)?, base.today())?;
        let mut told: Vec<String> = Vec::new();
        for line in &build.lines {
            let What::Part(part) = &line.what else { continue };
            let Some(kind) = catalogue.kind(part.kind) else { continue };
            for (field, _) in kind.fields.iter().zip(&part.values).filter(|(_, v)| v.is_unknown()) {
                let rules = readers(kit, kind, &field.name).len();
                let place = format!("{} of {}", field.name, part.name);
                if rules > 0 && !told.contains(&place) {
                    let entry = wanted.entry(place.clone()).or_default();
                    *entry = (rules, entry.1 + 1);
                    told.push(place);
                }
            }
        }
    }
    let mut order: Vec<(String, (usize, usize))> = wanted.into_iter().collect();
    order.sort_by(|(a, (ra, la)), (b, (rb, lb))| (rb * lb).cmp(&(ra * la)).then(a.cmp(b)));
    Ok(order
        .into_iter()
        .take(SHOWN)
        .map(|(place, (rules, lists))| {
            format!("{place}: {} read it, in {}.", count(rules, "rule"), count(lists, "list"))
        })
        .collect())
}
