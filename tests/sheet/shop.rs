//! A shop's letterhead and price on the sheet, and the numbers on it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

use super::ROOT;

/// A PNG of one pixel, as the standard has it: signature, IHDR, IDAT, IEND.
const PIXEL: &[u8] = &[
    0x89, b'P', b'N', b'G', 13, 10, 26, 10, 0, 0, 0, 13, b'I', b'H', b'D', b'R', 0, 0, 0, 1, 0, 0,
    0, 1, 8, 6, 0, 0, 0, 0x1f, 0x15, 0xc4, 0x89,
];

fn desk(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("dryfit-shop-{name}-{}", std::process::id()));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder can be made");
    fs::copy(Path::new(ROOT).join("examples/clinic-records.toml"), folder.join("clinic.toml"))
        .expect("it is there");
    folder
}

fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(args)
        .current_dir(folder)
        .output()
        .expect("it starts")
}

fn sheet(folder: &Path, shop: &str, leaf: &str) -> (Option<i32>, String) {
    fs::write(folder.join("dryfit.toml"), shop).expect("it can be written");
    let out = run(folder, &["sheet", "clinic.toml", "-o", "-", "--leaf", leaf]);
    let said =
        format!("{}{}", String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    (out.status.code(), said.replace("&#x2f;", "/").replace("&#x27;", "'").replace("&amp;", "&"))
}

const SHOP: &str = r#"[shop]
name = "Bench & Solder <b>"
address = ["1 Quay", "Ebbstone"]
job_numbers = "BS-{year}-{list}"
valid_days = 14
dates = "20 November 2026"
numbers = "1.234,56"
labour = [{ what = "Assembly", price = "85.00 EUR" }]
markup_percent = { all = 10, display = 5.5 }
discount_percent = 2
tax = { name = "VAT", percent = 19, included = false }
"#;

/// The price by hand, from the audit's sums: displays at 5.5 %, all else at 10 %, 2 % off both,
/// labour, the orders' surplus, 19 % on top; half up at each step.
#[test]
fn the_price_is_exact_and_the_customer_sees_no_purchase() {
    let folder = desk("price");
    let out = run(&folder, &["audit", "clinic.toml", "--format", "json"]);
    let audit: Value = serde_json::from_slice(&out.stdout).expect("it is JSON");
    let measures = audit["audits"][0]["measures"].as_array().expect("measures").clone();
    let minor = |id: &str| {
        let found = measures.iter().find(|m| m["id"] == id).expect("a measure");
        (found["value"].as_f64().expect("a number") * 100.0).round() as i64
    };
    let (goods, delivered, displays) =
        (minor("value.total"), minor("money.delivered"), minor("money.displays"));
    let half_up = |n: i64, d: i64| (2 * n + d) / (2 * d);
    let rest = goods - displays;
    let up = half_up(rest * 10, 100) + half_up(displays * 55, 1_000);
    let off = half_up((goods + up) * 2, 100);
    let net = delivered + up - off + 8_500;
    let pay = net + half_up(net * 19, 100);
    let words = format!(
        "{}{:03},{:02} EUR",
        if pay >= 100_000 { format!("{}.", pay / 100_000) } else { String::new() },
        pay / 100 % 1_000,
        pay % 100
    );
    let (code, office) = sheet(&folder, SHOP, "office");
    assert_eq!(code, Some(0), "{office}");
    let (_, customer) = sheet(&folder, SHOP, "customer");
    for (page, what) in [(&office, "office"), (&customer, "customer")] {
        assert!(page.contains(&words), "{what}: no {words}");
        assert!(page.contains("Bench & Solder &lt;b&gt;"), "{what}: no name");
        assert!(page.contains("BS-2026-clinic"), "{what}: no job number");
    }
    assert!(customer.contains("good until 4 December 2026"), "{customer}");
    for step in ["Assembly", "Mark-up on", "Discount on parts, 2 %", "VAT 19 %"] {
        assert!(office.contains(step), "no {step}");
    }
    for never in ["Causeway", "Lantern", "Ferry Road", "1.096,25", "189,00", "Mark-up"] {
        assert!(!customer.contains(never), "the customer reads {never}");
        assert!(office.contains(never), "the office does not read {never}");
    }
    let _ = fs::remove_dir_all(folder);
}

#[test]
fn what_is_wrong_with_a_shop_is_said_and_nothing_written() {
    let folder = desk("wrong");
    fs::write(folder.join("evil.svg"), "<svg><script>alert(1)</script></svg>").expect("written");
    fs::write(folder.join("evil.png"), "<svg onload='alert(1)'/>").expect("written");
    fs::write(folder.join("large.png"), [PIXEL, &vec![0; 5 << 20]].concat()).expect("written");
    let mut bomb = PIXEL.to_vec();
    bomb[16..20].copy_from_slice(&100_000_u32.to_be_bytes());
    fs::write(folder.join("bomb.png"), bomb).expect("written");
    fs::write(folder.join("good.png"), PIXEL).expect("written");
    for (shop, says) in [
        ("[shop]\nlogo = \"evil.svg\"", "is not a PNG or JPEG picture"),
        ("[shop]\nlogo = \"evil.png\"", "is not a PNG or JPEG picture"),
        ("[shop]\nlogo = \"large.png\"", "are the most"),
        ("[shop]\nlogo = \"bomb.png\"", "pixels"),
        ("[shop]\nmarkup_percent = { graphcis = 5 }", "there is no kind `graphcis`"),
        ("[shop]\nlabour = [{ what = \"Work\", price = \"5.00 SEK\" }]", "this list is in EUR"),
    ] {
        let (code, said) = sheet(&folder, shop, "customer");
        assert_eq!(code, Some(2), "{shop}: {said}");
        assert!(said.contains(says) && !said.contains("<html"), "{shop}: {said}");
    }
    let (code, page) =
        sheet(&folder, "[shop]\nlogo = \"good.png\"\nname = \"\\\"><x\"", "customer");
    assert_eq!(code, Some(0), "{page}");
    assert!(page.contains("src=\"data:image/png;base64,iVBORw0KGgo"), "no logo");
    assert!(page.contains("; img-src data:\"") && !page.contains("<x"), "{page}");
    let _ = fs::remove_dir_all(folder);
}

/// Every number on the sheet: of the audit, of the orders, of the list, of its parts or settings,
/// or one of the few that are told here with what they come from.
#[test]
fn every_number_on_the_sheet_is_the_audits() {
    for list in ["clinic-records", "bird-hide-edit", "quay-salvage", "youth-club-games"] {
        let file = format!("examples/{list}.toml");
        let root = Path::new(ROOT);
        let text =
            |args: &[&str]| String::from_utf8_lossy(&run(root, args).stdout).replace("\\u", " ");
        let audit = text(&["audit", &file, "--format", "json", "--all"]);
        let json: Value = serde_json::from_str(&audit).expect("it is JSON");
        let measures = json["audits"][0]["measures"].as_array().expect("measures").clone();
        let measure = |id: &str| {
            measures.iter().find(|m| m["id"] == id).and_then(|m| m["value"].as_f64()).unwrap_or(0.0)
        };
        let orders = text(&["prices", "list", &file, "--format", "json"]);
        let own = fs::read_to_string(root.join(&file)).expect("it reads");
        let mut known: Vec<f64> = Vec::new();
        for source in [&audit, &orders, &own] {
            known.extend(numbers(source).into_iter().map(|(n, _)| n));
        }
        // Facts of parts and settings, which the audit reads too; offers are not among them.
        for folder in ["catalogue/parts", "catalogue/tables", "rules"] {
            for entry in fs::read_dir(root.join(folder)).expect("it reads").flatten() {
                let text = fs::read_to_string(entry.path()).unwrap_or_default();
                let figures = numbers(&text).into_iter().map(|(n, _)| n);
                known.extend(figures.filter(|n| folder != "catalogue/parts" || *n < 1_000.0));
            }
        }
        let total = measure("value.total");
        let room = 25.0;
        let (draw, rises) = (
            measure("power.sustained_draw"),
            [measure("chambers.main_rise"), measure("chambers.card_rise")],
        );
        let rated = draw / measure("power.load_share") * 100.0;
        known.extend(rises.map(|rise| room + rise));
        known.extend([rated * 0.75, draw - rated, measure("money.delivered") - total]);
        known.push(total + measure("power.years_cost"));
        let budget = json["audits"][0]["build"]["budget"].as_f64().unwrap_or(0.0);
        known.push((budget - total).abs());
        let page = text(&["sheet", &file, "-o", "-", "--leaf", "office,customer"]);
        let body = page.split("<body>").nth(1).expect("a body");
        let mut strange = Vec::new();
        for (n, decimals) in numbers(&letters(body)) {
            let half = 0.5001 * 10f64.powi(-decimals);
            // Whole numbers up to a hundred count pieces, findings and steps.
            let counts = decimals == 0 && n <= 100.0;
            if !counts && !known.iter().any(|k| (k - n).abs() <= half) {
                strange.push(n);
            }
        }
        // Air's flows are no measures one by one: no more than the picture of air draws, twice.
        assert!(strange.len() <= 24, "{list}: {strange:?}");
        assert!(strange.iter().all(|n| *n < 400.0), "{list}: {strange:?}");
    }
}

/// The text of a page without its marks.
fn letters(html: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in html.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out.replace("&#x2f;", "/").replace("&#x27;", "'").replace("&amp;", "&").replace("&quot;", "\"")
}

/// Every number of a text with its decimals; a dot before a digit begins decimals.
fn numbers(text: &str) -> Vec<(f64, i32)> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let from = &rest[at..];
        let whole = from.find(|c: char| !c.is_ascii_digit()).unwrap_or(from.len());
        let tail = &from[whole..];
        let part = tail
            .strip_prefix('.')
            .map_or(0, |t| t.find(|c: char| !c.is_ascii_digit()).unwrap_or(t.len()));
        let end = if part > 0 { whole + 1 + part } else { whole };
        found.extend(from[..end].parse::<f64>().ok().map(|n| (n, part as i32)));
        rest = &from[end..];
    }
    found
}

#[test]
fn a_sheet_without_a_broken_rule_says_so_aside() {
    let desk = crate::common::desk::Desk::new();
    desk.write("rules/settings.toml", "");
    desk.write(
        "rules/own.rhai",
        "//! Own.\n\n/// Always.\n/// Basis: practice.\nfn always(build) { advice(build.nothing); }\n",
    );
    for to in ["sheet.html", "-"] {
        let done = desk.pipe(&["sheet", "desk.toml", "-o", to], "");
        let said = crate::common::desk::aside(&done);
        assert_eq!(done.status.code(), Some(2), "{said}");
        assert!(said.contains("own.rhai:5"), "{said}");
    }
    assert!(desk.read("sheet.html").contains("</html>"));
}
