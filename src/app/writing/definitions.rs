//! `dryfit rules words --definitions`: the host's words as a Rhai definitions file, for editors
//! that read one.

use crate::rules::word_table::Word;

/// The file's text; the words come from where scripts get them.
pub fn definitions(words: &[Word]) -> String {
    let mut out = "// The words that dryfit gives to rules. Written by `dryfit rules words \
     --definitions`.\nmodule static;\n"
        .to_owned();
    let mut told: Vec<String> = Vec::new();
    for word in words {
        for part in parts(&word.signature) {
            match head(part) {
                Some(head) if !told.contains(&head) => {
                    out.push_str(&format!(
                        "\n/// {}\n/// `{part}`\n{head};\n",
                        line(&word.meaning)
                    ));
                    told.push(head);
                }
                Some(_) => out.push_str(&format!("// {part}: {}\n", line(&word.meaning))),
                None => out.push_str(&format!("\n// {part}: {}\n", line(&word.meaning))),
            }
        }
    }
    out
}

fn line(text: &str) -> String {
    text.replace('\n', " ")
}

/// The words of a signature: commas and blanks between brackets part nothing.
pub(crate) fn parts(signature: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let (mut depth, mut start) = (0i32, 0usize);
    for (at, c) in signature.char_indices() {
        match c {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(signature.get(start..at).unwrap_or("").trim());
                start = at + 1;
            }
            _ => {}
        }
    }
    parts.push(signature.get(start..).unwrap_or("").trim());
    parts.retain(|p| !p.is_empty());
    // `abs(x) floor(x)`: several in a row, each a call of its own.
    parts
        .into_iter()
        .flat_map(|p| if p.matches(") ").count() > 1 { p.split(' ').collect() } else { vec![p] })
        .collect()
}

fn is_name(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

/// A function's or getter's head; none for what is neither.
fn head(part: &str) -> Option<String> {
    if let Some((name, arguments)) = part.strip_suffix(')').and_then(|p| p.split_once('(')) {
        let (of, name) = match name.split_once('.') {
            Some((of, name)) => (Some(of), name),
            None => (None, name),
        };
        if !is_name(name) || of.is_some_and(|o| !is_name(o)) {
            return None;
        }
        let arguments = of
            .map(str::to_owned)
            .into_iter()
            .chain(arguments.split(", ").filter(|a| !a.is_empty()).flat_map(argument));
        return Some(format!("fn {name}({})", arguments.collect::<Vec<_>>().join(", ")));
    }
    let (of, name) = part.split_once('.')?;
    (is_name(of) && is_name(name)).then(|| format!("fn get {name}({of})"))
}

fn argument(text: &str) -> Vec<String> {
    match text {
        "…" => vec!["message: String".to_owned(), "values: Map".to_owned()],
        t if t.starts_with("#{") => vec!["values: Map".to_owned()],
        t if t.starts_with('"') => {
            let word: String = t.trim_matches('"').to_lowercase();
            let name = if is_name(&word) {
                word
            } else if word.contains('{') {
                "message".to_owned()
            } else {
                "name".to_owned()
            };
            vec![format!("{name}: String")]
        }
        t => vec![t.to_owned()],
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/app/writing/definitions.rs"]
mod tests;
