//! Every screen on narrow and usual terminals: no line is longer than the terminal, unless it is one
//! word, a line of a file or of a diff.

use std::process::Output;

use unicode_width::UnicodeWidthStr as _;

use super::out;
use crate::common::desk::{Desk, aside};

const WIDTHS: [usize; 2] = [40, 80];

/// Every command of the prompt that shows something.
const SCRIPT: &str = "\
lines
measures
swap gpu bonxie fetch 8
set fan 1 count 4
undo
redo
diff
fit cooler
fit memory by noise
steps memory
why fit.card_length
why power.total all
ask
marks
history
add lull 120 x2
drop #18
help
help fit
help power.total
watch graphics card temperature
parts gpu
parts oakum
audit
audit all
mend
swap psu millrace 300
audit
mend
";

const COMMANDS: [&[&str]; 13] = [
    &["audit", "."],
    &["audit", "desk.toml", "--all"],
    &["parts"],
    &["parts", "case"],
    &["parts", "oakum"],
    &["parts", "show", "tarn-650-gold"],
    &["fit", "desk.toml", "cooler"],
    &["steps", "desk.toml", "cooler"],
    &["ask", "desk.toml"],
    &["rules", "list"],
    &["rules", "words", "supply"],
    &["config"],
    &["prices", "check", "desk.toml"],
];

fn too_long(width: usize, what: &str, output: &Output) -> Vec<String> {
    let text = format!("{}\n{}", out(output), aside(output));
    let of_file = |line: &str| line.starts_with(['+', '-', ' ', '@']) && line.contains(" = ");
    text.lines()
        .filter(|line| line.width() > width && line.split_whitespace().count() > 1)
        .filter(|line| !of_file(line))
        .map(|line| format!("{what} at {width}: {line}"))
        .collect()
}

#[test]
fn no_line_of_any_screen_is_longer_than_the_terminal() {
    let desk = Desk::new();
    desk.write("all.txt", SCRIPT);
    let mut found = Vec::new();
    for width in WIDTHS {
        let run = |arguments: &[&str]| {
            let mut command = desk.command(arguments);
            command.env("COLUMNS", width.to_string()).output().expect("it runs")
        };
        let script = ["try", "desk.toml", "--script", "all.txt", "--keep-going"];
        let prompt = run(&script);
        assert_eq!(prompt.status.code(), Some(0), "{}", aside(&prompt));
        found.extend(too_long(width, "the prompt", &prompt));
        for arguments in COMMANDS {
            found.extend(too_long(width, &arguments.join(" "), &run(arguments)));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}
