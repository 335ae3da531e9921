//! Ctrl-C and other signals, at the prompt and in commands.

use std::process::Command;

use super::terminal::Terminal;
use crate::common::desk::Desk;

/// Terminals that are edited on, and such as cannot be.
const TERMS: [&str; 5] = ["xterm", "linux", "dumb", "emacs", ""];

/// So many commands that nobody waits for the end of them.
const MANY: usize = 30_000;

fn open(desk: &Desk, term: &str) -> Terminal {
    let mut terminal =
        Terminal::start_as(desk, 100, term, &["try", "desk.toml", "--date", "2026-11-20"]);
    terminal.expect("Tab completes");
    terminal.expect("> ");
    terminal
}

#[test]
fn it_leads_back_to_the_prompt_and_no_swap_is_lost() {
    let desk = Desk::new();
    desk.write("many.txt", &"set hours_per_day 7\nset hours_per_day 8\n".repeat(MANY));
    for term in TERMS {
        let mut terminal = open(&desk, term);
        // While a line is typed, twice.
        terminal.send("drop supply");
        for _ in 0..2 {
            terminal.settle();
            terminal.send("\u{3}");
            terminal.expect("> ");
        }
        terminal.settle();
        terminal.run("= build.count(\"supply\") * 100", "100  =");
        terminal.expect("> ");
        terminal.run("set years 9", "`undo` reverses it");
        terminal.expect("*> ");
        // While commands of a file run.
        terminal.begin("source many.txt");
        let cut = terminal.interrupt_until("of many.txt not run");
        assert!(cut.contains("unfinished: Ctrl-C"), "{term}: {cut}");
        terminal.settle();
        // While a page is read.
        terminal.send("help\r");
        terminal.expect("more lines: Enter");
        let cut = terminal.interrupt_until("not shown");
        assert!(cut.contains("unfinished: Ctrl-C"), "{term}: {cut}");
        terminal.settle();
        // While a question is asked.
        terminal.send("drop fan\r");
        terminal.expect("1 to 2: ");
        terminal.settle();
        terminal.send("\u{3}");
        terminal.expect("*> ");
        terminal.run("= build.years * 100", "900");
        terminal.run("save", "wrote desk.toml");
        assert_eq!(terminal.leave(), 0, "{term}");
        assert!(desk.read("desk.toml").contains("years         = 9"), "{term}");
        assert!(desk.read("desk.toml").contains("fan/"), "{term}");
        assert_eq!(desk.names(), ["desk.toml", "many.txt"], "{term}");
        desk.write("desk.toml", &desk.read("desk.toml").replace("= 9", "= 4"));
    }
}

#[test]
fn a_search_it_ends_is_marked_above_its_answer() {
    let desk = Desk::new();
    let rule = "//! Slow.\n\n/// Takes its time.\n/// Basis: practice.\nfn slow(build) {\n    let n = 0;\n    \
                while n < 40000 { n += 1; }\n    if build.sum(\"draw_w\").to_int() + build.total.to_int() < n - n { advice(\"-\"); }\n}\n";
    desk.write("rules/own.rhai", rule);
    desk.write("rules/settings.toml", "");
    for term in ["xterm", "dumb"] {
        let mut terminal = open(&desk, term);
        terminal.run("set years 9", "`undo` reverses it");
        terminal.expect("*> ");
        terminal.begin("steps");
        let said = terminal.interrupt_until("unfinished: Ctrl-C ended the search");
        assert!(!said.contains("up   "), "{term}: {said}");
        terminal.settle();
        terminal.run("= 6 * 7", "42");
        assert_eq!(terminal.leave(), 0);
    }
}

#[test]
fn at_a_question_about_a_list_it_ends_with_nothing_written() {
    let desk = Desk::new();
    desk.write("list.txt", "Dotterel 506P\nTarn 1 kW or Tarn 850 Gold\nTarn 1 kW or Tarn 550\n");
    desk.write("catalogue/aliases.toml", "");
    for term in TERMS {
        let run = ["intake", "list.txt", "-o", "made.toml"];
        let mut terminal = Terminal::start_as(&desk, 100, term, &run);
        terminal.expect("Which?");
        terminal.run("1", "Which?");
        terminal.send("\u{3}");
        terminal.expect("unfinished: Ctrl-C");
        assert_eq!(terminal.gone(), 130, "{term}");
        assert_eq!(desk.names(), ["catalogue", "desk.toml", "list.txt"], "{term}");
        assert_eq!(desk.read("catalogue/aliases.toml"), "", "{term}");
    }
}

#[test]
fn other_signals_end_it_with_the_list_as_it_was() {
    let desk = Desk::new();
    let old = desk.read("desk.toml");
    for signal in ["-TERM", "-HUP"] {
        let mut terminal = open(&desk, "xterm");
        terminal.run("set years 9", "`undo` reverses it");
        terminal.expect("*> ");
        let process = terminal.process().to_string();
        assert!(Command::new("kill").args([signal, &process]).status().unwrap().success());
        terminal.gone();
        assert!(desk.read("desk.toml") == old && desk.names() == ["desk.toml"], "{signal}");
    }
}
