use super::*;

#[test]
fn tables_and_keys_are_found() {
    let text = "title = \"a # b\" # c\n[[line]]\npart = \"fan/x\"\nwants = [\n  \"a\", # ]\n  \
                    \"b\",\n]\n[line.facts]\nx.\"y z\" = 1\n[[line]]\nany = ";
    let outline = TomlOutline::read(text);
    let paths: Vec<String> = outline.tables.iter().map(|t| t.path.join(".")).collect();
    assert_eq!(paths, ["", "line", "line.facts", "line"]);
    let at = |table: usize, entry: usize| &outline.tables[table].entries[entry];
    let value = |e: &TomlEntry| text[e.value.start()..e.value.end()].to_owned();
    assert_eq!(value(at(0, 0)), "\"a # b\"");
    assert_eq!(value(at(1, 1)), "[\n  \"a\", # ]\n  \"b\",\n]");
    assert_eq!(at(2, 0).key, "x.y z");
    assert!(at(3, 0).value.is_empty() && at(3, 0).after_equals.is_some());
    assert_eq!(outline.tables[1].text(text, "part"), Some("fan/x"));
    assert_eq!(strings_in(text, at(1, 1).value).len(), 2);
}

#[test]
fn no_text_makes_it_panic_or_run_on() {
    let pieces = ["[", "[[", "]", "\"", "'", "\"\"\"", "=", "#", "\n", "\r", "{", "é", "\\", "a.b"];
    let mut seed = 7u64;
    for _ in 0..3000 {
        let mut text = String::new();
        for _ in 0..12 {
            seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            text.push_str(pieces[(seed >> 33) as usize % pieces.len()]);
        }
        let outline = TomlOutline::read(&text);
        for table in &outline.tables {
            for entry in &table.entries {
                assert!(text.get(entry.value.start()..entry.value.end()).is_some(), "{text:?}");
                strings_in(&text, entry.value);
            }
        }
    }
}
