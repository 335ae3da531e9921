//! What `dryfit parts import`, `show`, `new` and `check` do.

use std::path::PathBuf;

use serde_json::{Map, Value, json};

use crate::app::args::BaseArgs;
use crate::app::args::intake::IntakeFormat;
use crate::app::args::parts::{ImportArgs, PartsCommand};
use crate::app::batch;
use crate::app::commands::{Page, kit_here, pasted};
use crate::app::counted::count;
use crate::app::prices::columns::columns;
use crate::app::report::style::Look;
use crate::app::{left_out, part_words};
use crate::catalogue::kinds::{Field, Kind, KindId};
use crate::catalogue::{Catalogue, Part};
use crate::disk;
use crate::kit::{Kit, usual_words};
use crate::layer::read_source;
use crate::partsheet::{Imported, SheetMap, import, merged};
use crate::source::{Problem, Problems};
use crate::words::some_of;

/// Name of the format.
const FORMAT: &str = "dryfit-parts";

pub(crate) fn run(command: PartsCommand, page: &mut Page) -> Result<u8, Problems> {
    match command {
        PartsCommand::Import(args) => take_in(&args, page),
        PartsCommand::Show { part, base } => show(&part, &base, page),
        PartsCommand::New { kind, name, base } => new(&kind, name.as_deref(), &base, page),
        PartsCommand::Check { builds, base } => super::parts_check::run(&builds, &base, page),
    }
}

/// A kind by its word or any of its other names.
pub(crate) fn kind_named(catalogue: &Catalogue, word: &str) -> Result<KindId, Problem> {
    catalogue.kind_called(word).ok_or_else(|| {
        Problem::new(format!("there is no kind `{word}`"))
            .suggest(word, catalogue.kinds.iter().map(|k| &*k.name))
    })
}

fn take_in(args: &ImportArgs, page: &mut Page) -> Result<u8, Problems> {
    let (text, name, beside) = pasted(&args.source)?;
    let catalogue = batch::layers(beside, &args.base)?.load_catalogue()?;
    left_out::note(&catalogue);
    let kind = kind_named(&catalogue, &args.kind)?;
    let schema = catalogue.kind(kind).ok_or_else(|| Problem::new("there is no such kind"))?;
    let map = match &args.map {
        Some(path) => SheetMap::parse(&*read_source(path)?, schema)?,
        None => SheetMap::default(),
    };
    let parts = import(&catalogue, kind, &text, &map, &name)?;
    if args.format == IntakeFormat::Json {
        page.json(&document(&parts));
        return Ok(0);
    }
    if args.write && parts.iter().any(|part| part.name.is_empty()) {
        return Err(Problem::new(format!("{name} gives no name for the part; nothing is written"))
            .help("write the name as the first line of the page, and import it again")
            .into());
    }
    let into = args
        .into
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("catalogue/parts/{}.toml", schema.name)));
    let held = if into.exists() { read_source(&into)?.text.to_string() } else { String::new() };
    let (written, changes) = merged(&held, &into.display().to_string(), &schema.name, &parts)?;
    if args.write && !changes.is_empty() {
        // A shop begins with no catalogue of its own.
        if let Some(folder) = into.parent().filter(|f| f.ends_with("parts")) {
            std::fs::create_dir_all(folder).map_err(|e| disk::cannot(folder, &e))?;
        }
        disk::write_whole(&into, written.as_bytes(), true)?;
    } else if !args.write {
        page.write(&written);
    }
    for change in &changes {
        page.note_aside(&change.words());
    }
    for part in &parts {
        for note in &part.notes {
            page.note_aside(&format!("{}: no value for {note}", part.id));
        }
        if !part.unread.is_empty() {
            let unread = some_of(part.unread.iter().map(String::as_str), 12);
            page.note_aside(&format!("{}: not understood: {unread}.", part.id));
        }
    }
    let (number, file) = (count(parts.len(), "part"), into.display());
    page.note_aside(&match (args.write, changes.is_empty()) {
        (_, true) => format!("{number}: nothing has changed in {file}."),
        (true, false) => format!("{number} read; written to {file}."),
        (false, false) => format!("{number} read; nothing is written without --write."),
    });
    Ok(0)
}

/// The answer for programs: format `dryfit-parts`, version 1.
fn document(parts: &[Imported]) -> Value {
    let part = |part: &Imported| {
        let fields: Map<String, Value> = part
            .fields
            .iter()
            .map(|(name, read)| {
                (name.clone(), json!({ "value": read.value, "from": read.from, "line": read.line }))
            })
            .collect();
        json!({
            "id": part.id, "name": part.name, "fields": fields,
            "unread": part.unread, "missing": part.missing, "notes": part.notes,
        })
    };
    json!({ "format": FORMAT, "version": 1, "parts": parts.iter().map(part).collect::<Vec<_>>() })
}

/// Rules that read a field of a kind.
pub(crate) fn readers(kit: &Kit, kind: &Kind, field: &str) -> Vec<String> {
    let rules = kit.rules();
    let reads = rules.rules.iter().filter(|r| r.reads(&kit.catalogue().kinds, kind, field));
    reads.map(|rule| rule.id.to_string()).collect()
}

fn show(text: &str, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let kit = kit_here(base)?;
    let catalogue = kit.catalogue();
    let part = &*part_words::one(catalogue, text, None)?;
    let Some(kind) = catalogue.kind(part.kind) else { return Ok(2) };
    let head = format!("{}, {}, {}", part.name, part.id, kind.title);
    let mut rows = Vec::new();
    for (at, field) in kind.fields.iter().enumerate() {
        let Some(value) = part.values.get(at) else { continue };
        let nothing = value.is_absent() || value.is_unknown();
        let unit = if nothing { "" } else { &*field.unit };
        let shown = if nothing { "-".to_owned() } else { value.show() };
        let asked = some_of(readers(&kit, kind, &field.name).iter().map(String::as_str), 4);
        let shown = format!("{shown} {unit}").trim_end().to_owned();
        rows.push(vec![field.name.to_string(), shown, whence(part, at, field), asked]);
    }
    let look = Look::stdout();
    page.write(&look.hanging(&head));
    page.write(&columns(look, &rows, &[]));
    Ok(0)
}

/// Where a field's value comes from, or why there is none.
fn whence(part: &Part, at: usize, field: &Field) -> String {
    let span = part.spans.get(at).copied().unwrap_or_default();
    match part.values.get(at) {
        Some(value) if value.is_unknown() => match &field.usual {
            Some(usual) => format!("unknown, usually {}", usual_words(usual, &field.unit)),
            None => "unknown".to_owned(),
        },
        _ if !span.is_empty() => {
            let (line, _) = part.source.line_column(span.start());
            format!("{}:{line}", part.source.name)
        }
        Some(value) if value.is_absent() => "absent".to_owned(),
        _ => "its kind says so".to_owned(),
    }
}

fn new(kind: &str, name: Option<&str>, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let kit = kit_here(base)?;
    let catalogue = kit.catalogue();
    let id = kind_named(catalogue, kind)?;
    let Some(schema) = catalogue.kind(id) else { return Ok(2) };
    let name = name.unwrap_or("NAME");
    let mut text = format!(
        "# A {}. Take the # from the lines that you know.\nkind = \"{}\"\n\n[{}]\nname = {}\n",
        schema.title,
        schema.name,
        slug(name),
        toml_edit::value(name).to_string().trim()
    );
    let mut fields: Vec<(usize, &Field)> = schema
        .fields
        .iter()
        .filter(|f| &*f.name != "name")
        .map(|f| (readers(&kit, schema, &f.name).len(), f))
        .collect();
    fields.sort_by_key(|field| std::cmp::Reverse(field.0));
    for (rules, field) in fields {
        let asked =
            if rules == 0 { String::new() } else { format!("; read by {}", count(rules, "rule")) };
        text.push_str(&format!(
            "# {} = {}   # {}{asked}\n",
            field.name,
            field.example(catalogue, true),
            field.meaning
        ));
    }
    page.write(&text);
    Ok(0)
}

fn slug(name: &str) -> String {
    let slug: String = name
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let slug = slug.trim_matches('-').to_owned();
    if slug.is_empty() { "part".to_owned() } else { slug }
}
