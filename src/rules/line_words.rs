//! Words for lines, records and the build.

use std::collections::BTreeSet;
use std::sync::Arc;

use rhai::{Array, Dynamic, INT, ImmutableString, NativeCallContext};

use crate::audit::ask::Ask;
use crate::audit::expr::{BuildWord, Expr, ExprId, LineWord};
use crate::build::fields::{BUILD_FIELDS, build_field};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{Field, FieldType, Kind, KindId};
use crate::catalogue::value::Val;
use crate::rules::host::{Host, Res, say, say_help};
use crate::rules::tracked::{BuildRef, Counts, LineRef, List, Num, RecordRef, Text};
use crate::rules::word_table::Registrar;
use crate::words::{nearest, some_of};

/// What a line answers beside its part's fields.
pub(crate) const LINE_VALUES: &[(&str, LineWord, &str)] = &[
    ("count", LineWord::Count, "pieces on the line"),
    ("mount", LineWord::Mount, "where it is fitted; optional"),
    ("flow", LineWord::Flow, "which way it blows, \"in\" or \"out\"; optional"),
    ("owned", LineWord::Owned, "whether the customer has it already"),
    ("included", LineWord::Included, "whether it came in another part's box"),
    ("price", LineWord::Price, "price of one at the till on the pricing day; optional"),
    ("mail_rebate", LineWord::MailRebate, "what comes back by post for one; optional"),
    ("credit", LineWord::Credit, "credit for a later purchase that comes with one; optional"),
    ("bundle_value", LineWord::BundleValue, "stated value of what comes with one; optional"),
    ("shipping", LineWord::Shipping, "shipping of an order of this alone; optional"),
    ("stock", LineWord::Stock, "pieces in stock over all sellers that state it; optional"),
    ("sellers", LineWord::Sellers, "sellers that have it or do not say"),
    ("offer_age_days", LineWord::OfferAge, "days since the chosen offer was seen; optional"),
    (
        "support_until_days",
        LineWord::SupportDays,
        "days until the maker's support ends, negative when it has; optional",
    ),
];

/// What a build answers beside its fields and its kinds.
pub(crate) const OTHER_BUILD_WORDS: &[&str] = &["lines", "total", "unpriced"];

/// Every name that means something after the dot of a line of a kind.
pub(crate) fn line_names(kind: &Kind) -> impl Iterator<Item = &str> + Clone {
    let fields = kind.fields.iter().map(|f| &*f.name);
    fields.chain(LINE_VALUES.iter().map(|(name, ..)| *name)).chain(["kind"])
}

/// Every name that means something after the build's dot.
pub(crate) fn build_names(catalogue: &Catalogue) -> impl Iterator<Item = &str> + Clone {
    let fields = BUILD_FIELDS.iter().map(|f| f.name).chain(OTHER_BUILD_WORDS.iter().copied());
    catalogue.kinds.iter().map(|k| &*k.name).chain(fields)
}

/// What a name after a line's dot means on lines of a kind.
#[derive(Debug, Clone, Copy)]
pub(crate) enum LineProperty {
    /// The kind itself.
    Kind,
    /// Something of the line.
    Word(LineWord),
    /// A field of its part, whether it holds records, whether it may be left out, and whether it
    /// has no default, so that a rule case may leave it out.
    Field { at: u16, records: bool, optional: bool, bare: bool },
    /// Nothing.
    Nothing,
}

impl LineProperty {
    pub(crate) fn by(kind: &Kind, name: &str) -> Self {
        if name == "kind" {
            return Self::Kind;
        }
        if let Some((_, word, _)) = LINE_VALUES.iter().find(|(n, ..)| *n == name) {
            return Self::Word(*word);
        }
        kind.field(name).map_or(Self::Nothing, |(at, field)| Self::Field {
            at,
            records: matches!(field.ty, FieldType::Records(_)),
            optional: field.may_lack(),
            bare: field.absent.is_none(),
        })
    }
}

/// What a name after the build's dot means.
#[derive(Debug, Clone, Copy)]
enum OfBuild {
    /// A field, or what the list comes to.
    Word { word: BuildWord, may_lack: bool },
    /// Every line.
    Lines,
    /// The first line of a kind.
    Kind(KindId),
    /// Nothing.
    Nothing,
}

impl OfBuild {
    fn by(catalogue: &Catalogue, name: &str) -> Self {
        let field = |at: u8| BUILD_FIELDS.get(at as usize).is_some_and(|f| f.default.is_none());
        match (name, build_field(name)) {
            ("total", _) => Self::Word { word: BuildWord::Total, may_lack: true },
            ("unpriced", _) => Self::Word { word: BuildWord::Unpriced, may_lack: true },
            ("lines", _) => Self::Lines,
            (_, Some(at)) => Self::Word { word: BuildWord::Field(at), may_lack: field(at) },
            (_, None) => catalogue.kind_id(name).map_or(Self::Nothing, Self::Kind),
        }
    }
}

impl Host {
    /// A value as a script gets it: absence only after it was asked for, and only where
    /// `absent_ok`.
    fn hand_out(
        &self,
        ctx: &NativeCallContext<'_>,
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

    fn wrap(&self, ctx: &NativeCallContext<'_>, id: ExprId) -> Res<Dynamic> {
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
    fn line_field(
        &self,
        ctx: &NativeCallContext<'_>,
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
    fn line_value(
        &self,
        ctx: &NativeCallContext<'_>,
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
                    LineWord::Count | LineWord::Owned | LineWord::Included | LineWord::Sellers
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

    fn records(
        &self,
        ctx: &NativeCallContext<'_>,
        line: LineRef,
        field: u16,
        id: ExprId,
    ) -> Res<Dynamic> {
        let count = self.count(ctx, Ask::Len(id))?;
        let handles: Array = (0..u16::try_from(count).unwrap_or(u16::MAX))
            .map(|index| Dynamic::from(RecordRef { line, field, index }))
            .collect();
        Ok(handles.into())
    }

    fn record_field(
        &self,
        ctx: &NativeCallContext<'_>,
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

    fn line_name(&self, line: LineRef) -> String {
        let name = self.build().ok().and_then(|b| {
            b.slot(line.kind, line.nth).and_then(|s| s.part.as_ref().map(|p| p.name.to_string()))
        });
        name.unwrap_or_else(|| "this part".to_owned())
    }

    /// Reads a name of the build, as `build["name"]` or `build.opt("name")` ask for it.
    fn build_field(
        &self,
        ctx: &NativeCallContext<'_>,
        name: &str,
        absent_ok: bool,
    ) -> Res<Dynamic> {
        let meant = OfBuild::by(&*self.catalogue()?, name);
        self.build_value(ctx, name, meant, absent_ok)
    }

    /// Reads what a name means of the build; `build.name` knows it beforehand.
    fn build_value(
        &self,
        ctx: &NativeCallContext<'_>,
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

    fn lines_of(&self, ctx: &NativeCallContext<'_>, kind: KindId) -> Res<Array> {
        let count = self.count(ctx, Ask::Lines(kind))?;
        Ok((0..u16::try_from(count).unwrap_or(u16::MAX))
            .map(|nth| Dynamic::from(LineRef { kind, nth }))
            .collect())
    }

    /// A kind by name, or what it most likely meant.
    fn named_kind(&self, name: &str) -> Res<KindId> {
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

fn no_such<T>(of: &str, name: &str, names: &mut dyn Iterator<Item = &str>) -> Res<T> {
    no_such_word(&format!("{of} has no"), name, names)
}

pub(crate) fn no_such_word<T>(
    lead: &str,
    name: &str,
    names: &mut dyn Iterator<Item = &str>,
) -> Res<T> {
    let names: Vec<&str> = names.collect();
    let name = crate::words::clip(name, 60);
    match nearest(&name, names.iter().copied()) {
        Some(near) => say_help(format!("{lead} `{name}`"), format!("did you mean `{near}`?")),
        None => say_help(format!("{lead} `{name}`"), format!("known here: {}", some_of(names, 30))),
    }
}

/// Puts the words for lines, records and the build into an engine.
pub(crate) fn register(reg: &mut Registrar<'_>, catalogue: &Catalogue) {
    reg.engine.register_type_with_name::<LineRef>("a line");
    reg.engine.register_type_with_name::<RecordRef>("a record");
    reg.engine.register_type_with_name::<BuildRef>("the build");
    lines(reg, catalogue);
    records(reg, catalogue);
    build(reg, catalogue);
    handles(reg);
}

fn lines(reg: &mut Registrar<'_>, catalogue: &Catalogue) {
    reg.subject = "Lines";
    reg.word(
        "line.FIELD",
        "a field of the part on the line, by the kind's schema (`dryfit parts \
     KIND` shows them); also line[\"FIELD\"]",
    );
    reg.word("line.kind", "the kind, as a plain text");
    for (name, _, meaning) in LINE_VALUES {
        reg.word(&format!("line.{name}"), meaning);
    }
    let names: BTreeSet<&str> = catalogue.kinds.iter().flat_map(line_names).collect();
    for name in names {
        let (host, field) = (reg.host.clone(), name.to_owned());
        // What the name means is looked up here, once, for the lines of every kind.
        let by_kind: Box<[LineProperty]> =
            catalogue.kinds.iter().map(|kind| LineProperty::by(kind, name)).collect();
        reg.engine.register_get(
            name,
            move |ctx: NativeCallContext<'_>, line: &mut LineRef| -> Res<Dynamic> {
                let meant =
                    by_kind.get(line.kind.0 as usize).copied().unwrap_or(LineProperty::Nothing);
                host.line_value(&ctx, *line, &field, meant, false)
            },
        );
    }
    let host = reg.host.clone();
    reg.engine.register_indexer_get(
        move |ctx: NativeCallContext<'_>,
              line: &mut LineRef,
              name: ImmutableString|
              -> Res<Dynamic> { host.line_field(&ctx, *line, &name, false) },
    );
    reg.word(
        "line.opt(\"FIELD\")",
        "the field, or () when the part leaves it out: `line.opt(\"length_mm\") ?? 160`",
    );
    let host = reg.host.clone();
    reg.engine.register_fn(
        "opt",
        move |ctx: NativeCallContext<'_>, line: LineRef, name: ImmutableString| -> Res<Dynamic> {
            host.line_field(&ctx, line, &name, true)
        },
    );
    reg.word("line.has(\"FIELD\")", "whether the part gives the field");
    let host = reg.host.clone();
    reg.engine.register_fn(
        "has",
        move |ctx: NativeCallContext<'_>, line: LineRef, name: ImmutableString| -> Res<bool> {
            Ok(!host.line_field(&ctx, line, &name, true)?.is_unit())
        },
    );
}

fn records(reg: &mut Registrar<'_>, catalogue: &Catalogue) {
    reg.subject = "Records";
    reg.word(
        "for r in line.FIELD { r.SUB }",
        "entries of a field that holds records, such as the leads of a supply; r.opt(\"SUB\") and \
         r.has(\"SUB\") as for lines",
    );
    let mut names = BTreeSet::new();
    for field in catalogue.kinds.iter().flat_map(|k| &k.fields) {
        if let FieldType::Records(fields) = &field.ty {
            names.extend(fields.iter().map(|f| f.name.clone()));
        }
    }
    for name in names {
        let (host, field) = (reg.host.clone(), name.clone());
        reg.engine.register_get(
            &*name,
            move |ctx: NativeCallContext<'_>, record: &mut RecordRef| -> Res<Dynamic> {
                host.record_field(&ctx, *record, &field, false)
            },
        );
    }
    let host = reg.host.clone();
    reg.engine.register_indexer_get(
        move |ctx: NativeCallContext<'_>,
              record: &mut RecordRef,
              name: ImmutableString|
              -> Res<Dynamic> { host.record_field(&ctx, *record, &name, false) },
    );
    let host = reg.host.clone();
    reg.engine.register_fn(
        "opt",
        move |ctx: NativeCallContext<'_>,
              record: RecordRef,
              name: ImmutableString|
              -> Res<Dynamic> { host.record_field(&ctx, record, &name, true) },
    );
    let host = reg.host.clone();
    reg.engine.register_fn(
        "has",
        move |ctx: NativeCallContext<'_>, record: RecordRef, name: ImmutableString| -> Res<bool> {
            Ok(!host.record_field(&ctx, record, &name, true)?.is_unit())
        },
    );
}

fn build(reg: &mut Registrar<'_>, catalogue: &Catalogue) {
    reg.subject = "The build";
    reg.word(
        "build.KIND",
        "the first line of a kind, or () when there is none: `build.display?.refresh_hz`",
    );
    reg.word(
        "build.total, build.unpriced",
        "price of what is to be bought, customer's own at zero; lines to buy that have no offer",
    );
    for field in BUILD_FIELDS {
        let lack = if field.default.is_none() { "; optional" } else { "" };
        reg.word(&format!("build.{}", field.name), &format!("{}{lack}", field.meaning));
    }
    for name in build_names(catalogue) {
        let (host, field) = (reg.host.clone(), name.to_owned());
        let meant = OfBuild::by(catalogue, name);
        reg.engine.register_get(
            name,
            move |ctx: NativeCallContext<'_>, _: &mut BuildRef| -> Res<Dynamic> {
                host.build_value(&ctx, &field, meant, false)
            },
        );
    }
    let host = reg.host.clone();
    reg.engine.register_indexer_get(
        move |ctx: NativeCallContext<'_>,
              _: &mut BuildRef,
              name: ImmutableString|
              -> Res<Dynamic> { host.build_field(&ctx, &name, false) },
    );
    let host = reg.host.clone();
    reg.engine.register_fn(
        "opt",
        move |ctx: NativeCallContext<'_>, _: BuildRef, name: ImmutableString| -> Res<Dynamic> {
            host.build_field(&ctx, &name, true)
        },
    );
    let host = reg.host.clone();
    reg.engine.register_fn(
        "has",
        move |ctx: NativeCallContext<'_>, _: BuildRef, name: ImmutableString| -> Res<bool> {
            Ok(!host.build_field(&ctx, &name, true)?.is_unit())
        },
    );
    reg.word(
        "build.all(\"KIND\")",
        "every line of a kind, those in other parts' boxes last; \
     build.lines is every line of every kind",
    );
    let host = reg.host.clone();
    reg.engine.register_fn(
        "all",
        move |ctx: NativeCallContext<'_>, _: BuildRef, name: ImmutableString| -> Res<Array> {
            host.lines_of(&ctx, host.named_kind(&name)?)
        },
    );
    reg.word("build.count(\"KIND\")", "pieces of a kind: the sum of its lines' counts");
    let host = reg.host.clone();
    reg.engine.register_fn("count", move |_: BuildRef, name: ImmutableString| -> Res<Num> {
        let id = host.expr(Expr::Pieces(host.named_kind(&name)?));
        Ok(Num { id, value: host.number(id)? })
    });
    reg.word("build.sum(\"FIELD\")", "count × field over every line whose kind has the field");
    let host = reg.host.clone();
    reg.engine.register_fn(
        "sum",
        move |ctx: NativeCallContext<'_>, _: BuildRef, name: ImmutableString| -> Res<Num> {
            host.sum(&ctx, &name)
        },
    );
}

impl Host {
    fn sum(&self, ctx: &NativeCallContext<'_>, name: &str) -> Res<Num> {
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

fn handles(reg: &mut Registrar<'_>) {
    reg.word(
        "a == b",
        "whether two handles are the same line or record; `x == ()` whether a slot is empty",
    );
    reg.engine.register_fn("==", |a: LineRef, b: LineRef| a == b);
    reg.engine.register_fn("!=", |a: LineRef, b: LineRef| a != b);
    reg.engine.register_fn("==", |a: RecordRef, b: RecordRef| a == b);
    reg.engine.register_fn("!=", |a: RecordRef, b: RecordRef| a != b);
    for name in ["to_string", "to_debug"] {
        // A script that builds a text out of a name has read the name.
        let host = reg.host.clone();
        reg.engine.register_fn(
            name,
            move |ctx: NativeCallContext<'_>, line: &mut LineRef| -> Res<ImmutableString> {
                host.ask(
                    &ctx,
                    Ask::Value(host.expr(Expr::Line(line.kind, line.nth, LineWord::PartId))),
                )?;
                Ok(host.line_name(*line).into())
            },
        );
        reg.engine.register_fn(name, |record: &mut RecordRef| -> Res<ImmutableString> {
            Ok(format!("entry {}", record.index + 1).into())
        });
        reg.engine.register_fn(name, |_: &mut BuildRef| -> Res<ImmutableString> {
            Ok("the build".into())
        });
    }
    reg.engine.register_fn("len", |_: LineRef| -> Res<INT> { say("a line has no length") });
}
