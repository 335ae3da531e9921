//! Lists as they are typed into a mail.

use super::rng::Rng;
use super::row::{Row, blank, one_row, whole};
use super::words::greeting;
use super::writer::{Writer, cased, money};

/// Bullets or bare lines, between talk.
pub(super) fn typed(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize, form: usize) {
    let bullet = if form == 0 { *rng.pick(&["- ", "* ", "• ", "  - ", "1. "]) } else { "" };
    let [before, after] = greeting(lang);
    for line in before.iter().take(1 + rng.below(3)) {
        w.put(line, &[(&blank(), None)]);
    }
    w.put("", &[]);
    for _ in 0..6 + rng.below(10) {
        if rng.chance(12) {
            unusual(w, rng, lang, case, bullet);
            continue;
        }
        let mut row = one_row(rng, lang, false);
        let mut text = line(&row, rng, lang, case, form);
        if !bullet.is_empty()
            && text.len() > 50
            && rng.chance(40)
            && let Some(at) = text
                .get(40..)
                .unwrap_or("")
                .find(' ')
                .map(|a| a + 40)
                .filter(|a| text.is_char_boundary(*a))
        {
            text.replace_range(at..=at, "\n    ");
            row.tags.push("wrapped");
        }
        w.put(&format!("{bullet}{text}"), &[(&row, Some("EUR"))]);
    }
    if rng.chance(50) {
        let total = match lang {
            "de" => "Summe: 1.234,56 €",
            "fr" => "Total : 1 234,56 €",
            _ => "Total: €1,234.56",
        };
        w.put(total, &[(&blank(), None)]);
    }
    w.put("", &[]);
    for line in after.iter().take(1 + rng.below(4)) {
        w.put(line, &[(&blank(), None)]);
    }
}

/// A row as it is typed: pieces, name, price and note.
fn line(row: &Row, rng: &mut Rng, lang: &str, case: usize, form: usize) -> String {
    let mut text = cased(&count_text(row, rng, lang, &row.text), case);
    if let Some(price) = row.price.clone() {
        let money = money(&price, lang, rng, true);
        text = match rng.below(4) {
            0 => format!("{text}, {money}"),
            1 => format!("{text} - {money}"),
            2 => format!("{text} ({money})"),
            _ => format!("{text}: {money}"),
        };
        if row.count > 1 && rng.chance(40) {
            text = format!(
                "{text} {}",
                match lang {
                    "de" => "pro Stück",
                    "fr" => "chacun",
                    _ => "each",
                }
            );
        }
    } else if rng.chance(10) {
        text = format!("{text}, n/a");
    }
    if let Some(note) = &row.note {
        text = match rng.below(3) {
            0 => format!("{text} ({note})"),
            1 => format!("{text} // {note}"),
            _ => format!("{text}, {note}"),
        };
    }
    if row.tags.contains(&"cancelled") && rng.chance(50) && form == 0 {
        text = format!("~~{text}~~");
    }
    text
}

fn count_text(row: &Row, rng: &mut Rng, lang: &str, text: &str) -> String {
    if row.count == 1 {
        return if rng.chance(10) { format!("1x {text}") } else { text.to_owned() };
    }
    let n = row.count;
    match rng.below(6) {
        0 => format!("{n}x {text}"),
        1 => format!("{n} x {text}"),
        2 => format!("{text} (x{n})"),
        3 => format!("{text} x{n}"),
        4 if lang == "de" => format!("{n} Stück {text}"),
        4 if lang == "en" => format!("{text} ({n} pcs)"),
        _ => format!("{n} × {text}"),
    }
}

/// Two parts in a row, a part that took another's place, a part that is only talked of.
fn unusual(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize, bullet: &str) {
    let (mut first, mut second) = (
        whole(rng, &["board", "processor", "graphics"]),
        whole(rng, &["cooler", "supply", "chassis"]),
    );
    let price = |rng: &mut Rng| format!("{}.99", 20 + rng.below(300));
    let and = match lang {
        "de" => *rng.pick(&["&", "+", "und"]),
        "fr" => *rng.pick(&["&", "+", "et"]),
        _ => *rng.pick(&["&", "+", "and"]),
    };
    match rng.below(4) {
        0 => {
            let text = format!("{} {and} {}", first.text, second.text);
            w.put(&format!("{bullet}{}", cased(&text, case)), &[(&first, None), (&second, None)]);
        }
        1 => {
            (first.price, second.price) = (Some(price(rng)), Some(price(rng)));
            let of = |row: &Row, rng: &mut Rng| {
                let amount = money(row.price.as_deref().unwrap_or(""), lang, rng, true);
                format!("{} ({amount})", cased(&row.text, case))
            };
            let (a, b) = (of(&first, rng), of(&second, rng));
            w.put(
                &format!("{bullet}{a} {and} {b}"),
                &[(&first, Some("EUR")), (&second, Some("EUR"))],
            );
        }
        2 => {
            let old = whole(rng, &["cooler", "supply", "chassis"]);
            let text = match rng.below(3) {
                0 => format!("{} -> {}", old.text, second.text),
                1 => format!("~~{}~~ {}", old.text, second.text),
                _ => {
                    let instead = match lang {
                        "de" => "statt",
                        "fr" => "au lieu de",
                        _ => "instead of",
                    };
                    format!("{} {instead} {}", second.text, old.text)
                }
            };
            w.put(&format!("{bullet}{}", cased(&text, case)), &[(&second, None)]);
        }
        _ => {
            let text = match lang {
                "de" => format!("Ein Freund hat den {} und ist damit nicht zufrieden.", first.text),
                "fr" => format!("Un ami a le {} et il n'en est pas content.", first.text),
                _ => format!("A friend has the {} and is not happy with it.", first.text),
            };
            w.put("", &[]);
            w.put(&text, &[(&blank(), None)]);
            w.put("", &[]);
        }
    }
}
