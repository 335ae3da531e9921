//! `dryfit rules new`: a rule file and its cases, which pass as they are, to be changed into what a
//! shop knows.

use std::fs;
use std::path::{Path, PathBuf};

use crate::catalogue::kinds::{RESERVED, is_word};
use crate::disk;
use crate::kit::Kit;
use crate::source::Problem;
use crate::words::{clip, is_one_of};

/// The files that were written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fresh {
    /// The rule file.
    pub rules: PathBuf,
    pub cases: PathBuf,
}

/// Writes `NAME.rhai` and `NAME.cases.toml` into a folder, which is made when it is not there.
/// Errors: the name cannot be a rule file's, is taken, or the files cannot be written.
pub fn write(kit: &Kit, folder: &Path, name: &str) -> Result<Fresh, Problem> {
    check(kit, name)?;
    let fresh = Fresh {
        rules: folder.join(format!("{name}.rhai")),
        cases: folder.join(format!("{name}.cases.toml")),
    };
    for path in [&fresh.rules, &fresh.cases] {
        if path.exists() {
            return Err(Problem::new(format!("{} is there already", path.display()))
                .help("choose another name; nothing was written"));
        }
    }
    fs::create_dir_all(folder)
        .map_err(|e| Problem::new(format!("cannot make {}: {e}", folder.display())))?;
    disk::write_whole(&fresh.rules, rule_text(name).as_bytes(), false)?;
    disk::write_whole(&fresh.cases, cases_text(name).as_bytes(), false)?;
    Ok(fresh)
}

fn check(kit: &Kit, name: &str) -> Result<(), Problem> {
    let shown = clip(name, 60);
    if !is_word(name) {
        return Err(Problem::new(format!("`{shown}` cannot be the name of a rule file"))
            .help("lower-case letters, digits and _, a letter first: stock, house_style"));
    }
    if is_one_of(RESERVED, name) {
        return Err(
            Problem::new(format!("`{shown}` is a word of Rhai's own")).help("choose another name")
        );
    }
    match kit.rules().files.iter().find(|f| *f.stem == *name) {
        Some(file) => Err(Problem::new(format!(
            "`{shown}` is the name of a rule file already: {} ({})",
            file.source.name, file.layer
        ))
        .help(
            "its own rules would be added to those; choose another name, which keeps them apart",
        )),
        None => Ok(()),
    }
}

fn rule_text(name: &str) -> String {
    format!(
        r#"//! What this shop checks beside the rules that everybody has.
//! Each function below with `///` lines above it is a rule; its name here is {name}.supply_floor.

/// The supply is rated for what this shop fits at the least.
/// Say here why it matters, in words for the next person at the bench.
/// Basis: this shop's own experience.
/// Remedy: a supply rated higher.
fn supply_floor(build) {{
    let supply = build.supply;
    if supply == () {{ return; }}
    if supply.rated_w < 400 {{
        caution("{{supply}} is rated {{rated}}, and this shop fits nothing under 400 W",
            #{{ supply: supply, rated: supply.rated_w }});
    }}
}}
"#
    )
}

fn cases_text(name: &str) -> String {
    format!(
        r#"# Cases for {name}.rhai: small builds in figures, with the fields that the rule reads.

[[case]]
name   = "one watt short"
line   = [{{ kind = "supply", name = "Bench supply", rated_w = 399 }}]
find   = [{{ rule = "{name}.supply_floor", level = "caution", at = ["supply.rated_w"], says = "rated 399 W" }}]

[[case]]
name   = "just enough"
line   = [{{ kind = "supply", name = "Bench supply", rated_w = 400 }}]
silent = ["{name}.supply_floor"]

[[case]]
name   = "no supply on the list"
line   = [{{ kind = "fan", name = "Bench fan" }}]
silent = ["{name}.supply_floor"]
"#
    )
}
