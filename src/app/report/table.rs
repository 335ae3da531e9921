//! Several builds at a terminal, a row each.

use crate::app::counted::count;
use crate::app::report::Report;
use crate::app::report::escape::{indented, inert, width};
use crate::app::report::glance::summary;
use crate::app::report::style::Look;

/// One row a build, for several.
pub fn table(look: Look, reports: &[Report]) -> String {
    let mut stems: Vec<&str> = reports.iter().map(Report::name).collect();
    stems.sort_unstable();
    stems.dedup();
    // Two files of one name are told apart by their folders.
    let plain = stems.len() == reports.len();
    let names: Vec<String> = reports
        .iter()
        .map(|r| {
            inert(if plain { r.name() } else { r.file.strip_suffix(".toml").unwrap_or(&r.file) })
        })
        .collect();
    let longest = names.iter().map(|n| width(n)).max().unwrap_or(0).min(look.width / 2);
    let mut out = String::new();
    for (report, name) in reports.iter().zip(&names) {
        let words = summary(report);
        let rest = words.strip_prefix(&format!("{}: ", inert(report.name()))).unwrap_or(&words);
        let first = if width(name) <= longest {
            format!("{name}{}", " ".repeat(longest + 2 - width(name)))
        } else {
            format!("{name}  ")
        };
        let lead = if look.width < 60 { "  ".to_owned() } else { " ".repeat(longest + 2) };
        if look.width < 60 {
            out.push_str(&indented(&format!("{name}: {rest}"), "", &lead, look.width));
        } else {
            out.push_str(&indented(rest, &first, &lead, look.width));
        }
    }
    let clear = reports.iter().filter(|r| r.code() == 0).count();
    out.push_str(&look.hanging(&format!(
        "{clear} of {} {} no stop.",
        count(reports.len(), "list"),
        if clear == 1 { "has" } else { "have" }
    )));
    out
}
