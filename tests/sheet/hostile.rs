//! Parts whose names would act if they were let.

use std::fmt::Write as _;

use dryfit::inside::layer::Layer;

/// Names that would act if they were let.
pub(super) fn hostile() -> Vec<String> {
    vec![
        "<script>document.title='taken'</script>".to_owned(),
        "<img src=x onerror=alert(1)>".to_owned(),
        "\"><svg onload=alert(1)><foreignObject>".to_owned(),
        "</text></svg></style><style>*{display:none}".to_owned(),
        "right\u{202e}to left\u{2066}kept\u{200f}".to_owned(),
        "{{ 7 * 7 }}{% for x in y %}".to_owned(),
        "javascript:alert(1)//http://example.invalid/x".to_owned(),
        "W".repeat(5_000),
        "long ".repeat(1_000),
        format!("a{}", "\u{301}".repeat(400)),
        "\u{5bbd}".repeat(5_000),
    ]
}

pub(super) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out + "\""
}

/// The catalogue with every part's, port's and plug's name made hostile, round and round.
pub(super) fn hostile_catalogue() -> Layer {
    let names = hostile();
    let mut next = 0;
    let built_in = Layer::built_in_catalogue();
    let mut files: Vec<(String, String)> = Vec::new();
    for (path, source) in built_in.files.iter().filter(|(path, _)| path.starts_with("parts/")) {
        let mut text = String::new();
        for line in source.text.lines() {
            if line.trim_start().starts_with("name ") || line.starts_with("maker ") {
                let key = line.split('=').next().unwrap_or("name");
                let _ = writeln!(text, "{key}= {}", quoted(&names[next % names.len()]));
                next += 1;
                continue;
            }
            let mut rest = line;
            while let Some((before, after)) = rest.split_once("label = \"") {
                let Some((_, after)) = after.split_once('"') else { break };
                let _ = write!(text, "{before}label = {}", quoted(&names[next % names.len()]));
                next += 1;
                rest = after;
            }
            let _ = writeln!(text, "{rest}");
        }
        files.push((path.clone(), text));
    }
    let files: Vec<(&str, &str)> = files.iter().map(|(p, t)| (p.as_str(), t.as_str())).collect();
    Layer::from_texts("hostile", &files)
}
