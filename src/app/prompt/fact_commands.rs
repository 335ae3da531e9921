//! `know`, `forget` and `ask`: what a person says of parts that the catalogue does not know, and
//! what to look up next.

use crate::app::counted::count;
use crate::app::prompt::session::{Ask, Session};
use crate::app::report::page::Page;
use crate::app::report::style::Role;
use crate::app::report::unsettled;
use crate::catalogue::kinds::KindId;
use crate::kit::asked_first;
use crate::partsheet;
use crate::source::{Problem, Problems};
use crate::whatif::edit::Edit;
use crate::whatif::edit_facts::{Known, known};
use crate::words::clip;

impl Session {
    pub(super) fn know(
        &mut self,
        place: &str,
        value: &str,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let (slot, name) = self.place(place, ask)?;
        let build = self.trial.now().audit.build();
        let known = known(build, slot, &name, value).or_else(|problem| {
            // As the maker's page writes it.
            let read = partsheet::value(&build.catalogue, slot.0, &name, value).ok_or(problem)?;
            known(build, slot, &name, &read)
        })?;
        let part = build.slot(slot.0, slot.1).and_then(|s| s.part.as_ref());
        let part = part.map_or_else(String::new, |part| part.id.to_string());
        let fact = (part, known.field.clone());
        let before = asked_first(&self.trial.now().audit.questions());
        self.make(&[Edit::Fact(known)], page)?;
        self.fact_words.insert(fact, value.trim().to_owned());
        let after = asked_first(&self.trial.now().audit.questions());
        page.line(&match (before, after) {
            (_, 0) => "no fact is left to look up".to_owned(),
            (before, after) if before == after => format!("{} to look up", count(after, "fact")),
            (before, after) => format!("{} to look up, {before} before", count(after, "fact")),
        });
        Ok(())
    }

    pub(super) fn forget(
        &mut self,
        place: &str,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let (slot, name) = self.place(place, ask)?;
        let build = self.trial.now().audit.build();
        let line = build.slot(slot.0, slot.1).map_or(0, |s| s.line);
        let field = name.split('[').next().unwrap_or(&name).to_owned();
        let elsewhere = build.slot(slot.0, slot.1).and_then(|slot| {
            let part = slot.part.as_ref()?;
            let (at, _) = build.catalogue.kind(part.kind)?.field(&field)?;
            let (source, span) = part.written_at(at)?;
            let list = &self.trial.now().source;
            (source.name != list.name).then(|| {
                Problem::new(format!("the list does not say {place}; the catalogue does")).at(
                    source,
                    span,
                    "take it out here",
                )
            })
        });
        if let Some(problem) = elsewhere {
            return Err(problem.into());
        }
        let known = Known { line, field, value: None, lacks: false };
        self.make(&[Edit::Fact(known)], page)
    }

    /// The line and the field of a place such as `cooler.height_mm` or `fan[1].deep_mm`.
    fn place(&self, place: &str, ask: Ask<'_>) -> Result<((KindId, u16), String), Problems> {
        let (line, name) = place.split_once('.').ok_or_else(|| {
            Problem::new(format!("`{}` names no fact", clip(place, 60)))
                .help("write the line and the field: `know cooler.height_mm 158`")
        })?;
        let (at, view) = self.line(&[line.to_owned()], ask)?;
        if view.part.is_none() {
            let problem = format!("line #{} is open, and facts are of a part", view.number);
            return Err(Problem::new(problem).help("`swap` puts a part on it first").into());
        }
        let build = self.trial.now().audit.build();
        let slot = build.all().find(|(.., slot)| !slot.included && slot.line == at);
        let (kind, nth, _) = slot.ok_or_else(|| Problem::new("there is no such line"))?;
        Ok(((kind, nth), name.to_owned()))
    }

    pub(super) fn ask_for_facts(&self, page: &mut Page) {
        let questions = self.trial.now().audit.questions();
        if questions.is_empty() {
            page.line("nothing to look up: every rule is settled");
        }
        for (question, nth) in questions.iter().filter(|q| q.after.is_none()).zip(1..) {
            page.say(&format!("{nth:>2}  ")).flow(Role::Plain, &unsettled::question(question), 4);
        }
        if let Some(later) = unsettled::later(&questions) {
            page.say("    ").flow(Role::Plain, &later, 4);
        }
    }
}
