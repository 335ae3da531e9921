//! Runs the program once: words of a command line, a clean environment, a limit on memory and a
//! look at what was used.

use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use crate::common::watch::{Used, watch};

/// Longest a case may take on the clock; a loaded machine is slow.
const CLOCK: Duration = Duration::from_secs(120);
/// Address space in KiB: stacks and arenas are reserved, not used.
const ADDRESSES_KB: u64 = 2 << 20;

/// What a run gave.
pub(crate) struct Seen {
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    pub(crate) code: Option<i32>,
    pub(crate) peak_kb: u64,
}

pub(crate) fn run(folder: &Path, cmd: &str) -> Result<Seen, String> {
    let (cmd, closed) = cmd.strip_suffix("| closed").map_or((cmd, false), |c| (c.trim(), true));
    let mut words = words(cmd).into_iter().peekable();
    // The limit is set by a shell that then becomes the program, so that the child is the program
    // itself.
    let mut command = Command::new("/bin/sh");
    command.args([
        "-c",
        &format!("ulimit -v {ADDRESSES_KB}; exec \"$0\" \"$@\""),
        env!("CARGO_BIN_EXE_dryfit"),
    ]);
    command.env_clear().env("PATH", "/usr/bin:/bin").env("NO_COLOR", "1").env("HOME", folder);
    while let Some((name, value)) = words
        .peek()
        .and_then(|w| w.split_once('='))
        .filter(|(n, _)| n.chars().all(|c| c.is_ascii_uppercase() || c == '_'))
    {
        command.env(name, value);
        words.next();
    }
    if words.next().as_deref() != Some("dryfit") {
        return Err("cmd must call dryfit".to_owned());
    }
    command
        .args(words)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|e| e.to_string())?;
    let (out, err) = (child.stdout.take().filter(|_| !closed), child.stderr.take());
    let pool_guard = [thread::spawn(move || all(out)), thread::spawn(move || all(err))];
    let Used { code, peak_kb } = watch(&mut child, CLOCK)?;
    // Which of two limits ends a loop first is the machine's affair.
    let [stdout, stderr] = pool_guard.map(|r| {
        r.join()
            .unwrap_or_default()
            .replace("it ran longer than 400 ms", "it ran past 400000 operations")
    });
    Ok(Seen { stdout, stderr, code, peak_kb })
}

fn all(stream: Option<impl Read>) -> String {
    let mut bytes = Vec::new();
    if let Some(mut stream) = stream {
        let _ = stream.read_to_end(&mut bytes);
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Words of a command line; single quotes hold a word together.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = None::<String>;
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '\'' => {
                quoted = !quoted;
                word.get_or_insert_default();
            }
            c if c.is_whitespace() && !quoted => words.extend(word.take()),
            c => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}
