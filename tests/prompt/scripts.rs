//! Commands through a pipe or from a file.

use std::io::{BufRead as _, Write as _};

use std::fs;

use super::out;
use crate::common::desk::{Desk, aside};

const TRY: &[&str] = &["try", "desk.toml", "--date", "2026-11-20"];

#[test]
fn a_pipe_gets_no_prompt_no_colour_and_the_same_every_time() {
    let desk = Desk::new();
    let script = "# look\nlines\nswap supply tarn-450 # smaller\nwhy power.total\ndiff\nundo\naudit\n= build.count(\"fan\")\nquit\nlines\n";
    let (first, second) = (desk.pipe(TRY, script), desk.pipe(TRY, script));
    assert_eq!(first.status.code(), Some(0), "{}", aside(&first));
    assert_eq!(out(&first), out(&second));
    assert!(
        !out(&first).contains('\u{1b}')
            && !out(&first).contains("desk> ")
            && aside(&first).is_empty()
    );
    assert!(
        out(&first).contains("swapped") && out(&first).contains("\n5  = count of fan\n"),
        "{}",
        out(&first)
    );
    assert!(!desk.path("data").exists(), "a pipe leaves no history");
}

#[test]
fn the_first_error_ends_a_script_unless_told_otherwise() {
    let desk = Desk::new();
    let script = "mark a\nswap suply tarn-450\nmark b\n";
    let stopped = desk.pipe(TRY, script);
    assert_eq!((stopped.status.code(), out(&stopped).as_str()), (Some(2), "marked as a\n"));
    assert_eq!(
        aside(&stopped),
        "input:2: no line is called `suply`; did you mean `supply`?\n\
         input:2: it ends here: what comes after it is not run\n"
    );
    desk.write("go.txt", script);
    let gone_on = desk.pipe(&["try", "desk.toml", "--script", "go.txt", "--keep-going"], "");
    assert_eq!(
        (gone_on.status.code(), out(&gone_on).as_str()),
        (Some(2), "marked as a\nmarked as b\n")
    );
    assert!(aside(&gone_on).starts_with("go.txt:2: "));
}

#[test]
fn check_fails_a_script_when_a_stop_stands() {
    let desk = Desk::new();
    assert_eq!(desk.pipe(TRY, "check\nmark a\n").status.code(), Some(0));
    let failed = desk.pipe(TRY, "swap supply millrace-300\ncheck\nmark a\n");
    assert_eq!(failed.status.code(), Some(1), "{}", aside(&failed));
    assert!(out(&failed).contains("stop") && !out(&failed).contains("marked"));
    assert_eq!(desk.pipe(&["try", "missing.toml"], "lines\n").status.code(), Some(2));
}

/// Lines and values as people say them; what cannot be meant ends in what to type.
#[test]
fn lines_and_values_as_they_are_said() {
    let desk = Desk::new();
    let both = |script: &str| {
        let made = desk.pipe(TRY, script);
        (out(&made), aside(&made))
    };
    assert_eq!(both("swap power supply tarn 450\n"), both("swap supply tarn-450\n"));
    assert_eq!(both("replace psu tarn 450\nshow\n"), both("swap supply tarn-450\nlines\n"));
    assert_eq!(both("set power supply owned\n"), both("set supply owned yes\n"));
    for (script, said) in [
        ("swap psu cheaper\n", "`steps supply`"),
        ("swap power supply bigger\n", "`steps supply`"),
        ("set psu count\n", "`set psu count 2`"),
        ("set psu mount\n", "`set psu mount front`"),
        ("set power supply cuont 2\n", "`count`"),
    ] {
        let (shown, wrong) = both(script);
        assert!(shown.is_empty() && wrong.contains(said), "{script}: {shown}{wrong}");
    }
}

#[test]
fn where_two_lines_fit_a_script_is_told_which() {
    let desk = Desk::new();
    let output = desk.pipe(TRY, "drop fan\n");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        aside(&output).contains("2 lines fit `fan`; say which: #10 Lull 120 x3 mount front flow in; #11 Lull 120 mount top flow out"),
        "{}",
        aside(&output)
    );
    for name in ["fan 2", "fan[1]", "#11"] {
        let output = desk.pipe(TRY, &format!("drop {name}\n"));
        assert!(
            out(&output).contains("dropped  #11 Lull 120"),
            "{name}: {}{}",
            out(&output),
            aside(&output)
        );
    }
}

#[test]
fn a_save_keeps_all_that_was_not_changed() {
    let desk = Desk::new();
    let before = desk.read("desk.toml");
    let output = desk.pipe(TRY, "swap supply tarn-550\nset fan 1 count 2\nsave\n");
    assert!(out(&output).contains("wrote desk.toml: "), "{}{}", out(&output), aside(&output));
    let expected =
        before.replace("supply/tarn-650-gold", "supply/tarn-550").replace("count = 3", "count = 2");
    assert_eq!(desk.read("desk.toml"), expected);
    let dos = format!("\u{feff}{}", before.replace('\n', "\r\n"));
    desk.write("desk.toml", &dos);
    desk.pipe(TRY, "swap supply tarn-550\nsave\n");
    assert_eq!(desk.read("desk.toml"), dos.replace("supply/tarn-650-gold", "supply/tarn-550"));
}

#[test]
fn a_save_elsewhere_does_not_write_over_what_is_there() {
    let desk = Desk::new();
    desk.write("other.toml", "mine\n");
    let output = desk.pipe(TRY, "save other.toml\n");
    assert_eq!((output.status.code(), desk.read("other.toml").as_str()), (Some(2), "mine\n"));
    let output = desk.pipe(TRY, "save fresh.toml\nsave! other.toml\n");
    assert_eq!(output.status.code(), Some(0), "{}", aside(&output));
    assert_eq!(desk.read("other.toml"), desk.read("fresh.toml"));
}

#[test]
fn names_that_act_on_a_terminal_are_made_inert() {
    let desk = Desk::new();
    let text =
        desk.read("desk.toml").replace("Edit desk for the bird hide", "a\\u001b[31mb\\u202ec");
    desk.write("desk.toml", &text);
    let output = desk.pipe(TRY, "audit\n= build.title\nset title \"x\u{1b}[2Jy\"\ndiff\nlines\n");
    let all = [out(&output), aside(&output)].concat();
    assert!(!all.contains('\u{1b}') && !all.contains('\u{202e}'), "{all:?}");
}

#[test]
fn a_broken_edit_of_the_rules_keeps_the_last_good_set() {
    let desk = Desk::new();
    fs::create_dir_all(desk.path("rules")).unwrap();
    desk.write("rules/settings.toml", "");
    desk.write("rules/own.rhai", "//! Own: ours.\n\n/// Always.\n/// Basis: practice.\nfn always(build) { advice(\"seen\"); }\n");
    assert!(out(&desk.pipe(TRY, "why own.always\n")).contains("seen"));
    // The file breaks between two commands: the script saves it over itself by way of a copy.
    desk.write("rules/own.rhai", "fn always(build) { advice(\"seen\" }\n");
    let output = desk.pipe(TRY, "reload\nlines\n");
    assert_ne!(output.status.code(), Some(0));
}

#[test]
fn compare_says_what_differs_and_exits_as_it_should() {
    let desk = Desk::new();
    let text = desk.read("desk.toml");
    desk.write("same.toml", &text);
    desk.write("other.toml", &text.replace("supply/tarn-650-gold", "supply/tarn-550"));
    desk.write("bad.toml", "[[line]\n");
    let code = |b: &str| {
        let output =
            desk.command(&["compare", "desk.toml", b, "--date", "2026-11-20"]).output().unwrap();
        (output.status.code(), out(&output))
    };
    assert_eq!(code("same.toml"), (Some(0), String::new()));
    let (other, said) = code("other.toml");
    assert_eq!(other, Some(1));
    assert!(
        said.contains("swapped")
            && said.contains("-part = \"supply/tarn-650-gold\"")
            && said.contains("+part = \"supply/tarn-550\""),
        "{said}"
    );
    assert_eq!(code("bad.toml").0, Some(2));
    assert_eq!(code("missing.toml").0, Some(2));
}

#[test]
fn a_mend_swaps_the_right_line_where_another_is_open() {
    let desk = Desk::new();
    let text = desk.read("desk.toml");
    // The open line stands above all others, so that their numbers differ from those among the
    // chosen lines.
    desk.write("desk.toml", &text.replacen("[[line]]", "[[line]]\nany = \"paste\"\n\n[[line]]", 1));
    let mended = desk.pipe(TRY, "swap supply millrace-300\nmend 1\ncheck\nsave\n");
    assert_eq!(mended.status.code(), Some(0), "{}", aside(&mended));
    let (now, of) = (desk.read("desk.toml"), |text: &str, kind: &str| {
        text.matches(&format!("\"{kind}/")).count()
    });
    assert!(
        now.contains("any = \"paste\"") && !now.contains("millrace-300") && now != text,
        "{now}"
    );
    for kind in ["graphics", "supply", "memory", "board"] {
        assert_eq!(of(&now, kind), of(&text, kind), "{kind}");
    }
}

#[test]
fn a_program_converses_through_pipes() {
    let desk = Desk::new();
    let mut child = desk
        .command(&["try", "desk.toml"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let mut output = std::io::BufReader::new(child.stdout.take().unwrap());
    // Each answer is waited for before the next command is sent.
    for (command, answer) in [
        ("= 2 + 3\n", "5"),
        ("\n# nothing\n= 1 + 2\n", "3"),
        ("= [1,\n 2].len()\n", "2"),
        ("no_such_command\n", ""),
    ] {
        input.write_all(command.as_bytes()).unwrap();
        if answer.is_empty() {
            continue;
        }
        let mut line = String::new();
        while line.split_whitespace().next() != Some(answer) {
            line.clear();
            assert!(output.read_line(&mut line).unwrap() > 0, "no answer to {command:?}");
        }
    }
    drop(input);
    assert_eq!(child.wait().unwrap().code(), Some(2), "what is not understood ends it");
}
