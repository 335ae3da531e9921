//! Build script: writes a table of the catalogue's and the rules' files, so that the binary carries
//! them.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?);
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    let mut text = String::new();
    for (constant, folder) in [("CATALOGUE", "catalogue"), ("RULES", "rules")] {
        let mut files = Vec::new();
        collect(&root.join(folder), &mut files)?;
        files.sort();
        let _ = writeln!(text, "/// Every file of `{folder}/`, by its path below the folder.");
        let _ = writeln!(text, "pub(crate) const {constant}: &[(&str, &str)] = &[");
        for file in files {
            let below = file.strip_prefix(root.join(folder)).map_err(io::Error::other)?;
            let below = below.to_string_lossy().replace('\\', "/");
            // The marker says how a folder on disk lies over others: the embedded one is the
            // ground.
            if below == "layer.toml" {
                continue;
            }
            let _ =
                writeln!(text, "    ({below:?}, include_str!({:?})),", file.display().to_string());
        }
        let _ = writeln!(text, "];");
        println!("cargo::rerun-if-changed={folder}");
    }
    fs::write(out.join("embedded.rs"), text)
}

fn collect(folder: &Path, into: &mut Vec<PathBuf>) -> io::Result<()> {
    println!("cargo::rerun-if-changed={}", folder.display());
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            collect(&path, into)?;
        } else if path.extension().is_some_and(|e| e == "toml" || e == "csv" || e == "rhai") {
            into.push(path);
        }
    }
    Ok(())
}
