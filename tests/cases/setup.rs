//! Makes a case's folder: a copy of its base and its files, and what a repository can't hold.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

static NUMBER: AtomicUsize = AtomicUsize::new(0);

/// A folder that goes away with its case.
pub(crate) struct Place {
    pub(crate) folder: PathBuf,
}

impl Place {
    /// Copies the bases, then the case over them.
    pub(crate) fn new(root: &Path, case: &Path) -> Result<Self, String> {
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR"))
            .join(format!("case-{}-{number}", std::process::id()));
        let place = Self { folder };
        let base = fs::read_to_string(case.join("base")).unwrap_or_default();
        for base in base.lines().filter(|l| !l.trim().is_empty()) {
            copy(&root.join("base").join(base.trim()), &place.folder, &[])?;
        }
        copy(
            case,
            &place.folder,
            &["cmd", "base", "setup", "facts", "stdout", "stderr", "code", "wrote"],
        )?;
        Ok(place)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

fn copy(from: &Path, to: &Path, but: &[&str]) -> Result<(), String> {
    let told = |e: std::io::Error| format!("{}: {e}", from.display());
    fs::create_dir_all(to).map_err(told)?;
    for entry in fs::read_dir(from).map_err(told)? {
        let entry = entry.map_err(told)?;
        let name = entry.file_name();
        if but.iter().any(|b| name.to_str() == Some(b)) {
            continue;
        }
        let (old, new) = (entry.path(), to.join(&name));
        if old.is_dir() {
            copy(&old, &new, &[])?;
        } else {
            fs::copy(&old, &new).map_err(told)?;
        }
    }
    Ok(())
}

/// Runs the steps of a `setup` file; false when this machine can't make what the case needs.
///
/// - `text FILE TEXT`: writes the text, with `\n`, `\t`, `\r`, `\u{…}` and `\x…` (a byte) read.
/// - `repeat FILE COUNT TEXT`: appends the text many times.
/// - `line FILE COUNT TEXT`: appends the text many times, numbered where it says `#`.
/// - `link NAME TARGET`, `pipe NAME`, `drop FILE`, `folder NAME`, `hide FILE` (may not be read).
pub(crate) fn prepare(folder: &Path, steps: &str) -> Result<bool, String> {
    for step in steps.lines().filter(|l| !l.trim().is_empty()) {
        let mut words = step.splitn(3, ' ');
        let (verb, name, rest) =
            (words.next().unwrap_or(""), words.next().unwrap_or(""), words.next().unwrap_or(""));
        let path = folder.join(name);
        let told = |e: std::io::Error| format!("setup `{step}`: {e}");
        match verb {
            "text" => fs::write(&path, unescape(rest)).map_err(told)?,
            "repeat" | "line" => {
                let (count, text) = rest.split_once(' ').unwrap_or((rest, ""));
                let text = unescape(text);
                let mut bytes = fs::read(&path).unwrap_or_default();
                for number in 0..count.parse::<usize>().map_err(|e| e.to_string())? {
                    if verb == "line" {
                        bytes.extend(
                            String::from_utf8_lossy(&text)
                                .replace('#', &number.to_string())
                                .into_bytes(),
                        );
                    } else {
                        bytes.extend(&text);
                    }
                }
                fs::write(&path, bytes).map_err(told)?;
            }
            "drop" => fs::remove_file(&path).map_err(told)?,
            "folder" => fs::create_dir_all(&path).map_err(told)?,
            "pipe" => {
                let made = std::process::Command::new("mkfifo").arg(&path).status();
                if !made.is_ok_and(|status| status.success()) {
                    return Ok(false);
                }
            }
            "link" => link(rest, &path).map_err(told)?,
            "hide" => {
                if !hide(&path).map_err(told)? {
                    return Ok(false);
                }
            }
            _ => return Err(format!("setup does not know `{step}`")),
        }
    }
    Ok(true)
}

#[cfg(unix)]
fn link(target: &str, path: &Path) -> std::io::Result<()> {
    std::os::unix::fs::symlink(target, path)
}

#[cfg(not(unix))]
fn link(_: &str, _: &Path) -> std::io::Result<()> {
    Ok(())
}

/// Takes the right to read away; an administrator reads it all the same, and then there is nothing
/// to see.
#[cfg(unix)]
fn hide(path: &Path) -> std::io::Result<bool> {
    use std::os::unix::fs::PermissionsExt as _;
    fs::set_permissions(path, fs::Permissions::from_mode(0o0))?;
    Ok(if path.is_dir() { fs::read_dir(path).is_err() } else { fs::File::open(path).is_err() })
}

#[cfg(not(unix))]
fn hide(_: &Path) -> std::io::Result<bool> {
    Ok(false)
}

fn unescape(text: &str) -> Vec<u8> {
    let mut out = Vec::with_capacity(text.len());
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        let mut buffer = [0; 4];
        if c != '\\' {
            out.extend(c.encode_utf8(&mut buffer).bytes());
            continue;
        }
        match chars.next() {
            Some('n') => out.push(b'\n'),
            Some('t') => out.push(b'\t'),
            Some('r') => out.push(b'\r'),
            Some('x') => {
                out.extend(u8::from_str_radix(&chars.by_ref().take(2).collect::<String>(), 16))
            }
            Some('u') => {
                let code: String = chars.by_ref().skip(1).take_while(|c| *c != '}').collect();
                out.extend(
                    u32::from_str_radix(&code, 16)
                        .ok()
                        .and_then(char::from_u32)
                        .into_iter()
                        .flat_map(|c| c.to_string().into_bytes()),
                );
            }
            Some(other) => out.extend(other.encode_utf8(&mut buffer).bytes()),
            None => {}
        }
    }
    out
}
