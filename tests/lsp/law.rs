//! After any edits, what is said of a text is what a fresh audit says of it.

use serde_json::{Value, json};

use super::client::{Client, uri};
use crate::common::desk::Desk;
use crate::common::share;

/// Random numbers that are the same in every run; `DRYFIT_SEED=n` gives others.
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new() -> Self {
        let seed = std::env::var("DRYFIT_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(22);
        Self(seed)
    }

    pub(super) fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 33) as usize % sides.max(1)
    }
}

/// What is typed or pasted: letters of every width, halves of keys, whole lines.
const PIECES: &[&str] = &[
    "x",
    "é",
    "𝄞",
    "\"",
    "\n",
    "\r\n",
    "[[line]]\npart = \"fan/lull-120\"\n",
    "[[line]]\npart = \"supply/millrace-300\"\n",
    "[[line]]\nany = \"graphics\"\n",
    "[[waive]]\nrule = \"power.headroom\"\nsubject = \"build\"\nreason = \"x\"\nby = \"jm\"\nuntil = \
     2030-01-01\n",
    "count = 3\n",
    "# 𝄞 said\n",
    "owned = true\n",
    "mount = \"front\"\n",
    " = ",
    "facts = {}\n",
];

/// An edit of a text: bytes from, bytes to, and what stands there then.
pub(super) fn edit(dice: &mut Dice, text: &str, good: &str) -> (usize, usize, String) {
    let boundary = |mut at: usize| {
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let at = boundary(dice.roll(text.len() + 1));
    let line = text[..at].rfind('\n').map_or(0, |n| n + 1);
    let next = text[at..].find('\n').map_or(text.len(), |n| at + n + 1);
    match dice.roll(6) {
        0 => (0, text.len(), good.to_owned()),
        1 => (line, next, String::new()),
        2 => (line, line, PIECES[dice.roll(PIECES.len())].to_owned()),
        3 => (at, boundary((at + dice.roll(9)).min(text.len())), String::new()),
        4 => (line, line, text[line..next].to_owned()),
        _ => (at, at, PIECES[dice.roll(PIECES.len())].to_owned()),
    }
}

/// A byte as a position, counted by this test and not by the server.
pub(super) fn position(text: &str, offset: usize, utf8: bool) -> Value {
    let (mut line, mut column) = (0, 0);
    let mut letters = text[..offset].chars().peekable();
    while let Some(c) = letters.next() {
        if c == '\n' || c == '\r' && letters.peek() != Some(&'\n') {
            // Within `\r\n` nothing is counted; the edits of this test do not cut one in two.
            (line, column) = (line + 1, 0);
        } else if c != '\r' {
            column += if utf8 { c.len_utf8() } else { c.len_utf16() };
        }
    }
    json!({ "line": line, "character": column })
}

fn fresh(desk: &Desk, text: &str) -> Value {
    desk.write("fresh.toml", text);
    let arguments = ["audit", "fresh.toml", "--format", "json", "--date", "2026-11-20"];
    let output = desk.command(&arguments).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

/// What the shell finds, as the editor would be told: rule and first line of the message.
fn of_shell(audit: &Value) -> Vec<(String, String)> {
    let audit = &audit["audits"][0];
    let text = |v: &Value| v.as_str().unwrap().to_owned();
    let findings = audit["findings"].as_array().unwrap().iter();
    let findings = findings.map(|f| (text(&f["rule"]), text(&f["message"])));
    let wrong = ["broken", "waiver_problems", "left_open"];
    let wrong = wrong.iter().flat_map(|key| audit[*key].as_array().unwrap());
    let wrong = wrong.map(|p| (text(&p["code"]), text(&p["message"])));
    let mut all: Vec<(String, String)> = findings.chain(wrong).collect();
    all.sort();
    all
}

fn of_editor(said: &[Value], shell: &[(String, String)]) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = said
        .iter()
        .filter(|d| d["code"] != "look-up")
        .map(|d| {
            let message = d["message"].as_str().unwrap();
            let head = message.lines().next().unwrap().to_owned();
            let code = d["code"].as_str().unwrap().to_owned();
            // What a place is called stands in brackets behind a problem's message.
            let known = shell.iter().find(|(c, m)| *c == code && head.starts_with(m.as_str()));
            (code, known.map_or(head, |(_, m)| m.clone()))
        })
        .collect();
    all.sort();
    all
}

#[test]
fn after_any_edits_the_same_is_said_as_by_a_fresh_audit() {
    let mut dice = Dice::new();
    for utf8 in [false, true] {
        let desk = Desk::new();
        let good = format!("# 𝄞 é\n{}", desk.read("desk.toml"));
        let file = uri(&desk.path("desk.toml"));
        let offers: &[&str] = if utf8 { &["utf-8", "utf-16"] } else { &["utf-16"] };
        let mut client = Client::start(&desk, offers);
        let mut other = Client::start(&desk, offers);
        client.open(&file, &good);
        client.said(&file, Some(1));
        let (mut text, mut version) = (good.clone(), 1);
        for round in 0..if share::whole() { 120 } else { 15 } {
            let mut changes = Vec::new();
            for _ in 0..1 + dice.roll(5) {
                let (start, end, new) = edit(&mut dice, &text, &good);
                let range = json!({
                    "start": position(&text, start, utf8), "end": position(&text, end, utf8),
                });
                // A cut within `\r\n` cannot be written as a position.
                let cuts = |at: usize| text[..at].ends_with('\r') && text[at..].starts_with('\n');
                if cuts(start) || cuts(end) {
                    continue;
                }
                text.replace_range(start..end, &new);
                changes.push(json!({ "range": range, "text": new }));
            }
            version += 1;
            client.change(&file, version, json!(changes));
            let said = client.said(&file, Some(version));
            let before = |d: &&Value| d["data"]["before"] != true;
            let now: Vec<Value> = said.iter().filter(before).cloned().collect();
            let name = format!("{}-{round}", file);
            other.open(&name, &text);
            let anew = other.said(&name, Some(1));
            let shown = |all: &[Value]| -> Vec<String> {
                all.iter().map(|d| d.to_string().replace(&name, &file)).collect()
            };
            let plain = |all: Vec<String>| -> Vec<String> {
                all.into_iter()
                    .map(|d| d.replace(&format!("desk.toml-{round}"), "desk.toml"))
                    .collect()
            };
            assert_eq!(plain(shown(&now)), plain(shown(&anew)), "{text}");
            let shell: Vec<_> = of_shell(&fresh(&desk, &text))
                .into_iter()
                .map(|(code, message)| (code, message.replace("fresh.toml", "desk.toml")))
                .collect();
            let told = of_editor(&now, &shell);
            assert_eq!(told, shell, "{text}");
        }
        assert_eq!(client.end(), Some(0));
    }
}
