//! A session in an editor from the system's packages, with the language client it brings along.

use std::fs;
use std::process::Command;

use crate::common::desk::Desk;

const SESSION: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/lsp/session.lua");

/// Opens the wreck, takes the repair that is offered, and the verdict is clean of stops; the shell
/// says the same of the text that the editor made.
#[test]
fn the_wreck_is_repaired_in_an_editor() {
    if Command::new("nvim").arg("--version").output().is_err() {
        assert!(std::env::var("CI").is_err(), "CI installs the editor: .ci/steps.sh");
        return;
    }
    let desk = Desk::new();
    desk.write("quay-salvage.toml", include_str!("../../examples/quay-salvage.toml"));
    let told = desk.path("told.txt");
    let output = Command::new("nvim")
        .args(["--headless", "-n", "-u", "NONE", "-i", "NONE", "quay-salvage.toml", "-S", SESSION])
        .current_dir(&desk.0)
        .env("DRYFIT_BINARY", env!("CARGO_BIN_EXE_dryfit"))
        .env("DRYFIT_TOLD", &told)
        .env("DRYFIT_MENDED", desk.path("mended.toml"))
        .env("XDG_STATE_HOME", desk.path("state"))
        .env("XDG_CACHE_HOME", desk.path("cache"))
        .output()
        .unwrap();
    let said = fs::read_to_string(&told).unwrap_or_default();
    let aside = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}\n{aside}");
    let lines: Vec<&str> = said.lines().collect();
    assert!(lines[1].starts_with("first line: do not build"), "{said}");
    assert_eq!(lines[2], "verdict: stop", "{said}");
    assert!(lines[3].contains("no smaller fix exists"), "{said}");
    assert_eq!(lines[4], "stops shown: 0", "{said}");
    assert!(lines[5].starts_with("first line: build"), "{said}");
    let verdict = lines[6].strip_prefix("verdict: ").unwrap();
    let arguments = ["audit", "mended.toml", "--format", "json"];
    let shell = desk.command(&arguments).output().unwrap();
    let shell: serde_json::Value = serde_json::from_slice(&shell.stdout).unwrap();
    assert_eq!(shell["audits"][0]["verdict"], verdict, "{said}");
    assert!(["build", "care"].contains(&verdict), "{said}");
}
