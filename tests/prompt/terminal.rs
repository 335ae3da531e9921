//! The prompt in a real pseudo-terminal.

use std::fs;
use std::io::{Read as _, Write as _};
use std::os::unix::fs::PermissionsExt as _;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use pty_process::Size;
use pty_process::blocking::{Command, Pty};

use crate::common::desk::Desk;
use crate::common::share;

/// Lines that fill the buffers of a terminal several times; whole runs take five times as many.
const LINES: u32 = 1000;

/// Longest wait for what must come.
const PATIENCE: Duration = Duration::from_secs(240);

/// The prompt in a terminal: what is typed goes in, what is shown is collected.
pub(super) struct Terminal {
    pty: Arc<Pty>,
    child: std::process::Child,
    shown: Arc<Mutex<String>>,
    read: usize,
}

impl Terminal {
    fn open(desk: &Desk, columns: u16) -> Self {
        let mut terminal =
            Self::start(desk, columns, &["try", "desk.toml", "--date", "2026-11-20"]);
        terminal.expect("Tab completes");
        terminal.expect("> ");
        terminal
    }

    /// The program with arguments, in the desk's folder.
    pub(super) fn start(desk: &Desk, columns: u16, arguments: &[&str]) -> Self {
        Self::start_as(desk, columns, "xterm", arguments)
    }

    /// The same on a terminal that calls itself something else.
    pub(super) fn start_as(desk: &Desk, columns: u16, term: &str, arguments: &[&str]) -> Self {
        let (pty, pts) = pty_process::blocking::open().unwrap();
        pty.resize(Size::new(40, columns)).unwrap();
        let child = Command::new(env!("CARGO_BIN_EXE_dryfit"))
            .args(arguments)
            .current_dir(&desk.0)
            .env("XDG_DATA_HOME", desk.path("data"))
            .env("TERM", term)
            .env("LC_ALL", "C.UTF-8")
            .env("NO_COLOR", "1")
            .env_remove("COLUMNS")
            .spawn(pts)
            .unwrap();
        let pty = Arc::new(pty);
        let shown = Arc::new(Mutex::new(String::new()));
        let (reader, into) = (pty.clone(), shown.clone());
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(n) = (&*reader).read(&mut bytes) {
                if n == 0 {
                    break;
                }
                into.lock().unwrap().push_str(&String::from_utf8_lossy(&bytes[..n]));
            }
        });
        Self { pty, child, shown, read: 0 }
    }

    pub(super) fn send(&self, text: &str) {
        (&*self.pty).write_all(text.as_bytes()).unwrap();
    }

    /// Waits for a text in what was shown since the last one found, and gives all up to it.
    pub(super) fn expect(&mut self, text: &str) -> String {
        let start = Instant::now();
        loop {
            let shown = self.shown.lock().unwrap().clone();
            let rest = shown.get(self.read..).unwrap_or("");
            if let Some(at) = rest.find(text) {
                let end = self.read + at + text.len();
                let found = shown[self.read..end].to_owned();
                self.read = end;
                return found;
            }
            assert!(
                start.elapsed() < PATIENCE,
                "waited for {text:?} in {:?}",
                rest.chars().rev().take(2000).collect::<String>().chars().rev().collect::<String>()
            );
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    pub(super) fn run(&mut self, line: &str, expected: &str) -> String {
        self.send(line);
        self.send("\r");
        self.expect(expected)
    }

    /// Ctrl-C, and the new prompt after it. What is typed ahead of a Ctrl-C is gone, as in any
    /// terminal, so nothing may be under way.
    fn interrupt(&mut self) {
        self.settle();
        self.send("\u{3}");
        self.expect("\u{1b}[?2004h");
    }

    /// Waits until nothing more is shown, and has read all of it.
    pub(super) fn settle(&mut self) {
        let mut before = usize::MAX;
        while before != self.shown.lock().unwrap().len() {
            before = self.shown.lock().unwrap().len();
            std::thread::sleep(Duration::from_millis(200));
        }
        self.read = before;
    }

    pub(super) fn leave(mut self) -> i32 {
        self.send("quit!\r");
        self.gone()
    }

    /// Types a command and waits until it is taken: Ctrl-C before that is about the line.
    pub(super) fn begin(&mut self, line: &str) {
        self.send(line);
        self.settle();
        self.send("\r");
        self.expect("\n");
        // A plain terminal echoes the line before the program has it.
        std::thread::sleep(Duration::from_secs(1));
    }

    /// Presses Ctrl-C until a text is shown: on a busy machine the first may come too early.
    pub(super) fn interrupt_until(&mut self, text: &str) -> String {
        let start = Instant::now();
        loop {
            let shown = self.shown.lock().unwrap().get(self.read..).unwrap_or("").to_owned();
            if shown.contains(text) {
                return self.expect(text);
            }
            assert!(start.elapsed() < PATIENCE, "Ctrl-C does not lead to {text:?} in {shown:?}");
            self.send("\u{3}");
            std::thread::sleep(Duration::from_millis(250));
        }
    }

    pub(super) fn process(&self) -> u32 {
        self.child.id()
    }

    pub(super) fn gone(&mut self) -> i32 {
        let start = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code().unwrap_or(-1);
            }
            assert!(start.elapsed() < PATIENCE, "it does not leave");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn tab_completes_commands_lines_and_parts() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.send("sw\tsup\t");
    terminal.expect("swap supply ");
    terminal.send("tarn-55\t");
    terminal.expect("supply/tarn-550");
    terminal.send("\t\t");
    // The candidates show a price and a telling figure, the cheapest first.
    let list = terminal.expect("Tarn 550 Gold");
    assert!(list.contains("57.90") && list.contains("550 W"), "{list:?}");
    terminal.run("", "swapped");
    terminal.send("why power.in_\t");
    terminal.expect("power.in_hand");
    terminal.run("", "It gives");
    terminal.send("= build.supply.rated\t");
    terminal.expect("rated_w");
    terminal.run("", "550 W");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn history_is_kept_for_its_user_alone() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.run("mark one", "marked as one");
    terminal.run("= 20 + 22", "42");
    terminal.run("mark one", "marked as one");
    terminal.run(" mark unseen", "marked as unseen");
    terminal.run("my secret word", "no command");
    assert_eq!(terminal.leave(), 0);
    let file = desk.path("data/dryfit/history");
    assert_eq!(fs::read_to_string(&file).unwrap(), "= 20 + 22\nmark one\nquit!\n");
    assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    assert_eq!(fs::metadata(desk.path("data/dryfit")).unwrap().permissions().mode() & 0o077, 0);
    let mut terminal = Terminal::open(&desk, 100);
    terminal.send("\u{1b}[A\u{1b}[A\u{1b}[A");
    terminal.expect("= 20 + 22");
    terminal.run("", "42");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn ctrl_c_clears_the_line_and_ctrl_d_asks_once() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.send("drop supply");
    terminal.interrupt();
    terminal.run("= build.count(\"supply\")", "1  = count of supply");
    terminal.run("set years 9", "now");
    terminal.expect("desk*");
    terminal.expect("*> ");
    terminal.send("\u{4}");
    terminal.expect("unsaved changes");
    terminal.run("mark here", "marked");
    terminal.expect("*> ");
    terminal.send("\u{4}");
    terminal.expect("unsaved changes");
    terminal.expect("> ");
    terminal.send("\u{4}");
    assert_eq!(terminal.gone(), 0);
    assert!(desk.read("desk.toml").contains("years         = 4"));
}

#[test]
fn expressions_go_on_until_their_brackets_close() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.send("= (40 +\r");
    terminal.send("2)\r");
    terminal.expect("42");
    terminal.run("= let a = [1,\r2,\r3];", "> ");
    terminal.run("= a.len() + 100", "103");
    terminal.send("= (1\r");
    terminal.interrupt();
    terminal.run("= 7 * 7", "49");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn where_two_lines_fit_it_asks() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.run("drop fan", "2 lines fit `fan`: which?");
    terminal.expect("1 to 2: ");
    terminal.run("2", "dropped  #11 Lull 120");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn twenty_columns_are_enough() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.pty.resize(Size::new(80, 20)).unwrap();
    // The new size is known once the prompt is drawn again.
    terminal.send("\r");
    terminal.expect("> ");
    terminal.send("lines\r");
    terminal.expect("\n");
    let shown = terminal.expect("To buy");
    let long: Vec<&str> = shown.lines().filter(|l| l.chars().count() > 20).collect();
    assert!(long.is_empty(), "{long:?}");
    terminal.send("set hours_per_day 7   # longer than the line is wide\r");
    terminal.expect("hours_per_day");
    terminal.run("= build.hours_per_day * 3", "21 h");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn a_paste_of_thousands_of_lines_is_taken_whole() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    let many = share::of(5000).max(LINES);
    let lines: String = (0..many).map(|n| format!("set hours_per_day {}\r", n % 24)).collect();
    terminal.send(&format!("\u{1b}[200~{lines}\u{1b}[201~\r"));
    let last = (many - 1) % 24;
    terminal.expect(&format!("hours_per_day {last}"));
    terminal.run("= \"end \" + \"of paste\"", "end of paste");
    terminal.run("= build.hours_per_day", &format!("{last} h"));
    terminal.run(&format!("undo {many}"), &format!("undone: {many} steps"));
    terminal.run("= build.hours_per_day", "6 h");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn thousands_of_lines_typed_without_a_break_all_run() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    let pty = terminal.pty.clone();
    let many = share::of(5000).max(LINES);
    let lines: String = (0..many).map(|n| format!("= {n}\r")).collect();
    let typist = std::thread::spawn(move || (&*pty).write_all(lines.as_bytes()));
    typist.join().unwrap().unwrap();
    terminal.expect(&format!("\n{}\r\n", many - 1));
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn the_state_is_shown_above_the_prompt_and_a_record_runs_again() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.run("log trial.txt", "written to trial.txt");
    let state = terminal.run("remove fan", "which?");
    assert!(state.contains("build") && state.contains(" W of 650 W"), "{state:?}");
    terminal.run("2", "dropped");
    terminal.expect("`undo` reverses it");
    let state = terminal.run("watch noise", "the state line shows noise");
    assert!(state.contains("desk*") && state.contains(" EUR (-"), "{state:?}");
    let state = terminal.run("swap psu millrace-300", "swapped");
    assert!(state.contains("   noise ") && state.contains("dB(A)"), "{state:?}");
    terminal.expect("`mend` finds");
    terminal.run("log off", "`source trial.txt` runs it again");
    let now = terminal.run("list", "To buy");
    assert_eq!(terminal.leave(), 0);
    assert_eq!(desk.read("trial.txt"), "remove #11\nwatch noise\nswap psu millrace-300\n");
    let again =
        desk.pipe(&["try", "desk.toml", "--date", "2026-11-20"], "source trial.txt\nlist\n");
    let again = String::from_utf8_lossy(&again.stdout).into_owned();
    assert!(again.contains("millrace"), "{again}");
    let parts = |text: &str| text.matches("fan/lull-120").count();
    assert_eq!(parts(&now), 1, "{now}");
}

#[test]
fn what_is_longer_than_the_screen_comes_a_screen_at_a_time() {
    let desk = Desk::new();
    let mut terminal = Terminal::open(&desk, 100);
    terminal.run("help", "more lines: Enter shows them");
    terminal.run("", "You may also type");
    // A command typed in place of Enter runs.
    terminal.run("help", "more lines");
    terminal.run("= 6 * 7", "42");
    terminal.run("= _ + 1", "43");
    terminal.run("help in_hand", "Spare watts");
    terminal.run("help ram", "a kind of part");
    terminal.send("why hold_\t");
    terminal.expect("power.hold_up");
    terminal.send("\r");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn rules_that_change_on_disk_come_in_by_themselves() {
    let desk = Desk::new();
    desk.write("rules/settings.toml", "");
    let rule = |word: &str| {
        format!(
            "//! Own: ours.\n\n/// Always.\n/// Basis: practice.\nfn always(build) {{ advice(\"{word}\"); }}\n"
        )
    };
    desk.write("rules/own.rhai", &rule("first word"));
    let mut terminal = Terminal::open(&desk, 100);
    terminal.run("why own.always", "first word");
    desk.write("rules/own.rhai", &rule("a second word"));
    terminal.run("", "own.rhai changed on disk");
    terminal.expect("1 with new figures");
    terminal.expect("> ");
    terminal.run("why own.always", "a second word");
    desk.write("rules/own.rhai", "fn always(build) { advice( }\n");
    terminal.run("", "last good set stays in force");
    terminal.run("why own.always", "a second word");
    assert_eq!(terminal.leave(), 0);
}

#[test]
fn lists_being_audited_are_counted_for_who_watches() {
    let (pty, pts) = pty_process::blocking::open().unwrap();
    let root = env!("CARGO_MANIFEST_DIR");
    let mut child = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(["audit", "examples", "--format", "brief"])
        .current_dir(root)
        .spawn(pts)
        .unwrap();
    let mut shown = Vec::new();
    let mut bytes = [0; 4096];
    // The terminal ends with an error once nobody holds its other side.
    while let Ok(n @ 1..) = (&pty).read(&mut bytes) {
        shown.extend_from_slice(&bytes[..n]);
    }
    child.wait().unwrap();
    let shown = String::from_utf8_lossy(&shown);
    assert!(shown.contains("\r1 of ") && shown.contains(" lists audited\r\u{1b}[K"), "{shown}");
}
