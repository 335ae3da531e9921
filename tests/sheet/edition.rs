//! The edition: whole or not at all, its numbers those of the audits, changes that add up, and
//! nothing in it that acts.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

use super::ROOT;
use super::browser::Browser;

/// A folder of its own with lists of the demo.
struct Desk(PathBuf);

impl Desk {
    fn new(name: &str, lists: &[&str]) -> Self {
        let folder =
            std::env::temp_dir().join(format!("dryfit-edition-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(folder.join("lists")).expect("a folder can be made");
        for list in lists {
            let from = Path::new(ROOT).join(format!("examples/{list}.toml"));
            fs::copy(from, folder.join(format!("lists/{list}.toml"))).expect("it is there");
        }
        Self(folder)
    }

    fn run(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_dryfit"))
            .args(args)
            .current_dir(&self.0)
            .output()
            .expect("it starts")
    }

    fn publish(&self, day: &str, more: &[&str]) -> Output {
        let args = ["edition", "lists", "-o", "out", "--as-of", day, "--title", "Harbour builds"];
        self.run(&[&args[..], more].concat())
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.0.join(file)).unwrap_or_else(|e| panic!("{file}: {e}"))
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

const LISTS: &[&str] = &["bird-hide-cheap", "bird-hide-edit", "clinic-records"];

fn said(output: &Output) -> String {
    format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

/// What a build cost, delivered, on a day, by the audit of the list with that day written in it.
fn delivered(desk: &Desk, list: &str, day: &str) -> f64 {
    let text = desk.read(&format!("lists/{list}.toml"));
    let moved: String = text
        .lines()
        .map(|l| {
            if l.starts_with("priced_on") {
                format!("priced_on = {day}\n")
            } else {
                format!("{l}\n")
            }
        })
        .collect();
    fs::write(desk.0.join("moved.toml"), moved).expect("it can be written");
    let out = desk.run(&["audit", "moved.toml", "--format", "json"]);
    let audit: Value = serde_json::from_slice(&out.stdout).expect("it is JSON");
    let measures = audit["audits"][0]["measures"].as_array().expect("measures").clone();
    let found = measures.iter().find(|m| m["id"] == "money.delivered").expect("a measure");
    found["value"].as_f64().expect("a number")
}

#[test]
fn editions_of_two_months_say_what_changed_and_by_how_much() {
    let desk = Desk::new("months", LISTS);
    for day in ["2026-10-20", "2026-11-20"] {
        let out = desk.publish(day, &[]);
        assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    }
    let page = desk.read("out/index.html");
    assert_eq!(page, desk.read("out/2026-11-20.html"));
    let kept: Value = serde_json::from_str(&desk.read("out/editions.json")).expect("it is JSON");
    let editions = kept["editions"].as_array().expect("editions");
    assert_eq!(editions.len(), 2);
    for (edition, day) in editions.iter().zip(["2026-10-20", "2026-11-20"]) {
        assert_eq!(edition["on"], day);
        for build in edition["builds"].as_array().expect("builds") {
            let name = build["name"].as_str().expect("a name");
            let minor = build["delivered"].as_i64().expect("an amount");
            let audits = delivered(&desk, name, day);
            assert_eq!(minor, (audits * 100.0).round() as i64, "{name} on {day}");
            let price = format!("{}.{:02} EUR", minor / 100, minor % 100);
            assert!(page.contains(&price), "{name}: {price} of {day} is not on the page");
        }
    }
    // Each build's effects on the page add up to its total.
    let section = page.split("id=\"changes\"").nth(1).expect("changes");
    let mut tables = 0;
    for table in section.split("<table").skip(1).filter(|t| t.contains("Changes in")) {
        let table = table.split("</table>").next().unwrap_or("");
        let amounts: Vec<i64> = table.split("<td class=\"n\">").skip(1).map(minor).collect();
        let (total, effects) = amounts.split_last().expect("a total");
        assert_eq!(effects.iter().sum::<i64>(), *total, "{table}");
        tables += 1;
    }
    assert!(tables > 0, "nothing changed between October and November");
    for list in LISTS {
        let own = desk.read(&format!("lists/{list}.toml"));
        assert_eq!(desk.read(&format!("out/lists/{list}.toml")), own);
        assert!(desk.read(&format!("out/lists/{list}.csv")).starts_with("seller,part,"));
        assert!(desk.read(&format!("out/lists/{list}.md")).contains("| Kind | Part |"));
    }
    let feed = desk.read("out/feed.xml");
    assert_eq!(feed.matches("<entry>").count(), 2);
    assert_eq!(feed.matches("urn:uuid:").count(), 3);
    // The same again changes nothing.
    assert_eq!(desk.publish("2026-11-20", &[]).status.code(), Some(0));
    assert_eq!(desk.read("out/index.html"), page);
    assert_eq!(desk.read("out/feed.xml"), feed);
    // An earlier day does not come after a later one.
    assert_eq!(desk.publish("2026-09-20", &[]).status.code(), Some(2));
    assert_eq!(desk.read("out/index.html"), page);
    let Some(browser) = Browser::find() else { return };
    let faults = browser.sweep("edition", &page);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// `+12.30 EUR</td>…` in smallest units.
fn minor(cell: &str) -> i64 {
    let words = cell.split('<').next().unwrap_or("");
    let number = words.replace("&#x2b;", "+").replace(" EUR", "").replace(['.', '+'], "");
    number.parse().unwrap_or_else(|_| panic!("{words} is no amount"))
}

#[test]
fn a_list_that_stops_or_is_broken_leaves_nothing_written() {
    let desk = Desk::new("stops", &["clinic-records", "quay-salvage"]);
    let out = desk.publish("2026-11-20", &[]);
    assert_eq!(out.status.code(), Some(1), "{}", said(&out));
    assert!(said(&out).contains("quay-salvage must not be built"), "{}", said(&out));
    assert!(!desk.0.join("out").exists());
    let out = desk.publish("2026-11-20", &["--with-stops"]);
    assert_eq!(out.status.code(), Some(1), "{}", said(&out));
    let page = desk.read("out/index.html");
    assert!(page.contains("do not build"));
    for broken in ["title = ", "[[line]]\npart = \"board/none\"\n", "\u{0}"] {
        fs::write(desk.0.join("lists/broken.toml"), broken).expect("it can be written");
        let out = desk.publish("2026-11-21", &["--with-stops"]);
        assert_eq!(out.status.code(), Some(2), "{broken}: {}", said(&out));
        assert!(said(&out).contains("nothing was written"), "{}", said(&out));
        assert_eq!(desk.read("out/index.html"), page);
        assert!(!desk.0.join("out/2026-11-21.html").exists());
    }
}

#[test]
fn only_a_folder_of_its_own_is_written_into() {
    let desk = Desk::new("own", &["clinic-records"]);
    fs::create_dir(desk.0.join("out")).expect("it can be made");
    fs::write(desk.0.join("out/index.html"), "mine").expect("it can be written");
    let out = desk.publish("2026-11-20", &[]);
    assert_eq!(out.status.code(), Some(2), "{}", said(&out));
    assert_eq!(desk.read("out/index.html"), "mine");
    fs::remove_dir_all(desk.0.join("out")).expect("it goes");
    assert_eq!(desk.publish("2026-11-20", &[]).status.code(), Some(0));
    for text in ["{", "{\"format\":\"x\",\"version\":1,\"editions\":[]}", ""] {
        fs::write(desk.0.join("out/editions.json"), text).expect("it can be written");
        let out = desk.publish("2026-11-20", &[]);
        assert_eq!(out.status.code(), Some(2), "{text}: {}", said(&out));
        assert_eq!(desk.read("out/editions.json"), text);
    }
}

#[test]
fn nothing_in_an_edition_acts() {
    let desk = Desk::new("hostile", &["clinic-records"]);
    let text = desk.read("lists/clinic-records.toml");
    let mut hostile = String::new();
    for line in text.lines() {
        let named = line.starts_with("title");
        hostile.push_str(if named {
            "title = \"<script>x</script><img src=x onerror=alert(1)> ]]> \\u202E {{ 7 * 7 }}\""
        } else {
            line
        });
        hostile.push('\n');
    }
    fs::write(desk.0.join("lists/a b&c.toml"), hostile).expect("it can be written");
    assert_eq!(desk.publish("2026-11-20", &[]).status.code(), Some(0));
    for file in ["out/index.html", "out/feed.xml"] {
        let page = desk.read(file);
        for never in ["<script", "<img", "\u{202e}", "a b&c"] {
            assert!(!page.contains(never), "{file} holds {never}");
        }
        assert!(page.contains("{{ 7 * 7 }}"), "{file}");
    }
    assert!(desk.0.join("out/lists/a-b-c.toml").exists());
}

/// Offers with a link each: a good one is on every page, any other is an error of its row.
#[test]
fn links_are_followed_only_where_a_browser_may() {
    let desk = Desk::new("links", &["clinic-records"]);
    fs::create_dir_all(desk.0.join("catalogue/offers")).expect("it can be made");
    let head = "part,seller,seen_on,price,currency,shipping,stock,instant_off,mail_rebate,credit,\
                bundle,bundle_value,link\n";
    let put = |link: &str| {
        let row =
            format!("supply/tarn-550-gold,Pierhead,2026-11-19,20.00,EUR,0.00,9,,,,,,{link}\n");
        fs::write(desk.0.join("catalogue/offers/own.csv"), format!("{head}{row}"))
            .expect("written");
    };
    for bad in [
        "javascript:alert(1)",
        "JavaScript:alert(1)",
        "data:text/html;base64,PHNjcmlwdD4=",
        "//shop.example/x",
        "shop.example",
        "https://",
        "https:///x",
        "https://shop.example/a b",
        "\"https://shop.example/\"\"onclick=x\"",
        "https://shop.example/<x>",
        "ftp://shop.example/",
        "https://shop.ex\u{e4}mple/",
    ] {
        put(bad);
        let out = desk.publish("2026-11-20", &[]);
        assert_eq!(out.status.code(), Some(2), "{bad}: {}", said(&out));
        assert!(said(&out).contains("a link begins with"), "{bad}: {}", said(&out));
        assert!(!desk.0.join("out").exists(), "{bad}");
    }
    put("https://pierhead.example/p/550?x=1&y=2#z");
    let out = desk.publish("2026-11-20", &[]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let page = desk.read("out/index.html");
    let link = page.replace("&#x2f;", "/").replace("&amp;", "&");
    assert!(link.contains("href=\"https://pierhead.example/p/550?x=1&y=2#z\""), "no link");
    let list = "out/lists/clinic-records";
    assert!(
        desk.read(&format!("{list}.md")).contains("](<https://pierhead.example/p/550?x=1&y=2#z>)")
    );
    assert!(
        desk.read(&format!("{list}.csv")).contains(",https://pierhead.example/p/550?x=1&y=2#z")
    );
}
