//! How the host reads lines, records and the build for a script: each value as an expression that
//! was asked for.

use std::collections::BTreeSet;
use std::sync::Arc;

use rhai::{Array, Dynamic, ImmutableString};

use crate::audit::ask::Ask;
use crate::audit::expr::{Expr, ExprId, LineWord};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, KindId};
use crate::catalogue::value::Val;
use crate::rules::host::{Call, Host, Res, say, say_help};
use crate::rules::line_names::{
    LineProperty, OfBuild, build_names, line_names, no_such, no_such_word,
};
use crate::rules::tracked::{Counts, LineRef, List, Num, RecordRef, Text};

impl Host {
    /// A value as a script gets it: absence only after it was asked for, and only where
    /// `absent_ok`.
    fn hand_out(
        &self,
        ctx: &Call<'_>,
        id: ExprId,
        may_lack: bool,
        absent_ok: bool,
        what: &dyn Fn() -> String,
    ) -> Res<Dynamic> {
        if may_lack && !self.is(ctx, Ask::Present(id))? {
            if absent_ok {
                return Ok(Dynamic::UNIT);
            }
            let (whole, name) = split(&what());
            if self.sparse() {
                return say_help(
                    format!("{whole} gives no {name}"),
                    format!(
                        "the rule reads it: write {name} on this line of the case, or let the rule \
                         ask with `.opt(\"{name}\") ?? …`"
                    ),
                );
            }
            return say_help(
                format!("{whole} gives no {name}"),
                format!(
                    "it may be left out: write `.opt(\"{name}\") ?? …` with what to take instead, \
                     or test `.has(\"{name}\")` first"
                ),
            );
        }
        self.wrap(ctx, id)
    }

    fn wrap(&self, ctx: &Call<'_>, id: ExprId) -> Res<Dynamic> {
        let value = if self.is_undecided(id) { self.stand_in(id) } else { self.look(id)? };
        Ok(match value {
            Val::Unknown => return self.wait_for(ctx, id),
            Val::Absent => return say("nothing is written here, though the kind asks for it"),
            Val::Num(value) => Dynamic::from(Num { id, value }),
            Val::Text(value) => Dynamic::from(Text { id, value }),
            Val::Flag(_) => Dynamic::from(self.is(ctx, Ask::Truth(id))?),
            Val::List(_) => Dynamic::from(List { id, host: self.shared() }),
            Val::Counts(_) => Dynamic::from(Counts { id }),
            Val::Records(_) => Dynamic::UNIT,
        })
    }

    fn catalogue(&self) -> Res<Arc<Catalogue>> {
        Ok(self.build()?.catalogue.clone())
    }

    /// Reads a field of a line by name, as `line["name"]` or `line.opt("name")` ask for it.
    pub(super) fn line_field(
        &self,
        ctx: &Call<'_>,
        line: LineRef,
        name: &str,
        absent_ok: bool,
    ) -> Res<Dynamic> {
        let meant = self
            .catalogue()?
            .kind(line.kind)
            .map_or(LineProperty::Nothing, |kind| LineProperty::by(kind, name));
        self.line_value(ctx, line, name, meant, absent_ok)
    }

    /// Reads what a name means on lines of a kind; `line.name` knows it beforehand.
    pub(super) fn line_value(
        &self,
        ctx: &Call<'_>,
        line: LineRef,
        name: &str,
        meant: LineProperty,
        absent_ok: bool,
    ) -> Res<Dynamic> {
        self.reading.set(Some((line.kind, line.nth)));
        let what = || format!("{}\n{name}", self.line_name(line));
        match meant {
            LineProperty::Kind => {
                let catalogue = self.catalogue()?;
                Ok(catalogue
                    .kind(line.kind)
                    .map_or(Dynamic::UNIT, |k| ImmutableString::from(&*k.name).into()))
            }
            LineProperty::Word(word) => {
                let may_lack = !matches!(
                    word,
                    LineWord::Count
                        | LineWord::FlowUsual
                        | LineWord::Owned
                        | LineWord::Included
                        | LineWord::Sellers
                );
                if matches!(word, LineWord::Sellers) {
                    self.is(ctx, Ask::Chosen(line.kind, line.nth))?;
                }
                let id = self.expr(Expr::Line(line.kind, line.nth, word));
                self.hand_out(ctx, id, may_lack, absent_ok, &what)
            }
            LineProperty::Field { at, records, optional, bare } => {
                // A read waits for an open line even where nothing is made of the value, as a run
                // of the script would.
                self.is(ctx, Ask::Chosen(line.kind, line.nth))?;
                let id = self.expr(Expr::Field(line.kind, line.nth, at));
                if records {
                    return self.records(ctx, line, at, id);
                }
                self.hand_out(ctx, id, optional || bare && self.sparse(), absent_ok, &what)
            }
            LineProperty::Nothing => {
                let catalogue = self.catalogue()?;
                let Some(kind) = catalogue.kind(line.kind) else {
                    return say("this line is of no kind");
                };
                no_such(&format!("a {}", kind.title), name, &mut line_names(kind))
            }
        }
    }

    fn records(&self, ctx: &Call<'_>, line: LineRef, field: u16, id: ExprId) -> Res<Dynamic> {
        let count = self.count(ctx, Ask::Len(id))?;
        let handles: Array = (0..u16::try_from(count).unwrap_or(u16::MAX))
            .map(|index| Dynamic::from(RecordRef { line, field, index }))
            .collect();
        Ok(handles.into())
    }

    pub(super) fn record_field(
        &self,
        ctx: &Call<'_>,
        record: RecordRef,
        name: &str,
        absent_ok: bool,
    ) -> Res<Dynamic> {
        self.reading.set(Some((record.line.kind, record.line.nth)));
        let (id, may_lack, of) = self.record_expr(record, name)?;
        self.hand_out(ctx, id, may_lack, absent_ok, &|| {
            format!("an entry of {}'s {of}\n{name}", self.line_name(record.line))
        })
    }

    /// The expression of a record's sub-field, whether it may be absent, and the name of the field
    /// that holds the records.
    pub(crate) fn record_expr(
        &self,
        record: RecordRef,
        name: &str,
    ) -> Res<(ExprId, bool, Arc<str>)> {
        let catalogue = self.catalogue()?;
        let field =
            catalogue.kind(record.line.kind).and_then(|k| k.fields.get(record.field as usize));
        let Some(FieldType::Records(fields)) = field.map(|f| &f.ty) else {
            return say("this is no record");
        };
        let of: Arc<str> = field.map_or_else(|| "".into(), |f| f.name.clone());
        let Some((sub, at)) = fields.iter().zip(0u16..).find(|(f, _)| *f.name == *name) else {
            return no_such(
                &format!("an entry of `{of}`"),
                name,
                &mut fields.iter().map(|f| &*f.name),
            );
        };
        let id =
            self.expr(Expr::Sub(record.line.kind, record.line.nth, record.field, record.index, at));
        Ok((id, may_lack(self, sub), of.clone()))
    }

    pub(super) fn line_name(&self, line: LineRef) -> String {
        let name = self.build().ok().and_then(|b| {
            b.slot(line.kind, line.nth).and_then(|s| s.part.as_ref().map(|p| p.name.to_string()))
        });
        name.unwrap_or_else(|| "this part".to_owned())
    }

    /// Reads a name of the build, as `build["name"]` or `build.opt("name")` ask for it.
    pub(super) fn build_field(&self, ctx: &Call<'_>, name: &str, absent_ok: bool) -> Res<Dynamic> {
        let meant = OfBuild::by(&*self.catalogue()?, name);
        self.build_value(ctx, name, meant, absent_ok)
    }

    /// Reads what a name means of the build; `build.name` knows it beforehand.
    pub(super) fn build_value(
        &self,
        ctx: &Call<'_>,
        name: &str,
        meant: OfBuild,
        absent_ok: bool,
    ) -> Res<Dynamic> {
        match meant {
            OfBuild::Word { word, may_lack } => {
                let id = self.expr(Expr::Build(word));
                self.hand_out(ctx, id, may_lack, absent_ok, &|| format!("this build\n{name}"))
            }
            OfBuild::Lines => {
                let mut lines = Array::new();
                for kind in (0u16..).take(self.catalogue()?.kinds.len()).map(KindId) {
                    lines.extend(self.lines_of(ctx, kind)?);
                }
                Ok(lines.into())
            }
            OfBuild::Kind(kind) if self.is(ctx, Ask::Has(kind, 0))? => {
                Ok(Dynamic::from(LineRef { kind, nth: 0 }))
            }
            OfBuild::Kind(_) => Ok(Dynamic::UNIT),
            OfBuild::Nothing => {
                let catalogue = self.catalogue()?;
                no_such("a build", name, &mut build_names(&catalogue))
            }
        }
    }

    pub(super) fn lines_of(&self, ctx: &Call<'_>, kind: KindId) -> Res<Array> {
        let count = self.count(ctx, Ask::Lines(kind))?;
        Ok((0..u16::try_from(count).unwrap_or(u16::MAX))
            .map(|nth| Dynamic::from(LineRef { kind, nth }))
            .collect())
    }

    /// A kind by name, or what it most likely meant.
    pub(super) fn named_kind(&self, name: &str) -> Res<KindId> {
        let catalogue = self.catalogue()?;
        match catalogue.kind_id(name) {
            Some(kind) => Ok(kind),
            None => no_such_word(
                "there is no kind",
                name,
                &mut catalogue.kinds.iter().map(|k| &*k.name),
            ),
        }
    }

    pub(super) fn sum(&self, ctx: &Call<'_>, name: &str) -> Res<Num> {
        let catalogue = self.catalogue()?;
        if !catalogue.kinds.iter().any(|k| k.field(name).is_some()) {
            let names: BTreeSet<&str> =
                catalogue.kinds.iter().flat_map(|k| k.fields.iter().map(|f| &*f.name)).collect();
            return no_such_word("no kind has a field", name, &mut names.into_iter());
        }
        self.name_addends(name)?;
        let id = self.expr(Expr::Sum(name.into()));
        let value = self.number(id)?;
        if !value.is_finite() {
            return say_help(
                format!("a part on the list gives no {name}, so there is no sum"),
                "sum over the lines in a loop, with `.opt(…) ?? 0.0`",
            );
        }
        self.is(ctx, Ask::Present(id))?;
        Ok(Num { id, value })
    }
}

/// Whether a field may be absent: it is optional, or the part was written on the spot with only
/// some fields.
fn may_lack(host: &Host, field: &Field) -> bool {
    field.absent.is_none() && (field.optional || host.sparse())
}

fn split(text: &str) -> (String, String) {
    text.split_once('\n')
        .map_or_else(|| (text.to_owned(), String::new()), |(a, b)| (a.to_owned(), b.to_owned()))
}
