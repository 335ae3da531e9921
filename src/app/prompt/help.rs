//! Help: the table of commands, and every word that a session knows.

use crate::app::prompt::command::{COMMANDS, Entry, called};
use crate::app::prompt::output::{Page, Role};
use crate::app::report::escape::width;
use crate::audit::wording::figure;
use crate::build::fields::BUILD_FIELDS;
use crate::kit::Kit;
use crate::rules::loader::Rule;
use crate::rules::word_table::Word;
use crate::source::Problem;
use crate::words::{clip, some_of};

/// Most rules and fields of one name that are shown.
const MOST_ALIKE: usize = 8;

/// Every command, or what a word means: a command, a rule or measure, a setting, a kind of part or
/// a field.
pub(super) fn help(page: &mut Page, kit: &Kit, word: Option<&str>) -> Result<(), Problem> {
    let Some(word) = word else {
        all(page);
        return Ok(());
    };
    if word == "=" {
        expressions(page, kit);
        return Ok(());
    }
    if let Some(entry) = called(word.trim_end_matches('!')) {
        command(page, entry);
        return Ok(());
    }
    let found = [rules(page, kit, word), settings(page, kit, word), kinds(page, kit, word)];
    if found.contains(&true) | fields(page, kit, word) | script_words(page, kit, word) {
        return Ok(());
    }
    let problem = Problem::new(format!("there is no help on `{}`", clip(word, 40)));
    let set = kit.rules();
    let settings = kit.settings();
    let catalogue = kit.catalogue();
    let all = settings.all();
    let set_names: Vec<&str> = all.iter().map(|s| &*s.name).collect();
    let commands = COMMANDS.all.iter().map(|e| e.name.as_str());
    let known = commands
        .chain(set.rules.iter().flat_map(|r| [&*r.id, r.id.split_once('.').map_or("", |i| i.1)]))
        .chain(set_names.iter().copied())
        .chain(catalogue.kinds.iter().map(|k| &*k.name));
    Err(problem.help("`help` lists the commands, `measures` the measures").suggest(word, known))
}

fn command(page: &mut Page, entry: &Entry) {
    page.put(Role::Command, &entry.name).say(" ").flow(Role::Plain, &entry.usage, 2);
    page.say("  ").flow(Role::Plain, &entry.does, 2);
    if !entry.more.is_empty() {
        page.say("  ").flow(Role::Plain, &entry.more, 2);
    }
    if entry.usage.contains("LINE") {
        let naming = COMMANDS.naming.split(" `= EXPRESSION`").next().unwrap_or("");
        page.say("  ").flow(Role::Plain, naming, 2);
    }
    let synonyms = COMMANDS.synonyms.iter().filter(|(_, own)| *own == entry.name);
    let others: Vec<String> = synonyms.map(|(other, _)| format!("`{other}`")).collect();
    if !others.is_empty() {
        page.say("  ").flow(Role::Faint, &format!("also typed {}", others.join(", ")), 2);
    }
}

/// Rules and measures by their id, or by the end of it.
fn rules(page: &mut Page, kit: &Kit, word: &str) -> bool {
    let set = kit.rules();
    let fits = |rule: &&Rule| {
        *rule.id == *word || rule.id.split_once('.').is_some_and(|(_, name)| name == word)
    };
    let found: Vec<&Rule> = set.rules.iter().filter(fits).collect();
    for rule in found.iter().take(MOST_ALIKE) {
        let unit = rule.unit.as_ref().filter(|unit| !unit.is_empty());
        let what = match (&rule.unit, unit) {
            (Some(_), Some(unit)) => format!("a measure, in {unit}"),
            (Some(_), None) => "a measure".to_owned(),
            (None, _) => "a rule".to_owned(),
        };
        page.put(Role::Command, &rule.id).say(", ").put(Role::Faint, &what).end();
        for text in [&*rule.title, &rule.why] {
            if !text.is_empty() {
                page.say("  ").flow(Role::Plain, text, 2);
            }
        }
        for (head, text) in [("Fix: ", &rule.remedy), ("Source: ", &rule.basis)] {
            if !text.is_empty() {
                page.say("  ").flow(Role::Plain, &format!("{head}{text}"), 4);
            }
        }
        let next = format!("`why {}` shows its comparisons on this build", rule.id);
        page.say("  ").flow(Role::Faint, &next, 2);
    }
    !found.is_empty()
}

fn settings(page: &mut Page, kit: &Kit, word: &str) -> bool {
    let settings = kit.settings();
    let mut any = false;
    for one in settings.all() {
        let own = &*one.name == word || one.name.split_once('.').is_some_and(|(_, n)| n == word);
        if !own {
            continue;
        }
        any = true;
        page.put(Role::Command, &one.name).say(", ").put(Role::Faint, "a setting").end();
        let value =
            one.value.as_num().map_or_else(|| one.value.show(), |n| figure(n, &one.unit, ""));
        page.say("  ").flow(Role::Plain, &format!("{}: {value}", one.meaning), 2);
    }
    any
}

/// A kind of part, by its own word or the trade's.
fn kinds(page: &mut Page, kit: &Kit, word: &str) -> bool {
    let catalogue = kit.catalogue();
    let Some(kind) = catalogue.kind_called(word).and_then(|id| catalogue.kind(id)) else {
        return false;
    };
    let own = format!("{}/", kind.name);
    let parts = catalogue.parts().filter(|p| p.id.starts_with(&own)).count();
    page.put(Role::Command, &kind.name).say(", ").put(Role::Faint, "a kind of part").end();
    let fields: Vec<&str> = kind.fields.iter().map(|f| &*f.name).collect();
    let text = format!(
        "{}: {parts} in the catalogue. Its fields: {}.",
        kind.title,
        some_of(fields, usize::MAX)
    );
    page.say("  ").flow(Role::Plain, &text, 2);
    let next = format!("`fit {}` lists what fits here; `help FIELD` explains a field", kind.name);
    page.say("  ").flow(Role::Faint, &next, 2);
    true
}

/// Fields of builds and of parts.
fn fields(page: &mut Page, kit: &Kit, word: &str) -> bool {
    let name = word.rsplit('.').next().unwrap_or(word);
    let mut any = false;
    for field in BUILD_FIELDS.iter().filter(|f| f.name == word) {
        any = true;
        page.put(Role::Command, field.name)
            .say(", ")
            .put(Role::Faint, "a field of the build")
            .end();
        let unit = if field.unit.is_empty() { String::new() } else { format!(", {}", field.unit) };
        page.say("  ").flow(Role::Plain, &format!("{}{unit}", field.meaning), 2);
    }
    let catalogue = kit.catalogue();
    let of_kind = |kind: &str| word.split_once('.').is_none_or(|(k, _)| k == kind);
    for kind in catalogue.kinds.iter().filter(|k| of_kind(&k.name)) {
        for field in kind.fields.iter().filter(|f| &*f.name == name) {
            any = true;
            page.put(Role::Command, &format!("{}.{}", kind.name, field.name))
                .say(", ")
                .put(Role::Faint, &format!("a field of a {}", kind.title))
                .end();
            let text = format!("{}, {}", field.meaning, field.type_in_words());
            page.say("  ").flow(Role::Plain, &text, 2);
        }
    }
    any
}

/// Words of expressions and rules.
fn script_words(page: &mut Page, kit: &Kit, word: &str) -> bool {
    let mut any = false;
    for one in kit.words().iter().filter(|w| name_of(w) == word).take(MOST_ALIKE) {
        any = true;
        page.put(Role::Command, &one.signature).end();
        page.say("  ").flow(Role::Plain, &one.meaning, 2);
    }
    any
}

/// The name in a word's signature: `sum` of `build.sum("FIELD")`.
fn name_of(word: &Word) -> &str {
    let before = word.signature.split('(').next().unwrap_or("").trim_end();
    before.rsplit(|c: char| !(c.is_alphanumeric() || c == '_')).next().unwrap_or("")
}

fn expressions(page: &mut Page, kit: &Kit) {
    page.put(Role::Command, "= EXPRESSION").end();
    let text = COMMANDS.naming.split_once("`= EXPRESSION` ").map_or("", |(_, rest)| rest);
    page.say("  ").flow(Role::Plain, &format!("It {text}"), 2);
    let mut names: Vec<&str> =
        kit.words().iter().map(name_of).filter(|n| n.len() > 1 && *n == n.to_lowercase()).collect();
    names.sort_unstable();
    names.dedup();
    let words = format!("Words: {}. `help WORD` explains one.", names.join(", "));
    page.say("  ").flow(Role::Plain, &words, 2);
}

fn all(page: &mut Page) {
    let commands = &COMMANDS.all;
    let wide = commands.iter().map(|e| width(&e.name)).max().unwrap_or(0) + 1;
    let form = |e: &Entry| width(&e.usage);
    let usage = commands.iter().map(form).filter(|w| *w <= 28).max().unwrap_or(0);
    let narrow = page.look.width < wide + usage + 30;
    let does = wide + usage + 3;
    for entry in commands {
        page.cell(Role::Command, &entry.name, wide);
        if narrow {
            let gap = if entry.usage.is_empty() { "" } else { " · " };
            let text = format!("{}{gap}{}", entry.usage, entry.does);
            page.flow(Role::Plain, &text, wide + 1);
        } else if form(entry) > usage {
            page.say(&entry.usage).end();
            page.say(&" ".repeat(does)).flow(Role::Plain, &entry.does, does);
        } else {
            page.cell(Role::Plain, &entry.usage, usage + 1).flow(Role::Plain, &entry.does, does);
        }
    }
    page.end().flow(Role::Plain, &COMMANDS.naming, 0);
    let others: Vec<String> =
        COMMANDS.synonyms.iter().map(|(other, own)| format!("{other} for {own}")).collect();
    page.end().flow(Role::Plain, &format!("You may also type {}.", others.join(", ")), 0);
}
