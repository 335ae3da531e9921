//! Words for lines, records and the build.

use std::collections::BTreeSet;

use rhai::{Dynamic, INT, ImmutableString};

use crate::audit::ask::Ask;
use crate::audit::expr::{Expr, LineWord};
use crate::build::fields::BUILD_FIELDS;
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::FieldType;
use crate::rules::host::{Call, Res, say};
use crate::rules::line_names::{LINE_VALUES, LineProperty, OfBuild, build_names, line_names};
use crate::rules::tracked::{BuildRef, LineRef, Num, RecordRef};
use crate::rules::word_table::{AS_TEXT, Registrar};

/// Puts the words for lines, records and the build into an engine.
pub(crate) fn register(reg: &mut Registrar<'_>, catalogue: &Catalogue) {
    reg.engine.register_type_with_name::<LineRef>("a line");
    reg.engine.register_type_with_name::<RecordRef>("a record");
    reg.engine.register_type_with_name::<BuildRef>("the build");
    lines(reg, catalogue);
    records(reg, catalogue);
    build(reg, catalogue);
    lines_of_the_build(reg);
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
        reg.engine.register_get(name, move |ctx: Call<'_>, line: &mut LineRef| -> Res<Dynamic> {
            let meant = by_kind.get(line.kind.0 as usize).copied().unwrap_or(LineProperty::Nothing);
            host.line_value(&ctx, *line, &field, meant, false)
        });
    }
    reg.word(
        "line.opt(\"FIELD\")",
        "the field, or () when the part leaves it out: `line.opt(\"length_mm\") ?? 160`",
    );
    reg.word("line.has(\"FIELD\")", "whether the part gives the field");
    reg.fields(|host, ctx, line: &LineRef, name, opt| host.line_field(ctx, *line, name, opt));
}

fn records(reg: &mut Registrar<'_>, catalogue: &Catalogue) {
    reg.subject = "Records";
    reg.word(
        "for r in line.FIELD { r.SUB }",
        "entries of a field that holds records, such as the cables of a power supply; \
         r.opt(\"SUB\") and r.has(\"SUB\") as for lines",
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
            move |ctx: Call<'_>, record: &mut RecordRef| -> Res<Dynamic> {
                host.record_field(&ctx, *record, &field, false)
            },
        );
    }
    reg.fields(|host, ctx, record: &RecordRef, name, opt| {
        host.record_field(ctx, *record, name, opt)
    });
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
        reg.engine.register_get(name, move |ctx: Call<'_>, _: &mut BuildRef| -> Res<Dynamic> {
            host.build_value(&ctx, &field, meant, false)
        });
    }
    reg.fields(|host, ctx, _: &BuildRef, name, opt| host.build_field(ctx, name, opt));
}

fn lines_of_the_build(reg: &mut Registrar<'_>) {
    reg.word(
        "build.all(\"KIND\")",
        "every line of a kind, those in other parts' boxes last; \
     build.lines is every line of every kind",
    );
    reg.two("all", |host, ctx, _: BuildRef, name: ImmutableString| {
        host.lines_of(ctx, host.named_kind(&name)?)
    });
    reg.word("build.count(\"KIND\")", "pieces of a kind: the sum of its lines' counts");
    reg.two("count", |host, _, _: BuildRef, name: ImmutableString| {
        let id = host.expr(Expr::Pieces(host.named_kind(&name)?));
        Ok(Num { id, value: host.number(id)? })
    });
    reg.word("build.sum(\"FIELD\")", "count × field over every line whose kind has the field");
    reg.two("sum", |host, ctx, _: BuildRef, name: ImmutableString| host.sum(ctx, &name));
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
    // A script that builds a text out of a name has read the name.
    reg.text(AS_TEXT, |host, ctx, line: &mut LineRef| {
        host.ask(ctx, Ask::Value(host.expr(Expr::Line(line.kind, line.nth, LineWord::PartId))))?;
        Ok(host.line_name(*line).into())
    });
    reg.text(AS_TEXT, |_, _, record: &mut RecordRef| {
        Ok(format!("entry {}", record.index + 1).into())
    });
    reg.text(AS_TEXT, |_, _, _: &mut BuildRef| Ok("the build".into()));
    reg.engine.register_fn("len", |_: LineRef| -> Res<INT> { say("a line has no length") });
}
