use super::*;

#[test]
fn entries_come_back_as_they_were() {
    for entry in ["= (1 +\n2)", "swap a \\n b", "= \"\\\\\""] {
        assert_eq!(unfold(&fold(entry)), entry);
    }
}

#[test]
fn only_commands_are_kept() {
    assert!(History::keeps("swap supply x") && History::keeps("= 1 + 1"));
    for entry in ["", " swap supply x", "hunter2", &format!("= {}", "1 + ".repeat(200)), "# note"] {
        assert!(!History::keeps(entry), "{entry}");
    }
}
