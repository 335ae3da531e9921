//! Spreadsheets in the OpenDocument format, .ods.

use std::io::{Cursor, Write as _};

use dryfit::inside::intake::{Aliases, Intake, Row, read_bytes};
use zip::write::SimpleFileOptions;

/// A spreadsheet whose one table has these rows, as OpenDocument 1.3 part 3 names its elements.
fn sheet(rows: &str) -> Vec<u8> {
    let urn = "urn:oasis:names:tc:opendocument:xmlns";
    let content = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><office:document-content \
         xmlns:office=\"{urn}:office:1.0\" xmlns:table=\"{urn}:table:1.0\" \
         xmlns:text=\"{urn}:text:1.0\" office:version=\"1.3\"><office:body><office:spreadsheet>\
         <table:table table:name=\"List\">{rows}</table:table>\
         </office:spreadsheet></office:body></office:document-content>"
    );
    let kind = "application/vnd.oasis.opendocument.spreadsheet";
    let manifest = format!(
        "<?xml version=\"1.0\"?><manifest:manifest xmlns:manifest=\"{urn}:manifest:1.0\" \
         manifest:version=\"1.3\"><manifest:file-entry manifest:full-path=\"/\" \
         manifest:media-type=\"{kind}\"/></manifest:manifest>"
    );
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in
        [("mimetype", kind), ("META-INF/manifest.xml", &manifest), ("content.xml", &content)]
    {
        zip.start_file(name, SimpleFileOptions::default()).expect("a file begins");
        zip.write_all(text.as_bytes()).expect("it is written");
    }
    zip.finish().expect("it ends").into_inner()
}

fn text(cell: &str) -> String {
    format!(
        "<table:table-cell office:value-type=\"string\"><text:p>{cell}</text:p></table:table-cell>"
    )
}

fn number(value: &str, shown: &str) -> String {
    format!(
        "<table:table-cell office:value-type=\"float\" office:value=\"{value}\">\
         <text:p>{shown}</text:p></table:table-cell>"
    )
}

fn row(cells: &[String]) -> String {
    // The empty rest of a row is one cell, repeated to the sheet's end.
    let rest = "<table:table-cell table:number-columns-repeated=\"1020\"/>";
    format!("<table:table-row>{}{rest}</table:table-row>", cells.concat())
}

fn read(bytes: &[u8]) -> Result<Vec<Row>, String> {
    let catalogue = super::catalogue();
    let text = read_bytes(bytes, "list.ods").map_err(|p| p.to_string())?;
    Intake::new(&catalogue, Aliases::default()).read(&text).map_err(|p| p.to_string())
}

/// A row as it was read: line, state, count, part and price.
type Found<'r> = (usize, &'r str, u32, Option<&'r str>, Option<&'r str>);

#[test]
fn parts_counts_and_prices_of_a_sheet() {
    let rest = "<table:table-row table:number-rows-repeated=\"1048000\">\
                <table:table-cell table:number-columns-repeated=\"1024\"/></table:table-row>";
    let rows = [
        row(&[text("Teil"), text("Menge"), text("Einzelpreis (EUR)")]),
        row(&[text("Dotterel 506P"), number("1", "1"), number("174.95", "174,95")]),
        row(&[text("Lull 120"), number("3", "3"), number("9.9", "9,90")]),
        row(&[text("Summe"), text(""), number("204.65", "204,65")]),
        rest.to_owned(),
    ];
    let read = read(&sheet(&rows.concat())).expect("it is read");
    let found: Vec<Found<'_>> = read
        .iter()
        .filter_map(|r| {
            let part = r.part.as_deref()?;
            Some((r.line, part, r.count, r.price.as_deref(), r.currency.as_deref()))
        })
        .collect();
    assert_eq!(
        found,
        [
            (2, "processor/dotterel-506p", 1, Some("174.95"), Some("EUR")),
            (3, "fan/lull-120", 3, Some("9.90"), Some("EUR")),
        ]
    );
}

#[test]
fn a_row_repeated_a_million_times_is_refused() {
    let bomb = format!(
        "<table:table-row table:number-rows-repeated=\"1000000\">{}</table:table-row>",
        text("Tarn 650 Gold")
    );
    let said = read(&sheet(&bomb)).expect_err("it is refused");
    assert!(said.contains("more rows or columns"), "{said}");
    assert!(read(&sheet("")).expect_err("it is refused").contains("holds no rows"));
}
