//! Makes lists as customers write them, and says what each row means. It reads the catalogue's
//! files by itself and shares no code and no word list with the reader of lists.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use serde_json::{Value, json};
use toml::Table;

/// A list and its truth.
pub(super) struct List {
    pub name: String,
    pub bytes: Vec<u8>,
    pub truth: Value,
}

/// A part as the catalogue's file has it.
#[derive(Debug, Clone)]
struct Part {
    id: String,
    kind: String,
    maker: String,
    /// The words of its name, a unit joined to its number.
    words: Vec<String>,
    table: Table,
}

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
    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }
    fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
    fn word(&mut self, all: &[&'static str]) -> &'static str {
        all[self.below(all.len())]
    }
    fn pick<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

fn parts() -> &'static [Part] {
    static PARTS: OnceLock<Vec<Part>> = OnceLock::new();
    PARTS.get_or_init(|| {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/catalogue/parts");
        let mut files: Vec<_> =
            std::fs::read_dir(folder).expect("parts").map(|f| f.expect("a file").path()).collect();
        files.sort();
        let mut out = Vec::new();
        for file in files {
            let table: Table =
                std::fs::read_to_string(&file).expect("a text").parse().expect("TOML");
            let kind = table["kind"].as_str().expect("a kind").to_owned();
            for (id, part) in table.iter().filter_map(|(id, p)| Some((id, p.as_table()?))) {
                let text =
                    |key: &str| part.get(key).and_then(|v| v.as_str()).unwrap_or("").to_owned();
                out.push(Part {
                    id: format!("{kind}/{id}"),
                    kind: kind.clone(),
                    maker: text("maker"),
                    words: words_of(&text("name")),
                    table: part.clone(),
                });
            }
        }
        out
    })
}

fn words_of(name: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for word in name.replace(',', "").split_whitespace() {
        let unit = ["GB", "TB", "g", "m", "V"].contains(&word);
        match out
            .last_mut()
            .filter(|w| unit && w.chars().last().is_some_and(|c| c.is_ascii_digit()))
        {
            Some(number) => *number = format!("{number} {word}"),
            None => out.push(word.to_owned()),
        }
    }
    out
}

fn is_number(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit())
}

/// A row's text about a part, and which parts it fits.
struct Said {
    text: String,
    tags: Vec<&'static str>,
    fits: Vec<&'static Part>,
    exact: Vec<&'static Part>,
}

fn set(words: &[String], maker: &str) -> BTreeSet<String> {
    words
        .iter()
        .filter(|w| !maker.split(' ').any(|m| m == w.as_str()))
        .map(|w| w.to_lowercase())
        .collect()
}

/// Words for a kind, as people of a country write them.
fn kind_words(kind: &str, lang: &str) -> &'static [&'static str] {
    match (kind, lang) {
        ("processor", "de") => &["Prozessor", "CPU"],
        ("processor", "fr") => &["processeur", "CPU"],
        ("processor", _) => &["CPU", "processor", "Proc"],
        ("board", "de") => &["Mainboard", "Hauptplatine", "Motherboard"],
        ("board", "fr") => &["carte mère"],
        ("board", _) => &["motherboard", "mainboard", "mobo"],
        ("memory", "de") => &["Arbeitsspeicher", "RAM", "Speicher"],
        ("memory", "fr") => &["mémoire", "RAM", "mémoire vive"],
        ("memory", _) => &["RAM", "memory", "memory kit"],
        ("graphics", "de") => &["Grafikkarte", "GPU"],
        ("graphics", "fr") => &["carte graphique", "GPU"],
        ("graphics", _) => &["graphics card", "GPU", "video card"],
        ("storage", "de") => &["Laufwerk", "Datenträger"],
        ("storage", "fr") => &["disque", "stockage"],
        ("storage", _) => &["drive", "storage"],
        ("supply", "de") => &["Netzteil", "PC-Netzteil"],
        ("supply", "fr") => &["alimentation", "alim"],
        ("supply", _) => &["PSU", "power supply"],
        ("chassis", "de") => &["Gehäuse", "PC-Gehäuse"],
        ("chassis", "fr") => &["boîtier"],
        ("chassis", _) => &["case", "PC case"],
        ("cooler", "de") => &["CPU-Kühler", "Kühler"],
        ("cooler", "fr") => &["ventirad", "refroidisseur"],
        ("cooler", _) => &["CPU cooler", "cooler"],
        ("fan", "de") => &["Lüfter", "Gehäuselüfter"],
        ("fan", "fr") => &["ventilateur"],
        ("fan", _) => &["fan", "case fan"],
        ("display", "de") => &["Monitor", "Bildschirm"],
        ("display", "fr") => &["écran", "moniteur"],
        ("display", _) => &["monitor", "screen"],
        ("network", "de") => &["Netzwerkkarte"],
        ("network", "fr") => &["carte réseau"],
        ("network", _) => &["network card", "NIC"],
        ("paste", "de") => &["Wärmeleitpaste"],
        ("paste", "fr") => &["pâte thermique"],
        ("paste", _) => &["thermal paste", "paste"],
        ("os", "de") => &["Betriebssystem", "Lizenz"],
        ("os", "fr") => &["système"],
        ("os", _) => &["OS", "licence", "operating system"],
        ("controller", "de") => &["Controller"],
        ("controller", _) => &["drive controller", "SATA controller"],
        ("optical", "de") => &["Brenner"],
        ("optical", "fr") => &["graveur"],
        ("optical", _) => &["optical drive", "DVD drive"],
        ("lighting", "de") => &["LED-Streifen"],
        ("lighting", "fr") => &["ruban LED"],
        ("lighting", _) => &["LED strip", "light strip"],
        ("hub", _) => &["hub"],
        _ => &[],
    }
}

type Fits = Box<dyn Fn(&Part) -> bool>;

fn num(part: &Part, key: &str) -> Option<f64> {
    let value = part.table.get(key)?;
    value.as_float().or(value.as_integer().map(|n| n as f64))
}

fn text_of<'a>(part: &'a Part, key: &str) -> &'a str {
    part.table.get(key).and_then(|v| v.as_str()).unwrap_or("")
}

/// A fact about a part in a customer's words, and which parts it is true of.
fn fact(part: &Part, rng: &mut Rng, lang: &str) -> Option<(String, Fits)> {
    let same = |key: &'static str, part: &Part| -> Fits {
        let value = part.table.get(key).cloned();
        Box::new(move |other: &Part| other.table.get(key) == value.as_ref())
    };
    let flag = |key: &'static str| -> Fits {
        Box::new(move |p: &Part| p.table.get(key).and_then(|v| v.as_bool()) == Some(true))
    };
    let yes = |key: &str| part.table.get(key).and_then(|v| v.as_bool()) == Some(true);
    Some(match part.kind.as_str() {
        "storage" => {
            let ssd = text_of(part, "media") == "flash";
            match rng.below(4) {
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
                    _ => {
                        (rng.pick(&["3.5in", "3.5\"", "3,5 Zoll"]).to_string(), same("form", part))
                    }
                },
                _ => match num(part, "m2_length_mm")? as u32 {
                    80 => ("2280".into(), same("m2_length_mm", part)),
                    30 => ("2230".into(), same("m2_length_mm", part)),
                    _ => return None,
                },
            }
        }
        "supply" => match rng.below(3) {
            0 if yes("modular") => {
                (if lang == "fr" { "modulaire" } else { "modular" }.into(), flag("modular"))
            }
            1 if text_of(part, "form") == "atx" => ("ATX".into(), same("form", part)),
            2 if !matches!(text_of(part, "grade"), "none" | "") => (
                rng.pick(&["80+", "80 Plus"]).to_string(),
                Box::new(|p: &Part| text_of(p, "grade") != "none"),
            ),
            _ => return None,
        },
        "fan" => match rng.below(2) {
            0 => (text_of(part, "control").to_uppercase(), same("control", part)),
            _ => (format!("{} mm", num(part, "size_mm")?), same("size_mm", part)),
        },
        "board" => match rng.below(3) {
            0 => (text_of(part, "memory_kind").to_uppercase(), same("memory_kind", part)),
            1 if yes("wifi") => (rng.pick(&["WiFi", "WLAN", "Wi-Fi"]).to_string(), flag("wifi")),
            _ => {
                let form = match text_of(part, "form") {
                    "micro-atx" => *rng.pick(&["mATX", "Micro-ATX", "µATX", "M-ATX"]),
                    "mini-itx" => *rng.pick(&["Mini-ITX", "ITX", "mini ITX"]),
                    "atx" => "ATX",
                    _ => return None,
                };
                (form.into(), same("form", part))
            }
        },
        "display" => match rng.below(2) {
            0 => (
                format!("{}{}", num(part, "refresh_hz")?, rng.pick(&[" Hz", "Hz", "hz"])),
                same("refresh_hz", part),
            ),
            _ => {
                let height = num(part, "height_px")?;
                let text = match height as u32 {
                    2160 => rng.pick(&["4K", "UHD", "2160p"]).to_string(),
                    1440 => rng.pick(&["1440p", "WQHD"]).to_string(),
                    1080 => rng.pick(&["1080p", "Full HD", "FHD"]).to_string(),
                    _ => return None,
                };
                (text, same("height_px", part))
            }
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

/// A number as people spell it, in other units too.
fn spelled(part: &Part, word: &str, rng: &mut Rng) -> (String, bool) {
    let gb = num(part, "gb");
    if part.kind == "storage" {
        if let Some(gb) = gb.filter(|_| is_number(word) && !word.contains('.')) {
            let tb = gb / 1000.0;
            let options = if gb >= 1000.0 {
                vec![
                    format!("{tb} TB"),
                    format!("{tb}TB"),
                    format!("{tb}tb"),
                    format!("{gb} GB"),
                    format!("{tb:.1} TB"),
                    format!("{tb}T"),
                    word.to_owned(),
                ]
            } else {
                vec![format!("{gb} GB"), format!("{gb}GB"), format!("{gb}gb"), word.to_owned()]
            };
            return (rng.pick(&options).clone(), true);
        }
    }
    if part.kind == "supply" && is_number(word) {
        return (
            rng.pick(&[
                format!("{word} W"),
                format!("{word}W"),
                format!("{word}w"),
                format!("{word} Watt"),
                word.to_owned(),
            ])
            .clone(),
            true,
        );
    }
    if part.kind == "display" && is_number(word) {
        return (
            rng.pick(&[
                format!("{word}\""),
                format!("{word} inch"),
                format!("{word}-inch"),
                format!("{word}''"),
                format!("{word} Zoll"),
                word.to_owned(),
            ])
            .clone(),
            true,
        );
    }
    if part.kind == "graphics" && is_number(word) {
        return (
            rng.pick(&[
                format!("{word} GB"),
                format!("{word}GB"),
                format!("{word}G"),
                word.to_owned(),
            ])
            .clone(),
            true,
        );
    }
    if part.kind == "fan" && is_number(word)
        || part.kind == "cooler" && num(part, "radiator_mm").is_some() && is_number(word)
    {
        return (
            rng.pick(&[
                format!("{word} mm"),
                format!("{word}mm"),
                word.to_owned(),
                word.to_owned(),
            ])
            .clone(),
            true,
        );
    }
    if part.kind == "network" && word.ends_with('G') {
        return (
            rng.pick(&[format!("{word}bE"), word.to_owned(), format!("{word}bit")]).clone(),
            true,
        );
    }
    if word.contains(' ') {
        return (rng.pick(&[word.replace(' ', ""), word.to_owned()]).clone(), true);
    }
    (word.to_owned(), false)
}

fn typo(word: &str, rng: &mut Rng) -> String {
    let mut chars: Vec<char> = word.chars().collect();
    let at = 1 + rng.below(chars.len() - 2);
    match rng.below(3) {
        0 => chars.swap(at, at + 1),
        1 => {
            chars.remove(at);
        }
        _ => chars.insert(at, chars[at]),
    }
    chars.into_iter().collect()
}

const SHOP: &[&[&str]] = &[
    &[
        "Pro Gamer",
        "NEW",
        "gaming",
        "boxed",
        "in stock",
        "best price",
        "TOP",
        "silent",
        "original",
        "black",
        "retail",
        "high-end",
        "sale",
        "bulk",
    ],
    &[
        "NEU",
        "lagernd",
        "Gaming",
        "OVP",
        "sofort lieferbar",
        "Aktion",
        "schwarz",
        "TOP",
        "Angebot",
        "leise",
        "auf Lager",
        "tray",
    ],
    &[
        "neuf",
        "en stock",
        "gaming",
        "promo",
        "noir",
        "silencieux",
        "livraison gratuite",
        "haut de gamme",
        "boîte d'origine",
    ],
];

fn lang_at(lang: &str) -> usize {
    match lang {
        "de" => 1,
        "fr" => 2,
        _ => 0,
    }
}

/// Says a part with some of its words and some of its facts.
fn say(part: &'static Part, rng: &mut Rng, lang: &str, maker_column: bool) -> Said {
    let mut tags = Vec::new();
    let maker: Vec<&str> = part.maker.split(' ').collect();
    let own: Vec<String> = part.words.clone();
    let is_maker = |w: &str| maker.contains(&w);
    let named = own.iter().filter(|w| !is_maker(w)).count();
    let mut maker_said = maker_column || own.iter().any(|w| is_maker(w));
    let mut words: Vec<String> = own.clone();
    // Without its maker a name must still be one.
    let stays = part.kind == "graphics" && words[1].chars().all(char::is_alphabetic);
    let generic = matches!(part.kind.as_str(), "sound" | "input" | "hub" | "adapter");
    if maker_column && named >= 1 && !generic || stays && named >= 2 && rng.chance(25) {
        let before = words.len();
        if named >= 1 {
            words.retain(|w| !is_maker(w));
        }
        maker_said = maker_column || maker_said && words.len() == before;
    }
    // Leave a word out, seldom: then several fit.
    if words.len() > 1 && rng.chance(12) {
        let at = 1 + rng.below(words.len() - 1);
        words.remove(at);
    }
    let mut said = set(&words, &part.maker);
    let mut filters: Vec<Fits> = Vec::new();
    let mut shown: Vec<String> = Vec::new();
    if part.kind == "memory" && words.len() >= 4 && rng.chance(75) {
        shown = memory(part, rng, &mut filters);
        said = BTreeSet::from([part.words[0].to_lowercase(), part.words[1].to_lowercase()]);
        if part.words.last().is_some_and(|w| w == "registered") {
            shown.push("registered".into());
            said.insert("registered".into());
        }
        tags.push("units");
    } else {
        for word in &words {
            let (text, changed) = spelled(part, word, rng);
            if changed && text != *word {
                tags.push("units");
            }
            shown.push(text);
        }
    }
    mangle(&mut shown, part, rng, &mut tags);
    let mut text = if rng.chance(8) { shown.join("  ") } else { shown.join(" ") };
    for _ in 0..rng.below(3) {
        if let Some((words, fits)) = fact(part, rng, lang) {
            if rng.chance(75) {
                text = format!("{text} {words}")
            } else {
                text = format!("{words} {text}")
            }
            filters.push(fits);
        }
    }
    let kinds = kind_words(&part.kind, lang);
    let mut kind_said = false;
    if !kinds.is_empty() && rng.chance(40) {
        let word = rng.pick(kinds);
        kind_said = true;
        text = match rng.below(3) {
            0 => format!("{text} {word}"),
            1 => format!("{word} {text}"),
            _ => format!("{word}: {text}"),
        };
    }
    if rng.chance(12) {
        let word = rng.pick(SHOP[lang_at(lang)]);
        tags.push("shopword");
        text = if rng.chance(40) { format!("{word} {text}") } else { format!("{text} {word}") };
    }
    let all: Vec<&'static Part> = parts()
        .iter()
        .filter(|p| {
            (!maker_said || p.maker == part.maker)
                && (!kind_said || p.kind == part.kind)
                && set(&p.words, &p.maker).is_superset(&said)
                && filters.iter().all(|f| f(p))
        })
        .collect();
    let exact = all
        .iter()
        .copied()
        .filter(|p| {
            set(&p.words, &p.maker) == said || p.kind == "memory" && tags.contains(&"units")
        })
        .collect();
    Said { text, tags, fits: all, exact }
}

/// Memory as everyone writes it: `DDR5-6000 32 GB (2x16 GB)`.
fn memory(part: &Part, rng: &mut Rng, filters: &mut Vec<Fits>) -> Vec<String> {
    let (count, each, mts) = (
        num(part, "modules").unwrap_or(1.0),
        num(part, "module_gb").unwrap_or(1.0),
        num(part, "mts").unwrap_or(1.0),
    );
    let total = count * each;
    let (family, ddr) = (part.words[0].clone(), part.words[1].clone());
    filters.push(Box::new(move |p| num(p, "mts") == Some(mts)));
    let packed: Fits =
        Box::new(move |p| num(p, "modules") == Some(count) && num(p, "module_gb") == Some(each));
    let whole: Fits = Box::new(move |p| {
        num(p, "modules").unwrap_or(0.0) * num(p, "module_gb").unwrap_or(0.0) == total
    });
    match rng.below(4) {
        0 => {
            filters.push(packed);
            vec![family, format!("{ddr}-{mts} {total} GB ({count}x{each} GB)")]
        }
        1 => {
            filters.push(packed);
            vec![family, format!("{count}x{each}GB {ddr} {mts}MHz")]
        }
        2 => {
            filters.push(whole);
            vec![family, format!("{total}GB Kit {ddr}-{mts}")]
        }
        _ => {
            filters.push(whole);
            vec![family, format!("{total} GB {ddr} {mts} MT/s")]
        }
    }
}

/// Misspells, cuts, joins and turns words around.
fn mangle(shown: &mut Vec<String>, part: &Part, rng: &mut Rng, tags: &mut Vec<&'static str>) {
    match rng.below(12) {
        0 => {
            let long: Vec<usize> = (0..shown.len())
                .filter(|i| {
                    shown[*i].len() >= 5 && shown[*i].chars().all(|c| c.is_ascii_alphabetic())
                })
                .collect();
            if !long.is_empty() {
                let at = *rng.pick(&long);
                shown[at] = typo(&shown[at], rng);
                tags.push("typo");
            }
        }
        1 => {
            if shown[0].len() >= 7 && shown[0].chars().all(char::is_alphabetic) {
                let keep = 5 + rng.below(2);
                shown[0] = format!("{}.", &shown[0][..keep.min(shown[0].len() - 1)]);
                tags.push("abbreviated");
            }
        }
        2 | 3 => {
            if shown.len() > 1 && part.kind != "adapter" {
                let at = rng.below(shown.len() - 1);
                let mark =
                    if shown[at].len() > 2 && !shown[at].ends_with(|c: char| c.is_ascii_digit()) {
                        *rng.pick(&["", "-", "_"])
                    } else {
                        "-"
                    };
                let numbers = is_number(&shown[at]) && is_number(&shown[at + 1]);
                if !numbers && !shown[at].contains(' ') {
                    let next = shown.remove(at + 1);
                    let joined = format!("{}{mark}{next}", shown[at]);
                    shown[at] = joined;
                    tags.push("joined");
                }
            }
        }
        4 | 5 => {
            if shown.len() > 1
                && !matches!(part.kind.as_str(), "adapter" | "input" | "hub" | "memory")
            {
                let last = shown.pop().expect("it has words");
                shown.insert(0, last);
                tags.push("reordered");
            }
        }
        6 => {
            // `506P` as `506-P`, `P5I` as `P5-I`.
            for word in shown.iter_mut() {
                let code = word.len() >= 3
                    && word.chars().any(|c| c.is_ascii_digit())
                    && word.ends_with(|c: char| c.is_ascii_uppercase())
                    && word.chars().all(char::is_alphanumeric);
                if code && matches!(part.kind.as_str(), "board" | "processor") {
                    word.insert(word.len() - 1, '-');
                    tags.push("joined");
                }
            }
        }
        _ => {}
    }
}

/// A row before it is put into a form.
struct Row {
    text: String,
    maker: Option<String>,
    count: u32,
    price: Option<String>,
    note: Option<String>,
    owned: bool,
    class: &'static str,
    kind: Option<String>,
    part: Option<String>,
    fits: Vec<String>,
    wants: Vec<Value>,
    tags: Vec<&'static str>,
}

fn classed(said: Said, part: &Part) -> Row {
    let (class, fits): (_, Vec<String>) = match (said.exact.as_slice(), said.fits.len()) {
        ([one], n) => (if n == 1 { "sure" } else { "either" }, vec![one.id.clone()]),
        ([_, ..], _) => ("ask", said.fits.iter().map(|p| p.id.clone()).collect()),
        (_, 1) => ("either", vec![part.id.clone()]),
        _ => ("ask", said.fits.iter().map(|p| p.id.clone()).collect()),
    };
    let named = class != "ask";
    let meant = fits.first().cloned();
    Row {
        text: said.text,
        maker: None,
        count: 1,
        price: None,
        note: None,
        owned: false,
        class,
        kind: Some(part.kind.clone()),
        part: meant.filter(|_| named),
        fits,
        wants: Vec::new(),
        tags: said.tags,
    }
}

/// A real family with a figure or a variant that the catalogue lacks.
fn near(rng: &mut Rng, lang: &str) -> Row {
    loop {
        let part: &'static Part = rng.pick(parts());
        let mut words = part.words.clone();
        let numbers: Vec<usize> = (1..words.len())
            .filter(|i| is_number(&words[*i]) && !words[*i].contains('x'))
            .collect();
        if matches!(part.kind.as_str(), "adapter" | "memory" | "hub") {
            continue;
        }
        if !numbers.is_empty() && rng.chance(60) {
            let at = *rng.pick(&numbers);
            let digits: String = words[at].chars().take_while(char::is_ascii_digit).collect();
            let Ok(n) = digits.parse::<u32>() else { continue };
            let other = match rng.below(4) {
                0 => n + 1 + (n >= 20) as u32 * 9,
                1 => n * 2 + 1,
                2 if n > 30 => n - 10,
                _ => n + 3,
            };
            words[at] = words[at].replacen(&digits, &other.to_string(), 1);
        } else {
            let peer: &Part = rng.pick(parts());
            let extra = peer
                .words
                .iter()
                .skip(1)
                .find(|w| w.len() > 3 && w.chars().all(char::is_alphabetic));
            let Some(extra) = extra.filter(|_| peer.kind == part.kind) else { continue };
            if words.contains(extra)
                || kind_words(&part.kind, "en").iter().any(|k| k.eq_ignore_ascii_case(extra))
                || extra == "modular"
                || extra == "Tower"
            {
                continue;
            }
            words.push(extra.clone());
        }
        let said = set(&words, &part.maker);
        if parts().iter().any(|p| set(&p.words, &p.maker).is_superset(&said)) {
            continue;
        }
        let mut text = words.join(" ");
        if let (true, Some(word)) = (rng.chance(30), kind_words(&part.kind, lang).first()) {
            text = format!("{text} {word}");
        }
        return Row {
            text,
            kind: Some(part.kind.clone()),
            class: "near",
            tags: vec!["near"],
            ..blank()
        };
    }
}

fn blank() -> Row {
    Row {
        text: String::new(),
        maker: None,
        count: 1,
        price: None,
        note: None,
        owned: false,
        class: "ignored",
        kind: None,
        part: None,
        fits: vec![],
        wants: vec![],
        tags: vec![],
    }
}

const INVENTED: &[&str] = &[
    "Brindlo",
    "Corbeltan",
    "Tovell",
    "Ashgrove",
    "Vexmoor",
    "Quillon",
    "Dunmarr",
    "Hexley",
    "Orrinby",
    "Pelloway",
    "Zarnic",
    "Mossbeck",
    "Trevannis",
    "Kirelle",
    "Jaspine",
    "Wickmar",
];

/// A part that nobody makes.
fn unknown(rng: &mut Rng, lang: &str) -> Row {
    let name = if rng.chance(50) {
        format!("{} {}", rng.pick(INVENTED), rng.pick(INVENTED))
    } else {
        format!(
            "{} {}{}",
            rng.pick(INVENTED),
            rng.pick(&["Q", "V", "X", "ZR", "N"]),
            1 + rng.below(9)
        )
    };
    let (kind, figures): (&str, &[&str]) = *rng.pick(&[
        ("supply", &["650 W", "850W Gold", "1000 Watt"][..]),
        ("chassis", &["ATX", "white", "mATX"][..]),
        ("storage", &["1 TB", "2TB NVMe"][..]),
        ("graphics", &["8 GB", "16GB"][..]),
        ("display", &["27 inch", "144 Hz", "34\""][..]),
        ("fan", &["120 mm", "140mm PWM"][..]),
        ("cooler", &["240 mm", "AIO"][..]),
        ("board", &["DDR5", "mATX"][..]),
        ("memory", &["32GB (2x16GB) DDR5-6000 CL30", "DDR4"][..]),
    ]);
    let word = rng.pick(kind_words(kind, lang));
    let figure = rng.pick(figures);
    let text = match rng.below(3) {
        0 => format!("{name} {figure} {word}"),
        1 => format!("{word} {name} {figure}"),
        _ => format!("{name} {word}"),
    };
    Row { text, kind: Some(kind.to_owned()), class: "unknown", tags: vec!["invented"], ..blank() }
}

/// A row that leaves the part open.
fn open(rng: &mut Rng, lang: &str) -> Row {
    let want = |field: &str, op: &[&str], value: Value| json!({ "field": field, "op": op, "value": value, "need": true });
    let at_least = &[">=", "=="][..];
    let (kind, body, wants): (&str, String, Vec<Value>) = match rng.below(7) {
        0 => {
            let (gb, ddr) = (*rng.pick(&[16, 32, 64]), *rng.pick(&["ddr4", "ddr5"]));
            (
                "memory",
                format!("{gb} GB {}", ddr.to_uppercase()),
                vec![
                    want("memory_kind", &["=="], json!(ddr)),
                    want("modules*module_gb", at_least, json!(gb)),
                ],
            )
        }
        1 => {
            let tb = *rng.pick(&[1, 2, 4]);
            (
                "storage",
                format!("{tb} TB NVMe"),
                vec![
                    want("gb", at_least, json!(tb * 1000)),
                    want("interface", &["=="], json!("nvme")),
                ],
            )
        }
        2 => {
            let w = *rng.pick(&[550, 650, 750, 850]);
            (
                "supply",
                format!("{w} W Gold"),
                vec![want("rated_w", at_least, json!(w)), want("grade", &["=="], json!("gold"))],
            )
        }
        3 => (
            "graphics",
            (match lang {
                "de" => "passive",
                "fr" => "passive",
                _ => "passive",
            })
            .to_owned(),
            vec![want("cooling", &["=="], json!("passive"))],
        ),
        4 => {
            let mm = *rng.pick(&[120, 140]);
            (
                "fan",
                format!("{mm} mm PWM"),
                vec![want("size_mm", &["=="], json!(mm)), want("control", &["=="], json!("pwm"))],
            )
        }
        5 => {
            let gb = *rng.pick(&[8, 12, 16]);
            ("graphics", format!("{gb} GB"), vec![want("memory_gb", at_least, json!(gb))])
        }
        _ => {
            let hz = *rng.pick(&[75, 144]);
            (
                "display",
                format!("27 inch {hz} Hz"),
                vec![
                    want("diagonal_in", &["==", ">="], json!(27)),
                    want("refresh_hz", at_least, json!(hz)),
                ],
            )
        }
    };
    let word = kind_words(kind, lang)[0];
    let text = match (lang, rng.below(4)) {
        ("de", 0) => format!("irgendein {body} {word}"),
        ("de", 1) => format!("günstiges {word} {body}, Marke egal"),
        ("de", 2) => format!("{word} {body}, beliebig"),
        ("de", _) => format!("{body} {word}, das billigste"),
        ("fr", 0) => format!("n'importe quel {word} {body}"),
        ("fr", 1) => format!("{word} {body} pas cher"),
        ("fr", 2) => format!("{word} {body}, peu importe la marque"),
        ("fr", _) => format!("{word} {body}, le moins cher"),
        (_, 0) => format!("any {body} {word}"),
        (_, 1) => format!("some {body} {word}, brand does not matter"),
        (_, 2) => format!("{body} {word}, cheapest"),
        _ => format!("cheap {word} with {body}"),
    };
    Row { text, kind: Some(kind.to_owned()), class: "open", wants, tags: vec!["vague"], ..blank() }
}

fn alternatives(rng: &mut Rng, lang: &str) -> Row {
    let part: &'static Part = rng.pick(parts());
    let peers: Vec<&Part> = parts()
        .iter()
        .filter(|p| p.kind == part.kind && p.id != part.id && p.words[0] != part.words[0])
        .collect();
    if peers.is_empty()
        || matches!(part.kind.as_str(), "adapter" | "input" | "hub" | "sound" | "memory")
    {
        return alternatives(rng, lang);
    }
    let other = *rng.pick(&peers);
    let or = match lang {
        "de" => *rng.pick(&["oder", "bzw."]),
        "fr" => "ou",
        _ => *rng.pick(&["or", "or maybe"]),
    };
    let text = format!("{} {or} {}", part.words.join(" "), other.words.join(" "));
    Row {
        text,
        class: "ask",
        kind: Some(part.kind.clone()),
        fits: vec![part.id.clone(), other.id.clone()],
        tags: vec!["alternatives"],
        ..blank()
    }
}

fn one_row(rng: &mut Rng, lang: &str, maker_column: bool) -> Row {
    let mut row = match rng.below(100) {
        0..=67 => {
            let part: &'static Part = rng.pick(parts());
            let mut row = classed(say(part, rng, lang, maker_column), part);
            row.maker = maker_column.then(|| part.maker.clone());
            row
        }
        68..=79 => near(rng, lang),
        80..=87 => unknown(rng, lang),
        88..=95 => open(rng, lang),
        _ => alternatives(rng, lang),
    };
    if rng.chance(20) {
        row.count = 2 + rng.below(4) as u32;
        row.tags.push("qty");
    }
    if rng.chance(60) && row.class != "open" {
        let most = if rng.chance(15) { 2500 } else { 400 };
        row.price =
            Some(format!("{}.{:02}", 5 + rng.below(most), *rng.pick(&[99_usize, 90, 0, 50, 49])));
    }
    if rng.chance(10) && row.class != "open" {
        row.owned = true;
        row.note = Some(
            rng.word(
                [
                    &[
                        "already bought",
                        "already have it",
                        "from the old PC",
                        "I own this",
                        "reused",
                    ][..],
                    &[
                        "schon vorhanden",
                        "habe ich schon",
                        "aus dem alten PC",
                        "bereits gekauft",
                        "wird übernommen",
                    ],
                    &["déjà acheté", "j'ai déjà", "de l'ancien PC", "récupéré", "déjà là"],
                ][lang_at(lang)],
            )
            .to_string(),
        );
    } else if rng.chance(10) {
        row.note = Some(
            rng.word(
                [
                    &[
                        "important!",
                        "free shipping",
                        "must be in stock",
                        "not sure about this one",
                        "see page 4",
                        "was 20 less last week",
                    ][..],
                    &[
                        "wichtig!",
                        "siehe Katalog",
                        "noch nicht sicher",
                        "versandkostenfrei",
                        "bitte prüfen",
                    ],
                    &[
                        "important !",
                        "à vérifier",
                        "livraison gratuite",
                        "voir catalogue",
                        "pas encore sûr",
                    ],
                ][lang_at(lang)],
            )
            .to_string(),
        );
    }
    if rng.chance(5) {
        row.class = "ignored";
        row.tags.push("cancelled");
        row.owned = false;
        row.note = Some(
            rng.word(
                [
                    &["cancelled", "no longer needed"][..],
                    &["storniert", "entfällt"],
                    &["annulé", "plus nécessaire"],
                ][lang_at(lang)],
            )
            .to_string(),
        );
    }
    row
}

/// A price as written in a country.
fn money(price: &str, lang: &str, rng: &mut Rng, marked: bool) -> String {
    let (whole, cents) = price.split_once('.').expect("a price has cents");
    let long = whole.len() > 3;
    let grouped = |mark: &str| {
        if long {
            format!("{}{mark}{}", &whole[..whole.len() - 3], &whole[whole.len() - 3..])
        } else {
            whole.to_owned()
        }
    };
    let number = match lang {
        "de" if cents == "00" && rng.chance(30) => format!("{},-", grouped(".")),
        "de" => format!("{},{cents}", grouped(".")),
        "fr" => format!("{},{cents}", grouped(if rng.chance(50) { " " } else { "\u{a0}" })),
        _ => format!("{}.{cents}", grouped(",")),
    };
    if !marked {
        return number;
    }
    match lang {
        "en" => rng
            .pick(&[
                format!("€{number}"),
                format!("{number} EUR"),
                format!("EUR {number}"),
                format!("{number}€"),
            ])
            .clone(),
        _ => rng
            .pick(&[
                format!("{number} €"),
                format!("{number}€"),
                format!("{number} EUR"),
                format!("{number} Euro"),
            ])
            .clone(),
    }
}

struct Writer {
    out: String,
    line: usize,
    truth: Vec<Value>,
}

impl Writer {
    fn put(&mut self, text: &str, rows: &[(&Row, Option<&str>)]) {
        let end = self.line + text.matches('\n').count();
        for (row, currency) in rows {
            let priced = row.price.as_ref().filter(|_| currency.is_some());
            let states: &[&str] = match row.class {
                "sure" => &["matched"],
                "either" => &["matched", "unsure"],
                "ask" => &["unsure"],
                "near" => &["unknown", "unsure"],
                "unknown" => &["unknown"],
                "open" => &["open"],
                _ => &["ignored"],
            };
            self.truth.push(json!({
                "line": self.line, "line_end": end, "text": row.text, "class": row.class, "states": states, "kind": row.kind,
                "part": row.part, "candidates": row.fits, "count": row.count, "price": [priced],
                "currency": [priced.map(|_| currency.unwrap_or("EUR"))], "owned": row.owned, "wants": row.wants, "tags": row.tags,
            }));
        }
        self.out.push_str(text);
        self.out.push('\n');
        self.line = end + 1;
    }
}

fn cased(text: &str, case: usize) -> String {
    match case {
        1 => text.to_uppercase(),
        2 => text.to_lowercase(),
        _ => text.to_owned(),
    }
}

fn greeting(lang: &str) -> [&'static [&'static str]; 2] {
    match lang {
        "de" => [
            &[
                "Hallo zusammen,",
                "könnten Sie mir bitte diese Teile zusammenstellen?",
                "Ich möchte damit spielen und Videos schneiden.",
            ],
            &["Passt das alles zusammen?", "Vielen Dank und viele Grüße", "Anna"],
        ],
        "fr" => [
            &[
                "Bonjour,",
                "voici la liste de ce que je voudrais :",
                "C'est pour jouer et pour la vidéo.",
            ],
            &["Est-ce que tout va ensemble ?", "Merci d'avance", "Cordialement", "Luc"],
        ],
        _ => [
            &[
                "Hi there,",
                "this is what I have put together so far:",
                "I want to play at 1440p and 144 Hz if that is possible.",
            ],
            &[
                "Can you also put it together and what would that cost?",
                "Thanks and best regards",
                "Tom",
            ],
        ],
    }
}

fn count_text(row: &Row, rng: &mut Rng, lang: &str, text: &str) -> String {
    if row.count == 1 {
        return if rng.chance(10) { format!("1x {text}") } else { text.to_owned() };
    }
    let n = row.count;
    match rng.below(6) {
        0 => format!("{n}x {text}"),
        1 => format!("{n} x {text}"),
        2 => format!("{text} (x{n})"),
        3 => format!("{text} x{n}"),
        4 if lang == "de" => format!("{n} Stück {text}"),
        4 if lang == "en" => format!("{text} ({n} pcs)"),
        _ => format!("{n} × {text}"),
    }
}

/// One list, from its number.
pub(super) fn list(seed: u64) -> List {
    let mut rng = Rng(seed.wrapping_mul(7919) + 17);
    let lang = ["en", "en", "de", "fr"][rng.below(4)];
    let case = [0, 0, 0, 1, 2][rng.below(5)];
    let form = rng.below(6);
    let mut w = Writer { out: String::new(), line: 1, truth: Vec::new() };
    let ending = match form {
        0 | 1 => {
            typed(&mut w, &mut rng, lang, case, form);
            "txt"
        }
        2 => {
            bars(&mut w, &mut rng, lang, case);
            "md"
        }
        3 => {
            html(&mut w, &mut rng, lang, case);
            "html"
        }
        _ => {
            delimited(&mut w, &mut rng, lang, case);
            "csv"
        }
    };
    let mut text = w.out;
    if rng.chance(20) {
        text = text.replace('\n', "\r\n");
    }
    let bytes = match rng.below(12) {
        0 => {
            [0xff, 0xfe].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect()
        }
        1 if text.chars().all(|c| (c as u32) < 256) => text.chars().map(|c| c as u8).collect(),
        2 => [0xef, 0xbb, 0xbf].into_iter().chain(text.bytes()).collect(),
        _ => text.into_bytes(),
    };
    List { name: format!("list-{seed}.{ending}"), bytes, truth: json!({ "rows": w.truth }) }
}

/// Bullets or bare lines, between talk.
fn typed(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize, form: usize) {
    let bullet = if form == 0 { *rng.pick(&["- ", "* ", "• ", "  - ", "1. "]) } else { "" };
    let [before, after] = greeting(lang);
    for line in before.iter().take(1 + rng.below(3)) {
        w.put(line, &[(&blank(), None)]);
    }
    w.put("", &[]);
    for _ in 0..6 + rng.below(10) {
        if rng.chance(12) {
            unusual(w, rng, lang, case, bullet);
            continue;
        }
        let mut row = one_row(rng, lang, false);
        let mut text = cased(&count_text(&row, rng, lang, &row.text), case);
        if let Some(price) = row.price.clone() {
            let money = money(&price, lang, rng, true);
            text = match rng.below(4) {
                0 => format!("{text}, {money}"),
                1 => format!("{text} - {money}"),
                2 => format!("{text} ({money})"),
                _ => format!("{text}: {money}"),
            };
            if row.count > 1 && rng.chance(40) {
                text = format!(
                    "{text} {}",
                    match lang {
                        "de" => "pro Stück",
                        "fr" => "chacun",
                        _ => "each",
                    }
                );
            }
        } else if rng.chance(10) {
            text = format!("{text}, n/a");
        }
        if let Some(note) = &row.note {
            text = match rng.below(3) {
                0 => format!("{text} ({note})"),
                1 => format!("{text} // {note}"),
                _ => format!("{text}, {note}"),
            };
        }
        if row.tags.contains(&"cancelled") && rng.chance(50) && form == 0 {
            text = format!("~~{text}~~");
        }
        if !bullet.is_empty() && text.len() > 50 && rng.chance(40) {
            if let Some(at) = text
                .get(40..)
                .unwrap_or("")
                .find(' ')
                .map(|a| a + 40)
                .filter(|a| text.is_char_boundary(*a))
            {
                text.replace_range(at..=at, "\n    ");
                row.tags.push("wrapped");
            }
        }
        w.put(&format!("{bullet}{text}"), &[(&row, Some("EUR"))]);
    }
    if rng.chance(50) {
        let total = match lang {
            "de" => "Summe: 1.234,56 €",
            "fr" => "Total : 1 234,56 €",
            _ => "Total: €1,234.56",
        };
        w.put(total, &[(&blank(), None)]);
    }
    w.put("", &[]);
    for line in after.iter().take(1 + rng.below(4)) {
        w.put(line, &[(&blank(), None)]);
    }
}

/// A row of the class *sure*, by its whole name.
fn whole(rng: &mut Rng, kinds: &[&str]) -> Row {
    loop {
        let part: &'static Part = rng.pick(parts());
        let said =
            Said { text: part.words.join(" "), tags: vec![], fits: vec![part], exact: vec![part] };
        if kinds.contains(&part.kind.as_str()) {
            return classed(said, part);
        }
    }
}

/// Two parts in a row, a part that took another's place, a part that is only talked of.
fn unusual(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize, bullet: &str) {
    let (mut first, mut second) = (
        whole(rng, &["board", "processor", "graphics"]),
        whole(rng, &["cooler", "supply", "chassis"]),
    );
    let price = |rng: &mut Rng| format!("{}.99", 20 + rng.below(300));
    let and = match lang {
        "de" => *rng.pick(&["&", "+", "und"]),
        "fr" => *rng.pick(&["&", "+", "et"]),
        _ => *rng.pick(&["&", "+", "and"]),
    };
    match rng.below(4) {
        0 => {
            let text = format!("{} {and} {}", first.text, second.text);
            w.put(&format!("{bullet}{}", cased(&text, case)), &[(&first, None), (&second, None)]);
        }
        1 => {
            (first.price, second.price) = (Some(price(rng)), Some(price(rng)));
            let of = |row: &Row, rng: &mut Rng| {
                let amount = money(row.price.as_deref().unwrap_or(""), lang, rng, true);
                format!("{} ({amount})", cased(&row.text, case))
            };
            let (a, b) = (of(&first, rng), of(&second, rng));
            w.put(
                &format!("{bullet}{a} {and} {b}"),
                &[(&first, Some("EUR")), (&second, Some("EUR"))],
            );
        }
        2 => {
            let old = whole(rng, &["cooler", "supply", "chassis"]);
            let text = match rng.below(3) {
                0 => format!("{} -> {}", old.text, second.text),
                1 => format!("~~{}~~ {}", old.text, second.text),
                _ => {
                    let instead = match lang {
                        "de" => "statt",
                        "fr" => "au lieu de",
                        _ => "instead of",
                    };
                    format!("{} {instead} {}", second.text, old.text)
                }
            };
            w.put(&format!("{bullet}{}", cased(&text, case)), &[(&second, None)]);
        }
        _ => {
            let text = match lang {
                "de" => format!("Ein Freund hat den {} und ist damit nicht zufrieden.", first.text),
                "fr" => format!("Un ami a le {} et il n'en est pas content.", first.text),
                _ => format!("A friend has the {} and is not happy with it.", first.text),
            };
            w.put("", &[]);
            w.put(&text, &[(&blank(), None)]);
            w.put("", &[]);
        }
    }
}

struct Heads {
    count: &'static str,
    part: &'static str,
    maker: &'static str,
    price: &'static str,
    note: &'static str,
}

fn heads(lang: &str, rng: &mut Rng) -> Heads {
    match lang {
        "de" => Heads {
            count: rng.word(&["Menge", "Stück", "Anzahl"]),
            part: rng.word(&["Artikel", "Bezeichnung", "Produkt"]),
            maker: "Hersteller",
            price: rng.word(&["Einzelpreis (€)", "Preis EUR", "Preis (€)"]),
            note: "Bemerkung",
        },
        "fr" => Heads {
            count: rng.word(&["Qté", "Quantité"]),
            part: rng.word(&["Produit", "Désignation", "Article"]),
            maker: "Marque",
            price: rng.word(&["Prix (€)", "Prix unitaire (€)"]),
            note: "Remarque",
        },
        _ => Heads {
            count: rng.word(&["Qty", "Quantity"]),
            part: rng.word(&["Part", "Item", "Product"]),
            maker: "Brand",
            price: rng.word(&["Price (EUR)", "Unit price (€)"]),
            note: rng.word(&["Notes", "Remarks"]),
        },
    }
}

fn cells(row: &Row, rng: &mut Rng, lang: &str, case: usize, maker: bool) -> Vec<String> {
    let count = match rng.below(3) {
        0 => format!("{}x", row.count),
        _ => row.count.to_string(),
    };
    let price = row
        .price
        .as_ref()
        .map(|p| {
            let marked = rng.chance(40);
            money(p, lang, rng, marked)
        })
        .unwrap_or_default();
    let mut out = vec![count];
    if maker {
        out.push(cased(row.maker.as_deref().unwrap_or(""), case));
    }
    out.extend([cased(&row.text, case), price, row.note.clone().unwrap_or_default()]);
    out
}

fn bars(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize) {
    let h = heads(lang, rng);
    w.put(&format!("# {}", greeting(lang)[0][1]), &[(&blank(), None)]);
    w.put("", &[]);
    w.put(&format!("| {} | {} | {} | {} |", h.count, h.part, h.price, h.note), &[(&blank(), None)]);
    w.put("|---:|---|---:|---|", &[]);
    for _ in 0..6 + rng.below(10) {
        let row = one_row(rng, lang, false);
        let cells = cells(&row, rng, lang, case, false);
        w.put(&format!("| {} |", cells.join(" | ")), &[(&row, Some("EUR"))]);
    }
}

fn html(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize) {
    let h = heads(lang, rng);
    w.put("<!DOCTYPE html>\n<html><head><title>list</title>\n<style>td { padding: 2px; }</style></head>\n<body>\n<table>", &[]);
    w.put(
        &format!(
            "  <tr><th>{}</th><th>{}</th><th>{}</th><th>{}</th></tr>",
            h.count, h.part, h.price, h.note
        ),
        &[(&blank(), None)],
    );
    for _ in 0..6 + rng.below(10) {
        if rng.chance(20) {
            let kind = rng.pick(parts()).kind.clone();
            if let Some(word) = kind_words(&kind, lang).first() {
                w.put(
                    &format!("<tr><td colspan=\"4\"><b>{word}</b></td></tr>"),
                    &[(&blank(), None)],
                );
            }
        }
        let row = one_row(rng, lang, false);
        let mut cells = cells(&row, rng, lang, case, false);
        for cell in &mut cells {
            *cell = cell.replace('&', "&amp;").replace('<', "&lt;").replace('€', "&euro;");
        }
        if row.tags.contains(&"cancelled") && rng.chance(50) {
            cells[1] = format!("<s>{}</s>", cells[1]);
        }
        if rng.chance(20) {
            cells[1] = format!("<a href=\"https://shop.example/i/1\">{}</a>", cells[1]);
        }
        let body: Vec<String> = cells.iter().map(|c| format!("<td>{c}</td>")).collect();
        let text = if rng.chance(50) {
            format!("  <tr>{}</tr>", body.concat())
        } else {
            format!("  <tr>\n    {}\n  </tr>", body.join("\n    "))
        };
        w.put(&text, &[(&row, Some("EUR"))]);
    }
    w.put("</table>\n</body></html>", &[]);
}

fn delimited(w: &mut Writer, rng: &mut Rng, lang: &str, case: usize) {
    let h = heads(lang, rng);
    let mark = *rng.pick(&[',', ';', '\t', '|']);
    let maker = rng.chance(30);
    let quote = |cell: &str, rng: &mut Rng| {
        if cell.contains([mark, '"', '\n']) || rng.chance(20) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        }
    };
    let mut head = vec![h.count];
    if maker {
        head.push(h.maker);
    }
    head.extend([h.part, h.price, h.note]);
    let join = |cells: Vec<String>| cells.join(&mark.to_string());
    let line = join(head.iter().map(|c| cased(c, case)).map(|c| quote(&c, rng)).collect());
    w.put(&line, &[(&blank(), None)]);
    for _ in 0..6 + rng.below(10) {
        let row = one_row(rng, lang, maker);
        let cells = cells(&row, rng, lang, case, maker);
        let line = join(cells.iter().map(|c| quote(c, rng)).collect());
        w.put(&line, &[(&row, Some("EUR"))]);
    }
}
