//! Lists as tables: bars, HTML, delimited cells.

use super::parts::parts;
use super::rng::Rng;
use super::row::{Row, blank, one_row};
use super::words::{greeting, kind_words};
use super::writer::{Writer, cased, money};

struct Heads {
    count: &'static str,
    part: &'static str,
    maker: &'static str,
    price: &'static str,
    note: &'static str,
}

fn heads(lang: &str, rng: &mut Rng) -> Heads {
    match lang {
        "de" => Heads {
            count: rng.word(&["Menge", "Stück", "Anzahl"]),
            part: rng.word(&["Artikel", "Bezeichnung", "Produkt"]),
            maker: "Hersteller",
            price: rng.word(&["Einzelpreis (€)", "Preis EUR", "Preis (€)"]),
            note: "Bemerkung",
        },
        "fr" => Heads {
            count: rng.word(&["Qté", "Quantité"]),
            part: rng.word(&["Produit", "Désignation", "Article"]),
            maker: "Marque",
            price: rng.word(&["Prix (€)", "Prix unitaire (€)"]),
            note: "Remarque",
        },
        _ => Heads {
            count: rng.word(&["Qty", "Quantity"]),
            part: rng.word(&["Part", "Item", "Product"]),
            maker: "Brand",
            price: rng.word(&["Price (EUR)", "Unit price (€)"]),
            note: rng.word(&["Notes", "Remarks"]),
        },
    }
}

fn cells(row: &Row, rng: &mut Rng, lang: &str, case: usize, maker: bool) -> Vec<String> {
    let count = match rng.below(3) {
        0 => format!("{}x", row.count),
        _ => row.count.to_string(),
    };
    let price = row
        .price
        .as_ref()
        .map(|p| {
            let marked = rng.chance(40);
            money(p, lang, rng, marked)
        })
        .unwrap_or_default();
    let mut out = vec![count];
    if maker {
        out.push(cased(row.maker.as_deref().unwrap_or(""), case));
    }
    out.extend([cased(&row.text, case), price, row.note.clone().unwrap_or_default()]);
    out
}

pub(super) fn bars(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize) {
    let h = heads(lang, rng);
    w.put(&format!("# {}", greeting(lang)[0][1]), &[(&blank(), None)]);
    w.put("", &[]);
    w.put(&format!("| {} | {} | {} | {} |", h.count, h.part, h.price, h.note), &[(&blank(), None)]);
    w.put("|---:|---|---:|---|", &[]);
    for _ in 0..6 + rng.below(10) {
        let row = one_row(rng, lang, false);
        let cells = cells(&row, rng, lang, case, false);
        w.put(&format!("| {} |", cells.join(" | ")), &[(&row, Some("EUR"))]);
    }
}

pub(super) fn html(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize) {
    let h = heads(lang, rng);
    w.put("<!DOCTYPE html>\n<html><head><title>list</title>\n<style>td { padding: 2px; }</style></head>\n<body>\n<table>", &[]);
    w.put(
        &format!(
            "  <tr><th>{}</th><th>{}</th><th>{}</th><th>{}</th></tr>",
            h.count, h.part, h.price, h.note
        ),
        &[(&blank(), None)],
    );
    for _ in 0..6 + rng.below(10) {
        if rng.chance(20) {
            let kind = rng.pick(parts()).kind.clone();
            if let Some(word) = kind_words(&kind, lang).first() {
                w.put(
                    &format!("<tr><td colspan=\"4\"><b>{word}</b></td></tr>"),
                    &[(&blank(), None)],
                );
            }
        }
        let row = one_row(rng, lang, false);
        let mut cells = cells(&row, rng, lang, case, false);
        for cell in &mut cells {
            *cell = cell.replace('&', "&amp;").replace('<', "&lt;").replace('€', "&euro;");
        }
        if row.tags.contains(&"cancelled") && rng.chance(50) {
            cells[1] = format!("<s>{}</s>", cells[1]);
        }
        if rng.chance(20) {
            cells[1] = format!("<a href=\"https://shop.example/i/1\">{}</a>", cells[1]);
        }
        let body: Vec<String> = cells.iter().map(|c| format!("<td>{c}</td>")).collect();
        let text = if rng.chance(50) {
            format!("  <tr>{}</tr>", body.concat())
        } else {
            format!("  <tr>\n    {}\n  </tr>", body.join("\n    "))
        };
        w.put(&text, &[(&row, Some("EUR"))]);
    }
    w.put("</table>\n</body></html>", &[]);
}

pub(super) fn delimited(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize) {
    let h = heads(lang, rng);
    let mark = *rng.pick(&[',', ';', '\t', '|']);
    let maker = rng.chance(30);
    let quote = |cell: &str, rng: &mut Rng| {
        if cell.contains([mark, '"', '\n']) || rng.chance(20) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        }
    };
    let mut head = vec![h.count];
    if maker {
        head.push(h.maker);
    }
    head.extend([h.part, h.price, h.note]);
    let join = |cells: Vec<String>| cells.join(&mark.to_string());
    let line = join(head.iter().map(|c| cased(c, case)).map(|c| quote(&c, rng)).collect());
    w.put(&line, &[(&blank(), None)]);
    for _ in 0..6 + rng.below(10) {
        let row = one_row(rng, lang, maker);
        let cells = cells(&row, rng, lang, case, maker);
        let line = join(cells.iter().map(|c| quote(c, rng)).collect());
        w.put(&line, &[(&row, Some("EUR"))]);
    }
}
