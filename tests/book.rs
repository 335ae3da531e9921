//! The handbook: every link leads somewhere, headings go down a step at a time, names that would
//! act do not, and the search finds pages in a real browser.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use dryfit::inside::app::book::{BookFile, pages, write};
use dryfit::inside::layer::Layer;
use dryfit::{Kit, Layers};

/// A shop whose names would act if they were let.
fn hostile() -> Layers {
    let mut layers = Layers::built_in();
    layers.rules.push(Layer::from_texts(
        "shop <b>",
        &[(
            "shop<img src=x>.rhai",
            "//! <script>document.title='taken'</script>\n\n\
             /// \"><svg onload=alert(1)> {{ 7 * 7 }} \u{202e}back.\n\
             /// Basis: javascript:alert(1)\n\
             fn act(build) { advice(\"</pre><script>document.title='taken'</script>\"); }\n",
        )],
    ));
    layers
}

fn book(layers: &Layers) -> Vec<BookFile> {
    let kit = Kit::load(layers).expect("it loads");
    pages(&kit, layers).expect("it is written")
}

/// The values of an attribute, as a browser reads them.
fn values(html: &str, attribute: &str) -> Vec<String> {
    html.split(&format!(" {attribute}=\""))
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .map(|value| value.replace("&#x2f;", "/").replace("&amp;", "&"))
        .collect()
}

/// A path with `..` followed.
fn from(page: &str, link: &str) -> String {
    let mut names: Vec<&str> = page.split('/').collect();
    names.pop();
    for name in link.split('/') {
        match name {
            ".." => {
                names.pop();
            }
            _ => names.push(name),
        }
    }
    names.join("/")
}

#[test]
fn every_link_leads_to_a_page_and_headings_go_down_by_one() {
    for layers in [Layers::built_in(), hostile()] {
        let files = book(&layers);
        let there: BTreeSet<&str> = files.iter().map(|file| file.below.as_str()).collect();
        assert_eq!(there.len(), files.len(), "two pages have one name");
        let (mut links, mut linked) = (0, BTreeSet::from(["index.html".to_owned()]));
        for page in files.iter().filter(|file| file.below.ends_with(".html")) {
            for link in ["href", "src"].iter().flat_map(|name| values(&page.text, name)) {
                let to = from(&page.below, &link);
                assert!(there.contains(to.as_str()), "{}: {link} leads nowhere", page.below);
                linked.insert(to);
                links += 1;
            }
            let levels: Vec<u32> = page
                .text
                .split("<h")
                .skip(1)
                .filter_map(|rest| rest.chars().next()?.to_digit(10))
                .collect();
            assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1, "{}", page.below);
            assert!(levels.windows(2).all(|two| two[1] <= two[0] + 1), "{}", page.below);
        }
        assert!(links > 5_000, "{links} links");
        let lost: Vec<&&str> = there
            .iter()
            .filter(|name| name.ends_with(".html") && !linked.contains(**name))
            .collect();
        assert!(lost.is_empty(), "nothing leads to {lost:?}");
    }
}

#[test]
fn every_rule_has_a_page_that_says_what_it_says_of_itself() {
    let layers = Layers::built_in();
    let kit = Kit::load(&layers).expect("it loads");
    let files = book(&layers);
    for rule in &kit.rules().rules {
        let page = files.iter().find(|file| file.below == format!("rules/{}.html", rule.id));
        let page = page.unwrap_or_else(|| panic!("{} has no page", rule.id));
        assert!(page.text.contains("<h2>Its script</h2>"), "{}", rule.id);
        // The cases of the shipped rules show either side of each.
        let shown = page.text.matches("<h2>A case").count();
        assert!(shown >= 1, "{}: {shown} cases are shown", rule.id);
    }
}

#[test]
fn names_that_act_are_letters_here() {
    for file in book(&hostile()) {
        for acts in ["<script>document", "<img src=x", "<svg onload", "\u{202e}", " 49 back"] {
            assert!(!file.text.contains(acts), "{}: {acts}", file.below);
        }
        let odd = |c: char| !c.is_ascii_alphanumeric() && !"./_-~".contains(c);
        assert!(!file.below.contains(odd), "{}", file.below);
    }
}

struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("dryfit-book-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).expect("it can be made");
        Self(path)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[test]
fn a_handbook_is_written_whole_and_over_nothing_else() {
    let place = Place::new("write");
    let folder = place.0.join("book");
    let files = book(&Layers::built_in());
    write(&files, &folder).expect("it is written");
    fs::write(folder.join("old.html"), "x").expect("it is written");
    write(&files, &folder).expect("a handbook goes over a handbook");
    assert!(!folder.join("old.html").exists());
    let other = place.0.join("other");
    fs::create_dir_all(&other).expect("it can be made");
    fs::write(other.join("letter.txt"), "mine").expect("it is written");
    assert!(write(&files, &other).is_err());
    assert_eq!(fs::read_to_string(other.join("letter.txt")).expect("it is there"), "mine");
    let left = fs::read_dir(&place.0).expect("a folder").count();
    assert_eq!(left, 2, "nothing is left beside");
}

/// The page's width against the window's, and what the search gives for some words.
fn look(folder: &Path, page: &str, words: &str, width: u32) -> Option<(u32, u32, String)> {
    let probe = format!(
        "<script>addEventListener('load', () => {{ const a = document.getElementById('ask');\
         a.value = '{words}'; a.dispatchEvent(new Event('input'));\
         const d = document.documentElement; const p = document.createElement('pre');\
         p.id = 'seen'; p.textContent = d.scrollWidth + '|' + d.clientWidth + '|' + \
         document.getElementById('hits').innerText; document.body.append(p); }});</script></body>"
    );
    let html = fs::read_to_string(folder.join(page)).expect("it is there");
    let probed = folder.join(page).with_extension("probe.html");
    fs::write(&probed, html.replace("</body>", &probe)).expect("it is written");
    let output = Command::new("chromium")
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"])
        .args(["--dump-dom", "--virtual-time-budget=5000"])
        .arg(format!("--user-data-dir={}", folder.join(".profile").display()))
        .arg(format!("--window-size={width},900"))
        .arg(format!("file://{}", probed.display()))
        .output()
        .ok()?;
    let dom = String::from_utf8_lossy(&output.stdout).into_owned();
    let seen = dom.split_once("<pre id=\"seen\">")?.1.split_once("</pre>")?.0.to_owned();
    let mut parts = seen.splitn(3, '|');
    let mut number = || parts.next().and_then(|n| n.parse().ok());
    let (wide, window) = (number()?, number()?);
    Some((wide, window, parts.next().unwrap_or("").to_owned()))
}

#[test]
fn a_browser_finds_pages_and_none_is_wider_than_the_window() {
    if Command::new("chromium").arg("--version").output().is_err() {
        assert!(std::env::var_os("CI").is_none(), "Chromium is not installed");
        eprintln!("SKIPPED: no Chromium here, so the handbook was not looked at");
        return;
    }
    let place = Place::new("look");
    let folder = place.0.join("book");
    write(&book(&Layers::built_in()), &folder).expect("it is written");
    for page in ["index.html", "rules/fit.card_length.html", "kinds/board.html", "settings.html"] {
        for width in [500, 1200] {
            let (wide, window, hits) = look(&folder, page, "card length", width)
                .unwrap_or_else(|| panic!("{page}: nothing seen"));
            assert!(wide <= window, "{page} is {wide} wide in {window}");
            assert!(hits.contains("fit.card_length"), "{page}: {hits}");
        }
    }
    let (.., hits) = look(&folder, "index.html", "zzz no such", 900).expect("it is seen");
    assert!(hits.contains("Nothing has these words"), "{hits}");
}
