//! A seller's feed of any length, and the map that reads it.

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::Path;

/// How the feed is written.
pub(crate) const MAP: &str = "seller = \"Ebb Mail\"\ncurrency = \"EUR\"\ndelimiter = \";\"\ndecimal = \",\"\ndate = \"DD.MM.YYYY\"\n[columns]\npart = \"id\"\nprice = \"price\"\nseen_on = \"day\"\nstock = \"stock\"\n";

/// Writes the feed of a seller that carries much beside parts: one row in four is a part of ours,
/// each on a new day after `days` days at most.
pub(crate) fn write(parts: &[&str], path: &Path, rows: usize, days: usize) {
    let mut out = BufWriter::new(File::create(path).unwrap_or_else(|e| panic!("{e}")));
    let put = |out: &mut BufWriter<File>, text: String| {
        out.write_all(text.as_bytes()).unwrap_or_else(|e| panic!("{e}"))
    };
    put(&mut out, "id;name;price;day;stock\n".to_owned());
    for at in 0..rows {
        let ours = at / 4 % (parts.len() * days);
        let (part, day) = (ours % parts.len(), ours / parts.len());
        let id = if at % 4 == 0 { parts[part].to_owned() } else { format!("ART-{at:07}") };
        let (price, cents, stock) = (10 + ours % 900, ours % 100, ours % 40);
        let (d, month, year) = (day % 28 + 1, day / 28 % 12 + 1, 2020 + day / 336);
        put(
            &mut out,
            format!(
                "{id};\"Article {at}, boxed\";{price},{cents:02};{d:02}.{month:02}.{year};{stock}\n"
            ),
        );
    }
    out.flush().unwrap_or_else(|e| panic!("{e}"));
}
