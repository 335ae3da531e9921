//! A folder to work in, and the binary run in it.

use std::fs;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};

static COUNT: AtomicU32 = AtomicU32::new(0);

/// A folder of its own, gone when dropped.
pub(crate) struct Desk(pub(crate) PathBuf);

impl Desk {
    /// A folder with one build in it, `desk.toml`.
    pub(crate) fn new() -> Self {
        let folder = std::env::temp_dir().join(format!(
            "dryfit-prompt-{}-{}",
            std::process::id(),
            COUNT.fetch_add(1, Ordering::Relaxed)
        ));
        fs::create_dir_all(&folder).unwrap();
        let desk = Self(folder);
        desk.write(
            "desk.toml",
            &fs::read_to_string(concat!(
                env!("CARGO_MANIFEST_DIR"),
                "/examples/bird-hide-edit.toml"
            ))
            .unwrap(),
        );
        desk
    }

    /// A file's path.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// Writes a file.
    pub(crate) fn write(&self, name: &str, text: &str) {
        if let Some(folder) = self.path(name).parent() {
            fs::create_dir_all(folder).unwrap();
        }
        fs::write(self.path(name), text).unwrap();
    }

    /// Reads a file.
    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    /// Names of what is in it, in order, but for what is remembered of its user.
    #[allow(dead_code)] // Not every test program looks.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).unwrap().map(|e| e.unwrap().file_name());
        let names = entries.map(|name| name.to_string_lossy().into_owned());
        let mut names: Vec<String> = names.filter(|name| name != "data").collect();
        names.sort();
        names
    }

    /// The binary, in this folder, with nothing of the user's around it.
    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_dryfit"));
        command
            .args(arguments)
            .current_dir(&self.0)
            .env("XDG_DATA_HOME", self.path("data"))
            .env("TERM", "xterm")
            .env("LC_ALL", "C.UTF-8")
            .env_remove("COLUMNS")
            .env_remove("NO_COLOR");
        command
    }

    /// Runs commands through a pipe.
    pub(crate) fn pipe(&self, arguments: &[&str], script: &str) -> Output {
        let mut child = self
            .command(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut input = child.stdin.take().unwrap();
        let script = script.to_owned();
        // A run that stops early closes the pipe; that is no failure of the test.
        let writer = std::thread::spawn(move || input.write_all(script.as_bytes()));
        let output = child.wait_with_output().unwrap();
        let _ = writer.join();
        output
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// What a run wrote aside.
pub(crate) fn aside(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}
