//! Commands that change the build, and those that look at it in depth.

use crate::app::batch::judged;
use crate::app::commands::prices::of_any_kind;
use crate::app::part_words;
use crate::app::prices::parts as priced_parts;
use crate::app::prompt::session::{Ask, Session};
use crate::app::prompt::{change_report, line_lookup, search_report, why_report};
use crate::app::report::page::Page;
use crate::app::report::{Audited, Report, Wishes, show};
use crate::audit::finding::{Finding, Settled};
use crate::build::fields::BUILD_FIELDS;
use crate::catalogue::Catalogue;
use crate::catalogue::declared::Takes;
use crate::level::Level;
use crate::prices::parts::{Query, listed};
use crate::rules::loader::RuleSet;
use crate::source::{Problem, Problems};
use crate::whatif::diff::{LineView, views};
use crate::whatif::edit::{Edit, NewLine, Word, line_key};
use crate::whatif::trial::START;
use crate::whatif::why;
use crate::words::{clip, some_of};

impl Session {
    /// The one line that a name means: asked for where several fit.
    pub(super) fn line(
        &self,
        words: &[String],
        ask: Ask<'_>,
    ) -> Result<(usize, LineView), Problems> {
        Ok(line_lookup::one(self.trial.now(), self.trial.kit().catalogue(), words, ask)?)
    }

    pub(super) fn make(&mut self, edits: &[Edit], page: &mut Page) -> Result<(), Problems> {
        let change = self.trial.edit(edits)?;
        change_report::change(page, &change);
        Ok(())
    }

    pub(super) fn swap(
        &mut self,
        words: &[String],
        part: &str,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let catalogue = self.trial.kit().catalogue().clone();
        let (words, part) = &with_whole_kind(&catalogue, words, part);
        let named;
        let words = if words.is_empty() {
            let part = part_words::one(&catalogue, part, None)?;
            named = [catalogue.kind(part.kind).map_or_else(String::new, |k| k.name.to_string())];
            &named[..]
        } else {
            words
        };
        self.nothing_in_the_box(words, part)?;
        let (line, view) = self.line(words, ask)?;
        if COMPARATIVES.contains(&part.to_lowercase().as_str()) {
            let problem = Problem::new(format!("`swap` needs a part, not \"{}\"", clip(part, 20)));
            return Err(problem
                .help(format!(
                    "`steps {0}` shows the next parts down and up, `fit {0}` all that fit",
                    view.kind
                ))
                .into());
        }
        let part = part_words::one(&catalogue, part, catalogue.kind_id(&view.kind))?;
        let kind = catalogue.kind(part.kind).map_or("", |k| &k.name);
        if kind != view.kind {
            return Err(Problem::new(format!(
                "{} is a {kind}, and line #{} holds a {}",
                part.id, view.number, view.kind
            ))
            .help(format!("`add {}` adds it on a line of its own", part.id))
            .into());
        }
        self.make(&[Edit::Part { line, part: part.id.to_string() }], page)
    }

    /// A kind that has no line but comes in a box is not swapped, it is added.
    fn nothing_in_the_box(&self, words: &[String], part: &str) -> Result<(), Problem> {
        let now = self.trial.now();
        let Some(kind) = words.first().and_then(|w| now.audit.build().catalogue.kind_id(w)) else {
            return Ok(());
        };
        if now.build().of_kind(kind).next().is_some() {
            return Ok(());
        }
        match now
            .audit
            .build()
            .slots(kind)
            .iter()
            .find(|s| s.included)
            .and_then(|s| Some((s.part.as_ref()?.id.clone(), s.line + 1)))
        {
            Some((id, line)) => Err(Problem::new(format!(
                "{id} is included with #{line} and has no line of its own"
            ))
            .help(format!("`add {part}` puts another in its place"))),
            None => Ok(()),
        }
    }

    pub(super) fn add(&mut self, mut line: NewLine, page: &mut Page) -> Result<(), Problems> {
        let part = part_words::one(self.trial.kit().catalogue(), &line.part, None)?;
        line.part = part.id.to_string();
        self.make(&[Edit::Add(line)], page)
    }

    pub(super) fn drop_line(
        &mut self,
        words: &[String],
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let (line, _) = self.line(words, ask)?;
        if self.trial.now().build().lines.len() == 1 {
            return Err(
                Problem::new("this is the only line, and a build without lines is none").into()
            );
        }
        self.make(&[Edit::Drop { line }], page)
    }

    /// Copies lines of another file: all of a kind when the kind alone is named.
    pub(super) fn take(
        &mut self,
        words: &[String],
        file: &str,
        page: &mut Page,
    ) -> Result<(), Problems> {
        let kit = self.trial.kit().clone();
        let (source, _) = self.other(file)?;
        let other = crate::whatif::trial::Snapshot::of(&kit, &source, self.trial.today())?;
        let theirs = views(&other);
        let fits = line_lookup::find(&theirs, kit.catalogue(), words)
            .map_err(|p| Problem { message: format!("{file}: {}", p.message), ..p })?;
        let ours = views(self.trial.now());
        let kind = fits
            .first()
            .and_then(|at| theirs.get(*at))
            .map_or_else(String::new, |v| v.kind.clone());
        let held = line_lookup::of_kind(&ours, &kind);
        let whole = matches!(words, [word] if *word == kind);
        let mut edits = Vec::new();
        if whole {
            for (nth, at) in fits.iter().enumerate() {
                edits.push(Edit::Copy {
                    from: source.text.clone(),
                    theirs: *at,
                    ours: held.get(nth).copied(),
                });
            }
            edits.extend(held.iter().skip(fits.len()).rev().map(|line| Edit::Drop { line: *line }));
        } else {
            let [at] = fits.as_slice() else {
                let labels: Vec<String> =
                    fits.iter().filter_map(|at| theirs.get(*at)).map(line_lookup::label).collect();
                return Err(Problem::new(format!("{} lines of {file} fit", fits.len()))
                    .help(format!("say which: {}", labels.join("; ")))
                    .into());
            };
            let nth = line_lookup::of_kind(&theirs, &kind)
                .iter()
                .position(|t| t == at)
                .unwrap_or_default();
            edits.push(Edit::Copy {
                from: source.text.clone(),
                theirs: *at,
                ours: held.get(nth).copied(),
            });
        }
        self.make(&edits, page)
    }

    pub(super) fn set(
        &mut self,
        words: &[String],
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let Some((name, rest)) = words.split_first() else { return Ok(()) };
        if let Some(edit) = field_edit(name, &rest.join(" "), &self.trial.now().build().currency)? {
            return self.make(&[edit], page);
        }
        let key_at = words
            .iter()
            .skip(1)
            .position(|w| crate::whatif::edit::LINE_KEYS.contains(&w.as_str()))
            .map(|at| at + 1);
        let Some(at) = key_at else { return Err(self.no_field(words).into()) };
        let (slot, rest) = words.split_at(at);
        let (line, _) = self.line(slot, ask)?;
        let Some((key, value)) = rest.split_first() else { return Ok(()) };
        let key = line_key(key)?;
        let value = match (value.join(" "), key) {
            // `set case owned` says yes.
            (none, "owned" | "included") if none.is_empty() => "yes".to_owned(),
            (none, _) if none.is_empty() => return Err(no_value(&slot.join(" "), key).into()),
            (value, _) => value,
        };
        let value = line_value(key, &value)?;
        self.make(&[Edit::Key { line, key, value }], page)
    }

    /// What was meant by `set` with neither a field nor a line's key.
    fn no_field(&self, words: &[String]) -> Problem {
        let name = words.first().map_or("", String::as_str);
        let views = views(self.trial.now());
        let is_line = (1..words.len()).any(|n| {
            words
                .get(..n)
                .is_some_and(|w| line_lookup::find(&views, self.trial.kit().catalogue(), w).is_ok())
        });
        if is_line
            && let Some(key) =
                words.get(1..).and_then(|w| w.iter().rev().nth(1).or_else(|| w.first()))
        {
            return line_key(key).map_or_else(|p| p, |key| no_value(name, key));
        }
        let fields = BUILD_FIELDS.iter().map(|f| f.name).chain(["priced_on"]);
        let problem = Problem::new(format!("a build has no `{}` to set", clip(name, 40)));
        problem
            .help(format!(
                "fields: {}; or `set LINE count|mount|flow|owned VALUE`",
                some_of(fields.clone(), 20)
            ))
            .suggest(name, fields.chain(views.iter().map(|v| v.kind.as_str())))
    }

    pub(super) fn diff(
        &self,
        from: Option<&str>,
        to: Option<&str>,
        page: &mut Page,
    ) -> Result<(), Problems> {
        let from = from.unwrap_or(START);
        let change = self.trial.against(from, to)?;
        let old = self.trial.marked(from)?.text.clone();
        let new = match to {
            Some(to) => self.trial.marked(to)?.text.clone(),
            None => self.trial.text().to_owned(),
        };
        if change.is_empty() {
            page.line("no difference");
            return Ok(());
        }
        change_report::whole_change(page, &change);
        let name = &self.trial.now().source.name;
        change_report::text_diff(
            page,
            &old,
            &new,
            (&format!("{name} ({from})"), &format!("{name} ({})", to.unwrap_or("now"))),
        );
        Ok(())
    }

    pub(super) fn why(
        &self,
        rule: Option<&str>,
        all: bool,
        page: &mut Page,
        ask: Ask<'_>,
    ) -> Result<(), Problems> {
        let kit = self.trial.kit();
        let at = match rule {
            Some(name) => why::rule_named(kit, name)?,
            None => {
                let mut rules: Vec<String> = self
                    .trial
                    .now()
                    .briefs
                    .iter()
                    .filter(|f| !f.waived && f.level > Level::Advice)
                    .map(|f| f.rule.to_string())
                    .collect();
                rules.dedup();
                let chosen = match rules.as_slice() {
                    [one] => Some(one.clone()),
                    [] => None,
                    several => ask("which rule?", several).and_then(|at| several.get(at).cloned()),
                };
                let Some(chosen) = chosen else {
                    let help = if rules.is_empty() {
                        "there is no stop and no caution; `why RULE` also explains rules that \
                         found nothing, and measures"
                            .to_owned()
                    } else {
                        format!("say which: {}", some_of(rules.iter().map(String::as_str), 12))
                    };
                    return Err(Problem::new("`why` needs a rule").help(help).into());
                };
                why::rule_named(kit, &chosen)?
            }
        };
        let proofs = self.proofs(&kit.rules(), at);
        search_report::open_lines(page, self.trial.now(), self.options.trust_unknown);
        why_report::why(
            page,
            &proofs,
            &why::why(kit, self.trial.now(), at),
            &self.trial.now().build().currency,
            all,
        );
        Ok(())
    }

    /// The findings of a rule that stand whatever is not known, each pointing at what proves it.
    fn proofs(&self, rules: &RuleSet, at: u16) -> Vec<Finding> {
        let audit = &self.trial.now().audit;
        let id = rules.rules.get(at as usize).map_or("", |rule| &*rule.id);
        let mut findings = audit.findings();
        findings.retain(|f| f.rule == *id && f.settled == Settled::Certain);
        findings.truncate(why_report::MOST_PROVED);
        audit.prove(findings.iter_mut(), usize::MAX);
        findings
    }

    pub(super) fn audit(&self, all: bool, page: &mut Page) {
        let now = self.trial.now();
        // As `dryfit audit` does: open lines with the cheapest parts that fit.
        let audited = judged(self.trial.kit(), now.build(), true)
            .unwrap_or_else(|_| Audited::with_causes(&now.audit));
        let report =
            Report { file: self.trial.now().source.name.clone(), outcome: Ok(Box::new(audited)) };
        let wishes = Wishes { all, measures: false, prompt: true };
        let (mut out, mut aside) = (Vec::new(), Vec::new());
        // Writing to memory does not fail.
        let _ = show(report, self.options.plain, page.look, wishes, &mut out, &mut aside);
        page.text.push_str(&String::from_utf8_lossy(&out));
    }

    /// `parts KIND`: the parts that could stand in this build; `parts WORDS`: those named so.
    pub(super) fn parts(&self, words: &str, all: bool, page: &mut Page) -> Result<(), Problems> {
        let (kit, build) = (self.trial.kit(), self.trial.now().build());
        let catalogue = kit.catalogue();
        let split: Vec<&str> = words.split_whitespace().collect();
        let (found, _) = part_words::kind_first(catalogue, &split);
        let kind = found.and_then(|id| Some((id, catalogue.kind(id)?)));
        let text = match kind {
            Some((id, kind)) => {
                let among = part_words::among(catalogue, &split, id)?;
                let query = Query { among, ..Query::default() };
                let list = listed(kit, &kind.name, &query, Some(build), build.priced_on)?;
                priced_parts::text(page.look, kind, &list, all, "`all` lists them")
            }
            None => of_any_kind(page.look, catalogue, &part_words::all(catalogue, words, None)?),
        };
        page.text.push_str(&text);
        Ok(())
    }

    pub(super) fn measures(&self, pattern: Option<&str>, page: &mut Page) -> Result<(), Problems> {
        if change_report::measures(page, self.trial.now(), pattern) > 0 {
            return Ok(());
        }
        let pattern = pattern.unwrap_or("");
        let problem = Problem::new(format!("no measure has `{}` in its name", clip(pattern, 40)));
        let names = self
            .trial
            .now()
            .measures
            .iter()
            .flat_map(|m| [&*m.id, m.id.split_once('.').map_or("", |(_, n)| n)]);
        Err(problem.help("`measures` lists them all").suggest(pattern, names).into())
    }
}

/// The edit that sets a field of the build; none when it is no field's name.
fn field_edit(name: &str, value: &str, currency: &str) -> Result<Option<Edit>, Problem> {
    let none = value == "none";
    if name == "priced_on" {
        let day = value.parse::<jiff::civil::Date>().map_err(|_| {
            Problem::new(format!("`{}` is not a day", clip(value, 40)))
                .help("a day is written YYYY-MM-DD")
        });
        return Ok(Some(Edit::Field {
            name: "priced_on",
            value: if none { None } else { Some(Word::Plain(day?.to_string())) },
        }));
    }
    let Some(field) = BUILD_FIELDS.iter().find(|f| f.name == name) else { return Ok(None) };
    let word = match field.takes {
        _ if none => None,
        Takes::Number(low, high) => {
            if value.parse::<f64>().is_err() {
                let problem = Problem::new(format!("`{}` is not a number", clip(value, 40)));
                return Err(problem.help(format!(
                    "{}: {}, {low} to {high}{}{}",
                    field.name,
                    field.meaning,
                    if field.unit.is_empty() { "" } else { " " },
                    field.unit
                )));
            }
            Some(Word::Plain(value.to_owned()))
        }
        Takes::Money | Takes::Rate if value.parse::<f64>().is_ok() => {
            Some(Word::Text(format!("{value} {currency}")))
        }
        _ => Some(Word::Text(value.to_owned())),
    };
    Ok(Some(Edit::Field { name: field.name, value: word }))
}

/// Words that people write in the place of a part.
const COMPARATIVES: &[&str] = &[
    "cheaper", "dearer", "better", "worse", "bigger", "larger", "smaller", "shorter", "faster",
    "slower", "quieter", "stronger", "weaker", "cheapest", "best", "up", "down",
];

/// The words of a line and of a part, a kind's name of several words whole: `swap graphics card
/// dowse` is not for a part "card dowse".
fn with_whole_kind(catalogue: &Catalogue, words: &[String], part: &str) -> (Vec<String>, String) {
    let all: Vec<&str> =
        words.iter().map(String::as_str).chain(part.split(' ').filter(|w| !w.is_empty())).collect();
    let (kind, rest) = part_words::kind_first(catalogue, &all);
    let longer = all.len() - rest.len() > words.len() && !rest.is_empty() && !words.is_empty();
    let Some(kind) = kind.and_then(|k| catalogue.kind(k)).filter(|_| longer) else {
        return (words.to_vec(), part.to_owned());
    };
    // `graphics card 2 dowse`: a number behind the kind says which line.
    let number = |w: &&str| w.trim_start_matches('#').parse::<usize>().is_ok_and(|n| n <= 30);
    let nth = rest.first().filter(|w| rest.len() > 1 && number(w));
    let line = [&*kind.name].into_iter().chain(nth.copied()).map(str::to_owned).collect();
    (line, rest.get(usize::from(nth.is_some())..).unwrap_or(&[]).join(" "))
}

/// What a key of a line takes, where `set` gives none.
fn no_value(line: &str, key: &str) -> Problem {
    let one = match key {
        "count" => "2",
        "mount" => "front",
        "flow" => "in",
        "owned" | "included" => "yes",
        _ => "\"tested at the bench\"",
    };
    Problem::new(format!("`{key}` needs a value"))
        .help(format!("`set {} {key} {one}`, for one; `none` takes it out", clip(line, 40)))
}

/// The value of a line's key as it is written; none takes the key out.
fn line_value(key: &str, value: &str) -> Result<Option<Word>, Problem> {
    if value == "none" {
        return Ok(None);
    }
    Ok(Some(match key {
        "count" => match value.trim_start_matches(['x', '×']).parse::<u32>() {
            Ok(n) => Word::Plain(n.to_string()),
            Err(_) => {
                return Err(Problem::new(format!("`{}` is not a count", clip(value, 40)))
                    .help(format!("a whole number from 1 to {}", crate::build::MAX_COUNT)));
            }
        },
        "owned" | "included" => match value {
            "yes" | "true" => Word::Flag(true),
            "no" | "false" => Word::Flag(false),
            _ => return Err(Problem::new(format!("`{key}` is yes or no"))),
        },
        _ => Word::Text(value.to_owned()),
    }))
}
