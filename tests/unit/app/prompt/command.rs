//! What is typed, and what is understood.

use super::*;

#[test]
fn commands_are_understood() {
    let some = |line: &str| parse(line).unwrap().unwrap();
    assert_eq!(
        some("swap fan 2 fan/lull-120  # quieter"),
        Command::Swap { slot: vec!["fan".into(), "2".into()], part: "fan/lull-120".into() }
    );
    assert_eq!(some("drop #3"), Command::Drop { slot: vec!["#3".into()] });
    assert_eq!(
        some("add fan/a x2 mount front flow in"),
        Command::Add(NewLine {
            part: "fan/a".into(),
            count: Some(2),
            mount: Some("front".into()),
            flow: Some("in".into()),
            owned: false
        })
    );
    assert_eq!(
        some("take fan from \"my file.toml\""),
        Command::Take { slot: vec!["fan".into()], file: "my file.toml".into() }
    );
    assert_eq!(some("save! x.toml"), Command::Save { file: Some("x.toml".into()), force: true });
    assert_eq!(some("remove fan 2"), some("drop fan 2"));
    assert_eq!((some("list"), some("exit!")), (Command::Lines, Command::Quit { force: true }));
    assert_eq!(some("= help"), Command::Help(Some("=".into())));
    assert_eq!(some("= 1 # 2"), Command::Expression("1 # 2".into()));
    assert_eq!(parse("  # nothing").unwrap(), None);
    assert_eq!(parse("#3").unwrap(), None);
    assert_eq!(parse("").unwrap(), None);
    assert_eq!(
        parse("swp a b").err().and_then(|p| p.help).as_deref(),
        Some("did you mean `swap`?")
    );
    assert!(
        parse("undo 0").is_err()
            && parse("swap").is_err()
            && parse("set budget").is_err()
            && parse("mark \"a").is_err()
    );
}

#[test]
fn expressions_go_on_until_their_brackets_close() {
    for open in ["= (1", "= [1, 2", "= { let a = 1;", "= `x", "= f(\")\"", "= 1 /* x"] {
        assert!(goes_on(open), "{open}");
    }
    for closed in ["= (1)", "= \"(\"", "= 1 // (", "swap (", "= )", "= \"\\\"(\""] {
        assert!(!goes_on(closed), "{closed}");
    }
    let found = commands("audit\n\n= (1 +\n2)\nlines");
    assert_eq!(
        found,
        [(1, "audit".to_owned()), (3, "= (1 +\n2)".to_owned()), (5, "lines".to_owned())]
    );
}
