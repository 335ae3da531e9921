//! `dryfit config`: what is set at a place, and where each value comes from.

use std::path::Path;

use serde_json::json;

use crate::app::args::rules::TestFormat;
use crate::app::commands::Page;
use crate::app::report::style::Look;
use crate::config::Config;
use crate::kit::Layers;
use crate::layer::find_upward;
use crate::source::{Problem, Problems};

/// A value in force.
struct Row {
    key: String,
    value: String,
    from: String,
}

pub(crate) fn config(at: &Path, format: TestFormat, page: &mut Page) -> Result<u8, Problems> {
    if !at.exists() {
        return Err(Problem::new(format!("there is nothing at {}", at.display())).into());
    }
    let rows = rows(&Config::beside(at)?, at);
    match format {
        TestFormat::Json => {
            let values: Vec<_> = rows
                .iter()
                .map(|row| json!({ "key": row.key, "value": row.value, "from": row.from }))
                .collect();
            page.json(&json!({ "format": "dryfit-config", "version": 1, "values": values }));
        }
        TestFormat::Text => {
            let look = Look::stdout();
            for row in &rows {
                let text = format!("{} = {}  ({})", row.key, row.value, row.from);
                page.write(&look.hanging(&text));
            }
        }
    }
    // What is set and cannot be done is said after what is set.
    Layers::beside(at)?.check()?;
    Ok(0)
}

fn rows(config: &Config, at: &Path) -> Vec<Row> {
    let mut rows: Vec<Row> = config
        .entries
        .iter()
        .map(|entry| {
            let source = &entry.place.source;
            let (line, _) = source.line_column(entry.place.span.start());
            Row {
                key: entry.key.clone(),
                value: entry.value.clone(),
                from: format!("{}:{line}", source.name),
            }
        })
        .collect();
    let given = |key: &str| config.entries.iter().any(|entry| entry.key == key);
    for folder in ["rules", "catalogue"].into_iter().filter(|key| !given(key)) {
        let found = find_upward(at, folder);
        rows.push(Row {
            key: folder.to_owned(),
            value: found.as_ref().map_or_else(|| "none".to_owned(), |p| p.display().to_string()),
            from: match found {
                Some(_) => "found beside or above".to_owned(),
                None => "only what is built in".to_owned(),
            },
        });
    }
    for (key, value) in [("format", "text"), ("fail_on", "stop"), ("currency", "EUR")] {
        if !given(key) {
            rows.push(Row {
                key: key.to_owned(),
                value: value.to_owned(),
                from: "built in".to_owned(),
            });
        }
    }
    rows
}
