//! The schema of `dryfit.toml`: what its reader holds, and the words that come from elsewhere.

use clap::ValueEnum as _;
use serde_json::{Map, Value, json};

use super::schema_declared::table;
use super::schema_parts::{closed, number, one_of, text};
use crate::app::args::Format;
use crate::config::packs::PACK;
use crate::config::read::{CONFIG, MAX_DAYS, MAX_MARGIN, MAX_PERCENT};
use crate::kit::Kit;
use crate::level::LEVELS;
use crate::trade::money::Currency;

/// What `dryfit.toml` may hold.
pub(crate) fn config(kit: &Kit) -> Value {
    let mut whole = table(kit.catalogue(), &CONFIG);
    let formats: Vec<String> = Format::value_variants()
        .iter()
        .filter_map(|f| f.to_possible_value().map(|v| v.get_name().to_owned()))
        .collect();
    let all = &mut whole["properties"];
    let levels = LEVELS.iter().map(|level| (*level).to_owned()).collect();
    let currencies = Currency::all().map(|c| c.code().to_owned()).collect();
    for (name, words) in [("format", formats), ("fail_on", levels), ("currency", currencies)] {
        all[name] = one_of(all[name]["description"].as_str().unwrap_or(""), words);
    }
    let mut pack = table(kit.catalogue(), &PACK);
    pack["oneOf"] = json!([{ "required": ["folder"] }, { "required": ["git", "revision"] }]);
    all["packs"] = json!({ "type": "object", "additionalProperties": pack,
                           "description": all["packs"]["description"].take() });
    let shop = &mut all["shop"]["properties"];
    shop["address"] = json!({ "type": "array", "items": { "type": "string" } });
    shop["valid_days"]["maximum"] = json!(f64::from(MAX_DAYS));
    shop["labour"]["items"]["properties"]["price"] = text("what it costs: 85.00 EUR");
    for (name, most) in [("markup_percent", MAX_PERCENT), ("margin_percent", MAX_MARGIN)] {
        let meaning = shop[name]["description"].take();
        shop[name] = json!({ "description": meaning, "oneOf": by_kind(kit, most) });
    }
    whole["dependentRequired"] = json!({ "replaces": ["reason"], "reason": ["replaces"] });
    whole
}

/// A per cent for all kinds, or one for each.
fn by_kind(kit: &Kit, most: f64) -> [Value; 2] {
    let percent = |meaning: &str| number(meaning, "%", 0.0, most, None);
    let of_kinds = kit.catalogue().kinds.iter();
    let mut kinds: Map<String, Value> =
        of_kinds.map(|kind| (kind.name.to_string(), percent(&kind.title))).collect();
    kinds.insert("all".into(), percent("kinds not named"));
    [percent("for all"), closed(kinds, &[])]
}
