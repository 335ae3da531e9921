//! Help: the table of commands, and every word that a session knows.

use serde_json::{Value, json};

use crate::app::prompt::command::{COMMANDS, Entry, called};
use crate::app::report::page::Page;
use crate::audit::wording::figure;
use crate::build::fields::BUILD_FIELDS;
use crate::kit::Kit;
use crate::rules::loader::Rule;
use crate::rules::word_table::Word;
use crate::source::Problem;
use crate::words::{clip, some_of};

/// Most rules and words of one name that are shown.
const MOST_ALIKE: usize = 8;

/// Every command, or what a word means: a command, a rule or measure, a setting, a kind of part or
/// a field.
pub(super) fn help(page: &mut Page, kit: &Kit, word: Option<&str>) -> Result<(), Problem> {
    let (entries, commands) = match word {
        None => (Vec::new(), true),
        Some("=") => (vec![expressions(kit)], false),
        Some(word) => match called(word.trim_end_matches('!')) {
            Some(entry) => (vec![command(entry)], false),
            None => (meanings(kit, word), false),
        },
    };
    if let (true, Some(word)) = (entries.is_empty() && !commands, word) {
        return Err(unknown(kit, word));
    }
    let synonyms = COMMANDS.synonyms.iter().map(|(other, own)| format!("{other} for {own}"));
    let all = COMMANDS.all.iter().filter(|_| commands);
    let about = json!({
        "entries": entries,
        "commands": all.map(|c| json!({ "name": c.name, "usage": c.usage, "does": c.does }))
            .collect::<Vec<_>>(),
        "naming": COMMANDS.naming,
        "synonyms": synonyms.collect::<Vec<_>>(),
    });
    page.fill("help.txt", "", about);
    Ok(())
}

fn unknown(kit: &Kit, word: &str) -> Problem {
    let problem = Problem::new(format!("there is no help on `{}`", clip(word, 40)));
    let (set, settings) = (kit.rules(), kit.settings());
    let rules = set.rules.iter().flat_map(|r| [&*r.id, r.id.split_once('.').map_or("", |i| i.1)]);
    let commands = COMMANDS.all.iter().map(|e| e.name.as_str());
    let known = commands
        .chain(rules)
        .chain(settings.all().into_iter().map(|s| &*s.name))
        .chain(kit.catalogue().kinds.iter().map(|k| &*k.name));
    problem.help("`help` lists the commands, `measures` the measures").suggest(word, known)
}

/// What is said of a word: its head, what it is, sentences, and what to type next.
fn entry(head: &str, what: &str, texts: &[&str], next: &str) -> Value {
    json!({ "head": head, "usage": "", "what": what, "texts": texts, "sources": [], "next": next })
}

fn command(entry: &Entry) -> Value {
    let naming = COMMANDS.naming.split(" `= EXPRESSION`").next().unwrap_or("");
    let naming = if entry.usage.contains("LINE") { naming } else { "" };
    let synonyms = COMMANDS.synonyms.iter().filter(|(_, own)| *own == entry.name);
    let others: Vec<String> = synonyms.map(|(other, _)| format!("`{other}`")).collect();
    let also = format!("also typed {}", others.join(", "));
    let also = if others.is_empty() { "" } else { &also };
    let mut said = self::entry(&entry.name, "", &[&entry.does, &entry.more, naming], also);
    said["usage"] = json!(entry.usage);
    said
}

fn expressions(kit: &Kit) -> Value {
    let text = COMMANDS.naming.split_once("`= EXPRESSION` ").map_or("", |(_, rest)| rest);
    let mut names: Vec<&str> =
        kit.words().iter().map(name_of).filter(|n| n.len() > 1 && *n == n.to_lowercase()).collect();
    names.sort_unstable();
    names.dedup();
    let words = format!("Words: {}. `help WORD` explains one.", names.join(", "));
    entry("= EXPRESSION", "", &[&format!("It {text}"), &words], "")
}

/// All that a word may mean beside a command.
fn meanings(kit: &Kit, word: &str) -> Vec<Value> {
    let is = |id: &str| id == word || id.split_once('.').is_some_and(|(_, name)| name == word);
    let (set, settings) = (kit.rules(), kit.settings());
    let rules = set.rules.iter().filter(|rule| is(&rule.id)).take(MOST_ALIKE).map(rule);
    let settings = settings.all().into_iter().filter(|s| is(&s.name)).map(|one| {
        let value = one.value.as_num();
        let value = value.map_or_else(|| one.value.show(), |n| figure(n, &one.unit, ""));
        entry(&one.name, "a setting", &[&format!("{}: {value}", one.meaning)], "")
    });
    let words = kit.words().iter().filter(|w| name_of(w) == word).take(MOST_ALIKE);
    let words = words.map(|one| entry(&one.signature, "", &[&one.meaning], ""));
    let mut all: Vec<Value> = rules.chain(settings).chain(kind(kit, word)).collect();
    all.extend(fields(kit, word).into_iter().chain(words));
    all
}

/// A rule or a measure.
fn rule(rule: &Rule) -> Value {
    let what = match rule.unit.as_deref() {
        Some("") => "a measure".to_owned(),
        Some(unit) => format!("a measure, in {unit}"),
        None => "a rule".to_owned(),
    };
    let next = format!("`why {}` shows its comparisons on this build", rule.id);
    let mut said = entry(&rule.id, &what, &[&rule.title, &rule.why], &next);
    let sources = [("Fix: ", &rule.remedy), ("Source: ", &rule.basis)];
    let sources = sources.iter().filter(|(_, text)| !text.is_empty());
    said["sources"] = sources.map(|(head, text)| format!("{head}{text}")).collect();
    said
}

/// A kind of part, by its own word or the trade's.
fn kind(kit: &Kit, word: &str) -> Option<Value> {
    let catalogue = kit.catalogue();
    let kind = catalogue.kind_called(word).and_then(|id| catalogue.kind(id))?;
    let own = format!("{}/", kind.name);
    let parts = catalogue.parts().filter(|p| p.id.starts_with(&own)).count();
    let fields = some_of(kind.fields.iter().map(|f| &*f.name), usize::MAX);
    let text = format!("{}: {parts} in the catalogue. Its fields: {fields}.", kind.title);
    let next = format!("`fit {}` lists what fits here; `help FIELD` explains a field", kind.name);
    Some(entry(&kind.name, "a kind of part", &[&text], &next))
}

/// Fields of builds and of parts.
fn fields(kit: &Kit, word: &str) -> Vec<Value> {
    let of_build = BUILD_FIELDS.iter().filter(|f| f.name == word).map(|field| {
        let unit = if field.unit.is_empty() { String::new() } else { format!(", {}", field.unit) };
        entry(field.name, "a field of the build", &[&format!("{}{unit}", field.meaning)], "")
    });
    let mut all: Vec<Value> = of_build.collect();
    let (of, name) = word.rsplit_once('.').map_or((None, word), |(of, name)| (Some(of), name));
    let of = of.and_then(|of| of.split('.').next());
    for kind in kit.catalogue().kinds.iter().filter(|k| of.is_none_or(|of| *k.name == *of)) {
        all.extend(kind.fields.iter().filter(|f| &*f.name == name).map(|field| {
            let head = format!("{}.{}", kind.name, field.name);
            let text = format!("{}, {}", field.meaning, field.type_in_words());
            entry(&head, &format!("a field of a {}", kind.title), &[&text], "")
        }));
    }
    all
}

/// The name in a word's signature: `sum` of `build.sum("FIELD")`.
fn name_of(word: &Word) -> &str {
    let before = word.signature.split('(').next().unwrap_or("").trim_end();
    before.rsplit(|c: char| !(c.is_alphanumeric() || c == '_')).next().unwrap_or("")
}
