//! Packs of rules: made, fetched with git from a repository of this machine, laid under a shop's
//! rules, compared; and those that mean harm.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

const LIST: &str = "title = \"Fan\"\n\n[[line]]\npart = \"fan/lull-120\"\n";
const RULE: &str = "//! Words of a harbour.\n\n/// A list is looked at.\n/// Basis: house rule.\n\
                    fn looked(build) {\n    if build.lines.len() == 0 { return; }\n    \
                    advice(\"the pack was here\");\n}\n";
const CASES: &str = "[[case]]\nname = \"a fan\"\nfind = [{ rule = \"quay_words.looked\" }]\n\
                     line = [{ kind = \"fan\", size_mm = 120 }]\n\n[[case]]\nname = \"nothing\"\n\
                     silent = [\"quay_words.looked\"]\n";

/// A folder of its own for a test, gone at the end.
struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("dryfit-packs-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).expect("it can be made");
        Self(path)
    }

    fn put(&self, below: &str, text: &str) {
        let path = self.0.join(below);
        fs::create_dir_all(path.parent().expect("it has one")).expect("it can be made");
        fs::write(path, text).expect("it can be written");
    }

    fn git(&self, repository: &str, words: &[&str]) -> String {
        let folder = self.0.join(repository);
        fs::create_dir_all(&folder).expect("it can be made");
        let out = Command::new("git")
            .args(["-c", "user.name=t", "-c", "user.email=t@example.test", "-C"])
            .arg(&folder)
            .args(words)
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .output()
            .expect("git runs");
        assert!(out.status.success(), "{words:?}: {}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8_lossy(&out.stdout).trim().to_owned()
    }

    /// A repository with what lies in its folder, tagged.
    fn commit(&self, repository: &str, tag: &str) -> String {
        if !self.0.join(repository).join(".git").exists() {
            self.git(repository, &["init", "--quiet", "-b", "main"]);
        }
        self.git(repository, &["add", "-A"]);
        self.git(repository, &["commit", "--quiet", "-m", tag]);
        self.git(repository, &["tag", tag]);
        self.git(repository, &["rev-parse", "HEAD"])
    }

    /// Exit code and both streams.
    fn run(&self, folder: &str, words: &[&str]) -> (Option<i32>, String) {
        let out = Command::new(env!("CARGO_BIN_EXE_dryfit"))
            .args(words)
            .current_dir(self.0.join(folder))
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .output()
            .expect("it starts");
        let text = [out.stdout, out.stderr].concat();
        (out.status.code(), String::from_utf8_lossy(&text).into_owned())
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A shop with one list and a pack out of git.
fn shop(name: &str) -> (Place, String) {
    let place = Place::new(name);
    place.put("quay/rules/quay_words.rhai", RULE);
    place.put("quay/README.md", "Not a file of ours.\n");
    place.put("quay/pack.toml", "name = \"quay\"\nversion = \"1.0.0\"\nneeds = \">= 0.1\"\n");
    let commit = place.commit("quay", "v1");
    place.put("shop/list.toml", LIST);
    place.put("shop/dryfit.toml", "[packs.quay]\ngit = \"../quay\"\nrevision = \"v1\"\n");
    (place, commit)
}

fn brief(place: &Place) -> (Option<i32>, String) {
    place.run("shop", &["audit", "list.toml", "--format", "brief"])
}

#[test]
fn a_pack_is_fetched_locked_and_laid_under_the_shops_rules() {
    let (place, commit) = shop("fetch");
    let (code, said) = brief(&place);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("not fetched") && said.contains("dryfit rules fetch"), "{said}");
    let (code, said) = place.run("shop", &["rules", "fetch"]);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains(&format!("quay: v1 is {}", &commit[..12])), "{said}");
    let lock = fs::read_to_string(place.0.join("shop/dryfit.lock")).expect("it is written");
    assert!(lock.contains(&commit), "{lock}");
    assert!(!place.0.join("shop/.dryfit/packs/quay/README.md").exists());
    let (_, said) = brief(&place);
    assert!(said.contains("quay_words.looked") && said.contains("the pack was here"), "{said}");
    // Nothing is asked for again, even where the repository is gone.
    fs::rename(place.0.join("quay"), place.0.join("moved")).expect("it moves");
    assert_eq!(place.run("shop", &["rules", "fetch"]), (Some(0), "quay: as it was\n".to_owned()));
    fs::rename(place.0.join("moved"), place.0.join("quay")).expect("it moves");
    // The shop's rule of the same id comes over the pack's.
    place.put("shop/rules/quay_words.rhai", &RULE.replace("the pack was", "the shop was"));
    let (_, said) = brief(&place);
    assert!(said.contains("the shop was here") && !said.contains("the pack was"), "{said}");
    let (_, listed) = place.run("shop", &["rules", "list", "--subject", "quay_words"]);
    let listed = listed.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(listed.contains("in place of the pack quay 1.0.0 rule"), "{listed}");
}

#[test]
fn a_tag_that_moves_moves_nothing_until_it_is_asked_for() {
    let (place, first) = shop("update");
    place.run("shop", &["rules", "fetch"]);
    place.put("quay/rules/quay_words.rhai", &RULE.replace("the pack was", "version two was"));
    place.git("quay", &["tag", "-d", "v1"]);
    let second = place.commit("quay", "v1");
    place.run("shop", &["rules", "fetch"]);
    assert!(brief(&place).1.contains("the pack was here"));
    // What a fresh machine fetches is what the lock says.
    fs::remove_dir_all(place.0.join("shop/.dryfit")).expect("it goes");
    let (code, said) = place.run("shop", &["rules", "fetch"]);
    assert_eq!(code, Some(0), "{said}");
    assert!(brief(&place).1.contains("the pack was here"));
    let (_, said) = place.run("shop", &["rules", "diff", "quay", "../quay", "--lists", "."]);
    assert!(said.contains("version two was here"), "{said}");
    let (code, said) = place.run("shop", &["rules", "fetch", "--update"]);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains(&second[..12]) && said.contains(&first[..12]), "{said}");
    assert!(brief(&place).1.contains("version two was here"));
}

#[test]
fn files_that_are_not_those_fetched_are_refused() {
    let (place, _) = shop("changed");
    place.run("shop", &["rules", "fetch"]);
    place.put("shop/.dryfit/packs/quay/rules/quay_words.rhai", &RULE.replace("was", "is"));
    let (code, said) = brief(&place);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("not those that were fetched"), "{said}");
    // A lock that lies.
    place.run("shop", &["rules", "fetch"]);
    assert_eq!(brief(&place).0, Some(1));
    let path = place.0.join("shop/dryfit.lock");
    let lock = fs::read_to_string(&path).expect("it is there");
    let at = lock.find("sha256 = \"").expect("a checksum") + 10;
    let lies = format!("{}{}{}", &lock[..at], "0".repeat(64), &lock[at + 64..]);
    fs::write(&path, lies).expect("it is written");
    assert!(brief(&place).1.contains("not those that were fetched"));
    let (code, said) = place.run("shop", &["rules", "fetch"]);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("not what the lock says"), "{said}");
    fs::write(&path, "pack = 3\n").expect("it is written");
    assert!(brief(&place).1.contains("not understood"));
    // A checksum of the shop's own that fails.
    place.put(
        "shop/dryfit.toml",
        &format!("[packs.quay]\nfolder = \"../quay\"\nsha256 = \"{}\"\n", "a".repeat(64)),
    );
    assert!(brief(&place).1.contains("not those wanted"));
}

/// What is wrong with a pack in a folder, by what is said of it.
#[test]
fn a_pack_keeps_to_its_names() {
    let wrong: &[(&str, &str, &str)] = &[
        ("rules/fit.rhai", RULE, "does not begin with its prefix"),
        ("rules/lib/seats.rhai", "fn a() { 1 }\n", "does not begin with its prefix"),
        ("catalogue/tables/socket.toml", "x = 1\n", "does not begin with its prefix"),
        ("catalogue/parts/fans.toml", "kind = \"fan\"\n", "does not begin with its prefix"),
        ("rules/settings.toml", "[power.headroom]\nvalue = 0\n", "which is not its own"),
        ("rules/settings.toml", "[rule.\"fit.complete\"]\noff = true\n", "only a shop may do"),
        ("rules/waivers.toml", "x = 1\n", "only a shop may do"),
        ("rules/layer.toml", "alone = true\n", "would stand alone"),
        ("layer.toml", "alone = true\n", "would stand alone"),
        ("pack.toml", "needs = \">= 9\"\n", "is for dryfit >=9"),
        ("pack.toml", "needs = \"soon\"\n", "versions of dryfit"),
        ("pack.toml", "nmae = \"quay\"\n", "did you mean `name`"),
        (
            "catalogue/parts/quay_fans.toml",
            "kind = \"fan\"\n[lull-120]\nname = \"x\"\n",
            "gives fan/lull-120 again",
        ),
    ];
    for (nth, (file, text, says)) in wrong.iter().enumerate() {
        let place = Place::new(&format!("names-{nth}"));
        place.put("shop/list.toml", LIST);
        place.put("shop/dryfit.toml", "[packs.quay]\nfolder = \"../quay\"\n");
        place.put("quay/rules/quay_words.rhai", RULE);
        assert!(brief(&place).1.contains("the pack was here"));
        place.put(&format!("quay/{file}"), text);
        let (code, said) = brief(&place);
        assert_eq!(code, Some(2), "{file}: {said}");
        assert!(said.replace("\n", " ").contains(says), "{file}: {said}");
    }
}

#[test]
fn packs_that_clash_are_told_with_both_places() {
    let place = Place::new("clash");
    place.put("shop/list.toml", LIST);
    place.put("quay/rules/quay_words.rhai", RULE);
    place.put("mole/rules/quay_words.rhai", RULE);
    place.put(
        "shop/dryfit.toml",
        "[packs.quay]\nfolder = \"../quay\"\n\n[packs.mole]\nfolder = \"../mole\"\nprefix = \"quay\"\n",
    );
    let (code, said) = brief(&place);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("cannot be told apart"), "{said}");
    place.put("pier/rules/power.rhai", RULE);
    place.put("shop/dryfit.toml", "[packs.pier]\nfolder = \"../pier\"\nprefix = \"power\"\n");
    let (_, said) = brief(&place);
    assert!(said.contains("the prefix `power` is taken"), "{said}");
    // Two packs with a part of one id.
    for pack in ["one", "two"] {
        place.put(
            &format!("{pack}/catalogue/parts/{pack}_fans.toml"),
            "kind = \"fan\"\n[drift-120]\nname = \"Drift 120\"\nsize_mm = 120\n",
        );
    }
    place.put("shop/dryfit.toml", "[packs]\none.folder = \"../one\"\ntwo.folder = \"../two\"\n");
    let (_, said) = brief(&place);
    assert!(said.contains("gives fan/drift-120 again"), "{said}");
}

#[test]
fn a_repository_that_means_harm_is_refused_and_nothing_is_left() {
    let refused = |name: &str, spoil: &dyn Fn(&Place), says: &str| {
        let (place, _) = shop(name);
        spoil(&place);
        place.git("quay", &["tag", "-d", "v1"]);
        place.commit("quay", "v1");
        let (code, said) = place.run("shop", &["rules", "fetch"]);
        assert_eq!(code, Some(2), "{name}: {said}");
        assert!(said.replace('\n', " ").contains(says), "{name}: {said}");
        assert!(!place.0.join("shop/dryfit.lock").exists(), "{name}");
        let kept = fs::read_dir(place.0.join("shop/.dryfit/packs")).expect("a folder");
        assert_eq!(kept.count(), 0, "{name}");
    };
    refused(
        "link",
        &|place| {
            std::os::unix::fs::symlink("/etc/passwd", place.0.join("quay/rules/quay_x.toml"))
                .expect("a link");
        },
        "holds a link",
    );
    refused(
        "inner",
        &|place| {
            place.put("inner/a.toml", "x = 1\n");
            place.commit("inner", "a");
            let words =
                ["-c", "protocol.file.allow=always", "submodule", "add", "--quiet", "../inner"];
            place.git("quay", &words);
        },
        "holds another repository",
    );
    refused(
        "name",
        &|place| place.put("quay/rules/quay_a\nb.rhai", RULE),
        "a name that leads elsewhere",
    );
    refused(
        "many",
        &|place| {
            for nth in 0..10_050 {
                place.put(&format!("quay/rules/quay_{nth}.csv"), "");
            }
        },
        "holds more than 10000 files",
    );
}

/// Filters, hooks and settings of a repository are programs of others.
#[test]
fn nothing_of_a_repository_runs() {
    let (place, _) = shop("inert");
    let trace = place.0.join("ran");
    let act = format!("touch {}", trace.display());
    place.put("quay/.gitattributes", "*.rhai filter=act\n");
    place.git("quay", &["config", "filter.act.smudge", &act]);
    place.git("quay", &["config", "core.fsmonitor", &act]);
    for hook in ["post-checkout", "post-merge", "pre-auto-gc"] {
        let path = place.0.join("quay/.git/hooks").join(hook);
        fs::write(&path, format!("#!/bin/sh\n{act}\n")).expect("it is written");
        use std::os::unix::fs::PermissionsExt as _;
        fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).expect("it may run");
    }
    place.git("quay", &["-c", "core.fsmonitor=false", "tag", "-d", "v1"]);
    place.git("quay", &["-c", "core.fsmonitor=false", "add", "-A"]);
    place.git("quay", &["-c", "core.fsmonitor=false", "commit", "--quiet", "-m", "act"]);
    place.git("quay", &["tag", "v1"]);
    let _ = fs::remove_file(&trace);
    let (code, said) = place.run("shop", &["rules", "fetch"]);
    assert_eq!(code, Some(0), "{said}");
    assert!(!trace.exists(), "something of the repository ran");
}

#[test]
fn what_cannot_be_got_is_said_in_a_sentence() {
    let place = Place::new("absent");
    place.put("shop/list.toml", LIST);
    for (address, revision, says) in [
        ("../nowhere", "v1", "git cannot get ../nowhere"),
        ("http://127.0.0.1:9/quay", "v1", "git cannot get http://127.0.0.1:9/quay"),
    ] {
        let text = format!("[packs.quay]\ngit = \"{address}\"\nrevision = \"{revision}\"\n");
        place.put("shop/dryfit.toml", &text);
        let (code, said) = place.run("shop", &["rules", "fetch"]);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.replace('\n', " ").contains(says), "{said}");
    }
    let (place, _) = shop("revision");
    place.put("shop/dryfit.toml", "[packs.quay]\ngit = \"../quay\"\nrevision = \"v9\"\n");
    assert!(place.run("shop", &["rules", "fetch"]).1.contains("no revision `v9`"));
    place.put("shop/dryfit.toml", "title = 1\n");
    assert_eq!(place.run("shop", &["rules", "fetch"]).0, Some(2));
    fs::remove_file(place.0.join("shop/dryfit.toml")).expect("it goes");
    assert!(place.run("shop", &["rules", "fetch"]).1.contains("no dryfit.toml here names a pack"));
}

#[test]
fn a_pack_is_made_of_rules_whose_cases_pass() {
    let place = Place::new("make");
    place.put("mine/rules/quay_words.rhai", RULE);
    place.put("mine/rules/quay_words.cases.toml", CASES);
    let (code, said) = place.run(".", &["rules", "pack", "mine", "-o", "quay"]);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("[packs.quay]"), "{said}");
    // What it says to write works as it is.
    let text = said.split_once("[packs.quay]").expect("a heading").1;
    place.put("shop/list.toml", LIST);
    place
        .put("shop/dryfit.toml", &format!("[packs.quay]{text}").replace("\"quay\"", "\"../quay\""));
    assert!(brief(&place).1.contains("the pack was here"));
    let (code, said) = place.run(".", &["rules", "pack", "mine", "-o", "quay"]);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("holds something already"), "{said}");
    // Cases that fail, and names that are not the pack's.
    place.put(
        "mine/rules/quay_words.cases.toml",
        &CASES.replace("size_mm = 120 }]", "size_mm = 120 }]\nsilent = [\"quay_words.looked\"]"),
    );
    let (code, said) = place.run(".", &["rules", "pack", "mine", "-o", "other"]);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("No pack is written"), "{said}");
    place.put("mine/rules/quay_words.cases.toml", CASES);
    let (code, said) = place.run(".", &["rules", "pack", "mine", "-o", "other"]);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("does not begin with its prefix"), "{said}");
    assert!(!place.0.join("other").exists());
}

#[test]
fn a_difference_is_told_finding_by_finding() {
    let place = Place::new("diff");
    place.put("lists/list.toml", LIST);
    let told = |level: &str, word: &str| {
        RULE.replace("advice(", &format!("{level}(")).replace("the pack was", word)
    };
    place.put("old/rules/quay_words.rhai", &told("advice", "a"));
    let words = |new: &str| {
        let args = ["rules", "diff", "old", new, "--lists", "lists", "--format", "json"];
        place.run(".", &args)
    };
    assert_eq!(words("old").0, Some(0));
    for (level, word, was, now) in
        [("caution", "a", "advice", "caution"), ("advice", "b", "advice", "advice")]
    {
        place.put("new/rules/quay_words.rhai", &told(level, word));
        let (code, said) = words("new");
        assert_eq!(code, Some(1), "{said}");
        let json: serde_json::Value = serde_json::from_str(&said).expect("it is JSON");
        let changes = json["lists"][0]["changes"].as_array().expect("changes");
        assert_eq!(changes.len(), 1, "{said}");
        assert_eq!(
            (&changes[0]["was"]["level"], &changes[0]["now"]["level"]),
            (&was.into(), &now.into())
        );
    }
    fs::remove_file(place.0.join("new/rules/quay_words.rhai")).expect("it goes");
    place.put("new/rules/quay_more.rhai", &told("advice", "a"));
    let (_, said) = words("new");
    let json: serde_json::Value = serde_json::from_str(&said).expect("it is JSON");
    let changes = json["lists"][0]["changes"].as_array().expect("changes");
    assert_eq!(changes.len(), 2, "{said}");
    assert!(words("nowhere").1.contains("there is no folder nowhere"));
}

/// A pack in a folder, or a lock, that is not what it says.
#[test]
fn folders_and_locks_that_lie_are_refused() {
    let (place, commit) = shop("lies");
    assert_eq!(place.run("shop", &["rules", "fetch"]).0, Some(0));
    let lock = fs::read_to_string(place.0.join("shop/dryfit.lock")).expect("it is written");
    let doubled = format!("{lock}\n{}", lock.split_once("\n\n").expect("a heading").1);
    for (lies, says) in [
        (lock.replace(&commit, "../../quay"), "no commit, or no checksum"),
        (lock.replace("sha256 = \"", "sha256 = \"x"), "no commit, or no checksum"),
        (doubled, "more than once"),
    ] {
        place.put("shop/dryfit.lock", &lies);
        let (code, said) = brief(&place);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(says), "{says}: {said}");
    }
    place.put("shop/dryfit.toml", "[packs.quay]\nfolder = \"../quay\"\n");
    assert!(brief(&place).1.contains("the pack was here"));
    place.put("quay/pack.toml", "name = \"../quay\"\n");
    assert!(brief(&place).1.contains("is no name of a pack"));
    place.put("quay/pack.toml", "name = \"quay\"\n");
    for nth in 0..10_050 {
        place.put(&format!("quay/rules/{nth}.txt"), "");
    }
    let (code, said) = brief(&place);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("holds more than 10000 files"), "{said}");
}
