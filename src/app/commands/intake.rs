//! What `dryfit intake` does: a list read, doubts asked about, a build file written.

use std::io::{self, BufRead as _, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::args::intake::{IntakeArgs, IntakeFormat};
use crate::app::batch;
use crate::app::commands::{Page, pasted};
use crate::app::counted::count;
use crate::app::report::escape::inert;
use crate::app::report::style::Look;
use crate::app::report::{Report, Wishes, show};
use crate::catalogue::{Catalogue, Part};
use crate::config::Config;
use crate::disk;
use crate::intake::{Aliases, Fact, Intake, Row, State};
use crate::kit::{Kit, Layers};
use crate::layer::find_upward;
use crate::source::{Problem, Problems, Source};

/// Name of the format.
const FORMAT: &str = "dryfit-intake";
/// The shop's file of customers' words, below its catalogue folder.
const ALIASES: &str = "aliases.toml";
/// Parts shown for one question.
const SHOWN: usize = 6;

/// `dryfit intake`: 0, or 3 while a row is a question.
pub(crate) fn run(args: &IntakeArgs, page: &mut Page) -> Result<u8, Problems> {
    let piped = args.list == Path::new("-");
    let other = if args.audit { Some("--audit") } else { None };
    let other = other.or((args.format == IntakeFormat::Json).then_some("--format json"));
    if let Some(other) = other.filter(|_| args.output.as_deref() == Some(Path::new("-"))) {
        let message = format!("`-o -` and `{other}` both write to standard output");
        return Err(Problem::new(message)
            .help("name a file for the list, or leave one out")
            .into());
    }
    let (text, name, beside) = pasted(&args.list)?;
    let layers = batch::layers(beside, &args.base)?;
    let catalogue = layers.load_catalogue()?;
    crate::app::left_out::note(&catalogue);
    let mut aliases = aliases_of(&layers)?;
    let intake = Intake::new(&catalogue, aliases.clone());
    let mut rows = intake.read(&text)?;
    for (words, part) in aliases.stale(&catalogue) {
        page.note_aside(&format!(
            "\"{words}\" was once {part}, which the catalogue no longer has."
        ));
    }
    let asks =
        !args.ask_nothing && !piped && io::stdin().is_terminal() && io::stdout().is_terminal();
    if asks && args.format == IntakeFormat::Text && ask(&catalogue, &mut rows, &mut aliases)? {
        remember(&aliases, beside, args, page)?;
    }
    let list = intake.list(&rows, &name, args.base.today());
    let code = if rows.iter().any(|r| r.state == State::Unsure) { 3 } else { 0 };
    // To `-` is to standard output, as without a file.
    let output = args.output.as_deref().filter(|path| *path != Path::new("-"));
    if let Some(path) = output {
        disk::write_whole(path, list.as_bytes(), args.force)?;
    }
    match args.format {
        IntakeFormat::Json => page.json(&document(&rows, &list)),
        IntakeFormat::Text if args.audit => {
            return audited(args, &layers, catalogue, &list, code, page);
        }
        IntakeFormat::Text if output.is_none() => page.write(&list),
        IntakeFormat::Text => {}
    }
    if args.format == IntakeFormat::Text {
        let mut told = summary(&rows, output);
        if let Some((line, amount)) = intake.budget(&rows) {
            told.push_str(&format!(" The budget is {amount}: line {line} says so."));
        }
        for (line, purpose) in intake.purposes(&rows) {
            told.push_str(&format!(" It is for {purpose}: line {line} says so."));
        }
        page.note_aside(&told);
    }
    Ok(code)
}

/// What the layers know of customers' words, the highest layer last.
fn aliases_of(layers: &Layers) -> Result<Aliases, Problem> {
    let mut all = Aliases::default();
    for layer in &layers.catalogue {
        for (_, source) in layer.files.iter().filter(|(below, _)| below == ALIASES) {
            for (words, part) in Aliases::parse(source)?.iter() {
                all.add(words, part);
            }
        }
    }
    Ok(all)
}

/// Audits the list that was made, where it stands or in memory.
fn audited(
    args: &IntakeArgs,
    layers: &Layers,
    catalogue: Arc<Catalogue>,
    list: &str,
    code: u8,
    page: &mut Page,
) -> Result<u8, Problems> {
    let kit = Kit::with_catalogue(catalogue, &layers.rules)?;
    let file =
        args.output.as_deref().map_or_else(|| "the list".to_owned(), |p| p.display().to_string());
    let build = kit.read(&Source::new(file.clone(), list), args.base.today())?;
    let outcome = batch::judged(&kit, &build, true).map(Box::new).map_err(Arc::new);
    let report = Report { file, outcome };
    let own = report.code();
    let look = Look::stdout();
    page.stream(|out, aside| show(report, args.plain, look, Wishes::default(), out, aside));
    Ok(if code == 0 { own } else { code })
}

/// What became of the rows, in one or two sentences.
fn summary(rows: &[Row], output: Option<&Path>) -> String {
    let many = |state: State| rows.iter().filter(|r| r.state == state).count();
    let mut told: Vec<String> = Vec::new();
    for (state, words) in [
        (State::Matched, "matched"),
        (State::Unsure, "in doubt"),
        (State::Open, "left open"),
        (State::Unknown, "unknown to the catalogue"),
    ] {
        if many(state) > 0 {
            told.push(format!("{} {words}", many(state)));
        }
    }
    let all = rows.iter().filter(|r| r.state != State::Ignored).count();
    let mut out = if all == 0 {
        "No row of a list was found.".to_owned()
    } else {
        format!("{}: {}.", count(all, "row"), told.join(", "))
    };
    if let Some(path) = output {
        out.push_str(&format!(" Written to {}.", path.display()));
    }
    if many(State::Unsure) > 0 {
        out.push_str(" Each row in doubt names its candidates above its line: put one in.");
    }
    out
}

fn fact(fact: &Fact) -> Value {
    match fact {
        Fact::Number(number) if number.fract() == 0.0 => json!(*number as i64),
        Fact::Number(number) => json!(number),
        Fact::Word(word) => json!(word),
        Fact::Yes => json!(true),
    }
}

/// The answer for programs: format `dryfit-intake`, version 1.
fn document(rows: &[Row], list: &str) -> Value {
    let row = |row: &Row| {
        let facts: serde_json::Map<String, Value> =
            row.facts.iter().map(|(name, value)| (name.clone(), fact(value))).collect();
        let candidates: Vec<Value> = row
            .candidates
            .iter()
            .map(|(part, score)| json!({ "part": part, "score": score }))
            .collect();
        json!({
            "line": row.line, "text": row.text, "state": row.state.word(), "part": row.part,
            "kind": row.kind, "count": row.count, "price": row.price, "currency": row.currency,
            "owned": row.owned, "mount": row.mount, "flow": row.flow, "wants": row.wants,
            "name": row.name, "facts": facts, "candidates": candidates, "note": row.note,
        })
    };
    json!({
        "format": FORMAT, "version": 1,
        "rows": rows.iter().map(row).collect::<Vec<_>>(), "list": list,
    })
}

/// Asks about each row in doubt; true when anything was decided.
fn ask(catalogue: &Catalogue, rows: &mut [Row], aliases: &mut Aliases) -> Result<bool, Problem> {
    let mut decided = false;
    let all = rows.iter().filter(|r| r.state == State::Unsure).count();
    let mut out = io::stderr();
    let mut say = |text: String| out.write_all(text.as_bytes()).and_then(|()| out.flush());
    let broken = |e: io::Error| Problem::new(format!("the question could not be asked: {e}"));
    for (nth, row) in rows.iter_mut().filter(|r| r.state == State::Unsure).enumerate() {
        say(format!("\n{} of {all}, line {}: {}\n", nth + 1, row.line, inert(&row.text)))
            .map_err(broken)?;
        let shown: Vec<String> =
            row.candidates.iter().take(SHOWN).map(|(id, _)| id.clone()).collect();
        for (at, id) in shown.iter().enumerate() {
            let name = catalogue.part(id).map_or("", |p| &*p.name);
            say(format!("  {}  {}   {id}\n", at + 1, inert(name))).map_err(broken)?;
        }
        loop {
            say("Which? A number, ? shows how they differ, Enter leaves it: ".to_owned())
                .map_err(broken)?;
            let mut answer = String::new();
            if io::stdin().lock().read_line(&mut answer).map_err(broken)? == 0 {
                return Ok(decided);
            }
            match answer.trim() {
                "" => break,
                "?" => say(differences(catalogue, &shown)).map_err(broken)?,
                number => {
                    let picked =
                        number.parse::<usize>().ok().and_then(|n| shown.get(n.checked_sub(1)?));
                    if let Some(id) = picked {
                        aliases.add(&row.text, id);
                        row.state = State::Matched;
                        row.part = Some(id.clone());
                        decided = true;
                        break;
                    }
                    say(format!("A number from 1 to {}.\n", shown.len())).map_err(broken)?;
                }
            }
        }
    }
    Ok(decided)
}

/// The fields in which parts differ, a row each.
fn differences(catalogue: &Catalogue, ids: &[String]) -> String {
    let parts: Vec<_> = ids.iter().filter_map(|id| catalogue.part(id)).collect();
    let mut out = String::new();
    let Some(kind) = parts.first().and_then(|p| catalogue.kind(p.kind)) else { return out };
    for (at, field) in kind.fields.iter().enumerate() {
        let shown = |part: &Arc<Part>| {
            part.values.get(at).map_or_else(String::new, |v| match field.unit.is_empty() {
                true => v.show(),
                false => format!("{} {}", v.show(), field.unit),
            })
        };
        let values: Vec<String> = parts.iter().copied().map(shown).collect();
        let same = values.iter().all(|v| Some(v) == values.first());
        if !same && &*field.name != "name" && values.iter().all(|v| v.len() < 60) {
            out.push_str(&format!("  {}: {}\n", field.name, inert(&values.join(" | "))));
        }
    }
    if out.is_empty() {
        "  They differ in nothing that the catalogue knows.\n".to_owned()
    } else {
        out
    }
}

/// Writes what was decided into the shop's folder.
fn remember(
    aliases: &Aliases,
    beside: &Path,
    args: &IntakeArgs,
    page: &mut Page,
) -> Result<(), Problems> {
    let folder: Option<PathBuf> = match &args.base.catalogue {
        Some(folder) => Some(folder.clone()),
        None => Config::beside(beside)?.catalogue.or_else(|| find_upward(beside, "catalogue")),
    };
    match folder {
        Some(folder) => {
            let path = folder.join(ALIASES);
            disk::write_whole(&path, aliases.written().as_bytes(), true)?;
            page.note_aside(&format!("Remembered in {}.", path.display()));
        }
        None => page.note_aside(
            "Your answers are in the list only: make a folder catalogue/ beside it, and they are \
             remembered.",
        ),
    }
    Ok(())
}
