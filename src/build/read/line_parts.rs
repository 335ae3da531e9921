//! The part that a line of a build means: one of the catalogue, with facts added or changed, or one
//! that the line describes.

use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{BuildReader, LINE, OFFER};
use crate::build::{LineSpans, What};
use crate::catalogue::field_reader::found;
use crate::catalogue::kinds::LINE_WORDS;
use crate::catalogue::value::Val;
use crate::catalogue::{LeftOut, Part, Place};
use crate::source::{Problem, Span};
use crate::words::{and, clip, is_one_of, slug, some_of};

impl BuildReader<'_> {
    /// Whether a line that says where its part is fitted is of a kind that has such places.
    pub(super) fn place_of_kind(&mut self, what: &What, spans: &LineSpans) {
        let said = [("mount", spans.mount), ("flow", spans.flow)];
        let Some(kind) = self.catalogue.kind(what.kind()).filter(|kind| !kind.mounted) else {
            return;
        };
        let mounted = self.catalogue.kinds.iter().filter(|kind| kind.mounted);
        let mounted: Vec<String> = mounted.map(|kind| kind.name.to_string()).collect();
        // Where no kind is marked, the catalogue does not say which have places.
        if mounted.is_empty() {
            return;
        }
        for (key, span) in said.into_iter().filter(|(_, span)| !span.is_empty()) {
            self.helped(
                span,
                format!("a {} has no place in the case: `{key}` says nothing of it", kind.title),
                format!("on a line of kind {}", kind.name),
                format!("take it out; kinds with places: {}", and(&mounted)),
            );
        }
    }

    pub(super) fn named_part(
        &mut self,
        entry: &Spanned<DeValue<'_>>,
        table: &DeTable<'_>,
    ) -> Option<What> {
        let id = entry.get_ref().as_str()?;
        let Some(part) = self.catalogue.part(id).cloned() else {
            self.unknown_part(id, entry.span().into());
            return None;
        };
        match table.get("set").filter(|_| self.spot).and_then(|v| v.get_ref().as_table()) {
            Some(changes) => self.changed(&part, changes).map(|p| What::Part(Arc::new(p))),
            None => Some(What::Part(self.with_facts(part, table)?)),
        }
    }

    /// The part with the facts that its line adds: what the catalogue does not know.
    fn with_facts(&mut self, part: Arc<Part>, table: &DeTable<'_>) -> Option<Arc<Part>> {
        let Some(facts) = self.facts(table) else { return Some(part) };
        let added = self.changed(&part, facts)?;
        let kind = self.catalogue.kind(part.kind)?;
        for ((field, held), (now, span)) in
            kind.fields.iter().zip(&part.values).zip(added.values.iter().zip(&added.spans))
        {
            if !span.is_empty() && !held.agrees(now) {
                self.problem(
                    *span,
                    format!(
                        "{} has {} = {} in the catalogue, and {} here",
                        part.name,
                        field.name,
                        held.show(),
                        now.show()
                    ),
                    "take it out here, or correct the catalogue",
                );
            }
        }
        Some(Arc::new(added))
    }

    fn facts<'t>(&mut self, table: &'t DeTable<'_>) -> Option<&'t DeTable<'t>> {
        let value = table.get("facts")?;
        let facts = value.get_ref().as_table();
        if facts.is_none() {
            self.helped(
                value.span(),
                "`facts` must be a table",
                format!("this is {}", found(value.get_ref())),
                "write facts = { rated_w = 850 }",
            );
        }
        facts
    }

    /// A part of no catalogue: its kind, its name, and what is known of it.
    pub(super) fn described(&mut self, table: &DeTable<'_>, whole: Span) -> Option<What> {
        let kind = self.kind(table.get("kind")?)?;
        let name = table.get("name").and_then(|n| n.get_ref().as_str()).map(str::trim);
        let Some(name) = name.filter(|name| !name.is_empty()) else {
            self.helped(
                whole,
                "a line with a `kind` describes a part, and this one gives it no name",
                "here",
                "add `name = \"…\"`; for any part of the kind write `any = \"kind\"`",
            );
            return None;
        };
        let nothing = DeTable::new();
        let facts = self.facts(table).unwrap_or(&nothing);
        let word = &self.catalogue.kind(kind)?.name;
        let id = format!("{word}/{}", slug(name));
        let mut part = self.catalogue.part_from(
            &id,
            kind,
            facts,
            &["name"],
            whole,
            self.source,
            self.problems,
            LeftOut::Named,
        )?;
        part.name = clip(name, 120).into();
        if let Some((at, _)) = self.catalogue.kind(kind)?.field("name")
            && let Some(slot) = part.values.get_mut(at as usize)
        {
            *slot = Val::Text(part.name.clone());
        }
        Some(What::Part(Arc::new(part)))
    }

    fn unknown_part(&mut self, id: &str, span: Span) {
        if let Some(broken) = self.catalogue.why_broken(id) {
            let problem =
                Problem::new(format!("{} cannot be read, so it is left out", clip(id, 60)));
            self.problems.push(problem.code("broken-part").at(self.source, span, "used here"));
            for problem in &broken.problems {
                if !self.problems.0.iter().any(|held| held.message == problem.message) {
                    self.problems.push(problem.clone());
                }
            }
            return;
        }
        let problem = Problem::new(format!("there is no part {} in the catalogue", clip(id, 60)))
            .code("unknown-part")
            .at(self.source, span, "unknown part");
        let kind = id.split_once('/').map(|(k, _)| k);
        let same = |p: &&Arc<Part>| {
            kind.is_none_or(|k| p.id.split_once('/').is_some_and(|(pk, _)| pk == k))
        };
        let ids: Vec<&str> = self.catalogue.parts().filter(same).map(|p| &*p.id).collect();
        let near = crate::words::nearest(id, ids.iter().copied())
            .or_else(|| crate::words::nearest(id, self.catalogue.parts().map(|p| &*p.id)));
        self.problems.push(match (near, kind) {
            (Some(near), _) => problem.help(format!("did you mean {near}?")),
            (None, Some(kind)) if self.catalogue.kind_id(kind).is_none() => problem.help(format!(
                "no kind is called `{}`; kinds: {}",
                clip(kind, 40),
                some_of(self.catalogue.kinds.iter().map(|k| &*k.name), 30)
            )),
            _ => problem
                .help(format!("`dryfit parts {}` lists what there is", kind.unwrap_or("KIND"))),
        });
    }

    /// A catalogue part with some fields set otherwise, for rule cases.
    fn changed(&mut self, part: &Arc<Part>, changes: &DeTable<'_>) -> Option<Part> {
        let patch = self.catalogue.part_from(
            &part.id,
            part.kind,
            changes,
            &[],
            part.head,
            self.source,
            self.problems,
            LeftOut::Sparse,
        )?;
        let kind = self.catalogue.kind(part.kind)?;
        let mut values = part.values.clone();
        for (at, field) in kind.fields.iter().enumerate() {
            if changes.contains_key(&*field.name)
                && let (Some(slot), Some(value)) = (values.get_mut(at), patch.values.get(at))
            {
                *slot = value.clone();
            }
        }
        Some(Part {
            values,
            spans: patch.spans,
            source: self.source.clone(),
            head: Span::default(),
            under: Some(part.clone()),
            name: part.name.clone(),
            id: part.id.clone(),
            kind: part.kind,
            place: Place::NONE,
        })
    }

    pub(super) fn spot_part(&mut self, table: &DeTable<'_>, whole: Span) -> Option<What> {
        let kind = self.kind(table.get("kind")?)?;
        let skip: Vec<&str> = LINE
            .names()
            .chain(["kind"])
            .chain(OFFER.names())
            .filter(|k| *k == "kind" || is_one_of(LINE_WORDS, k) || *k == "note")
            .chain(["unknown"])
            .collect();
        let word = table.get("kind")?.get_ref().as_str()?.to_owned();
        let mut part = self.catalogue.part_from(
            &word,
            kind,
            table,
            &skip,
            whole,
            self.source,
            self.problems,
            LeftOut::Sparse,
        )?;
        self.strike_out(&mut part, table);
        Some(What::Part(Arc::new(part)))
    }

    /// Fields that a rule case says nobody knows: `unknown = ["height_mm"]`.
    fn strike_out(&mut self, part: &mut Part, table: &DeTable<'_>) {
        let Some(value) = table.get("unknown") else { return };
        let Some(kind) = self.catalogue.kind(part.kind) else { return };
        for item in value.get_ref().as_array().into_iter().flatten() {
            let at = item.get_ref().as_str().and_then(|name| kind.field(name));
            match at.and_then(|(at, _)| part.values.get_mut(at as usize)) {
                Some(slot) => *slot = Val::Unknown,
                None => self.problem(
                    item.span(),
                    format!("a {} has no such field to be unknown", kind.title),
                    "not a field of the kind",
                ),
            }
        }
    }
}
