//! What may follow the word of a command, and what it means.

use super::{Command, Entry};
use crate::source::Problem;
use crate::whatif::edit::NewLine;
use crate::words::clip;

/// What a command means with the words that follow it.
pub(super) fn understood(entry: &Entry, force: bool, rest: &[String]) -> Result<Command, Problem> {
    let understood = match entry.name.as_str() {
        "swap" => swap(rest),
        "add" => return add(rest, entry),
        "drop" => (!rest.is_empty()).then(|| Command::Drop { slot: rest.to_vec() }),
        "take" => take(rest),
        "set" => (rest.len() >= 2).then(|| Command::Set { words: rest.to_vec() }),
        // With a place and a value it was understood before its quotes were taken off.
        "know" => None,
        "forget" => one(rest).map(|place| Command::Forget { place }),
        "ask" => rest.is_empty().then_some(Command::Ask),
        "undo" => steps(rest).map(Command::Undo),
        "redo" => steps(rest).map(Command::Redo),
        "mark" => one(rest).map(Command::Mark),
        "back" => one(rest).map(Command::Back),
        "diff" => match rest {
            [] | [_] | [_, _] => Some(Command::Diff(rest.first().cloned(), rest.get(1).cloned())),
            _ => None,
        },
        "measures" => Some(Command::Measures((!rest.is_empty()).then(|| rest.join(" ")))),
        "help" => (rest.len() < 2).then(|| Command::Help(rest.first().cloned())),
        "why" => with_all(rest)
            .filter(|(words, all)| words.len() < 2 && !(*all && words.is_empty()))
            .map(|(words, all)| Command::Why { rule: words.first().cloned(), all }),
        "parts" => parts(rest),
        "fit" => with_all(rest).and_then(|(words, all)| {
            let (slot, by) = with_by(words);
            (!slot.is_empty()).then(|| Command::Fit { slot: slot.to_vec(), by, all })
        }),
        "steps" => Some(Command::Steps { slot: rest.to_vec() }),
        "mend" => match rest {
            [] => Some(Command::Mend { way: None, all: false }),
            [all] if all == "all" => Some(Command::Mend { way: None, all: true }),
            [n] => n
                .parse()
                .ok()
                .filter(|n| *n > 0)
                .map(|n| Command::Mend { way: Some(n), all: false }),
            _ => None,
        },
        "mix" => mix(rest),
        "watch" => Some(Command::Watch((!rest.is_empty()).then(|| rest.join(" ")))),
        "source" => one(rest).map(Command::Source),
        "log" => (rest.len() < 2).then(|| Command::Log { file: rest.first().cloned(), force }),
        "history" => match rest {
            [] => Some(Command::History(None)),
            [n] => n.parse().ok().filter(|n| *n > 0).map(|n| Command::History(Some(n))),
            _ => None,
        },
        "sheet" => one(rest).map(|file| Command::Sheet { file, force }),
        "audit" => with_all(rest)
            .filter(|(words, _)| words.is_empty())
            .map(|(_, all)| Command::Audit { all }),
        "save" => save(force, rest),
        name => rest.is_empty().then(|| bare(name, force)).flatten(),
    };
    understood.ok_or_else(|| usage(entry))
}

fn usage(entry: &Entry) -> Problem {
    Problem::new(format!("`{}` is written: {} {}", entry.name, entry.name, entry.usage))
        .help(if entry.more.is_empty() { &entry.does } else { &entry.more })
}

/// `swap fan 2 lull-120`, `swap psu tarn 650 gold`: the line's words first, the rest is the part.
fn swap(rest: &[String]) -> Option<Command> {
    let (last, _) = rest.split_last()?;
    let number = |w: &String| w.trim_start_matches('#').parse::<usize>().is_ok_and(|n| n <= 30);
    let line = match rest.len() {
        n if n <= 2 || last.contains('/') => n - 1,
        _ if rest.get(1).is_some_and(number) => 2,
        _ => 1,
    };
    let (slot, part) = rest.split_at(line);
    Some(Command::Swap { slot: slot.to_vec(), part: part.join(" ") })
}

fn bare(name: &str, force: bool) -> Option<Command> {
    Some(match name {
        "marks" => Command::Marks,
        "lines" => Command::Lines,
        "check" => Command::Check,
        "reload" => Command::Reload,
        "quit" => Command::Quit { force },
        _ => return None,
    })
}

fn one(rest: &[String]) -> Option<String> {
    match rest {
        [word] => Some(word.clone()),
        _ => None,
    }
}

fn steps(rest: &[String]) -> Option<usize> {
    match rest {
        [] => Some(1),
        [word] => word.parse().ok().filter(|n| *n > 0),
        _ => None,
    }
}

/// The words before a closing `all`, and whether it is there.
fn with_all(rest: &[String]) -> Option<(&[String], bool)> {
    match rest {
        [words @ .., all] if all == "all" => Some((words, true)),
        words => Some((words, false)),
    }
}

/// The words before a closing `by MEASURE`, and the measure.
fn with_by(rest: &[String]) -> (&[String], Option<String>) {
    match rest.iter().position(|word| word == "by").map(|at| rest.split_at(at)) {
        Some((words, [_, measure @ ..])) if !measure.is_empty() => (words, Some(measure.join(" "))),
        _ => (rest, None),
    }
}

fn take(rest: &[String]) -> Option<Command> {
    match rest {
        [slot @ .., from, file] if from == "from" && !slot.is_empty() => {
            Some(Command::Take { slot: slot.to_vec(), file: file.clone() })
        }
        _ => None,
    }
}

fn parts(rest: &[String]) -> Option<Command> {
    let (words, all) = with_all(rest)?;
    (!words.is_empty()).then(|| Command::Parts { words: words.join(" "), all })
}

fn mix(rest: &[String]) -> Option<Command> {
    let (rest, take) = match rest {
        [words @ .., n] if words.len() > 1 || (words.len() == 1 && n.parse::<usize>().is_ok()) => {
            match n.parse::<usize>() {
                Ok(n) if n > 0 => (words, Some(n)),
                _ => (rest, None),
            }
        }
        words => (words, None),
    };
    match with_by(rest) {
        ([file], by) => Some(Command::Mix { file: file.clone(), by, take }),
        _ => None,
    }
}

fn save(force: bool, rest: &[String]) -> Option<Command> {
    let (forced, files): (Vec<&String>, Vec<&String>) = rest.iter().partition(|w| *w == "--force");
    (files.len() < 2).then(|| Command::Save {
        file: files.first().map(|f| (*f).clone()),
        force: force || !forced.is_empty(),
    })
}

fn add(rest: &[String], entry: &Entry) -> Result<Command, Problem> {
    let (part, mut rest) = rest.split_at(name_of_part(rest));
    if part.is_empty() {
        return Err(usage(entry));
    }
    let mut line = NewLine { part: part.join(" "), ..NewLine::default() };
    while let Some((word, after)) = rest.split_first() {
        rest = after;
        match word.as_str() {
            "mount" | "flow" => {
                let Some((value, after)) = rest.split_first() else { return Err(usage(entry)) };
                rest = after;
                let place = if word == "mount" { &mut line.mount } else { &mut line.flow };
                *place = Some(value.clone());
            }
            "owned" => line.owned = true,
            _ => match word.trim_start_matches(['x', '×']).parse::<u32>() {
                Ok(n) => line.count = Some(n),
                Err(_) => {
                    let problem = format!("`add` does not know what `{}` means", clip(word, 40));
                    return Err(Problem::new(problem).help(format!("add {}", entry.usage)));
                }
            },
        }
    }
    Ok(Command::Add(line))
}

/// How many words name the part to add: an id is one, a shown name goes up to what says how many
/// or where.
fn name_of_part(rest: &[String]) -> usize {
    let id = |word: &String| word.contains('/') || word.contains('-');
    if rest.first().is_some_and(id) {
        return 1;
    }
    let pieces = |word: &str| {
        word.strip_prefix(['x', '×']).is_some_and(|n| !n.is_empty() && n.parse::<u32>().is_ok())
    };
    let ends = |word: &String| matches!(word.as_str(), "mount" | "flow" | "owned") || pieces(word);
    rest.iter().position(ends).unwrap_or(rest.len())
}
