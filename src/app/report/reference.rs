//! Pages about what there is: parts, the words of scripts, and rules as SARIF describes them.

use crate::app::counted::count;
use crate::app::report::escape::{indented, inert, width};
use crate::app::report::style::Look;
use crate::kit::Kit;
use crate::level::Level;
use crate::rules::loader::Rule;
use crate::rules::word_table::Word;

/// The rules in force that raise findings, each with the worst level it raises.
pub fn rules_by_level(kit: &Kit) -> Vec<(Rule, Level)> {
    let (rules, settings) = (kit.rules(), kit.settings());
    let level = |rule: &Rule| {
        let decided = settings.choices.get(&*rule.id).and_then(|choice| choice.level);
        decided.or_else(|| rule.levels().iter().max().copied()).unwrap_or(Level::Advice)
    };
    let of_findings = rules.rules.iter().filter(|rule| rule.unit.is_none());
    of_findings.map(|rule| (rule.clone(), level(rule))).collect()
}
/// The words that rules may use, under their headings.
pub fn words(look: Look, words: &[Word], find: Option<&str>) -> String {
    let mut out = String::new();
    let mut subject = "";
    let find = find.map(str::to_lowercase);
    let has = |text: &str, find: &str| text.to_lowercase().contains(find);
    for word in words
        .iter()
        .filter(|w| find.as_ref().is_none_or(|f| has(&w.signature, f) || has(&w.meaning, f)))
    {
        if word.subject != subject {
            if !out.is_empty() {
                out.push('\n');
            }
            subject = word.subject;
            out.push_str(&format!("{subject}\n"));
        }
        out.push_str(&indented(&inert(&word.signature), "  ", "      ", look.width));
        out.push_str(&indented(&inert(&word.meaning), "      ", "      ", look.width));
    }
    out
}

/// Every kind, with how many parts it has.
pub fn kinds(look: Look, kit: &Kit) -> String {
    let catalogue = kit.catalogue();
    let parts =
        |at: u16| count(catalogue.parts_of(crate::catalogue::kinds::KindId(at)).count(), "part");
    let rows: Vec<_> = catalogue
        .kinds
        .iter()
        .zip(0u16..)
        .map(|(kind, at)| (kind.name.to_string(), parts(at), String::new()))
        .collect();
    rows_text(look, &rows)
}

/// Rows of an id, a name and a word to the right, in columns.
pub fn rows_text(look: Look, rows: &[(String, String, String)]) -> String {
    let widest = |pick: fn(&(String, String, String)) -> &String| {
        rows.iter().map(|r| width(&inert(pick(r)))).max().unwrap_or(0)
    };
    let (first, second) = (widest(|r| &r.0), widest(|r| &r.1));
    let mut out = String::new();
    for (id, name, price) in rows {
        let (id, name, price) = (inert(id), inert(name), inert(price));
        if first + second + 18 > look.width {
            out.push_str(&indented(&format!("{id} {name} {price}"), "", "    ", look.width));
        } else {
            let line = format!(
                "{id}{}  {name}{}  {price:>12}",
                " ".repeat(first - width(&id)),
                " ".repeat(second - width(&name))
            );
            out.push_str(line.trim_end());
            out.push('\n');
        }
    }
    out
}
