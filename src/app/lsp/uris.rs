//! Names of files as editors write them, `file:///…`, and paths.

use std::fs;
use std::path::{Path, PathBuf};
use std::str::FromStr as _;

use lsp_types::Uri;

/// How files that the program carries are named: `dryfit:///catalogue/parts/fan.toml`.
pub(crate) const CARRIED: &str = "dryfit:///";

/// The path of a `file:` name, with links resolved as far as the file is there.
pub(crate) fn path_of(uri: &str) -> Option<PathBuf> {
    let rest = uri.strip_prefix("file://")?;
    // A host is passed over: `file://localhost/…`.
    let path = rest.get(rest.find('/')?..)?;
    let decoded = decoded(path.split(['?', '#']).next().unwrap_or(path))?;
    // `/c:/…` on Windows.
    let drive = decoded.as_bytes().get(2) == Some(&b':') && cfg!(windows);
    let path = PathBuf::from(if drive { decoded.get(1..)? } else { &decoded });
    Some(real(&path))
}

/// A path with links resolved as far as it is there.
pub(crate) fn real(path: &Path) -> PathBuf {
    if let Ok(real) = fs::canonicalize(path) {
        return real;
    }
    match (path.parent(), path.file_name()) {
        (Some(parent), Some(name)) if parent != path => real(parent).join(name),
        _ => path.to_path_buf(),
    }
}

fn decoded(text: &str) -> Option<String> {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while let Some(byte) = bytes.get(at) {
        let pair = bytes.get(at + 1..at + 3).and_then(|pair| std::str::from_utf8(pair).ok());
        match pair.filter(|_| *byte == b'%').and_then(|p| u8::from_str_radix(p, 16).ok()) {
            Some(value) => {
                out.push(value);
                at += 3;
            }
            None => {
                out.push(*byte);
                at += 1;
            }
        }
    }
    String::from_utf8(out).ok().filter(|path| !path.contains('\0'))
}

/// The `file:` name of a path.
pub(crate) fn uri_of(path: &Path) -> String {
    let text = path.to_string_lossy().replace('\\', "/");
    let rooted = if text.starts_with('/') { text } else { format!("/{text}") };
    format!("file://{}", encoded(&rooted))
}

/// The name of a file that the program carries.
pub(crate) fn carried(name: &str) -> String {
    format!("{CARRIED}{}", encoded(name))
}

fn encoded(path: &str) -> String {
    let mut out = String::with_capacity(path.len());
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || b"/-._~:".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// A name as the protocol's own type; none of what is no name at all.
pub(crate) fn typed(uri: &str) -> Option<Uri> {
    Uri::from_str(uri).ok()
}

#[cfg(test)]
#[path = "../../../tests/unit/app/lsp/uris.rs"]
mod tests;
