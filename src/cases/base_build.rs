//! A case that starts from a whole build file: lines taken out, lines added, fields of the build
//! set anew.

use std::fs;
use std::path::{Component, Path};
use std::sync::Arc;

use jiff::civil::Date;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::build::fields::BUILD_FIELDS;
use crate::build::{Build, CaseBuild, What};
use crate::catalogue::Catalogue;
use crate::catalogue::field_reader::{found, parse};
use crate::layer::read_source;
use crate::source::{Problem, Problems, Source, Span};
use crate::words::clip;

/// Reads the base, with the case's edits.
pub(super) fn read(
    source: &Arc<Source>,
    base: &Spanned<DeValue<'_>>,
    case: &DeTable<'_>,
    keys: &DeTable<'_>,
    catalogue: &Catalogue,
    day: Date,
    problems: &mut Problems,
) -> Option<Build> {
    let file = match open(source, base) {
        Ok(file) => file,
        Err(problem) => {
            problems.push(*problem);
            return None;
        }
    };
    // Written behind the base, the case's own lines are read as the base's are; places in the base
    // stay what they were.
    let mut text = file.text.trim_end().to_owned();
    for line in case.get("line").and_then(|v| v.get_ref().as_array()).into_iter().flatten() {
        text.push_str(&line_text(source, line));
    }
    let own = file.text.trim_end().len();
    let joined = Source::new(file.name.clone(), text + "\n");
    let before = problems.0.len();
    let parsed = parse(&joined, problems);
    if problems.0.len() > before {
        return None;
    }
    let mut build = CaseBuild::read(
        &joined,
        catalogue,
        parsed.get_ref(),
        parsed.get_ref().get("line"),
        day,
        problems,
    );
    take_out(source, case, catalogue, &mut build, own, problems);
    let set = CaseBuild::read(source, catalogue, keys, None, build.priced_on, problems);
    for (at, field) in BUILD_FIELDS.iter().enumerate().filter(|(_, f)| keys.contains_key(f.name)) {
        if let (Some(slot), Some(span), Some(value)) =
            (build.values.get_mut(at), build.spans.get_mut(at), set.values.get(at))
        {
            slot.clone_from(value);
            // It stands in the cases file, not in the base, so there is no place in the base to
            // point at.
            *span = Span::default();
            let _ = field;
        }
    }
    build.priced_on = set.priced_on;
    Some(build)
}

/// The file, which lies in the folder that holds the rules folder, or below it.
fn open(source: &Arc<Source>, base: &Spanned<DeValue<'_>>) -> Result<Arc<Source>, Box<Problem>> {
    let span = Span::from(base.span());
    let wrong = |message: String, label: &str, help: &str| {
        Box::new(Problem::new(message).at(source, span, label).help(help))
    };
    let Some(name) = base.get_ref().as_str() else {
        return Err(wrong(
            "`base` must be the path of a build file".to_owned(),
            &format!("this is {}", found(base.get_ref())),
            "write it from the cases file: \"../build.toml\"",
        ));
    };
    let path = Path::new(name);
    if path.is_absolute()
        || path.components().any(|c| matches!(c, Component::Prefix(_)))
        || !name.ends_with(".toml")
    {
        return Err(wrong(
            "`base` must be a build file near the rules".to_owned(),
            "not such a path",
            "write it from the cases file: \"../build.toml\"",
        ));
    }
    let folder = Path::new(&source.name).parent().unwrap_or(Path::new(""));
    let whole = folder.join(path);
    let real =
        |p: &Path| fs::canonicalize(if p.as_os_str().is_empty() { Path::new(".") } else { p });
    let home = real(folder).ok().and_then(|f| f.parent().map(Path::to_path_buf));
    let missing = || {
        wrong(
            format!("there is no build file {}", clip(name, 80)),
            "the base of this case",
            "the path counts from the cases file",
        )
    };
    let found = real(&whole).map_err(|_| missing())?;
    if home.is_none_or(|home| !found.starts_with(home)) {
        return Err(wrong(
            "`base` must be a build file near the rules".to_owned(),
            "this path leaves the shop's folder",
            "copy the build beside the rules folder",
        ));
    }
    read_source(&whole).map_err(Box::new)
}

/// One line of the case as a line of a build file.
fn line_text(source: &Source, line: &Spanned<DeValue<'_>>) -> String {
    let mut text = "\n\n[[line]]\n".to_owned();
    for (key, value) in line.get_ref().as_table().into_iter().flatten() {
        text.push_str(&format!(
            "{} = {}\n",
            source.slice(key.span().into()),
            source.slice(value.span().into())
        ));
    }
    text
}

/// Takes lines of a kind or part out of the base, which is the first `own` bytes of what the build
/// was read from.
fn take_out(
    source: &Arc<Source>,
    case: &DeTable<'_>,
    catalogue: &Catalogue,
    build: &mut Build,
    own: usize,
    problems: &mut Problems,
) {
    let Some(without) = case.get("without") else { return };
    let Some(items) = without.get_ref().as_array() else {
        problems.push(
            Problem::new("`without` must be a list")
                .at(source, without.span().into(), format!("this is {}", found(without.get_ref())))
                .help("write kinds or parts: [\"graphics\"]"),
        );
        return;
    };
    for item in items {
        let Some(word) = item.get_ref().as_str() else {
            problems.push(Problem::new("`without` names kinds or parts").at(
                source,
                item.span().into(),
                format!("this is {}", found(item.get_ref())),
            ));
            continue;
        };
        let before = build.lines.len();
        build.lines.retain(|line| {
            let kind = catalogue.kind(line.kind()).is_some_and(|k| *k.name == *word);
            let part = matches!(&line.what, What::Part(part) if *part.id == *word);
            // What the case itself adds stays.
            line.spans.whole.start() >= own || (!kind && !part)
        });
        if build.lines.len() == before {
            let problem =
                Problem::new(format!("the base has no line of `{}` to take out", clip(word, 60)))
                    .at(source, item.span().into(), "nothing of this");
            problems.push(if catalogue.kind_id(word).is_some() {
                problem
            } else {
                problem.suggest(word, catalogue.kinds.iter().map(|k| &*k.name))
            });
        }
    }
}
