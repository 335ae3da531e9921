//! The `git` program, asked without asking anybody anything, and without what a tree's or a
//! repository's own settings would run.

use std::ffi::OsString;
use std::io::{Read as _, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;

/// Settings that no repository may change here.
const FIXED: &[&str] = &[
    "-c",
    "core.fsmonitor=false",
    "-c",
    "core.hooksPath=/dev/null",
    "-c",
    "credential.helper=",
    // A server that sends nothing is not waited for without end.
    "-c",
    "http.lowSpeedLimit=100",
    "-c",
    "http.lowSpeedTime=30",
];

fn command(folder: &Path) -> Command {
    let mut command = Command::new("git");
    command
        .args(FIXED)
        .arg("-C")
        .arg(folder)
        .env("GIT_TERMINAL_PROMPT", "0")
        .env("GIT_ASKPASS", "true")
        .env("SSH_ASKPASS", "true")
        .env("GIT_SSH_COMMAND", "ssh -oBatchMode=yes")
        .env("GIT_ALLOW_PROTOCOL", "file:git:http:https:ssh")
        .env("GIT_OPTIONAL_LOCKS", "0")
        .env("LC_ALL", "C");
    command
}

fn not_started(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no git program here".to_owned(),
        _ => error.to_string(),
    }
}

pub(crate) fn git(folder: &Path, words: &[&str]) -> Result<Vec<u8>, String> {
    let out =
        command(folder).args(words).stdin(Stdio::null()).output().map_err(|e| not_started(&e))?;
    if out.status.success() {
        return Ok(out.stdout);
    }
    let said = String::from_utf8_lossy(&out.stderr);
    // What went wrong comes after what was done.
    let wrong = |line: &&str| line.starts_with("fatal: ") || line.starts_with("error: ");
    let line = said.lines().find(wrong).or_else(|| said.lines().next()).unwrap_or("");
    Err(line.trim_start_matches("fatal: ").trim_start_matches("error: ").to_owned())
}

/// The bytes of objects, in the order they are named in.
/// Errors: what git says, or an object that is not there.
pub(crate) fn blobs(repository: &Path, names: &[String]) -> Result<Vec<Vec<u8>>, String> {
    let mut child = command(repository)
        .args(["cat-file", "--batch"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|e| not_started(&e))?;
    let asked = names.join("\n") + "\n";
    let input = child.stdin.take();
    let asking = thread::spawn(move || input.map(|mut input| input.write_all(asked.as_bytes())));
    let mut out = Vec::new();
    let read = child.stdout.take().map(|mut stream| stream.read_to_end(&mut out));
    let _ = asking.join();
    let ended = child.wait().map_err(|e| e.to_string())?;
    if !ended.success() || !matches!(read, Some(Ok(_))) {
        return Err("git did not give the files".to_owned());
    }
    let mut rest = out.as_slice();
    let mut blobs = Vec::with_capacity(names.len());
    for name in names {
        let missing = || format!("git does not give {name}");
        let end = rest.iter().position(|b| *b == b'\n').ok_or_else(missing)?;
        let head = String::from_utf8_lossy(rest.get(..end).unwrap_or(&[])).into_owned();
        let size: usize =
            head.rsplit(' ').next().and_then(|size| size.parse().ok()).ok_or_else(missing)?;
        let bytes = rest.get(end + 1..end + 1 + size).ok_or_else(missing)?;
        blobs.push(bytes.to_vec());
        rest = rest.get(end + size + 2..).unwrap_or(&[]);
    }
    Ok(blobs)
}

/// Bytes of a path, as git gives them.
#[cfg(unix)]
pub(crate) fn os_text(bytes: &[u8]) -> OsString {
    use std::os::unix::ffi::OsStrExt as _;
    std::ffi::OsStr::from_bytes(bytes).to_owned()
}

/// Bytes of a path, as git gives them.
#[cfg(not(unix))]
pub(crate) fn os_text(bytes: &[u8]) -> OsString {
    String::from_utf8_lossy(bytes).into_owned().into()
}
