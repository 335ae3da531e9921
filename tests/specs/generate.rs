//! Writes pages and feeds of makers from the catalogue's parts, and says what a careful reader
//! finds in them. It has labels of its own and shares no word list with the reader of pages.

use serde_json::{Map, Value, json};
use toml::{Table, Value as Toml};

use super::labels::labels;

/// Numbers that follow from a seed.
pub(super) struct Rng(u64);

impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    pub(super) fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }
    fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
    pub(super) fn pick<'a>(&mut self, all: &[&'a str]) -> &'a str {
        all[self.below(all.len())]
    }
}

/// A page or feed, its kind and its truth.
pub(super) struct Source {
    pub kind: String,
    pub text: String,
    pub truth: Value,
}

const KINDS: &[&str] = &[
    "supply",
    "chassis",
    "cooler",
    "fan",
    "memory",
    "storage",
    "display",
    "processor",
    "paste",
    "graphics",
    "board",
];

fn number(value: f64, lang: usize) -> String {
    let text = value.to_string();
    if lang > 0 { text.replace('.', ",") } else { text }
}

fn plain(value: &Toml) -> Option<f64> {
    value.as_float().or(value.as_integer().map(|n| n as f64))
}

/// A word in a maker's spelling.
fn word(text: &str, unit: &str, rng: &mut Rng) -> Option<String> {
    Some(match unit {
        "grade" if text == "none" => return None,
        "grade" if text == "base" => return None,
        "grade" => {
            let mut word = text.to_owned();
            word[..1].make_ascii_uppercase();
            if rng.chance(50) { format!("80 PLUS {word}") } else { word }
        }
        "guide" => format!("ATX {text}").replace("ATX 2.x", "ATX 2.4"),
        "upper" => text.to_uppercase(),
        "interface" => {
            if text == "nvme" {
                rng.pick(&["NVMe", "PCIe 4.0 x4 NVMe"]).to_owned()
            } else {
                rng.pick(&["SATA", "SATA 6 Gb/s"]).to_owned()
            }
        }
        _ if text.len() < 5 => text.to_uppercase(),
        _ => text.to_owned(),
    })
}

/// A value in a maker's spelling.
fn spelled(value: &Toml, unit: &str, lang: usize, rng: &mut Rng) -> Option<String> {
    if let Some(flag) = value.as_bool() {
        let words: [&[&str]; 3] = if flag {
            [&["yes", "Yes"], &["ja"], &["oui"]]
        } else {
            [&["no", "No"], &["nein"], &["non"]]
        };
        return Some(rng.pick(words[lang]).to_owned());
    }
    if let Some(list) = value.as_array() {
        let words: Vec<String> = list
            .iter()
            .filter_map(|v| v.as_str())
            .map(|w| match (unit, w) {
                ("forms", "mini-itx") => "Mini-ITX".to_owned(),
                ("forms", "micro-atx") => rng.pick(&["Micro-ATX", "mATX", "µATX"]).to_owned(),
                ("forms", other) => other.to_uppercase(),
                (_, other) => other.to_owned(),
            })
            .collect();
        return Some(words.join(rng.pick(&[", ", " / ", ", "])));
    }
    if let Some(text) = value.as_str() {
        return word(text, unit, rng);
    }
    let n = plain(value)?;
    let shown = number(n, lang);
    Some(match unit {
        "" => shown,
        "W" => rng.pick(&["{} W", "{}W", "{} Watt"]).replace("{}", &shown),
        "mm" => match rng.below(3) {
            0 => format!("{} cm", number((n * 100.0).round() / 1000.0, lang)),
            1 => format!("{shown}mm"),
            _ => format!("{shown} mm"),
        },
        "GB" if n >= 1000.0 && rng.chance(60) => format!("{} TB", number(n / 1000.0, lang)),
        "MT/s" => rng.pick(&["{} MT/s", "{} MHz", "{}MHz"]).replace("{}", &shown),
        "CL" => rng.pick(&["CL{}", "{}"]).replace("{}", &shown),
        "dB" => rng.pick(&["{} dB(A)", "{} dBA", "{} dB"]).replace("{}", &shown),
        "rpm" => [["{} rpm", "{} U/min", "{} tr/min"][lang], "{} rpm"][rng.below(2)]
            .replace("{}", &shown),
        "MB/s" => rng.pick(&["{} MB/s", "{}MB/s"]).replace("{}", &shown),
        "in" => rng.pick(&["{}\"", "{} inch", "{} Zoll"]).replace("{}", &shown),
        other => format!("{shown} {other}"),
    })
}

/// An interface that is spelled with its link says the generation and the lanes.
fn linked(text: &str, must: &mut Map<String, Value>) {
    if text == "PCIe 4.0 x4 NVMe" {
        for field in ["gen", "lanes"] {
            must.entry(field).or_insert(json!({ "is": 4, "from": text }));
        }
    }
}

/// One part's statements: label, text, and the fact they hold.
fn statements(
    part: &Table,
    kind: &str,
    lang: usize,
    rng: &mut Rng,
) -> (Vec<(String, String)>, Map<String, Value>) {
    let mut lines = Vec::new();
    let mut must = Map::new();
    for (field, names, unit) in labels(kind) {
        let Some(value) = part.get(*field) else { continue };
        let label = rng.pick(names[lang]).to_owned();
        if rng.chance(5) {
            lines.push((label, rng.pick(&["n/a", "-", "tbd"]).to_owned()));
            continue;
        }
        let Some(text) = spelled(value, unit, lang, rng) else { continue };
        // A page that contradicts itself says nothing.
        if let Some(n) = plain(value).filter(|_| rng.chance(4) && *unit == "mm") {
            lines.push((label.clone(), format!("{} mm", n + 7.0)));
            lines.push((label, text));
            continue;
        }
        let json = match value {
            Toml::String(s) => json!(s),
            Toml::Boolean(b) => json!(b),
            Toml::Array(a) => json!(a.iter().filter_map(|v| v.as_str()).collect::<Vec<_>>()),
            other => json!(plain(other)),
        };
        linked(&text, &mut must);
        must.insert((*field).to_owned(), json!({ "is": json, "from": text }));
        lines.push((label, text));
    }
    let told = match kind {
        "board" => super::sentences::of("board", part, lang, rng),
        "chassis" => super::sentences::of("case", part, lang, rng),
        "graphics" => super::sentences::of("card", part, lang, rng),
        _ => None,
    };
    if let Some((more, facts)) = told {
        lines.extend(more);
        must.extend(facts);
    }
    if kind == "supply" {
        rails(part, lang, rng, &mut lines, &mut must);
    }
    (lines, must)
}

/// Rails and leads of a supply, as sentences.
fn rails(
    part: &Table,
    lang: usize,
    rng: &mut Rng,
    lines: &mut Vec<(String, String)>,
    must: &mut Map<String, Value>,
) {
    let of = |key: &str| part.get(key).and_then(plain);
    let (Some(v12), Some(v5), Some(v3)) = (of("v12_a"), of("v5_a"), of("v3_3_a")) else { return };
    let text = format!(
        "+12 V {} A; +5 V {} A; +3.3 V {} A",
        number(v12, lang),
        number(v5, lang),
        number(v3, lang)
    );
    for (field, value) in [("v12_a", v12), ("v5_a", v5), ("v3_3_a", v3)] {
        must.insert(field.to_owned(), json!({ "is": value, "from": text }));
    }
    lines.push((["Outputs", "Ausgänge", "Sorties"][lang].to_owned(), text));
    let mut words = Vec::new();
    let mut records = Vec::new();
    for lead in
        part.get("leads").and_then(Toml::as_array).into_iter().flatten().filter_map(Toml::as_table)
    {
        let n = |key: &str, other: i64| lead.get(key).and_then(Toml::as_integer).unwrap_or(other);
        let (plugs, count, length) = (n("plugs", 1), n("count", 1), n("length_mm", 0));
        let connector = lead["connector"].as_str().unwrap_or("");
        let name = match connector {
            "atx_24" => rng.pick(&["24-pin", "20+4"]),
            "eps_8" => rng.pick(&["EPS 4+4", "EPS"]),
            "pcie_8" => rng.pick(&["PCIe 6+2", "PCIe 8-pin"]),
            "pcie_16" => rng.pick(&["12V-2x6", "16-pin"]),
            "sata" => "SATA",
            "periph_4" => ["peripheral 4-pin", "Peripherie", "périphérique"][lang],
            _ => continue,
        };
        let noun = [["lead", "leads"], ["Kabel", "Kabel"], ["câble", "câbles"]][lang]
            [usize::from(count > 1)];
        let plug = [["plug", "plugs"], ["Stecker", "Stecker"], ["connecteur", "connecteurs"]][lang]
            [usize::from(plugs > 1)];
        let with = ["with", "mit", "avec"][lang];
        let steps = if plugs > 1 {
            format!("{}{}", length - 150 * (plugs - 1), " + 150".repeat((plugs - 1) as usize))
        } else {
            length.to_string()
        };
        words.push(if plugs == 1 {
            format!("{name}: {count} {noun} ({steps} mm)")
        } else {
            format!("{name}: {count} {noun} {with} {plugs} {plug} ({steps} mm)")
        });
        for _ in 0..count {
            records.push(json!({ "connector": connector, "plugs": plugs, "length_mm": length }));
        }
    }
    must.insert(
        "leads".to_owned(),
        json!({ "is": { "records": records, "unit": "count" }, "from": "" }),
    );
    lines.push((["Cables", "Kabel", "Câbles"][lang].to_owned(), words.join("; ")));
}

fn parts(kind: &str) -> Vec<Table> {
    let path = format!("{}/catalogue/parts/{kind}.toml", env!("CARGO_MANIFEST_DIR"));
    let table: Table = std::fs::read_to_string(path).expect("it is there").parse().expect("TOML");
    table.into_iter().filter_map(|(_, p)| p.as_table().cloned()).collect()
}

/// One page or feed, from its number.
pub(super) fn source(seed: u64) -> Source {
    let mut rng = Rng(seed.wrapping_mul(31) + 5);
    let kind = rng.pick(KINDS).to_owned();
    let lang = rng.below(3);
    let all = parts(&kind);
    if kind != "board" && rng.chance(30) {
        return feed(&kind, lang, &all, &mut rng);
    }
    let part = &all[rng.below(all.len())];
    let (lines, must) = statements(part, &kind, lang, &mut rng);
    let name = part["name"].as_str().unwrap_or("");
    let between = rng.pick(&[": ", "\t", "    "]);
    let mut text = match rng.below(3) {
        0 => format!("Coble & Sons \"{name}\"\n\n"),
        1 => format!("{name}\n{}\n", "=".repeat(12)),
        _ => format!("Coble & Sons {name}\n\n"),
    };
    for (label, value) in lines {
        text.push_str(&format!("{label}{between}{value}\n"));
    }
    let truth = json!({ "parts": [{ "names": [name], "must": must, "may": may_of_name() }] });
    Source { kind, text, truth }
}

fn feed(kind: &str, lang: usize, all: &[Table], rng: &mut Rng) -> Source {
    let mark = rng.pick(&[",", ";", "\t"]);
    let heads: Vec<&str> = labels(kind).iter().map(|(_, names, _)| rng.pick(names[lang])).collect();
    let quote = |cell: &str| {
        if cell.contains(mark) || cell.contains('"') {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        }
    };
    let mut text = [&["Code", ["Name", "Bezeichnung", "Désignation"][lang]], heads.as_slice()]
        .concat()
        .iter()
        .map(|c| quote(c))
        .collect::<Vec<_>>()
        .join(mark)
        + "\n";
    let mut truth = Vec::new();
    for (at, part) in all.iter().enumerate().take(8) {
        let name = part["name"].as_str().unwrap_or("");
        let mut must = Map::new();
        let mut row = vec![format!("X-{at}"), name.to_owned()];
        for (field, _, unit) in labels(kind) {
            let value = part.get(*field).filter(|_| !rng.chance(8));
            let shown = value.and_then(|v| spelled(v, unit, lang, rng));
            if let (Some(value), Some(shown)) = (value, &shown) {
                let json = match value {
                    Toml::String(s) => json!(s),
                    Toml::Boolean(b) => json!(b),
                    Toml::Array(a) => {
                        json!(a.iter().filter_map(|v| v.as_str()).collect::<Vec<_>>())
                    }
                    other => json!(plain(other)),
                };
                linked(shown, &mut must);
                must.insert((*field).to_owned(), json!({ "is": json, "from": shown }));
            }
            row.push(shown.unwrap_or_else(|| rng.pick(&["", "-", "n/a"]).to_owned()));
        }
        text.push_str(&(row.iter().map(|c| quote(c)).collect::<Vec<_>>().join(mark) + "\n"));
        truth.push(json!({ "names": [name], "must": must, "may": may_of_name() }));
    }
    Source { kind: kind.to_owned(), text, truth: json!({ "parts": truth }) }
}

/// What a part's name may give as well: "Marl 8 TB" holds 8 TB.
fn may_of_name() -> Value {
    json!({ "maker": "", "gb": "", "grams": "", "modules": "", "module_gb": "" })
}
