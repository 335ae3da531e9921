//! What a kind's file may say: one list for its reader and for editors.

use super::declared::{Declared, Takes, key, needed};

/// What a kind's file says at its top.
pub(crate) const KIND: Declared = Declared {
    of: "a kind",
    keys: &[
        needed("kind", Takes::Text, "its word in files and scripts"),
        key("title", Takes::Text, "what people call it"),
        key("meaning", Takes::Text, "what it is"),
        key("also", Takes::Texts, "other words for it in lists that people send"),
        key("figures", Takes::Texts, "the fields shown beside its parts"),
        key(
            "shown",
            Takes::Texts,
            "the fields that lists show of a part beside its name and price",
        ),
        key("single", Takes::Flag, "whether a PC has one at the most"),
        key(
            "mounted",
            Takes::Flag,
            "whether a list says where its parts go and which way they blow",
        ),
        key(
            "heat",
            Takes::Words(&["processor", "cards", "front", "cooler"]),
            "where the heat of its parts goes",
        ),
        key(
            "billed_as",
            Takes::Words(&["pc", "displays", "extras"]),
            "which share of the price its parts are",
        ),
        key("ranks", Takes::Texts, "the fields by which one of its parts is better than another"),
        key("field", Takes::Other, "its fields, `[field.NAME]`"),
    ],
};

/// What a field of a kind says.
pub(crate) const FIELD: Declared = Declared {
    of: "a field",
    keys: &[
        needed(
            "type",
            Takes::Words(&["number", "text", "flag", "list", "counts", "records"]),
            "what it holds",
        ),
        key("unit", Takes::Text, "unit of its numbers"),
        key("meaning", Takes::Text, "what it means"),
        key("min", Takes::Figure, "the least that it may be"),
        key("max", Takes::Figure, "the most that it may be"),
        key("one_of", Takes::Texts, "the words that it may be"),
        key("from", Takes::Text, "the table whose rows are the words that it may be"),
        key("keys", Takes::Text, "the table whose rows are counted"),
        key("required", Takes::Flag, "whether every part must give it"),
        key("optional", Takes::Flag, "whether a part may have none"),
        key("absent", Takes::Other, "what leaving it out means"),
        key("stated", Takes::Flag, "whether it counts only where a part states it"),
        key("usual", Takes::Other, "what it commonly is: a value, or [low, high]"),
        key("usual_times", Takes::Other, "what it commonly is, as a share of another field"),
        key("usual_absent", Takes::Flag, "whether a part commonly has none"),
        key("usual_also", Takes::Other, "records that a part has besides those its page names"),
        key("usual_basis", Takes::Text, "where that is known from"),
        key("also", Takes::Texts, "other words for it on makers' pages"),
        key("spelled", Takes::Other, "other words for its values on makers' pages"),
        key("field", Takes::Other, "the fields of each record, `[field.NAME.field.NAME]`"),
    ],
};
