//! What a packager takes along: completions and the man page, held to the commands there are.

use std::io::Write as _;
use std::process::{Command, Stdio};

use super::run;

/// Every command that does something, with the words that lead to it.
const COMMANDS: &[&str] = &[
    "audit",
    "intake",
    "try",
    "compare",
    "ask",
    "plan",
    "sheet",
    "parts",
    "parts show",
    "parts import",
    "parts new",
    "parts check",
    "prices quote",
    "prices check",
    "prices list",
    "prices pin",
    "prices import",
    "rules list",
    "rules explain",
    "rules words",
    "rules new",
    "rules test",
    "rules lint",
    "rules book",
    "rules fetch",
    "rules pack",
    "rules diff",
    "rules profile",
    "edition",
    "lsp",
    "mend",
    "fit",
    "steps",
    "mix",
    "schema",
    "config",
    "completions",
    "man",
];

/// The long options that a command's help shows.
fn options(command: &str) -> Vec<String> {
    let words: Vec<&str> = command.split(' ').chain(["--help"]).collect();
    let (code, help) = run(&words);
    assert_eq!(code, Some(0), "{command}");
    // Another name of an option is told by its help alone; what a sentence names is another's.
    // An option stands at the margin of its list.
    let own = |l: &&str| {
        let line = l.trim_start();
        !l.contains("[alias") && line.starts_with('-') && l.len() - line.len() <= 6
    };
    let help: String = help.lines().filter(own).map(|l| format!("{l}\n")).collect();
    help.split(|c: char| c.is_whitespace() || ",=]".contains(c))
        .filter(|w| w.len() > 2 && w.starts_with("--"))
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_man_page_holds_every_command_and_option() {
    let (code, page) = run(&["man"]);
    assert_eq!(code, Some(0));
    let plain = page.replace("\\-", "-");
    assert!(plain.starts_with(".ie") && plain.contains(".TH dryfit 1"), "{plain}");
    assert!(
        plain.contains("0 no stop, 1 a stop, 2 an error in the input or a rule, 3 not settled")
    );
    for command in COMMANDS {
        let heading = format!(".SH DRYFIT {}\n", command.to_uppercase());
        let (_, rest) =
            plain.split_once(&heading).unwrap_or_else(|| panic!("no section {heading}"));
        let section = rest.split(".SH ").next().unwrap_or("");
        for option in options(command) {
            assert!(section.contains(&option), "{command}: {option} is not in its section");
        }
    }
    assert_eq!(
        plain.matches("\n.SH DRYFIT ").count(),
        COMMANDS.len(),
        "a command is missing from this test"
    );
}

#[test]
fn completions_know_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let (code, script) = run(&["completions", shell]);
        assert_eq!(code, Some(0));
        for command in COMMANDS {
            let last = command.rsplit(' ').next().unwrap_or(command);
            assert!(script.contains(last), "{shell} does not know {command}");
        }
        assert!(script.contains("keep-going"), "{shell} knows no options");
    }
    assert_eq!(run(&["completions", "cmd"]).0, Some(2));
}

/// The shell that is everywhere takes the script and completes by it.
#[test]
fn bash_completes_by_them() {
    let (_, script) = run(&["completions", "bash"]);
    let asked = "\nCOMP_WORDS=(dryfit rules ex); COMP_CWORD=2; _dryfit dryfit ex rules; echo \"<${COMPREPLY[*]}>\"\n";
    let Ok(mut shell) =
        Command::new("bash").arg("-s").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()
    else {
        eprintln!("no bash here: left out");
        return;
    };
    shell
        .stdin
        .take()
        .expect("it listens")
        .write_all((script + asked).as_bytes())
        .expect("it takes the script");
    let said =
        String::from_utf8_lossy(&shell.wait_with_output().expect("it ends").stdout).into_owned();
    assert!(said.contains("<explain>"), "{said}");
}
