//! Boards, cases, cards and processors in the sentences of makers' pages, and the records they
//! hold.

use serde_json::{Map, Value, json};
use toml::{Table, Value as Toml};

use super::generate::Rng;

type Lines = Vec<(String, String)>;

fn list<'a>(part: &'a Table, key: &str) -> Vec<&'a Table> {
    part.get(key)
        .and_then(Toml::as_array)
        .into_iter()
        .flatten()
        .filter_map(Toml::as_table)
        .collect()
}

fn num(table: &Table, key: &str) -> f64 {
    let value = table.get(key);
    value.and_then(|v| v.as_float().or(v.as_integer().map(|n| n as f64))).unwrap_or(0.0)
}

fn text<'a>(table: &'a Table, key: &str) -> &'a str {
    table.get(key).and_then(Toml::as_str).unwrap_or("")
}

fn yes(table: &Table, key: &str) -> bool {
    table.get(key).and_then(Toml::as_bool) == Some(true)
}

fn put(must: &mut Map<String, Value>, field: &str, is: Value) {
    must.insert(field.to_owned(), json!({ "is": is, "from": "" }));
}

/// The statements of a part of one of these kinds.
pub(super) fn of(
    kind: &str,
    part: &Table,
    lang: usize,
    rng: &mut Rng,
) -> Option<(Lines, Map<String, Value>)> {
    let mut lines = Lines::new();
    let mut must = Map::new();
    match kind {
        "board" => board(part, lang, rng, &mut lines, &mut must),
        "case" => case(part, lang, rng, &mut lines, &mut must),
        "card" => card(part, lang, rng, &mut lines, &mut must),
        _ => return None,
    }
    Some((lines, must))
}

fn form(word: &str, rng: &mut Rng) -> String {
    match word {
        "micro-atx" => rng.pick(&["Micro-ATX", "mATX", "microATX"]).to_owned(),
        "mini-itx" => rng.pick(&["Mini-ITX", "Mini ITX"]).to_owned(),
        other => other.to_uppercase(),
    }
}

fn memory(part: &Table, lang: usize, lines: &mut Lines, must: &mut Map<String, Value>) {
    let (slots, gb, mts) =
        (num(part, "memory_slots"), num(part, "memory_max_gb"), num(part, "memory_mts"));
    let channels = num(part, "channels");
    let dual = if channels == 4.0 {
        ["quad channel", "Quad-Channel", "quad-channel"][lang]
    } else {
        ["dual channel", "Dual-Channel", "double canal"][lang]
    };
    let up = ["up to", "bis", "jusqu'à"][lang];
    let memory = format!(
        "{slots}x {} DIMM, {dual}, max. {gb} GB, {up} {mts} MT/s (OC)",
        text(part, "memory_kind").to_uppercase()
    );
    lines.push((["Memory", "Arbeitsspeicher", "Mémoire"][lang].into(), memory));
    for (field, value) in [
        ("memory_slots", slots),
        ("memory_max_gb", gb),
        ("memory_mts", mts),
        ("channels", channels),
    ] {
        put(must, field, json!(value));
    }
    put(must, "memory_kind", json!(text(part, "memory_kind")));
    put(must, "memory_form", json!("dimm"));
}

fn board(
    part: &Table,
    lang: usize,
    rng: &mut Rng,
    lines: &mut Lines,
    must: &mut Map<String, Value>,
) {
    let source = |s: &str| {
        if s == "processor" {
            ["CPU", "Prozessor", "processeur"][lang]
        } else {
            ["chipset", "Chipsatz", "chipset"][lang]
        }
    };
    lines.push((["Socket", "Sockel", "Socle"][lang].into(), text(part, "socket").into()));
    put(must, "socket", json!(text(part, "socket")));
    lines.push((["Chipset", "Chipsatz", "Chipset"][lang].into(), text(part, "chipset").into()));
    put(must, "chipset", json!(text(part, "chipset")));
    let (width, depth) = (num(part, "width_mm"), num(part, "depth_mm"));
    let size = format!("{}, {width} x {depth} mm", form(text(part, "form"), rng));
    lines.push((["Form factor", "Formfaktor", "Format"][lang].into(), size));
    put(must, "form", json!(text(part, "form")));
    put(must, "width_mm", json!(width));
    put(must, "depth_mm", json!(depth));
    memory(part, lang, lines, must);
    let slot = |s: &&Table| {
        let (size, wired) = (num(s, "size"), num(s, "lanes"));
        let wired = if size == wired {
            String::new()
        } else {
            format!(", {} x{wired}", ["wired", "angebunden", "câblé"][lang])
        };
        format!("1x PCIe {}.0 x{size} ({}{wired})", num(s, "gen"), source(text(s, "source")))
    };
    let all = list(part, "slots");
    lines.push((
        ["Expansion slots", "Steckplätze", "Emplacements PCIe"][lang].into(),
        all.iter().map(slot).collect::<Vec<_>>().join("; "),
    ));
    let records: Vec<Value> = all.iter().map(|s| json!({ "size": num(s, "size"), "lanes": num(s, "lanes"), "gen": num(s, "gen"), "source": text(s, "source") })).collect();
    put(must, "slots", json!({ "records": records }));
    sockets(part, lang, lines, must, &source);
    let sata = part.get("sata").and_then(Toml::as_array).map_or(0, Vec::len);
    if sata > 0 {
        lines.push(("SATA".into(), format!("{sata} {}", ["ports", "Anschlüsse", "ports"][lang])));
        put(must, "sata", json!({ "count": sata }));
    }
    let mbps = num(part, "ethernet_mbps");
    if mbps > 0.0 {
        lines.push((
            "LAN".into(),
            format!(
                "{} Gbit/s",
                (mbps / 1000.0).to_string().replace('.', if lang > 0 { "," } else { "." })
            ),
        ));
        put(must, "ethernet_mbps", json!(mbps));
    }
    lines.push((
        ["Wi-Fi", "WLAN", "Wi-Fi"][lang].into(),
        if yes(part, "wifi") { ["yes", "ja", "oui"] } else { ["no", "nein", "non"] }[lang].into(),
    ));
    put(must, "wifi", json!(yes(part, "wifi")));
    headers(part, lang, lines, must);
}

fn sockets(
    part: &Table,
    lang: usize,
    lines: &mut Lines,
    must: &mut Map<String, Value>,
    source: &dyn Fn(&str) -> &'static str,
) {
    let all = list(part, "m2");
    if all.is_empty() {
        return;
    }
    let code = |mm: f64| match mm as u32 {
        110 => "22110".to_owned(),
        mm => format!("22{mm}"),
    };
    let or = ["or", "oder", "ou"][lang];
    let say = |m: &&Table| {
        let sata = if yes(m, "sata") { format!(" {or} SATA") } else { String::new() };
        let sink = if yes(m, "heatsink") {
            [", heatsink", ", Kühlkörper", ", dissipateur"][lang]
        } else {
            ""
        };
        format!(
            "{}, Key {}, {}, PCIe {}.0 x{}{sata} ({}){sink}",
            text(m, "name"),
            text(m, "key"),
            code(num(m, "length_mm")),
            num(m, "gen"),
            num(m, "lanes"),
            source(text(m, "source"))
        )
    };
    let mut words: Vec<String> = all.iter().map(say).collect();
    for m in &all {
        let ports: Vec<&str> = m
            .get("disables")
            .and_then(Toml::as_array)
            .into_iter()
            .flatten()
            .filter_map(Toml::as_str)
            .collect();
        if !ports.is_empty() {
            words.push(format!(
                "{} {}",
                ports.join([" and ", " und ", " et "][lang]),
                [
                    format!("are off when {} is in use", text(m, "name")),
                    format!("sind deaktiviert, wenn {} belegt ist", text(m, "name")),
                    format!("sont désactivés si {} est occupé", text(m, "name"))
                ][lang]
            ));
        }
    }
    lines.push((["M.2", "M.2-Steckplätze", "Emplacements M.2"][lang].into(), words.join("; ")));
    let records: Vec<Value> = all.iter().map(|m| json!({ "name": text(m, "name"), "key": text(m, "key"), "length_mm": num(m, "length_mm"), "gen": num(m, "gen"), "lanes": num(m, "lanes"), "source": text(m, "source") })).collect();
    put(must, "m2", json!({ "records": records }));
}

fn headers(part: &Table, lang: usize, lines: &mut Lines, must: &mut Map<String, Value>) {
    let all = list(part, "fan_headers");
    let control = |c: &str| match c {
        "both" => "PWM/DC".to_owned(),
        other => other.to_uppercase(),
    };
    let say = |h: &&Table| {
        format!("{} ({}, {} A)", text(h, "name"), control(text(h, "control")), num(h, "amps"))
    };
    lines.push((
        ["Fan headers", "Lüfteranschlüsse", "Connecteurs ventilateur"][lang].into(),
        all.iter().map(say).collect::<Vec<_>>().join(", "),
    ));
    let records: Vec<Value> = all.iter().map(|h| json!({ "name": text(h, "name"), "role": text(h, "role"), "control": text(h, "control"), "amps": num(h, "amps") })).collect();
    put(must, "fan_headers", json!({ "records": records }));
}

fn case(
    part: &Table,
    lang: usize,
    rng: &mut Rng,
    lines: &mut Lines,
    must: &mut Map<String, Value>,
) {
    let of = |key: &str| num(part, key);
    let label = [
        ["Size (W × H × D)", "Dimensions (W x H x D)"],
        ["Abmessungen (B × H × T)", "Maße (B x H x T)"],
        ["Dimensions (L × H × P)", "Encombrement (L x H x P)"],
    ][lang][rng.below(2)];
    lines.push((
        label.into(),
        format!("{} × {} × {} mm", of("width_mm"), of("height_mm"), of("depth_mm")),
    ));
    for field in ["width_mm", "height_mm", "depth_mm"] {
        put(must, field, json!(of(field)));
    }
    let forms: Vec<&str> = part
        .get("supply_forms")
        .and_then(Toml::as_array)
        .into_iter()
        .flatten()
        .filter_map(Toml::as_str)
        .collect();
    let up = ["up to", "bis", "jusqu'à"][lang];
    if forms == ["atx"] {
        lines.push((
            ["Power supply", "Netzteil", "Alimentation"][lang].into(),
            format!("ATX, {up} {} mm", of("supply_max_mm")),
        ));
        put(must, "supply_forms", json!(["atx"]));
        put(must, "supply_max_mm", json!(of("supply_max_mm")));
    }
    mounts(part, lang, lines, must);
}

/// Places for fans and radiators, a line a place.
fn mounts(part: &Table, lang: usize, lines: &mut Lines, must: &mut Map<String, Value>) {
    let up = ["up to", "bis", "jusqu'à"][lang];
    let mut records = Vec::new();
    for mount in list(part, "mounts") {
        let at = text(mount, "mount");
        let here = match (at, lang) {
            ("front", 0) => "Front",
            ("top", 0) => "Top",
            ("rear", 0) => "Rear",
            ("bottom", 0) => "Bottom",
            ("front", 1) => "vorn",
            ("top", 1) => "oben",
            ("rear", 1) => "hinten",
            ("bottom", 1) => "unten",
            ("front", _) => "avant",
            ("top", _) => "dessus",
            ("rear", _) => "arrière",
            ("bottom", _) => "bas",
            _ => continue,
        };
        let head = |what: [&str; 3]| {
            if lang == 0 { format!("{here} {}", what[0]) } else { format!("{} {here}", what[lang]) }
        };
        let mut record = Map::from_iter([("mount".to_owned(), json!(at))]);
        let mut fans = Vec::new();
        for (field, mm) in [("fans_120", 120), ("fans_140", 140)] {
            if num(mount, field) > 0.0 {
                fans.push(format!("{} × {mm} mm", num(mount, field)));
                record.insert(field.to_owned(), json!(num(mount, field)));
            }
        }
        if fans.is_empty() {
            continue;
        }
        lines.push((
            head(["fans", "Lüfter", "Ventilateurs"]),
            fans.join([" or ", " oder ", " ou "][lang]),
        ));
        let radiator = num(mount, "radiator_120_mm");
        if radiator > 0.0 {
            lines
                .push((head(["radiator", "Radiator", "Radiateur"]), format!("{up} {radiator} mm")));
            // A reader of the page takes 280 mm for a radiator of 140 mm fans.
            let key = if radiator % 140.0 == 0.0 { "radiator_140_mm" } else { "radiator_120_mm" };
            record.insert(key.to_owned(), json!(radiator));
        }
        records.push(Value::Object(record));
    }
    if !records.is_empty() {
        put(must, "mounts", json!({ "records": records }));
    }
}

fn card(
    part: &Table,
    lang: usize,
    rng: &mut Rng,
    lines: &mut Lines,
    must: &mut Map<String, Value>,
) {
    let mut words = Vec::new();
    let mut records = Vec::new();
    for output in list(part, "video_out") {
        let count = num(output, "count").max(1.0);
        let name = match text(output, "kind") {
            "dp" => rng.pick(&["DisplayPort 1.4a", "DP 2.1", "DisplayPort"]),
            "hdmi" => rng.pick(&["HDMI 2.1", "HDMI"]),
            _ => "USB-C",
        };
        words.push(format!("{count}x {name}"));
        for _ in 0..count as u32 {
            records.push(json!({ "kind": text(output, "kind"), "link": { "absent": true } }));
        }
    }
    lines.push((["Outputs", "Ausgänge", "Sorties"][lang].into(), words.join(", ")));
    put(must, "video_out", json!({ "records": records, "unit": "count" }));
    if let Some(power) = part.get("power_in").and_then(Toml::as_table) {
        let say = |(key, n): (&String, &Toml)| {
            let n = n.as_integer().unwrap_or(1);
            let name = match key.as_str() {
                "pcie_8" => "8-pin (6+2)",
                "pcie_6" => "6-pin",
                _ => "16-pin (12V-2x6)",
            };
            format!("{n} × {name}")
        };
        lines.push((
            ["Power connectors", "Stromanschlüsse", "Connecteurs d'alimentation"][lang].into(),
            power.iter().map(say).collect::<Vec<_>>().join(", "),
        ));
        put(
            must,
            "power_in",
            json!(
                power
                    .iter()
                    .map(|(k, v)| (k.clone(), json!(v.as_integer())))
                    .collect::<Map<_, _>>()
            ),
        );
    }
    let (gen_, wired) = (num(part, "gen"), num(part, "lanes"));
    lines.push((
        ["Interface", "Schnittstelle", "Interface"][lang].into(),
        format!("PCIe {gen_}.0 x{wired}"),
    ));
    put(must, "gen", json!(gen_));
    put(must, "lanes", json!(wired));
}
