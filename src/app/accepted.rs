//! Findings accepted as they stand on the day a shop begins: `accepted.toml`, by list, rule and
//! parts, with no line numbers. What is new fails, what is gone is dropped, what got worse shows.

use std::path::{Path, PathBuf};

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use toml::value::Datetime;

use crate::app::report::{Merged, Report};
use crate::disk;
use crate::layer::read_source;
use crate::level::Level;
use crate::source::{Problem, Span};

const HEAD: &str = "# Findings accepted as they were, by `dryfit audit --accept`. A finding that \
                    is new, or worse than here, is shown; one that is gone is taken out.\n\n";
/// By how much a number must be larger to be worse: less is the noise of sums.
const NOISE: f64 = 1e-9;

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    accepted: Vec<Entry>,
}

/// One finding that was accepted.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    /// The list, from the folder of the file.
    list: String,
    rule: String,
    about: Vec<String>,
    /// What it is known by.
    id: String,
    level: Level,
    times: usize,
    /// By how much the comparison that decided held.
    #[serde(skip_serializing_if = "Option::is_none")]
    by_how_much: Option<f64>,
    message: String,
    on: Datetime,
    by: String,
    /// Whether this run met it.
    #[serde(skip)]
    met: bool,
}

/// The file of accepted findings while lists are audited.
pub(crate) struct Accepted {
    path: PathBuf,
    entries: Vec<Entry>,
    /// Who accepts what is new, and on which day.
    signs: Option<(String, Datetime)>,
    fresh: usize,
    /// Lists of this run that have a verdict.
    lists: Vec<String>,
    /// Folders of which this run audits every list.
    folders: Vec<PathBuf>,
}

impl Accepted {
    /// Reads the file. With initials, what is new is accepted too, and the file may be missing.
    /// Errors: it cannot be read, is not such a file, or is missing where nobody signs.
    pub(crate) fn read(path: &Path, by: Option<&str>, today: Date) -> Result<Self, Problem> {
        let signs = match by.map(str::trim) {
            None => None,
            Some("") => return Err(Problem::new("--by wants initials")),
            Some(by) => Some((by.to_owned(), datetime(today)?)),
        };
        let entries = match (path.symlink_metadata().is_ok(), &signs) {
            (false, Some(_)) => Vec::new(),
            (false, None) => {
                let help = "sign today's findings off with: --accept FILE --by INITIALS";
                return Err(Problem::new(format!("there is no file {}", path.display())).help(help));
            }
            (true, _) => {
                let source = read_source(path)?;
                let file: Result<File, _> = toml::from_str(&source.text);
                file.map_err(|error| {
                    let span = error.span().map_or_else(Span::default, Span::from);
                    Problem::new(format!("{} is no file of accepted findings", source.name))
                        .at(&source, span, error.message().to_owned())
                        .help("it is written by: dryfit audit LISTS --accept FILE --by INITIALS")
                })?
                .accepted
            }
        };
        let unsound = |e: &Entry| e.by_how_much.is_some_and(|by| !by.is_finite());
        if let Some(entry) = entries.iter().find(|entry| unsound(entry)) {
            let said = format!(
                "{}: `by_how_much` of {} in {} is no number",
                path.display(),
                entry.rule,
                entry.list
            );
            return Err(Problem::new(said).help("take the entry out, and accept it again"));
        }
        Ok(Self {
            path: path.to_path_buf(),
            entries,
            signs,
            fresh: 0,
            lists: Vec::new(),
            folders: Vec::new(),
        })
    }

    /// Says which folders this run audits whole: what was accepted of a list that is no longer
    /// in one of them is gone.
    pub(crate) fn covers(&mut self, named: &[PathBuf]) {
        let whole = named.iter().filter(|path| path.is_dir());
        self.folders = whole.filter_map(|path| path.canonicalize().ok()).collect();
    }

    /// Takes out of a report what is accepted.
    pub(crate) fn apply(&mut self, report: &mut Report) {
        let list = self.name_of(&report.file);
        let Ok(audited) = &mut report.outcome else { return };
        self.lists.push(list.clone());
        let (mut shown, mut accepted) = (Vec::new(), Vec::new());
        // Where each finding went among those that are shown.
        let mut places = Vec::new();
        for merged in std::mem::take(&mut audited.findings) {
            let accepts = merged.finding.waived.is_none() && self.accepts(&list, &merged);
            places.push((!accepts).then_some(shown.len()));
            if accepts { &mut accepted } else { &mut shown }.push(merged);
        }
        for cause in &mut audited.causes {
            let kept = cause.findings.iter().filter_map(|at| places.get(*at).copied().flatten());
            cause.findings = kept.collect();
        }
        audited.causes.retain(|cause| !cause.findings.is_empty());
        (audited.findings, audited.accepted) = (shown, accepted);
        audited.settle();
    }

    fn accepts(&mut self, list: &str, merged: &Merged) -> bool {
        let held = self.entries.iter_mut().find(|e| e.list == list && e.id == merged.id);
        match (held, &self.signs) {
            (Some(entry), signs) => {
                entry.met = true;
                if !is_worse(merged, entry) {
                    return true;
                }
                let Some((by, on)) = signs else { return false };
                *entry = self::entry(list, merged, by, *on);
            }
            (None, None) => return false,
            (None, Some((by, on))) => self.entries.push(self::entry(list, merged, by, *on)),
        }
        self.fresh += 1;
        true
    }

    /// The folder of the file.
    fn folder(&self) -> PathBuf {
        let folder = self.path.parent().filter(|p| !p.as_os_str().is_empty());
        folder.unwrap_or(Path::new(".")).canonicalize().unwrap_or_default()
    }

    /// A list's path from the folder of the file, with `/` between names.
    fn name_of(&self, file: &str) -> String {
        let folder = self.folder();
        let real = Path::new(file).canonicalize().unwrap_or_else(|_| PathBuf::from(file));
        let below = real.strip_prefix(&folder).map(Path::to_path_buf);
        below.unwrap_or_else(|_| PathBuf::from(file)).to_string_lossy().replace('\\', "/")
    }

    /// Writes the file where something came or went, and says what.
    pub(crate) fn close(mut self) -> Result<Option<String>, Problem> {
        let before = self.entries.len();
        let lists = std::mem::take(&mut self.lists);
        let (folder, whole) = (self.folder(), std::mem::take(&mut self.folders));
        let is_gone = |list: &str| {
            let path = folder.join(list);
            whole.iter().any(|whole| path.starts_with(whole)) && path.symlink_metadata().is_err()
        };
        self.entries
            .retain(|entry| entry.met || !lists.contains(&entry.list) && !is_gone(&entry.list));
        let gone = before - self.entries.len();
        if gone == 0 && self.fresh == 0 {
            return Ok(None);
        }
        self.entries.sort_by(|a, b| (&a.list, &a.rule, &a.id).cmp(&(&b.list, &b.rule, &b.id)));
        let file = File { accepted: self.entries };
        let text = toml::to_string(&file)
            .map_err(|e| Problem::new(format!("accepted findings cannot be written: {e}")))?;
        disk::write_whole(&self.path, format!("{HEAD}{text}").as_bytes(), true)?;
        Ok(Some(format!("{}: {} accepted, {gone} gone", self.path.display(), self.fresh)))
    }
}

fn datetime(day: Date) -> Result<Datetime, Problem> {
    day.to_string().parse().map_err(|_| Problem::new(format!("{day} cannot be written as a day")))
}

fn entry(list: &str, merged: &Merged, by: &str, on: Datetime) -> Entry {
    let finding = &merged.finding;
    Entry {
        list: list.to_owned(),
        rule: finding.rule.clone(),
        about: finding.subjects.clone(),
        id: merged.id.clone(),
        level: finding.level,
        times: merged.times,
        by_how_much: how_much(merged),
        message: finding.message.clone(),
        on,
        by: by.to_owned(),
        met: true,
    }
}

fn how_much(merged: &Merged) -> Option<f64> {
    let margin = merged.finding.margin.as_ref()?;
    Some((margin.left_value - margin.right_value).abs()).filter(|by| by.is_finite())
}

/// Whether a finding is worse than it was accepted: of a higher level, more often, by more; where
/// there is no figure to tell by, whether it says anything else.
fn is_worse(merged: &Merged, entry: &Entry) -> bool {
    let finding = &merged.finding;
    if finding.level > entry.level || merged.times > entry.times {
        return true;
    }
    match (how_much(merged), entry.by_how_much) {
        (Some(now), Some(then)) => now > then + NOISE * then.abs().max(1.0),
        _ => finding.message != entry.message,
    }
}
