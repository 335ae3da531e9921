//! What the program is made of: licences that go with its own, no version twice but where it cannot
//! be helped, nothing from outside the registry.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// Licences of which one must be offered. None asks more of who passes the binary on than to name
/// it, but for the last.
const LICENCES: &[&str] = &[
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "Unicode-3.0",
    "BSL-1.0",
    "ISC",
    // As ISC: to name who wrote it. The tables of old encodings come so.
    "BSD-3-Clause",
    "Zlib",
    "MIT-0",
    "CC0-1.0",
    // Changes to its own files are to be given on; the script engine brings it, and we change none.
    "MPL-2.0+",
];

/// Packages of which two versions are linked, and who keeps the older one.
const TWICE: &[(&str, &str)] = &[
    (
        "bitflags",
        "the older by the types of the protocol of editors, and by the names of files in it",
    ),
    (
        "getrandom",
        "the older by const-random, which the hasher of the script engine uses when it is built",
    ),
    (
        "syn",
        "reads code for derives while others are built; the older by derives that have not moved on",
    ),
];

fn cargo(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO"))
        .args(arguments)
        .args(["--locked", "--offline"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output();
    let output = output.expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("cargo writes text")
}

/// The system that the compiler builds for.
fn host() -> String {
    let output = Command::new("rustc").arg("-vV").output().expect("the compiler runs");
    let text = String::from_utf8(output.stdout).expect("it writes text");
    text.lines()
        .find_map(|line| line.strip_prefix("host: "))
        .expect("it says for which system it builds")
        .to_owned()
}

/// Whether an expression such as `(MIT OR Apache-2.0) AND Unicode-3.0` can be met. None of those in
/// use nests deeper.
fn allowed(expression: &str) -> bool {
    let one = |words: &str| LICENCES.contains(&words.trim());
    let any =
        |words: &str| words.trim_matches(['(', ')']).replace('/', " OR ").split(" OR ").any(one);
    expression.split(" AND ").all(any)
}

#[test]
fn every_licence_goes_with_ours() {
    // Packages of other systems are not fetched for this one, and there may be no network here.
    let metadata = cargo(&["metadata", "--format-version", "1", "--filter-platform", &host()]);
    let metadata: serde_json::Value = serde_json::from_str(&metadata).expect("it is JSON");
    let packages = metadata["packages"].as_array().expect("a list of packages");
    assert!(packages.len() > 50, "{} packages", packages.len());
    for package in packages {
        let (name, licence) = (
            package["name"].as_str().unwrap_or_default(),
            package["license"].as_str().unwrap_or("none"),
        );
        assert!(allowed(licence), "{name} is under {licence}");
        let registry = package["source"]
            .as_str()
            .is_none_or(|s| s.starts_with("registry+https://github.com/rust-lang/crates.io-index"));
        assert!(registry, "{name} comes from {}", package["source"]);
    }
    assert!(!allowed("GPL-3.0-only") && !allowed("MIT AND GPL-3.0-only") && !allowed("none"));
}

#[test]
fn no_version_stands_twice_but_where_it_cannot_be_helped() {
    let mut versions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for line in cargo(&["tree", "--edges", "normal", "--prefix", "none"]).lines() {
        let mut words = line.split_whitespace();
        if let (Some(name), Some(version)) = (words.next(), words.next()) {
            versions.entry(name.to_owned()).or_default().insert(version.to_owned());
        }
    }
    let twice: Vec<&str> =
        versions.iter().filter(|(_, v)| v.len() > 1).map(|(name, _)| name.as_str()).collect();
    assert_eq!(twice, TWICE.iter().map(|(name, _)| *name).collect::<Vec<_>>());
}

#[test]
fn what_is_published_runs_and_holds_no_tests() {
    let list = cargo(&["package", "--list", "--allow-dirty"]);
    let holds = |below: &str| list.lines().any(|file| file.starts_with(below));
    for wanted in ["src/main.rs", "catalogue/kinds/", "rules/", "examples/", "README.md"] {
        assert!(holds(wanted), "{wanted} is missing:\n{list}");
    }
    assert!(!holds("tests/") && !holds(".ci/"), "{list}");
}

/// No container can be built here, so what its file rests on is held instead: the compiler is the
/// one that the manifest asks for, and what is copied is enough for cargo.
#[test]
fn the_container_file_has_what_a_build_needs() {
    let here = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |below: &str| std::fs::read_to_string(here.join(below)).expect("it is there");
    let (container, manifest) = (read(".ci/Containerfile"), read("Cargo.toml"));
    let version = env!("CARGO_PKG_RUST_VERSION");
    let compilers: Vec<&str> =
        container.lines().filter_map(|line| line.strip_prefix("FROM ")).collect();
    assert!(
        compilers[0].contains(&format!("/rust:{version}-")),
        "Cargo.toml asks for {version}: {compilers:?}"
    );
    assert!(manifest.contains("[profile.dist]") && container.contains("--profile dist"));
    let folder = std::env::temp_dir().join(format!("dryfit-container-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("it can be made");
    let copied = container.lines().filter_map(|line| line.strip_prefix("COPY "));
    for copied in copied.filter(|copied| !copied.starts_with("--from")) {
        let mut paths: Vec<&str> = copied.split_whitespace().collect();
        let _ = paths.pop();
        for path in paths {
            assert!(here.join(path).exists(), "the container file copies {path}");
            std::os::unix::fs::symlink(here.join(path), folder.join(path)).expect("a link");
        }
    }
    for needed in ["src/embed.rs", "catalogue/kinds", "rules/fit.rhai"] {
        assert!(folder.join(needed).exists(), "a build needs {needed}");
    }
    let said = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--offline", "--no-deps", "--format-version", "1"])
        .arg("--manifest-path")
        .arg(folder.join("Cargo.toml"))
        .output()
        .expect("cargo runs");
    let _ = std::fs::remove_dir_all(&folder);
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
}
