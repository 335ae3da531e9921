//! What the doc comment above a public function makes of it: a rule, a measure, a step of the work.

use crate::rules::loader::{Better, Rule, ScriptFile};
use crate::rules::outline::Outline;
use crate::source::Problem;

/// The rule that a public function is, by its doc comment.
pub(super) fn rule(
    file: &ScriptFile,
    file_at: u16,
    outline: &Outline<'_>,
    name: &str,
    params: usize,
    comments: &[&str],
) -> Result<Rule, Box<Problem>> {
    let (span, end) = outline.place(name);
    let problem = |message: String, help: &str| {
        Box::new(Problem::new(message).at(&file.source, span, "here").help(help))
    };
    if params != 1 {
        return Err(problem(
            format!("`{name}` takes {params} arguments, and a rule takes one, the build"),
            "write `private fn` before a helper",
        ));
    }
    let doc = Doc::read(comments);
    if doc.title.is_empty() {
        return Err(problem(
            format!("`{name}` is public and has no doc comment, so it is no rule"),
            "write `/// What it checks.` above it, or `private fn` for a helper",
        ));
    }
    if let Some(head) = doc.empty_head() {
        return Err(problem(
            format!("`{name}` says `{head}:` and nothing after it"),
            "write what belongs there, such as `Unit: W`, or take the line out",
        ));
    }
    let Meant { better, assumes_nothing, step } =
        doc.meant().map_err(|(says, help)| problem(format!("`{name}` says {says}"), help))?;
    Ok(Rule {
        id: format!("{}.{name}", file.stem).into(),
        file: file.stem.clone(),
        function: name.to_owned(),
        title: doc.title.into(),
        why: doc.why,
        basis: doc.basis,
        remedy: doc.remedy,
        on_sheet: doc.on_sheet,
        unit: doc.unit.map(Into::into),
        better,
        assumes_nothing,
        step,
        audience: doc.audience,
        levels: Vec::new(),
        file_at,
        span,
        end,
        layer: file.layer.clone(),
        over: None,
        flaw: None,
        off: false,
        counts_as: None,
    })
}

/// A doc comment, taken apart.
#[derive(Debug, Default)]
struct Doc {
    title: String,
    why: String,
    basis: String,
    remedy: String,
    unit: Option<String>,
    better: Option<String>,
    assume: Option<String>,
    /// The heads that it has, in order.
    heads: Vec<&'static str>,
    on_sheet: bool,
    step: Option<String>,
    audience: Option<String>,
}

/// What the lines that take one word or number mean.
struct Meant {
    better: Option<Better>,
    assumes_nothing: bool,
    step: Option<u32>,
}

impl Doc {
    /// What its lines of one word mean, or which of them means nothing and what to write.
    fn meant(&self) -> Result<Meant, (String, &'static str)> {
        let better = match self.better.as_deref() {
            None => None,
            Some("more") => Some(Better::More),
            Some("less") => Some(Better::Less),
            Some(_) => {
                return Err((
                    "`Better:` and neither more nor less after it".to_owned(),
                    "write `Better: more` or `Better: less`",
                ));
            }
        };
        let assumes_nothing = match self.assume.as_deref() {
            None => false,
            Some("never") => true,
            Some(_) => {
                return Err((
                    "`Assume:` and not `never` after it".to_owned(),
                    "write `Assume: never`, or leave it out",
                ));
            }
        };
        let step = match self.step.as_deref().map(str::parse) {
            None => None,
            Some(Ok(order)) => Some(order),
            Some(Err(_)) => {
                return Err((
                    "`Step:` and no whole number after it".to_owned(),
                    "write the step's place in the order of work, such as `Step: 20`",
                ));
            }
        };
        if let Some(other) = self.audience.as_deref().filter(|a| *a != "office") {
            return Err((
                format!("`For: {other}`, and there is no such leaf of its own"),
                "write `For: office`, or leave it out where everyone should see it",
            ));
        }
        Ok(Meant { better, assumes_nothing, step })
    }

    /// The first head that nothing follows.
    fn empty_head(&self) -> Option<&'static str> {
        let text = |head: &str| match head {
            "Unit" => self.unit.as_deref().unwrap_or(""),
            "Basis" => &self.basis,
            "Remedy" => &self.remedy,
            "Assume" => self.assume.as_deref().unwrap_or(""),
            "Step" => self.step.as_deref().unwrap_or(""),
            "For" => self.audience.as_deref().unwrap_or(""),
            _ => self.better.as_deref().unwrap_or(""),
        };
        self.heads.iter().copied().find(|head| text(head).is_empty())
    }

    fn read(comments: &[&str]) -> Self {
        let mut doc = Self::default();
        let mut part = "";
        for line in
            comments.iter().flat_map(|c| c.lines()).map(|l| l.trim().trim_start_matches('/').trim())
        {
            let heads = ["Unit", "Basis", "Remedy", "Better", "Assume", "Step", "For"];
            let after = |h: &&&str| line.strip_prefix(**h).is_some_and(|r| r.starts_with(':'));
            doc.heads.extend(heads.iter().find(after));
            let text = if let Some(rest) = line.strip_prefix("Basis:") {
                part = "basis";
                rest.trim()
            } else if let Some(rest) = line.strip_prefix("Remedy:") {
                part = "remedy";
                rest.trim()
            } else if let Some(rest) = line.strip_prefix("Unit:") {
                doc.unit = Some(rest.trim().to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Shown:") {
                doc.on_sheet = rest.trim().trim_end_matches('.') == "on the sheet";
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("For:") {
                doc.audience = Some(rest.trim().trim_end_matches('.').to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Step:") {
                doc.step = Some(rest.trim().to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Better:") {
                doc.better = Some(rest.trim().trim_end_matches('.').to_owned());
                part = "why";
                continue;
            } else if let Some(rest) = line.strip_prefix("Assume:") {
                doc.assume = Some(rest.trim().trim_end_matches('.').to_owned());
                part = "why";
                continue;
            } else {
                line
            };
            let into = match part {
                "basis" => &mut doc.basis,
                "remedy" => &mut doc.remedy,
                "why" => &mut doc.why,
                _ if text.is_empty() => continue,
                _ => {
                    part = "why";
                    &mut doc.title
                }
            };
            if !into.is_empty() && !text.is_empty() {
                into.push(' ');
            }
            into.push_str(text);
        }
        doc
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doc_comments_come_apart() {
        let doc = Doc::read(&[
            "/// Title here.\n/// More of it.\n/// Unit: W\n/// Basis: a source,\n/// second \
             line.\n/// Remedy: do this.",
        ]);
        assert_eq!(doc.title, "Title here.");
        assert_eq!(doc.why, "More of it.");
        assert_eq!(doc.unit.as_deref(), Some("W"));
        assert_eq!(doc.basis, "a source, second line.");
        assert_eq!(doc.remedy, "do this.");
    }
}
