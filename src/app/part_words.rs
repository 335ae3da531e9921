//! Parts by the words people use: an id or its second half, a shown name, a piece of one, or what
//! tells the part from others, as "550 gold" does among power supplies.

use std::sync::Arc;

use crate::app::left_out;
use crate::audit::wording::figure;
use crate::catalogue::kinds::KindId;
use crate::catalogue::{Catalogue, Part};
use crate::intake::{Aliases, Intake};
use crate::source::Problem;
use crate::words::{clip, nearest, some_of};

/// Figures shown beside the name of a part.
const FIGURES: usize = 3;

/// The one part that a text means, of a kind where that is known.
/// Errors: none fits or several do; the message names the likely ones.
pub(crate) fn one(
    catalogue: &Catalogue,
    text: &str,
    kind: Option<KindId>,
) -> Result<Arc<Part>, Problem> {
    let title = kind.and_then(|kind| catalogue.kind(kind)).map(|kind| &*kind.name);
    let whole = title.and_then(|kind| catalogue.part(&format!("{kind}/{text}")));
    if let Some(part) = catalogue.part(text).or(whole) {
        return Ok(part.clone());
    }
    if let Some(problem) = catalogue.why_broken(text).and_then(|b| left_out::reasons(b).next()) {
        return Err(problem);
    }
    let of_kind = || catalogue.parts().filter(|p| kind.is_none_or(|kind| p.kind == kind));
    let short = |part: &Part| part.id.split_once('/').is_some_and(|(_, name)| name == text);
    let fits: Vec<&Arc<Part>> = of_kind().filter(|p| short(p)).collect();
    let (found, sure) = match fits.as_slice() {
        [only] => return Ok((*only).clone()),
        [] => Intake::new(catalogue, Aliases::default()).parts_named(text, kind),
        _ => (Vec::new(), false),
    };
    let found = found.iter().filter_map(|at| catalogue.part_at(*at));
    let parts: Vec<&Arc<Part>> = fits.into_iter().chain(found).collect();
    match parts.as_slice() {
        [only] if sure => Ok((*only).clone()),
        [] => Err(nothing_called(catalogue, text, title)),
        several => Err(Problem::new(format!("`{}` may be several parts", clip(text, 60)))
            .help(format!("say which: {}", some_of(several.iter().map(|p| &*p.id), 8)))),
    }
}

fn nothing_called(catalogue: &Catalogue, text: &str, kind: Option<&str>) -> Problem {
    let problem = Problem::new(format!("there is no part {} in the catalogue", clip(text, 60)));
    let wanted = text.split_once('/').map(|(kind, _)| kind).or(kind);
    let halves = || catalogue.parts().filter_map(|p| Some((p.id.split_once('/')?, &*p.id)));
    let of_kind = || halves().filter(|((own, _), _)| wanted.is_none_or(|kind| kind == *own));
    let by_half = || {
        let near = nearest(text, of_kind().map(|((_, name), _)| name))?;
        of_kind().find(|((_, name), _)| *name == near).map(|(_, id)| id)
    };
    let near = nearest(text, of_kind().map(|(_, id)| id)).or_else(by_half);
    match near.or_else(|| nearest(text, halves().map(|(_, id)| id))) {
        Some(near) => problem.help(format!("did you mean {near}?")),
        None => problem.help(match wanted {
            Some(kind) => format!("`parts {kind}` lists the parts of the kind"),
            None => "`parts` lists the kinds, `parts KIND` the parts of one".to_owned(),
        }),
    }
}

/// Parts of a kind, or of any, that a text names or describes, those first whose name has it.
pub(crate) fn all<'c>(
    catalogue: &'c Catalogue,
    text: &str,
    kind: Option<KindId>,
) -> Result<Vec<&'c Arc<Part>>, Problem> {
    let low = text.to_lowercase();
    let mut found: Vec<&Arc<Part>> = (catalogue.parts())
        .filter(|p| kind.is_none_or(|kind| p.kind == kind))
        .filter(|p| p.name.to_lowercase().contains(&low) || p.id.contains(&*low))
        .collect();
    let (near, _) = Intake::new(catalogue, Aliases::default()).parts_named(text, kind);
    for part in near.iter().filter_map(|at| catalogue.part_at(*at)) {
        if !found.iter().any(|p| p.id == part.id) {
            found.push(part);
        }
    }
    if found.is_empty() {
        let kinds = catalogue.kinds.iter().map(|k| &*k.name);
        let text = clip(text, 60);
        return Err(match kind.and_then(|kind| catalogue.kind(kind)) {
            Some(kind) => Problem::new(format!("no {} is called \"{text}\"", kind.title))
                .help(format!("`parts {}` lists them all", kind.name)),
            None => Problem::new(format!("there is no kind and no part called \"{text}\""))
                .suggest(&text, kinds),
        });
    }
    Ok(found)
}

/// The ids of those of a kind; none where the words name the kind and no more, as "psu" does and
/// "nvme ssd" does not.
pub(crate) fn among(
    catalogue: &Catalogue,
    words: &[&str],
    kind: KindId,
) -> Result<Option<Vec<Arc<str>>>, Problem> {
    let text = words.join(" ");
    let found = match all(catalogue, &text, Some(kind)) {
        Err(_) if catalogue.kind_called(&text) == Some(kind) => return Ok(None),
        found => found?,
    };
    let some = found.len() < catalogue.parts_of(kind).count();
    Ok(some.then(|| found.into_iter().map(|p| p.id.clone()).collect()))
}

/// The kind that the first words name, "graphics card" as well as "psu", and the words behind.
pub(crate) fn kind_first<'w>(
    catalogue: &Catalogue,
    words: &'w [&'w str],
) -> (Option<KindId>, &'w [&'w str]) {
    let named = (1..=words.len()).rev().find_map(|count| {
        let (kind, rest) = words.split_at_checked(count)?;
        Some((catalogue.kind_called(&kind.join(" "))?, rest))
    });
    named.map_or((None, words), |(kind, rest)| (Some(kind), rest))
}

/// The figures by which a part is told from others of its kind.
pub(crate) fn figures(catalogue: &Catalogue, part: &Part) -> Vec<String> {
    let ranks = catalogue.kind(part.kind).map_or(&[][..], |kind| &kind.ranks);
    let shown = ranks.iter().filter_map(|rank| {
        let value = rank.of(part)?;
        let name = if rank.unit.is_empty() { format!(" {}", rank.words) } else { String::new() };
        Some(format!("{}{name}", figure(value, &rank.unit, "")))
    });
    shown.take(FIGURES).collect()
}
