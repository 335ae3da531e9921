//! Pages about what there is: parts, the words of scripts, and rules as SARIF describes them.

use crate::app::counted::count;
use crate::app::report::escape::{indented, inert, width};
use crate::app::report::sarif::RulePage;
use crate::app::report::style::Look;
use crate::kit::Kit;
use crate::level::Level;
use crate::rules::word_table::Word;

/// Every rule that raises findings, as SARIF describes them.
pub fn rule_pages(kit: &Kit) -> Vec<RulePage> {
    let rules = kit.rules();
    rules
        .rules
        .iter()
        .filter(|r| r.unit.is_none())
        .map(|r| RulePage {
            id: r.id.to_string(),
            title: r.title.to_string(),
            why: r.why.clone(),
            remedy: r.remedy.clone(),
            basis: r.basis.clone(),
            tags: r.tags.clone(),
            level: kit
                .settings()
                .choices
                .get(&*r.id)
                .and_then(|c| c.level)
                .or_else(|| r.levels.iter().max().copied())
                .unwrap_or(Level::Advice),
        })
        .collect()
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
