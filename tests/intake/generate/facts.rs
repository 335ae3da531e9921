//! A fact about a part, as a customer adds it to a name.

use super::parts::{Part, num, text_of};
use super::rng::Rng;

/// Which parts something said is true of.
pub(super) type Fits = Box<dyn Fn(&Part) -> bool>;

/// Words, and which parts they are true of.
type Fact = (String, Fits);

fn same(key: &'static str, part: &Part) -> Fits {
    let value = part.table.get(key).cloned();
    Box::new(move |other: &Part| other.table.get(key) == value.as_ref())
}

fn yes(part: &Part, key: &str) -> bool {
    part.table.get(key).and_then(|v| v.as_bool()) == Some(true)
}

fn flag(key: &'static str) -> Fits {
    Box::new(move |part: &Part| yes(part, key))
}

/// A fact about a part in a customer's words, and which parts it is true of.
pub(super) fn fact(part: &Part, rng: &mut Rng, lang: &str) -> Option<Fact> {
    Some(match part.kind.as_str() {
        "storage" => return of_storage(part, rng),
        "supply" => return of_supply(part, rng, lang),
        "board" => return of_board(part, rng),
        "display" => return of_display(part, rng),
        "fan" => match rng.below(2) {
            0 => (text_of(part, "control").to_uppercase(), same("control", part)),
            _ => (format!("{} mm", num(part, "size_mm")?), same("size_mm", part)),
        },
        "graphics" => (format!("{} GB", num(part, "memory_gb")?), same("memory_gb", part)),
        "processor" => {
            let cores = num(part, "cores")?;
            let text = match lang {
                "de" => format!("{cores} Kerne"),
                "fr" => format!("{cores} cœurs"),
                _ => format!("{cores}-core"),
            };
            (text, same("cores", part))
        }
        "cooler" if text_of(part, "cooling") == "liquid" => {
            (rng.pick(&["AIO", "liquid"]).to_string(), same("cooling", part))
        }
        "memory" if rng.chance(50) => (format!("CL{}", num(part, "cl")?), same("cl", part)),
        _ => return None,
    })
}

fn of_storage(part: &Part, rng: &mut Rng) -> Option<Fact> {
    let ssd = text_of(part, "media") == "flash";
    Some(match rng.below(4) {
        0 if ssd => ("SSD".into(), same("media", part)),
        0 => ("HDD".into(), same("media", part)),
        1 => (
            if text_of(part, "interface") == "nvme" { "NVMe" } else { "SATA" }.into(),
            same("interface", part),
        ),
        2 => match text_of(part, "form") {
            "m2" => ("M.2".into(), same("form", part)),
            "2.5" => (
                rng.pick(&["2.5in", "2.5\"", "2,5 Zoll", "2.5-inch"]).to_string(),
                same("form", part),
            ),
            _ => (rng.pick(&["3.5in", "3.5\"", "3,5 Zoll"]).to_string(), same("form", part)),
        },
        _ => match num(part, "m2_length_mm")? as u32 {
            80 => ("2280".into(), same("m2_length_mm", part)),
            30 => ("2230".into(), same("m2_length_mm", part)),
            _ => return None,
        },
    })
}

fn of_supply(part: &Part, rng: &mut Rng, lang: &str) -> Option<Fact> {
    Some(match rng.below(3) {
        0 if yes(part, "modular") => {
            (if lang == "fr" { "modulaire" } else { "modular" }.into(), flag("modular"))
        }
        1 if text_of(part, "form") == "atx" => ("ATX".into(), same("form", part)),
        2 if !matches!(text_of(part, "grade"), "none" | "") => (
            rng.pick(&["80+", "80 Plus"]).to_string(),
            Box::new(|p: &Part| text_of(p, "grade") != "none"),
        ),
        _ => return None,
    })
}

fn of_board(part: &Part, rng: &mut Rng) -> Option<Fact> {
    Some(match rng.below(3) {
        0 => (text_of(part, "memory_kind").to_uppercase(), same("memory_kind", part)),
        1 if yes(part, "wifi") => (rng.pick(&["WiFi", "WLAN", "Wi-Fi"]).to_string(), flag("wifi")),
        _ => {
            let form = match text_of(part, "form") {
                "micro-atx" => *rng.pick(&["mATX", "Micro-ATX", "µATX", "M-ATX"]),
                "mini-itx" => *rng.pick(&["Mini-ITX", "ITX", "mini ITX"]),
                "atx" => "ATX",
                _ => return None,
            };
            (form.into(), same("form", part))
        }
    })
}

fn of_display(part: &Part, rng: &mut Rng) -> Option<Fact> {
    if rng.below(2) == 0 {
        let text = format!("{}{}", num(part, "refresh_hz")?, rng.pick(&[" Hz", "Hz", "hz"]));
        return Some((text, same("refresh_hz", part)));
    }
    let text = match num(part, "height_px")? as u32 {
        2160 => rng.pick(&["4K", "UHD", "2160p"]).to_string(),
        1440 => rng.pick(&["1440p", "WQHD"]).to_string(),
        1080 => rng.pick(&["1080p", "Full HD", "FHD"]).to_string(),
        _ => return None,
    };
    Some((text, same("height_px", part)))
}
