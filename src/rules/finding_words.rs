//! Words that raise findings, and those that ask for measures, settings, table cells and the
//! figures.

use std::sync::Arc;

use rhai::{Array, Dynamic, ImmutableString, Map};

use crate::audit::ask::Ask;
use crate::audit::derived;
use crate::audit::expr::Expr;
use crate::audit::message::{Message, holes_of};
use crate::audit::verdict::{Draft, Hole};
use crate::catalogue::value::Val;
use crate::level::Level;
use crate::rules::host::{Call, Host, MAX_FINDINGS, Res, say, say_help};
use crate::rules::line_names::no_such_word;
use crate::rules::run::measure;
use crate::rules::tracked::{FindingRef, LineRef, Num, RecordRef, Text, id_of, type_words};
use crate::rules::word_table::Registrar;

/// Most holes of a message.
pub const MAX_HOLES: usize = 48;
/// Most values that a finding holds, those of arrays counted one by one.
pub const MAX_VALUES: usize = 512;

/// Puts these words into an engine.
pub(crate) fn register(reg: &mut Registrar<'_>) {
    raising(reg);
    pointing(reg);
    measures_and_settings(reg);
    cells(reg);
    derived_figures(reg);
}

fn raising(reg: &mut Registrar<'_>) {
    reg.subject = "Findings";
    reg.engine.register_type_with_name::<FindingRef>("a finding");
    reg.word(
        "stop(\"message with {hole}\", #{ hole: value })",
        "a finding: must not be built so; each hole in braces is filled in when shown, `{hole:W}` \
         with a unit of your own; what fills no hole is pointed at",
    );
    reg.word("caution(…)", "a finding: works, with a cost the customer should know");
    reg.word("advice(…)", "a finding: good to know");
    reg.word("step(…)", "what to do at the bench; in a function with a `Step:` line only");
    for (name, level) in [
        ("stop", Level::Stop),
        ("caution", Level::Caution),
        ("advice", Level::Advice),
        ("step", Level::Advice),
    ] {
        reg.two(name, move |host, _, template: ImmutableString, values: Map| {
            host.raise(level, &template, &values)
        });
        reg.one(name, move |host, _, template: ImmutableString| {
            host.raise(level, &template, &Map::new())
        });
    }
}

fn pointing(reg: &mut Registrar<'_>) {
    reg.word(
        "finding.at(line), finding.at(line, \"FIELD\")",
        "adds a pointer; seldom needed, since what was read is pointed at anyway",
    );
    reg.two("at", |host, _, finding: FindingRef, handle: Dynamic| {
        let hole = host.hole(&handle)?;
        host.point(finding, hole)
    });
    reg.three("at", move |host, _, finding: FindingRef, line: LineRef, field: ImmutableString| {
        let catalogue = host.build()?.catalogue.clone();
        let Some(kind) = catalogue.kind(line.kind) else { return Ok(finding) };
        match kind.field(&field) {
            Some((at, _)) => {
                let id = host.expr(Expr::Field(line.kind, line.nth, at));
                host.point(finding, Hole::Expr(id))
            }
            None => no_such_word(
                &format!("a {} has no", kind.title),
                &field,
                &mut kind.fields.iter().map(|f| &*f.name),
            ),
        }
    });
    reg.three("at", |host, _, finding: FindingRef, record: RecordRef, sub: ImmutableString| {
        let id = host.record_expr(record, &sub)?.0;
        host.point(finding, Hole::Expr(id))
    });
}

impl Host {
    fn raise(&self, level: Level, template: &str, values: &Map) -> Res<FindingRef> {
        if hole_names(template).count() > MAX_HOLES {
            return say_help(
                format!("a message has {MAX_HOLES} holes at the most"),
                "put the values of one sort into an array: one hole shows them all",
            );
        }
        let held: usize = values.values().map(|v| v.as_array_ref().map_or(1, |a| a.len())).sum();
        if held > MAX_VALUES {
            return say_help(
                format!("a finding holds {MAX_VALUES} values at the most"),
                "name the worst few, and how many there are",
            );
        }
        let mut holes: Vec<(Arc<str>, Hole)> = Vec::with_capacity(values.len());
        for name in hole_names(template) {
            let Some(value) = values.get(name) else {
                return say_help(
                    format!("the message has a hole {{{name}}} and nothing to fill it"),
                    format!("give it: #{{ {name}: … }}"),
                );
            };
            if !holes.iter().any(|(n, _)| **n == *name) {
                holes.push((name.into(), self.hole(value)?));
            }
        }
        // What fills no hole is still worth pointing at.
        let mut at = Vec::new();
        for (_, value) in
            values.iter().filter(|(k, _)| !holes.iter().any(|(n, _)| **n == *k.as_str()))
        {
            at.push(self.hole(value)?);
        }
        let mut state = self.state.borrow_mut();
        let Some(frame) = state.frames.last_mut() else {
            return say("findings are raised by rules");
        };
        if frame.drafts.len() >= MAX_FINDINGS {
            return say_help(
                format!("this rule raises more than {MAX_FINDINGS} findings"),
                "raise one finding for many lines of a kind",
            );
        }
        let asked = frame.path.len();
        frame.drafts.push(Draft { level, message: Message::new(template, holes), at, asked });
        Ok(FindingRef { index: frame.drafts.len() - 1 })
    }

    fn point(&self, finding: FindingRef, hole: Hole) -> Res<FindingRef> {
        if let Some(draft) =
            self.state.borrow_mut().frames.last_mut().and_then(|f| f.drafts.get_mut(finding.index))
        {
            if draft.at.len() >= MAX_VALUES {
                return say(format!("a finding points at {MAX_VALUES} places at the most"));
            }
            draft.at.push(hole);
        }
        Ok(finding)
    }

    fn hole(&self, value: &Dynamic) -> Res<Hole> {
        if let Some(id) = id_of(value) {
            return Ok(Hole::Expr(id));
        }
        if let Some(line) = value.read_lock::<LineRef>() {
            return Ok(Hole::Line(line.kind, line.nth));
        }
        if let Some(r) = value.read_lock::<RecordRef>() {
            return Ok(Hole::Record(r.line.kind, r.line.nth, r.field, r.index));
        }
        if let Some(array) = value.read_lock::<Array>() {
            if array.len() > MAX_VALUES || array.iter().any(Dynamic::is_array) {
                return say(format!(
                    "an array in a message holds {MAX_VALUES} values at the most, and no arrays"
                ));
            }
            return Ok(Hole::Many(array.iter().map(|v| self.hole(v)).collect::<Res<_>>()?));
        }
        let value = value.flatten_clone();
        if let Some(num) = self.as_num(&value) {
            return Ok(Hole::Expr(num.id));
        }
        match value.clone().into_immutable_string() {
            Ok(text) => Ok(Hole::Text(text.as_str().into())),
            Err(_) => say_help(
                format!("{} cannot fill a hole of a message", type_words(value.type_name())),
                "a number, a text, a line, a record, or an array of these can",
            ),
        }
    }
}

/// The names in braces of a template; what follows a colon is a unit.
fn hole_names(template: &str) -> impl Iterator<Item = &str> {
    holes_of(template).map(|(_, name, _)| name).filter(|name| !name.is_empty())
}

fn measures_and_settings(reg: &mut Registrar<'_>) {
    reg.subject = "Asking";
    reg.word(
        "measure(\"file.name\")",
        "the number of a measure, or () when it does not apply; \
     within its own file `measure(\"name\")` will do",
    );
    reg.one("measure", |host, ctx, name: ImmutableString| measure(host, ctx, &name));
    reg.word(
        "setting(\"file.name\")",
        "a setting of rules/settings.toml; within its own file `setting(\"name\")` will do",
    );
    reg.one("setting", |host, _, name: ImmutableString| host.setting(&name));
}

fn cells(reg: &mut Registrar<'_>) {
    reg.word(
        "table(\"TABLE\", row, \"COLUMN\")",
        "a cell of a table; the row may be a tracked text; an empty cell is an error",
    );
    reg.word("table_opt(\"TABLE\", row, \"COLUMN\")", "the same, or () when the cell is empty");
    for (name, may_lack) in [("table", false), ("table_opt", true)] {
        reg.three(
            name,
            move |host, ctx, table: ImmutableString, row: Dynamic, column: ImmutableString| {
                host.cell(ctx, &table, &row, &column, may_lack)
            },
        );
    }
}

fn derived_figures(reg: &mut Registrar<'_>) {
    reg.word(
        "derived(\"NAME\")",
        "a figure that the host works out from the whole build, or () when it does not apply",
    );
    for figure in derived::DERIVED {
        reg.word(
            &format!("derived(\"{}\")", figure.name),
            &format!(
                "{}{}",
                figure.meaning,
                if figure.unit.is_empty() { String::new() } else { format!(" ({})", figure.unit) }
            ),
        );
    }
    reg.one("derived", |host, ctx, name: ImmutableString| host.derived(ctx, &name));
}

impl Host {
    fn setting(&self, name: &str) -> Res<Dynamic> {
        let file = self.file();
        let settings = self.state.borrow().settings.clone();
        let Some(at) = settings.find(&file, name) else {
            let all = settings.all();
            let names: Vec<String> = all
                .iter()
                .map(|s| s.name.strip_prefix(&format!("{file}.")).unwrap_or(&s.name).to_owned())
                .collect();
            return no_such_word(
                "there is no setting",
                name,
                &mut names.iter().map(String::as_str),
            );
        };
        let id = self.expr(Expr::Setting(at));
        Ok(match settings.value(at) {
            Val::Num(value) => Dynamic::from(Num { id, value: *value }),
            Val::Text(value) => Dynamic::from(Text { id, value: value.clone() }),
            _ => Dynamic::UNIT,
        })
    }

    fn cell(
        &self,
        ctx: &Call<'_>,
        table: &str,
        row: &Dynamic,
        column: &str,
        absent_ok: bool,
    ) -> Res<Dynamic> {
        let catalogue = self.build()?.catalogue.clone();
        let Some(at) = catalogue.table_id(table) else {
            return no_such_word(
                "there is no table",
                table,
                &mut catalogue.tables.iter().map(|t| &*t.name),
            );
        };
        let Some(found) = catalogue.table(at) else { return say("this table is gone") };
        let Some(col) = found.column(column) else {
            return no_such_word(
                &format!("table `{table}` has no column"),
                column,
                &mut found.columns.iter().map(|c| &*c.name),
            );
        };
        let Some((row_id, word)) = self.as_text(row) else {
            return say_help(
                format!(
                    "a row of a table is named by a text, and this is {}",
                    type_words(row.type_name())
                ),
                "write the row's name in quotes",
            );
        };
        let id = self.compound(Expr::Cell(at, col, row_id))?;
        if !self.is(ctx, Ask::Present(id))? {
            if absent_ok {
                return Ok(Dynamic::UNIT);
            }
            if found.rows.contains(&word) {
                return say_help(
                    format!("table `{table}` leaves {column} empty for \"{word}\""),
                    "use table_opt(…) ?? …",
                );
            }
            return no_such_word(
                &format!("table `{table}` has no row"),
                &word,
                &mut found.rows.iter().map(|r| &**r),
            );
        }
        let value = match self.rests_on_unknown(id) {
            true => self.stand_in(id),
            false => self.look(id)?,
        };
        Ok(match value {
            Val::Num(value) => Dynamic::from(Num { id, value }),
            Val::Text(value) => Dynamic::from(Text { id, value }),
            _ => Dynamic::UNIT,
        })
    }

    fn derived(&self, ctx: &Call<'_>, name: &str) -> Res<Dynamic> {
        let Some((at, _)) = derived::find(name) else {
            return no_such_word(
                "the host works out no",
                name,
                &mut derived::DERIVED.iter().map(|d| d.name),
            );
        };
        let id = self.expr(Expr::Derived(at));
        let value = self.number(id)?;
        if !self.is(ctx, Ask::Present(id))? {
            return Ok(Dynamic::UNIT);
        }
        Ok(Dynamic::from(Num { id, value }))
    }
}

#[cfg(test)]
#[path = "../../tests/unit/rules/finding_words.rs"]
mod tests;
