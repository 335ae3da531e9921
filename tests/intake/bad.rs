//! What no list should be: a clear word, nothing written, nothing lost.

use std::io::{Cursor, Write as _};
use std::path::Path;
use std::process::{Command, Output};

use dryfit::inside::intake::{Aliases, Intake, Row, State, Text, read_bytes};
use zip::write::SimpleFileOptions;

fn rows(bytes: &[u8]) -> Result<Vec<Row>, String> {
    let catalogue = super::catalogue();
    let text = read_bytes(bytes, "list").map_err(|p| p.to_string())?;
    Intake::new(&catalogue, Aliases::default()).read(&text).map_err(|p| p.to_string())
}

fn part_of(rows: &[Row], line: usize) -> Option<&str> {
    rows.iter().find(|r| r.line == line).and_then(|r| r.part.as_deref())
}

fn refused(bytes: &[u8], says: &str) {
    let said = rows(bytes).expect_err("it is refused");
    assert!(said.contains(says), "{said}");
}

/// A workbook whose one sheet has this XML, with more files beside.
fn workbook(sheet: &str, more: &[(&str, Vec<u8>)]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let head = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>";
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let rel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let package = "http://schemas.openxmlformats.org/package/2006";
    let mut files: Vec<(String, Vec<u8>)> = vec![
        ("[Content_Types].xml".into(), format!("{head}<Types xmlns=\"{package}/content-types\"/>").into()),
        ("_rels/.rels".into(), format!("{head}<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" Type=\"{rel}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>").into()),
        ("xl/workbook.xml".into(), format!("{head}<workbook xmlns=\"{main}\" xmlns:r=\"{rel}\"><sheets><sheet name=\"List\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>").into()),
        ("xl/_rels/workbook.xml.rels".into(), format!("{head}<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" Type=\"{rel}/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>").into()),
        ("xl/worksheets/sheet1.xml".into(), format!("{head}<worksheet xmlns=\"{main}\"><sheetData>{sheet}</sheetData></worksheet>").into()),
    ];
    files.extend(more.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.clone())));
    for (name, bytes) in files {
        zip.start_file(name, SimpleFileOptions::default()).expect("a file begins");
        zip.write_all(&bytes).expect("it is written");
    }
    zip.finish().expect("it ends").into_inner()
}

fn cell(place: &str, text: &str) -> String {
    format!("<c r=\"{place}\" t=\"inlineStr\"><is><t>{text}</t></is></c>")
}

#[test]
fn empty_binary_and_endless() {
    refused(b"", "is empty");
    refused(b" \n \n", "is empty");
    refused(&[0, 159, 146, 150, 0, 1, 2, 3, 255, 0, 7], "is no text");
    refused(b"\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00", "is no text");
    refused(b"%PDF-1.7 ...", "is a PDF");
    refused(&vec![b'x'; 100 << 20], "larger than");
    refused("Tarn 650 Gold\n".repeat(6000).as_bytes(), "rows");
}

#[test]
fn encodings() {
    let text = "Netzteil Tarn 650 Gold\nGehäuse Skerry Reef\n";
    let wide: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let marked: Vec<u8> =
        [0xfe, 0xff].into_iter().chain(text.encode_utf16().flat_map(u16::to_be_bytes)).collect();
    let latin: Vec<u8> = text.chars().map(|c| u8::try_from(c as u32).expect("it fits")).collect();
    for bytes in [wide, marked, latin, text.as_bytes().to_vec()] {
        let rows = rows(&bytes).expect("it is read");
        assert_eq!(part_of(&rows, 1), Some("supply/tarn-650-gold"));
        assert_eq!(part_of(&rows, 2), Some("chassis/skerry-reef"));
    }
}

#[test]
fn a_million_columns_and_a_deep_page() {
    let wide =
        format!("Part,Qty{}\nTarn 650 Gold,2{}\n", ",x".repeat(500_000), ",".repeat(500_000));
    let read = rows(wide.as_bytes()).expect("it is read");
    assert_eq!(part_of(&read, 2), Some("supply/tarn-650-gold"));
    let deep = format!(
        "<html><body>{}<table><tr><td>Tarn 650 Gold</td></tr></table>{}",
        "<div>".repeat(10_000),
        "</div>".repeat(10_000)
    );
    let read = rows(deep.as_bytes()).expect("it is read");
    assert_eq!(part_of(&read, 1), Some("supply/tarn-650-gold"));
}

#[test]
fn workbooks() {
    let row = format!(
        "<row r=\"1\">{}{}</row><row r=\"2\">{}<c r=\"B2\"><v>2</v></c></row>",
        cell("A1", "Part"),
        cell("B1", "Qty"),
        cell("A2", "Tarn 650 Gold")
    );
    let read = rows(&workbook(&row, &[])).expect("it is read");
    assert_eq!(part_of(&read, 2), Some("supply/tarn-650-gold"));
    assert_eq!(read.iter().find(|r| r.line == 2).map(|r| r.count), Some(2));
    // A formula's value counts, not the formula; macros are carried and never looked at.
    let formula = "<row r=\"1\"><c r=\"A1\" t=\"str\"><f>HYPERLINK(\"https://shop.example\")</f><v>Tarn 650 Gold</v></c></row>";
    let read =
        rows(&workbook(formula, &[("xl/vbaProject.bin", vec![1, 2, 3])])).expect("it is read");
    assert_eq!(part_of(&read, 1), Some("supply/tarn-650-gold"));
    refused(&workbook("", &[("xl/media/zeros.bin", vec![0; 80 << 20])]), "unpacks to more than");
    refused(
        &workbook(&format!("<row r=\"900000\">{}</row>", cell("ZZZ900000", "x")), &[]),
        "more rows or columns",
    );
    refused(b"PK\x03\x04 and then nothing", "broken archive");
    refused(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 encrypted", "password");
}

#[test]
fn counts_prices_and_currencies() {
    for (text, says) in [
        ("-1 x Tarn 650 Gold", "-1"),
        ("1000000000 x Tarn 650 Gold", "1000000000"),
        ("Part;Qty\nTarn 650 Gold;-1\nx;2", "-1"),
    ] {
        refused(text.as_bytes(), says);
    }
    let read =
        rows(b"- Tarn 650 Gold 79.00 EUR 89.00 EUR\n- Skerry Reef 60 EUR").expect("it is read");
    let first = read.first().expect("a row");
    assert!(first.two_prices && first.price.is_none());
    let catalogue = super::catalogue();
    let intake = Intake::new(&catalogue, Aliases::default());
    let text =
        Text::Plain("- Tarn 650 Gold, 79 EUR\n- Skerry Reef, 60 EUR\n- Lull 120, $9.90".to_owned());
    let list = intake.list(
        &intake.read(&text).expect("it is read"),
        "list",
        jiff::civil::date(2026, 11, 20),
    );
    assert!(list.contains("The row's price is 9.90 USD, and the list is in EUR."), "{list}");
}

#[test]
fn hostile_names_are_data() {
    let evil = "- \"]]\n- Vex\u{1b}[31m \"\"\"\n[[line]]\npart = \"x\" psu\n- '''; rm -rf / # case 850W\n- {{7*7}} <script>alert(1)</script> monitor";
    let catalogue = super::catalogue();
    let intake = Intake::new(&catalogue, Aliases::default());
    let rows =
        intake.read(&read_bytes(evil.as_bytes(), "list").expect("text")).expect("it is read");
    let list = intake.list(&rows, "evil\n[[line]]", jiff::civil::date(2026, 11, 20));
    let table: toml::Table = list.parse().expect("the list is TOML whatever the rows say");
    let lines = table.get("line").and_then(toml::Value::as_array).map_or(0, Vec::len);
    let asked = rows
        .iter()
        .filter(|r| r.state != State::Ignored && (r.kind.is_some() || r.part.is_some()))
        .count();
    assert_eq!(lines, asked);
    assert!(!list.contains('\u{1b}'));
}

#[test]
fn letters_that_turn_the_others_round_are_written_out() {
    let name = "Vexmoor \u{202e}59\u{2066} \"Q\" \\ \u{e0041}\u{200b}\u{ad}";
    let catalogue = super::catalogue();
    let intake = Intake::new(&catalogue, Aliases::default());
    let mut rows = intake.read(&Text::Plain(format!("- {name} 850W psu"))).expect("it is read");
    let row = rows.iter_mut().find(|r| r.kind.is_some()).expect("a row");
    row.name = Some(name.to_owned());
    let list = intake.list(&rows, name, jiff::civil::date(2026, 11, 20));
    let acts = |c: char| c != '\n' && dryfit::inside::app::report::escape::acts(c);
    assert!(!list.contains(acts), "{list:?}");
    let table: toml::Table = list.parse().expect("TOML");
    let held = table["line"][0]["name"].as_str();
    assert_eq!(held, Some(name), "{list}");
}

fn dryfit(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("it runs")
}

#[test]
fn the_command_writes_a_list_or_nothing() {
    let folder = std::env::temp_dir().join(format!("dryfit-intake-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(
        folder.join("mail.txt"),
        "Hi,\n- Tarn 650 Gold, 79.00 EUR\n- 2x Lull 120\n- Vexmoor Q9 850W psu\nThanks!",
    )
    .expect("written");
    let said = |o: &Output| String::from_utf8_lossy(&o.stderr).into_owned();
    let made = dryfit(&folder, &["intake", "mail.txt", "-o", "list.toml", "--date", "2026-11-20"]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let list = std::fs::read_to_string(folder.join("list.toml")).expect("it is there");
    for line in [
        "part = \"supply/tarn-650-gold\"",
        "count = 2",
        "kind = \"supply\"",
        "facts = { rated_w = 850 }",
        "quoted = { price = \"79.00 EUR\", on = 2026-11-20 }",
    ] {
        assert!(list.contains(line), "{line}\n{list}");
    }
    let again = dryfit(&folder, &["intake", "mail.txt", "-o", "list.toml"]);
    assert_eq!(again.status.code(), Some(2));
    assert_eq!(std::fs::read_to_string(folder.join("list.toml")).expect("it is there"), list);
    for command in [&["audit", "mail.txt"][..], &["try", "mail.txt", "--script", "-"]] {
        let handed = dryfit(&folder, command);
        assert_eq!(handed.status.code(), Some(2));
        assert!(said(&handed).contains("dryfit intake mail.txt"), "{}", said(&handed));
    }
    let audited = dryfit(&folder, &["audit", "list.toml", "--date", "2026-11-20"]);
    assert!(matches!(audited.status.code(), Some(0 | 1 | 3)), "{}", said(&audited));
    std::fs::write(folder.join("ask.txt"), "- Lull case fan").expect("written");
    assert_eq!(dryfit(&folder, &["intake", "ask.txt"]).status.code(), Some(3));
    std::fs::write(folder.join("map.toml"), "x = 1").expect("written");
    std::fs::write(folder.join("page.txt"), "Fairlead 550\n\nPower: 550 W\nForm: ATX")
        .expect("written");
    let mapped =
        dryfit(&folder, &["parts", "import", "page.txt", "--kind", "psu", "--map", "map.toml"]);
    assert!(said(&mapped).contains("names no column"), "{}", said(&mapped));
    let imported = dryfit(
        &folder,
        &["parts", "import", "page.txt", "--kind", "psu", "--into", "parts.toml", "--write"],
    );
    assert_eq!(imported.status.code(), Some(0), "{}", said(&imported));
    let parts = std::fs::read_to_string(folder.join("parts.toml")).expect("it is there");
    assert!(parts.contains("rated_w = 550  # line 3: 550 W"), "{parts}");
    std::fs::write(folder.join("page.txt"), "Fairlead 550\n\nPower: 560 W\nForm: ATX")
        .expect("written");
    let changed = dryfit(
        &folder,
        &["parts", "import", "page.txt", "--kind", "psu", "--into", "parts.toml", "--write"],
    );
    assert!(said(&changed).contains("rated_w was 550, is 560"), "{}", said(&changed));
    std::fs::remove_dir_all(&folder).expect("it goes");
}

#[test]
fn what_dryfit_writes_itself_gives_the_same_list_back() {
    let folder = std::env::temp_dir().join(format!("dryfit-exports-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let build = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/clinic-records.toml");
    let table: toml::Table = std::fs::read_to_string(build).expect("text").parse().expect("TOML");
    let line = |l: &toml::Value| {
        let owned = l.get("owned").and_then(toml::Value::as_bool) == Some(true);
        let count = l.get("count").and_then(toml::Value::as_integer).unwrap_or(1);
        (!owned).then(|| (l["part"].as_str().unwrap_or("").to_owned(), count))
    };
    let mut asked: Vec<(String, i64)> =
        table["line"].as_array().into_iter().flatten().filter_map(line).collect();
    asked.sort();
    for format in ["csv", "json"] {
        let written = dryfit(&folder, &["prices", "list", build, "--format", format]);
        let mut read: Vec<(String, i64)> = rows(&written.stdout)
            .expect("it is read")
            .into_iter()
            .filter_map(|r| Some((r.part?, i64::from(r.count))))
            .collect();
        read.sort();
        assert_eq!(read, asked, "{format}");
    }
    refused(b"[[line]]\npart = \"supply/tarn-650\"", "a build already");
    std::fs::remove_dir_all(&folder).expect("it goes");
}

#[test]
fn a_dash_is_standard_output_and_one_thing_is_written_there() {
    let folder = std::env::temp_dir().join(format!("dryfit-intake-dash-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(folder.join("mail.txt"), "- Tarn 650 Gold\n- 2x Lull 120\n").expect("written");
    let said = |o: &Output| String::from_utf8_lossy(&o.stderr).into_owned();
    let list = dryfit(&folder, &["intake", "mail.txt", "--date", "2026-11-20"]).stdout;
    let list = String::from_utf8_lossy(&list);
    assert!(list.contains("supply/tarn-650-gold"), "{list}");
    let shown = dryfit(&folder, &["intake", "mail.txt", "-o", "-", "--date", "2026-11-20"]);
    assert_eq!(String::from_utf8_lossy(&shown.stdout), list);
    for other in [&["--audit"][..], &["--format", "json"]] {
        let both = dryfit(&folder, &[&["intake", "mail.txt", "-o", "-"], other].concat());
        assert_eq!(both.status.code(), Some(2));
        assert!(said(&both).contains("standard output"), "{}", said(&both));
    }
    assert!(!folder.join("-").exists());
    std::fs::remove_dir_all(&folder).expect("it goes");
}
