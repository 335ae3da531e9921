//! `dryfit rules diff`: what another version of rules changes over a shop's own lists, finding by
//! finding.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::app::args::BaseArgs;
use crate::app::batch::{self, Came, How};
use crate::app::lists::Entry;
use crate::app::report::json::join;
use crate::app::report::page::Page;
use crate::app::report::style::Look;
use crate::app::report::{Audited, Report};
use crate::level::Level;
use crate::source::Problems;

/// A finding of one side or of both.
#[derive(Default)]
struct Changed {
    rule: String,
    was: Option<(Level, String)>,
    now: Option<(Level, String)>,
}

/// What changes for one list.
struct Row {
    file: String,
    outcome: Result<Vec<Changed>, Arc<Problems>>,
}

/// What changes over all lists.
pub(crate) struct Differences {
    rows: Vec<Row>,
}

/// Audits every list with the old rules and with the new ones.
pub(crate) fn differ(entries: &[Entry], old: &BaseArgs, new: &BaseArgs) -> Differences {
    let (was, now) = (reports(entries, old), reports(entries, new));
    let rows = was.into_iter().zip(now).map(|(was, now)| row(was, now)).collect();
    Differences { rows }
}

fn reports(entries: &[Entry], base: &BaseArgs) -> Vec<Report> {
    let how =
        How { base, plain: true, causes: false, fixes: None, from_hook: false, stdin_name: None };
    let mut reports = Vec::with_capacity(entries.len());
    batch::audit(entries, &how, |came| {
        if let Came::Report(report) = came {
            reports.push(*report);
        }
        true
    });
    reports
}

fn row(was: Report, now: Report) -> Row {
    let file = now.file.clone();
    let (was, now) = match (was.outcome, now.outcome) {
        (Ok(was), Ok(now)) => (said_of(&was), said_of(&now)),
        (_, Err(problems)) | (Err(problems), _) => return Row { file, outcome: Err(problems) },
    };
    let mut both: BTreeMap<About, Changed> = BTreeMap::new();
    for (side, is_now) in [(was, false), (now, true)] {
        for (about, (level, message)) in side {
            let changed = both.entry(about).or_default();
            let said = Some((level, message));
            if is_now { changed.now = said } else { changed.was = said }
        }
    }
    let changes = both.into_iter().filter(|(_, changed)| changed.was != changed.now);
    let changes = changes.map(|(about, changed)| Changed { rule: about.0, ..changed });
    Row { file, outcome: Ok(changes.collect()) }
}

/// What a finding is about: its rule, the parts, and which of several it is. Its words may change.
type About = (String, Vec<String>, usize);

fn said_of(audited: &Audited) -> Vec<(About, (Level, String))> {
    let mut seen: BTreeMap<(String, Vec<String>), usize> = BTreeMap::new();
    let mut said: Vec<(About, (Level, String))> = Vec::new();
    let mut note = |rule: &str, parts: &[String], level: Level, message: String| {
        let nth = seen.entry((rule.to_owned(), parts.to_vec())).or_default();
        *nth += 1;
        said.push(((rule.to_owned(), parts.to_vec(), *nth), (level, message)));
    };
    for merged in &audited.findings {
        let finding = &merged.finding;
        note(&finding.rule, &finding.subjects, finding.level, finding.message.clone());
    }
    // A rule that breaks gives no finding, and that is a change too.
    for broken in &audited.broken {
        let rule = broken.rule.as_deref().unwrap_or("");
        note(rule, &["broken".to_owned()], Level::Stop, broken.told().message);
    }
    said
}

impl Differences {
    fn changes(&self) -> impl Iterator<Item = &Changed> {
        self.rows.iter().filter_map(|row| row.outcome.as_ref().ok()).flatten()
    }

    /// 0 nothing changes, 1 something does, 2 a list cannot be audited.
    pub(crate) fn exit_code(&self) -> u8 {
        match self.rows.iter().any(|row| row.outcome.is_err()) {
            true => 2,
            false => u8::from(self.changes().next().is_some()),
        }
    }

    /// What is wrong with lists that cannot be audited.
    pub(crate) fn problems(&self) -> Problems {
        let wrong = self.rows.iter().filter_map(|row| row.outcome.as_ref().err());
        Problems(wrong.flat_map(|problems| problems.0.clone()).collect())
    }

    /// For people.
    pub(crate) fn text(&self, look: Look) -> String {
        let of = |wanted: fn(&Changed) -> bool| self.changes().filter(|c| wanted(c)).count();
        let differing = |row: &&Row| row.outcome.as_ref().is_ok_and(|changes| !changes.is_empty());
        let counts = json!({
            "differing": self.rows.iter().filter(differing).count(),
            "new": of(|c| c.was.is_none()),
            "gone": of(|c| c.now.is_none()),
            "otherwise": of(|c| c.was.is_some() && c.now.is_some()),
        });
        Page::new(look).filled("differences.txt", "", join(self.json(), counts))
    }

    /// For programs.
    pub(crate) fn json(&self) -> Value {
        let side = |side: &Option<(Level, String)>| match side {
            Some((level, message)) => json!({ "level": level.to_string(), "message": message }),
            None => Value::Null,
        };
        let lists: Vec<Value> = self
            .rows
            .iter()
            .map(|row| match &row.outcome {
                Ok(changes) => {
                    let changes: Vec<Value> = changes
                        .iter()
                        .map(
                            |c| json!({ "rule": c.rule, "was": side(&c.was), "now": side(&c.now) }),
                        )
                        .collect();
                    json!({ "file": row.file, "changes": changes })
                }
                Err(problems) => json!({ "file": row.file, "problem": problems.to_string() }),
            })
            .collect();
        json!({ "format": "dryfit-rules-diff", "version": 1, "lists": lists })
    }
}

/// The folders of rules and parts in a folder that is a pack, a shop or a rules folder.
pub(crate) fn side(folder: &Path, base: &BaseArgs) -> BaseArgs {
    let (rules, parts) = (folder.join("rules"), folder.join("catalogue"));
    let has_rules = rules.is_dir();
    let mut side = base.clone();
    match (has_rules, parts.is_dir()) {
        (false, false) => side.rules = Some(folder.to_path_buf()),
        (rules_there, parts_there) => {
            side.rules = rules_there.then_some(rules).or(side.rules);
            side.catalogue = parts_there.then_some(parts).or(side.catalogue);
        }
    }
    side
}
