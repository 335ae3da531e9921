//! What a build file says of money beside its prices: quotes on its lines, and the bundles that are
//! worth having.

use std::sync::Arc;

use toml::Spanned;
use toml::de::DeValue;

use super::{Quote, waivers};
use crate::catalogue::Catalogue;
use crate::catalogue::field_reader::{found, key_span};
use crate::source::{Problem, Problems, Source};
use crate::trade::money::Money;
use crate::words::clip;

const HELP: &str = "a quote is written `quoted = { price = \"89.00 EUR\", on = 2026-11-20 }`; \
 `dryfit prices quote BUILD` writes it";

/// Reads `quoted = { price = "…", on = DAY }`.
pub(super) fn read(
    source: &Arc<Source>,
    value: &Spanned<DeValue<'_>>,
    problems: &mut Problems,
) -> Option<Quote> {
    let Some(table) = value.get_ref().as_table() else {
        problems.push(
            Problem::new("`quoted` must be a table")
                .at(source, value.span().into(), format!("this is {}", found(value.get_ref())))
                .help(HELP),
        );
        return None;
    };
    for (key, _) in table.iter().filter(|(k, _)| !["price", "on"].contains(&&**k.get_ref())) {
        problems.push(
            Problem::new(format!("a quote has no `{}`", clip(key.get_ref(), 40)))
                .at(source, key_span(key), "unknown")
                .help(HELP),
        );
    }
    let price = table.get("price").map(|v| (v.get_ref().as_str().map(Money::parse), v));
    let on = table.get("on").map(|v| (waivers::day(v.get_ref()), v));
    if price.is_none() || on.is_none() {
        problems.push(
            Problem::new("a quote gives a price and a day")
                .at(source, value.span().into(), "here")
                .help(HELP),
        );
    }
    let price = price.and_then(|(price, at)| match price {
        Some(Ok(price)) if !price.is_negative() => Some(price),
        other => {
            let why = match other {
                Some(Err(error)) => error.to_string(),
                Some(Ok(_)) => "a price is not negative".to_owned(),
                None => format!("this is {}", found(at.get_ref())),
            };
            problems.push(
                Problem::new("the price of a quote cannot be read")
                    .at(source, at.span().into(), why)
                    .help(HELP),
            );
            None
        }
    });
    let on = on.and_then(|(on, at)| {
        if on.is_none() {
            problems.push(Problem::new("a day is written YYYY-MM-DD").at(
                source,
                at.span().into(),
                format!("this is {}", found(at.get_ref())),
            ));
        }
        on
    });
    Some(Quote { price: price?, on: on?, span: value.span().into() })
}

/// Reads `bundles = ["paste/…", …]`.
pub(super) fn bundles(
    source: &Arc<Source>,
    catalogue: &Catalogue,
    value: &Spanned<DeValue<'_>>,
    problems: &mut Problems,
) -> Vec<Arc<str>> {
    let Some(items) = value.get_ref().as_array() else {
        let problem = Problem::new("`bundles` must be a list of parts").at(
            source,
            value.span().into(),
            format!("this is {}", found(value.get_ref())),
        );
        problems.push(problem.help(
            "name the parts that are worth having when a seller adds them: \
         bundles = [\"kind/name\"]",
        ));
        return Vec::new();
    };
    let mut wanted = Vec::new();
    for item in items {
        match item.get_ref().as_str().map(|id| (id, catalogue.part(id))) {
            Some((_, Some(part))) => wanted.push(part.id.clone()),
            Some((id, None)) => {
                let problem = Problem::new(format!(
                    "there is no part {} in the catalogue",
                    clip(id, 60)
                ))
                .at(source, item.span().into(), "unknown part");
                problems.push(problem.suggest(id, catalogue.parts.iter().map(|p| &*p.id)));
            }
            None => problems.push(Problem::new("a part is named by a text").at(
                source,
                item.span().into(),
                format!("this is {}", found(item.get_ref())),
            )),
        }
    }
    wanted
}
