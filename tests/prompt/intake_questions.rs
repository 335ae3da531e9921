//! The questions that `dryfit intake` asks at a terminal, and a trial that starts from nothing.

use super::terminal::Terminal;
use crate::common::desk::Desk;

/// A row that two power supplies fit, and one that is sure.
const LIST: &str = "Dotterel 506P\nTarn 1 kW or Tarn 850 Gold\n";

fn asked(desk: &Desk) -> Terminal {
    let mut terminal =
        Terminal::start(desk, 100, &["intake", "list.txt", "-o", "made.toml", "--force"]);
    terminal.expect("1 of 1, line 2: Tarn 1 kW or Tarn 850 Gold");
    terminal.expect("Which?");
    terminal
}

#[test]
fn a_question_is_answered_by_number_and_remembered() {
    let desk = Desk::new();
    desk.write("list.txt", LIST);
    desk.write("catalogue/aliases.toml", "[alias]\n\"the usual fan\" = \"fan/lull-120\"\n");
    let mut terminal = asked(&desk);
    terminal.run("9", "A number from 1 to");
    terminal.expect("Which?");
    let differ = terminal.run("?", "Which?");
    assert!(differ.contains("rated_w: 1000 W | 850 W"), "{differ:?}");
    terminal.run("2", "Remembered in");
    assert_eq!(terminal.gone(), 0);
    assert!(desk.read("made.toml").contains("part = \"supply/tarn-850-gold\""));
    let aliases = desk.read("catalogue/aliases.toml");
    assert!(aliases.contains("tarn 1 kw or tarn 850 gold"), "{aliases}");
    assert!(aliases.contains("\"the usual fan\" = \"fan/lull-120\""), "{aliases}");
    // The same words are no question any more.
    let mut again = Terminal::start(&desk, 100, &["intake", "list.txt"]);
    again.expect("2 rows: 2 matched");
    assert_eq!(again.gone(), 0);
}

#[test]
fn a_question_left_open_stays_one() {
    let desk = Desk::new();
    desk.write("list.txt", LIST);
    desk.write("catalogue/aliases.toml", "");
    let mut terminal = asked(&desk);
    terminal.run("", "1 matched, 1 in doubt");
    assert_eq!(terminal.gone(), 3);
    assert!(desk.read("made.toml").contains("# Which is meant?"));
    assert_eq!(desk.read("catalogue/aliases.toml"), "");
}

#[test]
fn a_trial_starts_from_nothing_and_is_saved_where_nothing_was() {
    let desk = Desk::new();
    let run = ["try", "--new", "fresh.toml", "--date", "2026-11-20"];
    let mut terminal = Terminal::start(&desk, 100, &run);
    terminal.expect("> ");
    terminal.run("add tarn-650", "added");
    terminal.run("undo", "now");
    terminal.run("redo", "now");
    terminal.run("save", "wrote fresh.toml");
    assert_eq!(terminal.leave(), 0);
    assert!(desk.read("fresh.toml").contains("part = \"supply/tarn-650\""));
    let mut again = Terminal::start(&desk, 100, &run);
    again.expect("fresh.toml is there already; nothing was changed");
    assert_eq!(again.gone(), 2);
}
