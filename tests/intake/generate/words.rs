//! Words of customers, by language.

/// Words for a kind, as people of a country write them.
pub(super) fn kind_words(kind: &str, lang: &str) -> &'static [&'static str] {
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

pub(super) const SHOP: &[&[&str]] = &[
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

pub(super) fn lang_at(lang: &str) -> usize {
    match lang {
        "de" => 1,
        "fr" => 2,
        _ => 0,
    }
}

pub(super) const INVENTED: &[&str] = &[
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

pub(super) fn greeting(lang: &str) -> [&'static [&'static str]; 2] {
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
