//! The labels that the pages of makers bear, by kind and language.

/// A field's labels by language, and its unit.
pub(super) type Label = (&'static str, [&'static [&'static str]; 3], &'static str);

const SUPPLY: &[Label] = &[
    ("form", [&["Form factor", "Form"], &["Formfaktor", "Bauform"], &["Format"]], ""),
    (
        "rated_w",
        [
            &["Rated power", "Power", "Wattage"],
            &["Nennleistung", "Leistung"],
            &["Puissance", "Puissance nominale"],
        ],
        "W",
    ),
    (
        "grade",
        [&["Efficiency", "80 PLUS"], &["Effizienz", "Wirkungsgrad"], &["Rendement"]],
        "grade",
    ),
    ("guide", [&["Design guide", "ATX version"], &["ATX-Version"], &["Norme"]], "guide"),
    ("length_mm", [&["Depth", "Length"], &["Tiefe", "Länge"], &["Profondeur"]], "mm"),
    ("fan_mm", [&["Fan", "Fan size"], &["Lüfter"], &["Ventilateur"]], "mm"),
    ("modular", [&["Modular"], &["Modular", "Kabelmanagement"], &["Modulaire"]], "flag"),
    ("holdup_ms", [&["Hold-up time"], &["Haltezeit"], &["Temps de maintien"]], "ms"),
];

const CHASSIS: &[Label] = &[
    (
        "board_forms",
        [
            &["Board sizes", "Motherboard support"],
            &["Mainboard-Formate", "Mainboards"],
            &["Cartes mères", "Formats de carte mère"],
        ],
        "forms",
    ),
    (
        "card_max_mm",
        [
            &["Longest graphics card", "Max GPU length"],
            &["Max. Grafikkartenlänge", "Grafikkarte"],
            &["Longueur max carte graphique"],
        ],
        "mm",
    ),
    (
        "cooler_max_mm",
        [
            &["Tallest CPU cooler", "CPU cooler height"],
            &["Max. CPU-Kühler", "CPU-Kühlerhöhe"],
            &["Hauteur max ventirad"],
        ],
        "mm",
    ),
    (
        "slots",
        [&["Expansion slots"], &["Erweiterungssteckplätze"], &["Emplacements d'extension"]],
        "",
    ),
    ("kg", [&["Weight"], &["Gewicht"], &["Poids"]], "kg"),
    ("bays_35", [&["3.5\" bays"], &["3,5\" Schächte"], &["Baies 3,5\""]], ""),
    ("bays_25", [&["2.5\" bays"], &["2,5\" Schächte"], &["Baies 2,5\""]], ""),
];

const COOLER: &[Label] = &[
    (
        "sockets",
        [
            &["Sockets", "Compatibility"],
            &["Sockel", "Kompatibilität"],
            &["Socles", "Compatibilité"],
        ],
        "list",
    ),
    (
        "heat_w",
        [&["TDP", "Cooling capacity"], &["Kühlleistung", "TDP"], &["Capacité de refroidissement"]],
        "W",
    ),
    ("height_mm", [&["Height", "Total height"], &["Höhe"], &["Hauteur"]], "mm"),
    (
        "fans",
        [&["Fans", "Number of fans"], &["Anzahl Lüfter", "Lüfter"], &["Nombre de ventilateurs"]],
        "",
    ),
    ("noise_db", [&["Noise", "Noise level"], &["Lautstärke"], &["Niveau sonore"]], "dB"),
    ("airflow_m3h", [&["Airflow"], &["Luftdurchsatz"], &["Débit d'air"]], "m³/h"),
    ("tube_mm", [&["Tube length"], &["Schlauchlänge"], &["Longueur des tuyaux"]], "mm"),
];

const FAN: &[Label] = &[
    ("size_mm", [&["Size", "Fan size"], &["Größe", "Lüftergröße"], &["Taille"]], "mm"),
    ("rpm", [&["Speed", "Rotation speed"], &["Drehzahl"], &["Vitesse de rotation"]], "rpm"),
    ("airflow_m3h", [&["Airflow"], &["Luftdurchsatz", "Volumenstrom"], &["Débit d'air"]], "m³/h"),
    ("pressure_pa", [&["Static pressure"], &["Statischer Druck"], &["Pression statique"]], "Pa"),
    ("noise_db", [&["Noise level"], &["Geräuschpegel"], &["Bruit"]], "dB"),
    ("amps", [&["Rated current", "Current"], &["Nennstrom"], &["Courant"]], "A"),
    ("control", [&["Control", "Connector"], &["Anschluss"], &["Connecteur"]], "upper"),
];

const MEMORY: &[Label] = &[
    (
        "memory_kind",
        [&["Type", "Memory type"], &["Speichertyp", "Typ"], &["Type de mémoire"]],
        "upper",
    ),
    (
        "modules",
        [&["Modules", "Number of modules"], &["Anzahl Module"], &["Nombre de modules"]],
        "",
    ),
    (
        "module_gb",
        [
            &["Capacity per module", "Module size"],
            &["Kapazität pro Modul"],
            &["Capacité par module"],
        ],
        "GB",
    ),
    ("mts", [&["Speed", "Data rate"], &["Takt", "Speichertakt"], &["Fréquence"]], "MT/s"),
    ("cl", [&["CAS latency", "Latency"], &["CAS-Latenz", "Latenz"], &["Latence CAS"]], "CL"),
    ("volts", [&["Voltage"], &["Spannung"], &["Tension"]], "V"),
    ("height_mm", [&["Height", "Module height"], &["Höhe", "Bauhöhe"], &["Hauteur"]], "mm"),
];

const STORAGE: &[Label] = &[
    ("gb", [&["Capacity"], &["Kapazität", "Speicherkapazität"], &["Capacité"]], "GB"),
    ("interface", [&["Interface"], &["Schnittstelle"], &["Interface"]], "interface"),
    (
        "read_mbps",
        [
            &["Sequential read", "Read speed"],
            &["Lesegeschwindigkeit", "Seq. Lesen"],
            &["Vitesse de lecture"],
        ],
        "MB/s",
    ),
    (
        "write_mbps",
        [&["Sequential write"], &["Schreibgeschwindigkeit"], &["Vitesse d'écriture"]],
        "MB/s",
    ),
    ("endurance_tb", [&["Endurance", "TBW"], &["Schreibleistung", "TBW"], &["Endurance"]], "TB"),
];

const DISPLAY: &[Label] = &[
    (
        "diagonal_in",
        [&["Diagonal", "Screen size"], &["Bildschirmdiagonale", "Diagonale"], &["Diagonale"]],
        "in",
    ),
    (
        "refresh_hz",
        [&["Refresh rate"], &["Bildwiederholrate"], &["Taux de rafraîchissement"]],
        "Hz",
    ),
    ("wall_w", [&["Power consumption"], &["Leistungsaufnahme"], &["Consommation"]], "W"),
];

const PROCESSOR: &[Label] = &[
    ("socket", [&["Socket"], &["Sockel"], &["Socle"]], ""),
    ("cores", [&["Cores"], &["Kerne"], &["Nombre de cœurs"]], ""),
    ("threads", [&["Threads"], &["Threads"], &["Threads"]], ""),
    ("base_w", [&["Base power", "TDP"], &["Grundleistung", "TDP"], &["Puissance de base"]], "W"),
    ("max_c", [&["Max temperature"], &["Maximale Temperatur"], &["Température maximale"]], "°C"),
    ("memory_max_gb", [&["Max memory"], &["Maximaler Speicher"], &["Mémoire maximale"]], "GB"),
];

const PASTE: &[Label] = &[
    ("grams", [&["Amount", "Content"], &["Inhalt"], &["Contenu"]], "g"),
    (
        "w_per_mk",
        [&["Thermal conductivity"], &["Wärmeleitfähigkeit"], &["Conductivité thermique"]],
        "W/mK",
    ),
];

const GRAPHICS: &[Label] = &[
    ("length_mm", [&["Length", "Card length"], &["Länge", "Kartenlänge"], &["Longueur"]], "mm"),
    ("memory_gb", [&["Memory", "VRAM"], &["Grafikspeicher", "Speicher"], &["Mémoire vidéo"]], "GB"),
    ("draw_w", [&["Board power", "TGP"], &["Leistungsaufnahme"], &["Consommation"]], "W"),
    (
        "supply_w",
        [
            &["Recommended power supply", "Recommended PSU"],
            &["Empfohlenes Netzteil"],
            &["Alimentation recommandée"],
        ],
        "W",
    ),
    ("max_displays", [&["Max displays"], &["Max. Monitore"], &["Écrans max"]], ""),
];

pub(super) fn labels(kind: &str) -> &'static [Label] {
    match kind {
        "supply" => SUPPLY,
        "chassis" => CHASSIS,
        "cooler" => COOLER,
        "fan" => FAN,
        "memory" => MEMORY,
        "storage" => STORAGE,
        "display" => DISPLAY,
        "processor" => PROCESSOR,
        "paste" => PASTE,
        "board" => &[],
        _ => GRAPHICS,
    }
}
