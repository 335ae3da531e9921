//! What comes in a part's box.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

use super::broken::BrokenParts;
use super::kinds::{FieldType, KindId};
use super::value::Val;
use super::{Catalogue, Part, field_reader};
use crate::source::{Problem, Span};
use crate::words::clip;

/// Most parts that may come in one box, what is in the boxes within it among them.
pub const MAX_BOX: usize = 64;

/// What is in a box.
pub(super) enum Unpacked {
    /// How many entries, those of the boxes within it among them; counted to one past the limit.
    Held(usize),
    /// The box is within itself: the way there.
    Circle(Vec<String>),
}

/// Opens a box and the boxes within it.
pub(super) fn unpack(boxes: &HashMap<&str, Vec<Arc<str>>>, id: &str) -> Unpacked {
    let mut count = 0;
    let mut ways = vec![vec![id]];
    while let Some(way) = ways.pop() {
        for held in way.last().and_then(|last| boxes.get(last)).into_iter().flatten() {
            let longer: Vec<&str> = way.iter().copied().chain([&**held]).collect();
            if **held == *id {
                return Unpacked::Circle(longer.into_iter().map(str::to_owned).collect());
            }
            count += 1;
            // A circle that does not lead back here is told of the parts that it does lead back to.
            if count > MAX_BOX || way.contains(&&**held) {
                return Unpacked::Held(count);
            }
            ways.push(longer);
        }
    }
    Unpacked::Held(count)
}

/// A part that comes in another's box.
pub(crate) struct Include {
    pub(crate) part: Arc<str>,
    pub(crate) count: f64,
    pub(crate) mount: Val,
    pub(crate) flow: Val,
    /// Whether the box does not say so, and `flow` is how its mount is usually turned.
    pub(crate) flow_usual: bool,
}

impl Catalogue {
    /// Which way what is mounted there is usually turned, if parts of the kind are mounted.
    pub(crate) fn usual_flow(&self, kind: KindId, mount: &str) -> Option<&Arc<str>> {
        let table = self.table_named("mount")?;
        let mounted = self.kind(kind).is_some_and(|k| k.mounted);
        if mounted { table.cell(mount, table.column("usual_flow")?).as_text() } else { None }
    }
}

/// Whether a part has no other in its box, as most have none.
fn comes_alone(catalogue: &Catalogue, part: &Part) -> bool {
    let held = catalogue
        .kind(part.kind)
        .and_then(|kind| kind.includes)
        .and_then(|at| part.values.get(at as usize));
    held.is_none_or(Val::is_absent)
}

/// What comes in a part's box, by its field `includes`.
pub(super) fn includes(catalogue: &Catalogue, part: &Part) -> Vec<Include> {
    let Some((at, field)) = catalogue
        .kind(part.kind)
        .and_then(|k| Some((k.includes?, k.fields.get(k.includes? as usize)?)))
    else {
        return Vec::new();
    };
    let (FieldType::Records(fields), Some(Val::Records(records))) =
        (&field.ty, part.values.get(at as usize))
    else {
        return Vec::new();
    };
    let sub = |record: &[Val], name: &str| {
        fields
            .iter()
            .position(|f| &*f.name == name)
            .and_then(|at| record.get(at))
            .cloned()
            .unwrap_or_default()
    };
    records
        .iter()
        .filter_map(|record| {
            let held = sub(record, "part").as_text()?.clone();
            let (mount, said) = (sub(record, "mount"), sub(record, "flow"));
            let usual = match (said.as_text(), mount.as_text(), catalogue.part(&held)) {
                (None, Some(mount), Some(part)) => catalogue.usual_flow(part.kind, mount),
                _ => None,
            };
            Some(Include {
                part: held,
                count: sub(record, "count").as_num().unwrap_or(1.0),
                flow_usual: usual.is_some(),
                flow: usual.map_or(said, |way| Val::Text(way.clone())),
                mount,
            })
        })
        .collect()
}

/// Everything that comes in a part's box and in the boxes within it, nearest first, counted for one
/// outer box. What is of a single kind yields to a line of its own, with its box; `taken` says of
/// which kinds there is one. The catalogue is loaded only where this ends.
pub(crate) fn unboxed(
    catalogue: &Catalogue,
    part: &Part,
    taken: impl Fn(KindId) -> bool,
) -> Vec<(Arc<Part>, Include)> {
    if comes_alone(catalogue, part) {
        return Vec::new();
    }
    let mut within: VecDeque<Include> = includes(catalogue, part).into();
    let mut found = Vec::new();
    while let Some(include) = within.pop_front() {
        let Some(part) = catalogue.part(&include.part) else { continue };
        if catalogue.kind(part.kind).is_some_and(|k| k.single) && taken(part.kind) {
            continue;
        }
        within.extend(
            includes(catalogue, part)
                .into_iter()
                .map(|inner| Include { count: inner.count * include.count, ..inner }),
        );
        found.push((part.clone(), include));
    }
    found
}

pub(super) fn included_span(catalogue: &Catalogue, part: &Part, index: usize) -> Span {
    let at = catalogue
        .kind(part.kind)
        .and_then(|k| k.field("includes"))
        .map_or(0, |(at, _)| at as usize);
    let outer = part.spans.get(at).copied().unwrap_or(part.head);
    field_reader::inner_span(
        &part.source,
        outer,
        &[field_reader::Step::Index(index), field_reader::Step::Key("part")],
    )
}

impl Catalogue {
    /// Parts whose boxes cannot be opened, and why.
    pub(super) fn wrong_boxes(&self, broken: &BrokenParts) -> Vec<(Vec<Arc<str>>, Problem)> {
        let mut found: Vec<(Vec<Arc<str>>, Problem)> = Vec::new();
        for part in self.boxes() {
            for (index, include) in includes(self, part).into_iter().enumerate() {
                if !self.part_ids.contains_key(&include.part) {
                    found.push((
                        vec![part.id.clone()],
                        self.missing_in_box(broken, part, index, &include.part),
                    ));
                }
            }
        }
        let boxes: HashMap<&str, Vec<Arc<str>>> = self
            .boxes()
            .map(|part| {
                (&*part.id, includes(self, part).into_iter().map(|i| i.part).collect::<Vec<_>>())
            })
            .filter(|(_, held)| !held.is_empty())
            .collect();
        for part in self.boxes().filter(|p| boxes.contains_key(&*p.id)) {
            let (message, help, parts) = match unpack(&boxes, &part.id) {
                Unpacked::Held(count) if count <= MAX_BOX => continue,
                // Once is enough: at the first of its parts.
                Unpacked::Circle(chain) if chain.iter().any(|id| **id < *part.id) => continue,
                Unpacked::Held(_) => (
                    format!("more than {MAX_BOX} parts are included with {}", part.id),
                    "a line a part in the list says the same",
                    vec![part.id.clone()],
                ),
                Unpacked::Circle(chain) => (
                    format!("parts come in one another's boxes in a circle: {}", chain.join(" → ")),
                    "take one of them out of the `includes` of the other",
                    chain.iter().skip(1).map(|id| (**id).into()).collect(),
                ),
            };
            let problem = Problem::new(message)
                .at(&part.source, included_span(self, part, 0), "included here")
                .help(help);
            found.push((parts, problem));
        }
        found
    }

    fn missing_in_box(&self, broken: &BrokenParts, part: &Part, index: usize, id: &str) -> Problem {
        let span = included_span(self, part, index);
        if broken.holds(id) {
            return Problem::new(format!("{} includes {id}, which is left out", part.id)).at(
                &part.source,
                span,
                "this part cannot be read",
            );
        }
        Problem::new(format!(
            "{} includes {}, which is not in the catalogue",
            part.id,
            clip(id, 60)
        ))
        .at(&part.source, span, "unknown part")
        .suggest(id, self.part_ids.keys().map(|k| &**k))
    }
}
