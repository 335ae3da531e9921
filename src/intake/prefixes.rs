//! What stands before each line of a chat or of a list with counts in brackets.

use std::borrow::Cow;

/// Longest prefix of a chat's line, in bytes.
const MAX_PREFIX: usize = 60;

/// The text without its chat prefixes, and with `(2) ` as a count or a number, line by line.
pub(crate) fn without_prefixes(text: &str) -> Cow<'_, str> {
    let filled = text.lines().filter(|l| !l.trim().is_empty()).count();
    let chat = text.lines().filter(|l| chat_prefix(l).is_some()).count();
    if chat >= 2 && chat * 10 >= filled * 6 {
        let lines: Vec<&str> = text
            .split('\n')
            .map(|l| chat_prefix(l).and_then(|at| l.get(at..)).unwrap_or(l))
            .collect();
        return Cow::Owned(lines.join("\n"));
    }
    let numbers: Vec<u32> =
        text.lines().filter_map(|l| bracketed(l.trim_start())).map(|(n, _)| n).collect();
    if numbers.len() < 2 {
        return Cow::Borrowed(text);
    }
    // 1, 2, 3 number the rows; anything else counts what they ask for.
    let numbered = numbers.iter().zip(1..).all(|(n, at)| *n == at);
    let lines: Vec<String> = text
        .split('\n')
        .map(|l| match bracketed(l.trim_start()) {
            Some((n, rest)) if numbered => format!("{n}) {rest}"),
            Some((n, rest)) => format!("- {n}x {rest}"),
            None => l.to_owned(),
        })
        .collect();
    Cow::Owned(lines.join("\n"))
}

/// `(2) Lull 120`: the number, and what follows.
fn bracketed(line: &str) -> Option<(u32, &str)> {
    let (number, rest) = line.strip_prefix('(')?.split_once(')')?;
    let digits = (1..=2).contains(&number.len()) && number.chars().all(|c| c.is_ascii_digit());
    (digits && rest.starts_with(' ')).then(|| number.parse().ok().map(|n| (n, rest.trim())))?
}

/// Where the message begins of `[14:02] Maud: …`, `14:02 - Maud: …`, `<Maud> …`.
fn chat_prefix(line: &str) -> Option<usize> {
    if let Some((name, _)) = line.strip_prefix('<').and_then(|l| l.split_once("> ")) {
        return is_name(name).then(|| name.len() + 3);
    }
    let end = line.find(": ")? + 2;
    let prefix = line.get(..end).filter(|p| p.len() <= MAX_PREFIX)?;
    let open = prefix.trim_start_matches('[');
    let clock = open.find(|c: char| c.is_ascii_digit()).filter(|at| *at < 30)?;
    let behind = open.get(clock..)?;
    let stamp = behind
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, ':' | '.' | ',' | '/' | '-' | ' ')))
        .unwrap_or(behind.len());
    let timed = behind.get(..stamp)?.split([' ', ',']).any(is_time);
    let name = behind.get(stamp..)?.trim_start_matches(['A', 'P', 'M', ']', ' ', '-', '–']);
    (timed && is_name(name.trim_end_matches([':', ' ']))).then_some(end)
}

fn is_time(word: &str) -> bool {
    let parts: Vec<&str> = word.trim_matches(['-', '/', '.']).split(':').collect();
    (2..=3).contains(&parts.len())
        && parts.iter().all(|p| (1..=2).contains(&p.len()) && p.chars().all(|c| c.is_ascii_digit()))
}

fn is_name(text: &str) -> bool {
    let count = text.chars().count();
    // People put pictures into their names; marks of a keyboard but these are no part of one.
    let fits =
        |c: char| c.is_alphabetic() || !c.is_ascii() || matches!(c, ' ' | '.' | '_' | '\'' | '-');
    (1..=24).contains(&count) && text.chars().all(fits) && text.contains(char::is_alphabetic)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chats_and_counts_in_brackets() {
        let chat = "[14:02] Maud: Kerf P4\n[14:03] Jory: ok";
        assert_eq!(without_prefixes(chat), "Kerf P4\nok");
        assert_eq!(without_prefixes("<Maud> Kerf P4\n<Jo> ok"), "Kerf P4\nok");
        assert_eq!(without_prefixes("(1) A\n(2) B"), "1) A\n2) B");
        assert_eq!(without_prefixes("(1) A\n(4) B"), "- 1x A\n- 4x B");
        let plain = "CPU: Kerf P4\nRAM: Dulse";
        assert_eq!(without_prefixes(plain), plain);
    }
}
