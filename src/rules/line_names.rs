//! The names that mean something after the dot of a line or of the build, and what each means.

use crate::audit::expr::{BuildWord, LineWord};
use crate::build::fields::{BUILD_FIELDS, build_field};
use crate::catalogue::Catalogue;
use crate::catalogue::kinds::{FieldType, Kind, KindId};
use crate::rules::host::{Res, say_help};
use crate::words::{nearest, some_of};

/// What a line answers beside its part's fields.
pub(crate) const LINE_VALUES: &[(&str, LineWord, &str)] = &[
    ("count", LineWord::Count, "pieces on the line"),
    ("mount", LineWord::Mount, "where it is fitted; optional"),
    ("flow", LineWord::Flow, "which way it blows, \"in\" or \"out\"; optional"),
    (
        "flow_usual",
        LineWord::FlowUsual,
        "whether nobody says which way it blows, so that it counts as is usual at its mount",
    ),
    ("owned", LineWord::Owned, "whether the customer has it already"),
    ("included", LineWord::Included, "whether it is included with another part"),
    ("price", LineWord::Price, "purchase price of one on the pricing day; optional"),
    ("mail_rebate", LineWord::MailRebate, "mail-in rebate for one; optional"),
    ("credit", LineWord::Credit, "credit for a later purchase that comes with one; optional"),
    ("bundle_value", LineWord::BundleValue, "stated value of what comes with one; optional"),
    ("shipping", LineWord::Shipping, "shipping of an order of this alone; optional"),
    ("stock", LineWord::Stock, "pieces in stock over all sellers that state it; optional"),
    ("sellers", LineWord::Sellers, "sellers that have it or do not say"),
    ("offer_age_days", LineWord::OfferAge, "days since the chosen offer was seen; optional"),
    (
        "support_until_days",
        LineWord::SupportDays,
        "days until the maker's support ends, negative when it has; optional",
    ),
];

/// What a build answers beside its fields and its kinds.
pub(crate) const OTHER_BUILD_WORDS: &[&str] = &["lines", "total", "unpriced"];

/// Every name that means something after the dot of a line of a kind.
pub(crate) fn line_names(kind: &Kind) -> impl Iterator<Item = &str> + Clone {
    let fields = kind.fields.iter().map(|f| &*f.name);
    fields.chain(LINE_VALUES.iter().map(|(name, ..)| *name)).chain(["kind"])
}

/// Every name that means something after the build's dot.
pub(crate) fn build_names(catalogue: &Catalogue) -> impl Iterator<Item = &str> + Clone {
    let fields = BUILD_FIELDS.iter().map(|f| f.name).chain(OTHER_BUILD_WORDS.iter().copied());
    catalogue.kinds.iter().map(|k| &*k.name).chain(fields)
}

/// What a name after a line's dot means on lines of a kind.
#[derive(Debug, Clone, Copy)]
pub(crate) enum LineProperty {
    /// The kind itself.
    Kind,
    /// Something of the line.
    Word(LineWord),
    /// A field of its part, whether it holds records, whether it may be left out, and whether it
    /// has no default, so that a rule case may leave it out.
    Field { at: u16, records: bool, optional: bool, bare: bool },
    /// Nothing.
    Nothing,
}

impl LineProperty {
    pub(crate) fn by(kind: &Kind, name: &str) -> Self {
        if name == "kind" {
            return Self::Kind;
        }
        if let Some((_, word, _)) = LINE_VALUES.iter().find(|(n, ..)| *n == name) {
            return Self::Word(*word);
        }
        kind.field(name).map_or(Self::Nothing, |(at, field)| Self::Field {
            at,
            records: matches!(field.ty, FieldType::Records(_)),
            optional: field.may_lack(),
            bare: field.absent.is_none(),
        })
    }
}

/// What a name after the build's dot means.
#[derive(Debug, Clone, Copy)]
pub(super) enum OfBuild {
    /// A field, or what the list comes to.
    Word { word: BuildWord, may_lack: bool },
    /// Every line.
    Lines,
    /// The first line of a kind.
    Kind(KindId),
    /// Nothing.
    Nothing,
}

impl OfBuild {
    pub(super) fn by(catalogue: &Catalogue, name: &str) -> Self {
        let field = |at: u8| BUILD_FIELDS.get(at as usize).is_some_and(|f| f.default.is_none());
        match (name, build_field(name)) {
            ("total", _) => Self::Word { word: BuildWord::Total, may_lack: true },
            ("unpriced", _) => Self::Word { word: BuildWord::Unpriced, may_lack: true },
            ("lines", _) => Self::Lines,
            (_, Some(at)) => Self::Word { word: BuildWord::Field(at), may_lack: field(at) },
            (_, None) => catalogue.kind_id(name).map_or(Self::Nothing, Self::Kind),
        }
    }
}

pub(super) fn no_such<T>(of: &str, name: &str, names: &mut dyn Iterator<Item = &str>) -> Res<T> {
    no_such_word(&format!("{of} has no"), name, names)
}

pub(crate) fn no_such_word<T>(
    lead: &str,
    name: &str,
    names: &mut dyn Iterator<Item = &str>,
) -> Res<T> {
    let names: Vec<&str> = names.collect();
    let name = crate::words::clip(name, 60);
    match nearest(&name, names.iter().copied()) {
        Some(near) => say_help(format!("{lead} `{name}`"), format!("did you mean `{near}`?")),
        None => say_help(format!("{lead} `{name}`"), format!("known here: {}", some_of(names, 30))),
    }
}
