//! Ways in and ways out of `audit`: pipes, hooks, git, lines as they come.

use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;

use super::{Folder, Judge, ROOT, audit, audit_in, examples, run, run_in};

const LIST: &str = "title = \"Fan\"\n\n[[line]]\npart = \"fan/lull-120\"\n";

fn through_a_pipe(folder: &Path, args: &[&str], text: &str) -> (Option<i32>, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    child.stdin.take().expect("a pipe").write_all(text.as_bytes()).expect("it is read");
    let output = child.wait_with_output().expect("it ends");
    (output.status.code(), String::from_utf8(output.stdout).expect("it writes UTF-8"))
}

#[test]
fn a_list_comes_through_a_pipe() {
    let name = "examples/clinic-records.toml";
    let text = fs::read_to_string(Path::new(ROOT).join(name)).expect("it is there");
    let args = ["audit", "-", "--stdin-name", name, "--format", "json"];
    assert_eq!(
        through_a_pipe(Path::new(ROOT), &args, &text),
        run(&["audit", name, "--format", "json"])
    );
    // Rules are found beside the name that is given.
    let folder = Folder::new("piped");
    fs::create_dir_all(folder.0.join("shop/rules")).expect("a folder");
    folder.put(
        "shop/rules/named.rhai",
        "//! N.\n\n/// Named.\n/// Basis: house rule.\nfn named(build) { advice(\"named here\"); }\n",
    );
    let args = ["audit", "-", "--stdin-name", "shop/list.toml", "--format", "brief"];
    let (_, said) = through_a_pipe(&folder.0, &args, LIST);
    assert!(said.contains("shop/list.toml:1: advice named.named named here"), "{said}");
    let (_, said) = through_a_pipe(&folder.0, &["audit", "-", "--format", "brief"], LIST);
    assert!(!said.contains("named here"), "{said}");
}

#[test]
fn a_line_a_list_is_the_same_as_in_one_document() {
    let all = examples();
    let names: Vec<&str> = all.iter().map(String::as_str).collect();
    let (_, text) = run(&[&["audit", "--format", "json-lines"], &names[..]].concat());
    let (_, schema) = run(&["schema", "audit"]);
    let judge = Judge::new(serde_json::from_str(&schema).expect("the schema is JSON"));
    let document = audit("json", &names);
    let audits = document["audits"].as_array().expect("audits");
    assert_eq!(text.lines().count(), audits.len());
    for (line, audit) in text.lines().zip(audits) {
        let mut line: Value = serde_json::from_str(line).expect("a line is JSON");
        judge.assert("a line", &line);
        for key in ["format", "version"] {
            line.as_object_mut().expect("an object").remove(key);
        }
        assert_eq!(line, *audit);
    }
}

/// What is written first is there while most lists still wait: the reader goes away after one line,
/// and the program ends without having looked at all of them.
#[test]
fn lines_come_while_lists_are_audited() {
    let folder = Folder::new("streamed");
    for at in 0..400 {
        folder.put(&format!("{at:03}.toml"), LIST);
    }
    // Past what may be ahead, a pipe would say where the reading has come to.
    folder.put("399.toml", "");
    let mut child = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(["audit", ".", "--format", "json-lines"])
        .current_dir(&folder.0)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    let mut lines = BufReader::new(child.stdout.take().expect("a pipe"));
    let mut first = String::new();
    lines.read_line(&mut first).expect("a line comes");
    assert!(first.contains("000.toml"), "{first}");
    drop(lines);
    // The last list is broken, and nobody got to it.
    assert_eq!(child.wait().expect("it ends").code(), Some(1));
}

fn git(folder: &Path, words: &[&str]) -> bool {
    Command::new("git")
        .args(["-c", "user.name=t", "-c", "user.email=t@localhost", "-c", "commit.gpgsign=false"])
        .args(words)
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

#[test]
fn only_what_changed_is_audited() {
    let folder = Folder::new("changed");
    let root = &folder.0;
    if !git(root, &["init", "-q"]) {
        return; // There is no git here.
    }
    for name in ["a.toml", "b.toml", "with blank é.toml"] {
        folder.put(name, LIST);
    }
    assert!(git(root, &["add", "."]) && git(root, &["commit", "-qm", "lists"]));
    let audited = |words: &[&str]| -> Vec<String> {
        let document = audit_in(root, "json", words);
        let audits = document["audits"].as_array().expect("audits");
        audits.iter().map(|a| a["build"]["file"].as_str().unwrap_or("").to_owned()).collect()
    };
    assert_eq!(audited(&[".", "--changed-since", "HEAD"]), Vec::<String>::new());
    let said = Command::new(env!("CARGO_BIN_EXE_dryfit"))
        .args(["audit", ".", "--changed-since", "HEAD"])
        .current_dir(root)
        .output()
        .expect("it starts");
    assert_eq!(String::from_utf8_lossy(&said.stderr), "No list changed since HEAD.\n");
    folder.put("with blank é.toml", &LIST.replace("Fan", "Fans"));
    folder.put("new.toml", LIST);
    assert_eq!(audited(&[".", "--changed-since", "HEAD"]), ["new.toml", "with blank é.toml"]);
    // What all lists are audited against changed.
    folder.put("dryfit.toml", "fail_on = \"stop\"\n");
    assert_eq!(audited(&[".", "--changed-since", "HEAD"]).len(), 4);
    for revision in ["nowhere", "--output=x", "HEAD~9"] {
        let (code, _) = run_in(root, &["audit", ".", &format!("--changed-since={revision}")]);
        assert_eq!(code, Some(2), "{revision}");
        assert!(!root.join("x").exists());
    }
    let outside = Folder::new("no-git");
    outside.put("a.toml", LIST);
    assert_eq!(run_in(&outside.0, &["audit", ".", "--changed-since", "HEAD"]).0, Some(2));
}
