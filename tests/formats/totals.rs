//! One list comes to one total, wherever it is shown: goods and shipping of the cheapest orders.

use std::fs;

use serde_json::Value;

use super::{Folder, audit, run};

const DESK: [&str; 6] = [
    "processor/whimbrel-304p",
    "board/kerf-l2m",
    "memory/kelp4-2x8-2666",
    "storage/weir-500",
    "chassis/staithe-tower",
    "supply/millrace-500",
];

/// A list with other lines in place of some.
fn desk(swaps: &[(&str, &str)]) -> String {
    let line = |part: &&str| {
        let swap = swaps.iter().find(|(kind, _)| part.starts_with(kind));
        swap.map_or_else(|| format!("[[line]]\npart = \"{part}\"\n"), |(_, line)| (*line).into())
    };
    format!("priced_on = 2026-11-20\n{}", DESK.iter().map(line).collect::<String>())
}

/// A list with shipping, one with the customer's own drive, one with a line left open, and one that
/// must not be built.
fn lists(folder: &Folder) -> Vec<String> {
    let own = "[[line]]\npart = \"storage/weir-500\"\nowned = true\n";
    vec![
        folder.put("shipped.toml", &desk(&[])),
        folder.put("own.toml", &desk(&[("storage", own)])),
        folder.put("open.toml", &desk(&[("storage", "[[line]]\nany = \"storage\"\n")])),
        folder
            .put("wreck.toml", &desk(&[("supply", "[[line]]\npart = \"supply/leat-250-tfx\"\n")])),
    ]
}

fn document(args: &[&str]) -> Value {
    let (_, text) = run(&[args, &["--format", "json"]].concat());
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{args:?}: {e}\n{text}"))
}

fn number(value: &Value) -> f64 {
    let text = value.as_str().and_then(|t| t.parse().ok());
    value.as_f64().or(text).unwrap_or_else(|| panic!("{value} is no amount"))
}

/// The total and the shipping that a list's audit gives, in words.
fn words(list: &str) -> (f64, String) {
    let build = &audit("json", &[list])["audits"][0]["build"];
    let (total, shipping) = (number(&build["total"]), number(&build["shipping"]));
    let least = if build["unpriced"] == 0 { "" } else { "at least " };
    let of_it = if shipping == 0.0 { "".into() } else { format!(", {shipping:.2} of it shipping") };
    (total, format!("{least}{total:.2} EUR{of_it}"))
}

/// What a prompt says is to be paid for a list after some commands.
fn at_the_prompt(folder: &Folder, list: &str, commands: &str) -> String {
    let script = folder.put("script", &format!("{commands}\nlines\n"));
    let (_, text) = run(&["try", list, "--script", &script]);
    let line = text.lines().rfind(|l| l.starts_with("To buy: "));
    let line = line.unwrap_or_else(|| panic!("{list}, {commands}:\n{text}"));
    line.trim_start_matches("To buy: ").to_owned()
}

#[test]
fn every_page_gives_the_total_of_the_audit() {
    let folder = Folder::new("totals");
    let mut shipped = 0;
    for list in &lists(&folder) {
        let (total, phrase) = words(list);
        shipped += usize::from(phrase.contains("shipping"));
        let (_, text) = run(&["audit", list]);
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(&phrase), "{list}: {phrase}\n{text}");
        let (_, text) = run(&["audit", "--format", "markdown", list]);
        assert!(text.contains(&phrase), "{list}: {phrase}\n{text}");
        assert!(at_the_prompt(&folder, list, "").starts_with(&phrase), "{list}");
        let sheet = format!("{list}.html");
        let (code, _) = run(&["sheet", list, "-o", &sheet]);
        assert!(matches!(code, Some(0 | 1)), "{list}: the sheet ended with {code:?}");
        let page = fs::read_to_string(&sheet).unwrap_or_default();
        let amount = format!("{total:.2} EUR");
        assert!(page.contains(&amount), "{list}: {amount} is not on the sheet");
        let same = document(&["compare", list, list]);
        assert_eq!(number(&same["total"]["from"]), total, "{list}");
        let check = document(&["prices", "check", list, "--as-of", "2026-11-20"]);
        assert_eq!(number(&check["builds"][0]["total"]), total, "{list}: {check}");
        let bought = document(&["prices", "list", list]);
        assert_eq!(number(&bought["total"]), total, "{list}: {bought}");
        let pages = format!("{}/pages", folder.0.display());
        let day = ["--as-of", "2026-11-20", "--with-stops"];
        run(&[&["edition", list, "-o", &pages][..], &day].concat());
        let page = fs::read_to_string(format!("{pages}/index.html")).unwrap_or_default();
        assert!(page.contains(&amount), "{list}: {amount} is not in the edition");
        fs::remove_dir_all(&pages).unwrap_or_default();
    }
    assert!(shipped >= 2, "lists with shipping: {shipped}");
}

#[test]
fn what_a_search_promises_is_what_the_changed_list_comes_to() {
    let folder = Folder::new("promises");
    for list in &lists(&folder) {
        let (total, _) = words(list);
        let mend = document(&["mend", list]);
        for (nth, way) in mend["ways"].as_array().into_iter().flatten().enumerate() {
            let said = at_the_prompt(&folder, list, &format!("mend\nmend {}", nth + 1));
            let amount = format!("{:.2} EUR", number(&way["total"]));
            assert!(said.contains(&amount), "{list}, way {}: {amount}, {said}", nth + 1);
            assert!((number(&way["more"]) - (number(&way["total"]) - total)).abs() < 0.001);
        }
        for kind in ["storage", "memory"] {
            let steps = document(&["steps", list, kind]);
            let of = |way: &str| steps["lines"][0][way].as_array().cloned().unwrap_or_default();
            for step in of("up").iter().chain(&of("down")) {
                let part = step["part"].as_str().unwrap_or_default();
                let said = at_the_prompt(&folder, list, &format!("swap {kind} {part}"));
                let amount = format!("{:.2} EUR", total + number(&step["more"]));
                assert!(said.contains(&amount), "{list}, {part}: {amount}, {said}");
            }
        }
    }
}

#[test]
fn a_plan_is_held_to_its_budget_with_shipping_and_says_what_its_list_comes_to() {
    let folder = Folder::new("plans");
    let any = |kind| format!("[[line]]\nany = \"{kind}\"\n");
    let brief = desk(&[("storage", &any("storage")), ("memory", &any("memory"))]);
    let plan = |budget: &str| {
        let path = folder.put("brief.toml", &format!("{budget}{brief}"));
        (document(&["plan", &path]), path)
    };
    let (free, path) = plan("");
    let (best, written) = (&free["best"][0], format!("{}/list.toml", folder.0.display()));
    run(&["plan", &path, "-o", &written, "--force"]);
    assert_eq!(words(&written).0, number(&best["total"]), "{best}");
    let lines = best["lines"].as_array().cloned().unwrap_or_default();
    let goods: f64 = lines.iter().map(|l| number(&l["price"])).sum();
    let shipping = number(&best["shipping"]);
    assert!((goods + shipping - number(&best["total"])).abs() < 0.001 && shipping > 0.0, "{best}");
    let just = format!("budget = \"{:.2} EUR\"\n", number(&best["total"]));
    assert_eq!(plan(&just).0["best"][0]["total"], best["total"]);
    let less = number(&best["total"]) - 0.01;
    let tight = plan(&format!("budget = \"{less:.2} EUR\"\n")).0;
    for answer in tight["best"].as_array().into_iter().flatten() {
        assert!(number(&answer["total"]) <= less + 0.000_1, "{answer}");
    }
}
