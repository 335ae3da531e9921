//! The schema of `dryfit.toml`.

use clap::ValueEnum as _;
use serde_json::{Map, Value, json};

use super::schema_parts::{closed, number, one_of, text};
use crate::app::args::Format;
use crate::config::packs::PACK_KEYS;
use crate::config::read::{KEYS, MAX_DAYS, MAX_MARGIN, MAX_PERCENT, SHOP_KEYS};
use crate::config::{DateForm, NumberForm};
use crate::kit::Kit;
use crate::trade::money::Currency;

/// What `dryfit.toml` may hold.
pub(super) fn config(kit: &Kit) -> Value {
    let formats = Format::value_variants()
        .iter()
        .filter_map(|f| f.to_possible_value().map(|v| v.get_name().to_owned()));
    let properties = json!({
        "rules": text("the shop's rules, from the folder of this file"),
        "catalogue": text("the shop's catalogue, likewise"),
        "replaces": {
            "type": "array",
            "items": { "type": "string" },
            "description": "files of the layers below whose place the shop's take, such as fit",
        },
        "reason": text("why they do"),
        "format": one_of("how `audit` writes when no option says", formats.collect()),
        "fail_on": one_of(
            "the level that makes `audit` fail when no option says",
            ["stop", "caution", "advice"].map(str::to_owned).to_vec(),
        ),
        "currency": one_of(
            "the currency of lists that name none",
            Currency::all().map(|c| c.code().to_owned()).collect(),
        ),
        "handbook": text("the address of the shop's handbook"),
        "packs": packs(),
        "shop": shop(kit),
    });
    debug_assert!(KEYS.iter().all(|key| properties.get(*key).is_some()));
    let mut whole = closed(properties, &[]);
    whole["dependentRequired"] = json!({ "replaces": ["reason"], "reason": ["replaces"] });
    whole
}

fn packs() -> Value {
    let mut pack = closed(
        json!({
            "folder": text("the folder it lies in, from the folder of this file"),
            "git": text("the address of its git repository"),
            "revision": text("a commit, tag or branch of the repository"),
            "prefix": text("how its names begin; its own name when left out"),
            "sha256": text("the checksum that its files must have"),
            "needs": text("the versions of dryfit that it is for, such as >= 0.1"),
        }),
        &[],
    );
    debug_assert!(PACK_KEYS.iter().all(|key| pack["properties"].get(*key).is_some()));
    pack["oneOf"] = json!([{ "required": ["folder"] }, { "required": ["git", "revision"] }]);
    json!({ "type": "object", "additionalProperties": pack,
            "description": "rules and parts of others, by what the shop calls them" })
}

fn shop(kit: &Kit) -> Value {
    let percent = |meaning: &str, most: f64| number(meaning, "%", 0.0, most, None);
    let by_kind = |meaning: &str, most: f64| {
        let of_kinds = kit.catalogue().kinds.iter();
        let mut kinds: Map<String, Value> =
            of_kinds.map(|kind| (kind.name.to_string(), percent(&kind.title, most))).collect();
        kinds.insert("all".into(), percent("kinds not named", most));
        json!({
            "description": meaning,
            "oneOf": [percent("for all", most), closed(kinds, &[])],
        })
    };
    let names = |names: Vec<&str>| names.into_iter().map(str::to_owned).collect();
    let labour = closed(
        json!({ "what": text("what is done"), "price": text("what it costs: 85.00 EUR") }),
        &["what", "price"],
    );
    let tax = closed(
        json!({
            "name": text("what it is called"),
            "percent": percent("its rate", MAX_PERCENT),
            "included": { "type": "boolean", "description": "whether prices hold it already" },
        }),
        &["name", "percent", "included"],
    );
    let properties = json!({
        "name": text("the shop's name"),
        "address": { "type": "array", "items": { "type": "string" } },
        "logo": text("a picture file of its sign, from the folder of this file"),
        "job_numbers": text(
            "how job numbers are made: {year}, {month}, {day} and {list} are filled in",
        ),
        "valid_days": { "type": "integer", "minimum": 1, "maximum": MAX_DAYS,
            "description": "how many days an offer holds" },
        "dates": one_of("how dates are written", names(DateForm::ALL.map(|(n, _)| n).to_vec())),
        "numbers": one_of(
            "how numbers are written",
            names(NumberForm::ALL.map(|(n, _)| n).to_vec()),
        ),
        "labour": { "type": "array", "items": labour, "description": "work that is charged" },
        "markup_percent": by_kind(
            "what is added to the purchase price of parts, for all or by kind", MAX_PERCENT),
        "margin_percent": by_kind(
            "what the shop keeps of the selling price of parts, for all or by kind", MAX_MARGIN),
        "discount_percent": percent("what is taken off goods", 100.0),
        "tax": tax,
    });
    debug_assert!(SHOP_KEYS.iter().all(|key| properties.get(*key).is_some()));
    closed(properties, &[])
}
