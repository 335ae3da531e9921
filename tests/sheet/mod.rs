//! The sheet in a real browser: nothing loads, nothing runs, nothing overflows or overlaps, it
//! reads aloud, and it prints.

mod browser;
mod edition;
mod hostile;
mod shop;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::common::share;
use dryfit::inside::app::report::sheet::{self, Leaf, Mixed, Sheet};
use dryfit::inside::config::Config;
use dryfit::inside::layer::Layer;
use dryfit::inside::source::Source;
use dryfit::inside::whatif::mix::mix;
use dryfit::inside::whatif::search::SearchLimits;
use dryfit::{Audit, Kit, Layers};
use jiff::civil::date;
use serde_json::Value;

use browser::{Browser, Window};
use hostile::{hostile, hostile_catalogue, quoted};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// Pages on A4 by build, least and most: fonts differ a little between machines. The long one has
/// names of 5,000 letters on every line.
const PAGES: &[(&str, usize, usize)] = &[
    ("bird-hide-cheap", 4, 6),
    ("bird-hide-edit", 4, 6),
    ("boatyard-drawing", 4, 6),
    ("clinic-records", 4, 6),
    ("mixed", 4, 7),
    ("library-open", 3, 6),
    ("library-search", 3, 6),
    ("quay-salvage", 5, 7),
    ("youth-club-games", 4, 6),
    ("long-names", 6, 14),
];

/// Places where the application still names a kind: the pictures of the sheet. None may join them.
const KINDS_LEFT: usize = 22;

/// The page of an audited build, for no shop in particular.
fn written(
    kit: &Kit,
    audit: &Audit,
    file: &str,
    mixed: Option<&Mixed<'_>>,
    leaves: &[Leaf],
) -> String {
    let config = Config::default();
    sheet::sheet(&Sheet { kit, audit, file, mixed, leaves, config: &config })
        .expect("the sheet is written")
}

fn page(name: &str, kit: &Kit, text: &str) -> String {
    let build = kit.read(&Source::new(name, text), date(2026, 11, 20)).expect("the build reads");
    written(kit, &kit.audit(&build), name, None, &[])
}

/// The page of a demo build with its mixtures with one that differs in a few lines.
fn mixed_page(kit: &Kit, text: &str) -> String {
    let mut other = text.to_owned();
    for (ours, theirs) in [
        ("graphics/gannet-fetch-12", "graphics/bonxie-fetch-8"),
        ("memory/ebb5-2x16-5600", "memory/ebb5-2x16-4800"),
        ("supply/tarn-650-gold", "supply/tarn-550"),
        ("processor/dotterel-606p", "processor/dotterel-506p"),
    ] {
        assert!(other.contains(ours), "the demo no longer holds {ours}");
        other = other.replace(ours, theirs);
    }
    let read = |name: &str, text: &str| {
        kit.read(&Source::new(name, text), date(2026, 11, 20)).expect("the build reads")
    };
    let (ours, theirs) = (read("mixed", text), read("other", &other));
    let index = kit.rules().find("value.index").expect("a measure");
    let halt = std::sync::atomic::AtomicBool::new(false);
    let mix =
        mix(kit, &ours, &theirs, Some((index, true)), SearchLimits::new(&halt)).expect("they mix");
    assert!(mix.counted && mix.passing.len() > 3);
    let mixed = Mixed { mix: &mix, other: &hostile()[0], measure: ("Performance index", "index") };
    let html = written(kit, &kit.audit(&ours), "mixed", Some(&mixed), &[]);
    assert!(html.contains("What no other mixture beats"));
    html
}

fn long_build() -> String {
    let text = fs::read_to_string(Path::new(ROOT).join("examples/youth-club-games.toml"))
        .expect("it is there");
    let names = hostile();
    let (title, customer) = (quoted(&names[7]), quoted(&names[0]));
    let mut out = String::new();
    for line in text.lines() {
        match line.split_once('=').map(|(key, _)| key.trim()) {
            Some("title") => writeln!(out, "title = {title}"),
            Some("customer") => writeln!(out, "customer = {customer}"),
            Some("reason") => writeln!(out, "reason = {}", quoted(&names[8])),
            Some("by") => writeln!(out, "by = {}", quoted(&names[1])),
            _ => writeln!(out, "{line}"),
        }
        .expect("text takes text");
    }
    let more: String = [
        "fan/catspaw-120",
        "storage/silt-2t",
        "input/knapper-tablet",
        "display/offing-22",
        "sound/bittern-closed",
    ]
    .iter()
    .map(|p| format!("[[line]]\npart = \"{p}\"\n"))
    .collect();
    let waive = out.find("[[waive]]").unwrap_or(out.len());
    out.insert_str(waive, &more);
    let lines = out.matches("[[line]]").count();
    assert!(lines >= 24, "{lines} lines");
    out
}

/// Every demo build's page, and the long one's.
fn pages() -> Vec<(String, String)> {
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    let mut pages = Vec::new();
    let mut paths: Vec<_> = fs::read_dir(Path::new(ROOT).join("examples"))
        .expect("there are examples")
        .flatten()
        .map(|e| e.path())
        .collect();
    paths.sort();
    for path in paths.iter().filter(|p| p.extension().is_some_and(|e| e == "toml")) {
        let name = path.file_stem().expect("it has a name").to_string_lossy().into_owned();
        pages.push((name.clone(), page(&name, &kit, &fs::read_to_string(path).expect("it reads"))));
    }
    let text = fs::read_to_string(Path::new(ROOT).join("examples/bird-hide-edit.toml"))
        .expect("it is there");
    pages.push(("mixed".to_owned(), mixed_page(&kit, &text)));
    let layers = Layers::new(
        vec![Layer::built_in_catalogue(), hostile_catalogue()],
        vec![Layer::built_in_rules()],
    );
    let kit = Kit::load(&layers).expect("hostile names are names");
    pages.push(("long-names".to_owned(), page("long-names", &kit, &long_build())));
    pages
}

/// `DRYFIT_SHEETS=DIR` keeps the pages, to be looked at.
fn keep(pages: &[(String, String)]) {
    if let Some(folder) = std::env::var_os("DRYFIT_SHEETS") {
        for (name, html) in pages {
            fs::write(Path::new(&folder).join(format!("{name}.html")), html)
                .expect("the folder is there");
        }
    }
}

const WINDOWS: [Window; 3] = [
    Window { width: 360, dark: false },
    Window { width: 700, dark: true },
    Window { width: 1200, dark: false },
];

/// Everything that is wrong with one page in some windows, and at all widths, in words.
fn faults(browser: &Browser, name: &str, html: &str, windows: &[Window]) -> Vec<String> {
    let mut faults = Vec::new();
    for window in windows {
        let seen = browser.measure(name, html, *window);
        let at = format!("{name} at {}{}", window.width, if window.dark { ", dark" } else { "" });
        let mut fault = |what: &str, value: &Value| faults.push(format!("{at}: {what}: {value}"));
        for (key, good) in [
            ("width", window.width.into()),
            ("scripts", 0.into()),
            ("handlers", 0.into()),
            ("unnamed", 0.into()),
        ] as [(&str, Value); 4]
        {
            if seen[key] != good {
                fault(key, &seen[key]);
            }
        }
        if seen["scroll"].as_u64() > Some(u64::from(window.width)) {
            fault("overflows to", &seen["scroll"]);
        }
        for key in
            ["wide", "overlaps", "outside", "foreign", "landmarks", "requests", "said", "axe"]
        {
            if seen[key].as_array().is_some_and(|a| !a.is_empty()) {
                fault(key, &seen[key]);
            }
        }
        if seen["leaves"] != serde_json::json!(["office", "bench", "customer"]) {
            fault("leaves", &seen["leaves"]);
        }
        if browser.has_axe() && !seen["axe"].is_array() {
            fault("the accessibility checker did not run", &seen["failed"]);
        }
        let least = if name == "library-open" { 0 } else { 2 };
        if seen["pictures"].as_u64() < Some(least) {
            fault("pictures", &seen["pictures"]);
        }
    }
    faults.extend(browser.sweep(name, html));
    let (printed, said) = browser.print(name, html);
    let (_, least, most) = PAGES
        .iter()
        .find(|(n, ..)| *n == name)
        .unwrap_or_else(|| panic!("{name}: how many pages should it print to?"));
    if !(*least..=*most).contains(&printed) {
        faults.push(format!("{name}: prints to {printed} pages, expected {least} to {most}"));
    }
    faults.extend(said.into_iter().map(|line| format!("{name}: console: {line}")));
    faults
}

#[test]
fn every_sheet_stands_up_in_a_browser() {
    let Some(browser) = Browser::find() else { return };
    let pages = pages();
    keep(&pages);
    let next = AtomicUsize::new(0);
    let found = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some((name, html)) = pages.get(at) else { break };
                    // One window a page in turn, but where everything is looked at.
                    let windows = match share::whole() {
                        true => &WINDOWS[..],
                        false => &WINDOWS[at % 3..][..1],
                    };
                    let faults = faults(&browser, name, html, windows);
                    found.lock().expect("no thread failed").extend(faults);
                }
            });
        }
    });
    let found = found.into_inner().expect("no thread failed");
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// A page with one of each fault, to see that they are seen.
#[test]
fn the_measure_sees_faults() {
    let Some(browser) = Browser::find() else { return };
    let page = "<!doctype html><html><head><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\"><title>x</title><style>p { color: #ccc; background: #fff }</style></head>\
        <body><p>pale</p><div style=\"width:900px\">wide</div><img src=\"http://127.0.0.1:9/x.png\" onerror=\"1\"><div class=\"plate\"><svg viewBox=\"0 0 100 20\" width=\"100\" height=\"20\">\
        <title>t</title><text x=\"5\" y=\"12\">one</text><text x=\"8\" y=\"12\">two</text><text x=\"95\" y=\"12\">outside</text></svg></div></body></html>";
    let seen = browser.measure("faulty", page, Window { width: 360, dark: false });
    assert!(seen["scroll"].as_u64() > Some(360), "{seen}");
    for key in ["wide", "overlaps", "outside", "foreign", "landmarks", "said"] {
        assert!(seen[key].as_array().is_some_and(|a| !a.is_empty()), "{key} unseen: {seen}");
    }
    assert_eq!(seen["handlers"], 1);
    assert_eq!(seen["unnamed"], 1);
    if browser.has_axe() {
        let said = seen["axe"].to_string();
        for rule in ["color-contrast", "html-has-lang", "image-alt"] {
            assert!(said.contains(rule), "{rule} unseen: {said}");
        }
    }
}

#[test]
fn the_text_of_a_sheet_loads_nothing_and_holds_nothing_that_acts() {
    for (name, html) in pages() {
        for never in [
            "<script",
            "<img",
            "<link",
            "@import",
            "\u{202e}",
            "\u{2066}",
            "\u{200f}",
            "onerror=alert(1)>",
        ] {
            assert!(!html.contains(never), "{name} holds {never}");
        }
        for place in html.split("url(").skip(1) {
            assert!(place.starts_with('#'), "{name}: url({}", &place[..place.len().min(30)]);
        }
        for place in html.split("href=\"").skip(1) {
            assert!(place.starts_with('#'), "{name}: href to {}", &place[..place.len().min(30)]);
        }
        assert!(html.len() < 600_000, "{name}: {} bytes", html.len());
        assert!(html.ends_with("</html>\n") || html.ends_with("</html>"), "{name} ends early");
    }
}

#[test]
fn figures_on_the_sheet_are_the_audits_own() {
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    let text = fs::read_to_string(Path::new(ROOT).join("examples/youth-club-games.toml"))
        .expect("it is there");
    let build = kit.read(&Source::new("y", text), date(2026, 11, 20)).expect("it reads");
    let audit = kit.audit(&build);
    let html = written(&kit, &audit, "y", None, &[]);
    for measure in audit.measures().iter().filter(|m| {
        [
            "power.sustained_draw",
            "power.excursion_draw",
            "power.wall_draw",
            "power.yearly_energy",
            "airflow.noise",
        ]
        .contains(&&*m.id)
    }) {
        assert!(
            html.contains(&measure.words),
            "{} is {}, not on the sheet",
            measure.id,
            measure.words
        );
    }
    for finding in audit.findings() {
        let escaped =
            finding.message.replace('&', "&amp;").replace('\'', "&#x27;").replace('/', "&#x2f;");
        assert!(html.contains(&escaped), "{} is not on the sheet: {escaped}", finding.rule);
    }
    for fact in [
        "Signed off by jm until 2027-03-01",
        "disabled while M2_2 is in use",
        "SATA3 (by M2_2)",
        "Memory goes into A2 and B2",
    ] {
        assert!(html.contains(fact), "{fact} is not on the sheet");
    }
}

#[test]
fn the_command_writes_whole_or_not_at_all() {
    let folder = std::env::temp_dir().join(format!("dryfit-sheet-command-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("it can be made");
    let run = |build: &str, output: &Path| {
        Command::new(env!("CARGO_BIN_EXE_dryfit"))
            .args(["sheet", build, "-o"])
            .arg(output)
            .current_dir(ROOT)
            .output()
            .expect("it starts")
    };
    let target = folder.join("a.html");
    assert_eq!(run("examples/bird-hide-edit.toml", &target).status.code(), Some(0));
    let first = fs::read(&target).expect("it was written");
    assert_eq!(
        run("examples/youth-club-games.toml", &target).status.code(),
        Some(1),
        "a build that is stopped has a sheet and its code"
    );
    assert_ne!(fs::read(&target).expect("it was written"), first);
    let held = fs::read(&target).expect("it was written");
    assert_eq!(run("examples/no-such.toml", &target).status.code(), Some(2));
    assert_eq!(
        run("examples/bird-hide-edit.toml", &folder).status.code(),
        Some(2),
        "a folder is no file"
    );
    assert_eq!(
        run("examples/bird-hide-edit.toml", &folder.join("none/a.html")).status.code(),
        Some(2)
    );
    assert_eq!(fs::read(&target).expect("it still stands"), held);
    assert_eq!(fs::read_dir(&folder).expect("it reads").count(), 1, "nothing is left beside it");
    let out = run("examples/bird-hide-edit.toml", Path::new("-"));
    assert_eq!(out.stdout, first, "the same build gives the same page");
    let _ = fs::remove_dir_all(&folder);
}

/// A shop that sells what nobody here thought of: its kind needs no line of Rust to be on the
/// sheet and in the order of work, and a step of the shop's own takes it over.
#[test]
fn a_kind_of_the_shops_own_is_on_the_sheet_and_in_the_order_of_work() {
    let kind = "kind = \"lamp\"\ntitle = \"bench lamp\"\nsingle = false\nmeaning = \"A lamp.\"\n\n\
        [field.draw_w]\ntype = \"number\"\nunit = \"W\"\nmin = 0\nmax = 99\nrequired = true\n\
        meaning = \"steady draw\"\n";
    let part = "kind = \"lamp\"\n\n[gleam]\nname = \"Gleam 9\"\nmaker = \"Wick\"\ndraw_w = 9\n";
    let catalogue =
        Layer::from_texts("shop", &[("kinds/lamp.toml", kind), ("parts/lamp.toml", part)]);
    let rule = "/// The lamp.\n/// Step: 55\nfn lamp(build) { for lamp in build.all(\"lamp\") \
        { step(\"Hang {lamp} over the bench.\", #{ lamp: lamp }); } }\n";
    let own = Layer::from_texts("shop", &[("shop.rhai", rule)]);
    let list = fs::read_to_string(Path::new(ROOT).join("examples/clinic-records.toml"))
        .expect("it is there");
    let list = format!("{list}\n[[line]]\npart = \"lamp/gleam\"\n");
    for (rules, wanted) in [
        (vec![Layer::built_in_rules()], "Gleam 9 (bench lamp): fit or connect as its manual says."),
        (vec![Layer::built_in_rules(), own], "Hang Gleam 9 over the bench."),
    ] {
        let catalogue = vec![Layer::built_in_catalogue(), catalogue.clone()];
        let kit = Kit::load(&Layers { catalogue, rules, ..Layers::built_in() }).expect("it loads");
        let html = page("lamp", &kit, &list);
        let bench = html.split("id=\"bench\"").nth(1).expect("there is a bench leaf");
        let bench = bench.split("id=\"customer\"").next().unwrap_or(bench);
        assert!(bench.contains(wanted), "{wanted} is not in the order of work");
        assert!(html.contains("bench lamp"), "its kind is not among the parts");
        assert_eq!(bench.matches("Gleam 9").count(), 1, "one line of it in the order of work");
    }
}

/// What a kind means is written in rules, tables and templates. Whoever names one in the
/// application's code shuts out the shop that has another.
#[test]
fn the_application_names_no_kind_of_part() {
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    let kinds: Vec<String> =
        kit.catalogue().kinds.iter().map(|k| format!("\"{}\"", k.name)).collect();
    let mut folders = vec![Path::new(ROOT).join("src/app")];
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("it reads").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = fs::read_to_string(&path).expect("it reads");
            let code = text.split("#[cfg(test)]").next().unwrap_or("");
            for (at, line) in code.lines().enumerate() {
                let line = line.split("//").next().unwrap_or("");
                if kinds.iter().any(|k| line.contains(k.as_str())) {
                    found.push(format!("{}:{}: {}", path.display(), at + 1, line.trim()));
                }
            }
        }
    }
    assert!(found.len() <= KINDS_LEFT, "{} places:\n{}", found.len(), found.join("\n"));
}

/// A leaf can be had by itself, and nothing is to be built by the bench leaf of a stopped build.
#[test]
fn leaves_come_one_by_one_and_no_order_of_work_is_given_for_a_stopped_build() {
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    for (name, stopped) in [("clinic-records", false), ("quay-salvage", true)] {
        let path = Path::new(ROOT).join(format!("examples/{name}.toml"));
        let text = fs::read_to_string(path).expect("it is there");
        let build = kit.read(&Source::new(name, text), date(2026, 11, 20)).expect("it reads");
        let audit = kit.audit(&build);
        for leaf in [Leaf::Office, Leaf::Bench, Leaf::Customer] {
            let html = written(&kit, &audit, name, None, &[leaf]);
            for (other, mark) in [
                (Leaf::Office, "id=\"office\""),
                (Leaf::Bench, "id=\"bench\""),
                (Leaf::Customer, "id=\"customer\""),
            ] {
                assert_eq!(html.contains(mark), other == leaf, "{name}: {mark} in {leaf:?}");
            }
            assert_eq!(
                html.contains("id=\"order\""),
                leaf == Leaf::Bench && !stopped,
                "{name}: the order of work in {leaf:?}"
            );
            // Of a list that is still to change the customer is to decide nothing.
            assert_eq!(
                html.contains("id=\"decide\""),
                leaf == Leaf::Customer && !stopped,
                "{name}: what to decide in {leaf:?}"
            );
            // What a step says, no note under it says again.
            let notes = html.split("class=\"note ").skip(1).filter_map(|rest| {
                rest.split_once("</strong> ")?.1.split_once("</p>").map(|(words, _)| words)
            });
            for words in notes {
                assert_eq!(html.matches(words).count(), 1, "{name}: {words} in {leaf:?}");
            }
        }
    }
}
