//! Chromium by its command line: loads a page and hands back what a script measured in it, or
//! prints it.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::{env, fs};

use serde_json::Value;

const OURS: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// A browser that is there.
pub(crate) struct Browser {
    program: PathBuf,
    /// The accessibility checker.
    axe: Option<String>,
    folder: PathBuf,
}

/// How a page is looked at.
#[derive(Clone, Copy)]
pub(crate) struct Window {
    pub(crate) width: u32,
    pub(crate) dark: bool,
}

impl Browser {
    /// Finds it; absent is an error under CI, and said aloud elsewhere.
    pub(crate) fn find() -> Option<Self> {
        let under_ci = env::var("CI").is_ok_and(|v| v == "true" || v == "1");
        let paths = env::var_os("PATH").unwrap_or_default();
        let named = ["chromium", "chromium-browser"];
        let program =
            env::split_paths(&paths).flat_map(|p| named.map(|n| p.join(n))).find(|p| p.is_file());
        let axe = fs::read_to_string(
            Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("tests/sheet/node_modules/axe-core/axe.min.js"),
        )
        .ok();
        if under_ci {
            assert!(program.is_some(), "Chromium is not installed: apt-get install chromium");
            assert!(
                axe.is_some(),
                "the accessibility checker is not installed: npm ci --prefix tests/sheet"
            );
        }
        let Some(program) = program else {
            say(
                "SKIPPED: no Chromium here, so the sheet was not looked at (apt-get install chromium)",
            );
            return None;
        };
        if axe.is_none() {
            say(
                "NOTE: no accessibility checker here, so that part is left out (npm ci --prefix tests/sheet)",
            );
        }
        let folder = env::temp_dir().join(format!(
            "dryfit-sheet-{}-{:?}",
            std::process::id(),
            std::thread::current().id()
        ));
        fs::create_dir_all(&folder).expect("a folder can be made");
        Some(Self { program, axe, folder })
    }

    /// Whether the accessibility checker is there.
    pub(crate) fn has_axe(&self) -> bool {
        self.axe.is_some()
    }

    fn command(&self, name: &str) -> Command {
        let mut command = Command::new(&self.program);
        command
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--hide-scrollbars",
                "--disable-dev-shm-usage",
                "--no-first-run",
                "--disable-background-networking",
                "--enable-logging=stderr",
            ])
            .arg(format!(
                "--user-data-dir={}",
                self.folder.join(format!("profile-{name}")).display()
            ))
            .stdin(Stdio::null());
        command
    }

    fn put(&self, name: &str, html: &str) -> String {
        let path = self.folder.join(format!("{name}.html"));
        fs::write(&path, html).expect("the page can be written");
        format!("file://{}", path.display())
    }

    /// Loads the page with the measuring script let in, and nothing else changed.
    pub(crate) fn measure(&self, name: &str, html: &str, window: Window) -> Value {
        assert!(html.contains(OURS), "{name}: the page's own rule of what it may load is missing");
        let script = |text: &str| format!("<script nonce=\"measure\" data-measure>{text}</script>");
        let scripts = [
            self.axe.as_deref().map(script).unwrap_or_default(),
            script(include_str!("measure.js")),
        ]
        .concat();
        let let_in = html
            .replacen(OURS, &format!("{OURS}; script-src 'nonce-measure'"), 1)
            .replacen("<style>", &format!("{scripts}<style>"), 1);
        // A window is 500 wide at the least, so a phone is a frame in it.
        let let_in = if window.width < 500 { framed(&let_in, window.width) } else { let_in };
        let name = format!("{name}-{}-{}", window.width, window.dark);
        let url = self.put(&name, &let_in);
        let mut command = self.command(&name);
        command
            .args(["--dump-dom", "--virtual-time-budget=20000"])
            .arg(format!("--window-size={},1000", window.width.max(500)));
        if window.dark {
            command.arg("--blink-settings=preferredColorScheme=0");
        }
        let output = command.arg(url).output().expect("Chromium starts");
        measured(&name, &output)
    }

    /// Lays the page out at many widths in one run, and says where something overflows, overlaps
    /// or is cut.
    pub(crate) fn sweep(&self, name: &str, html: &str) -> Vec<String> {
        let script = include_str!("measure.js");
        let let_in = html
            .replacen(
                "style-src 'unsafe-inline'",
                "style-src 'unsafe-inline'; script-src 'nonce-m'",
                1,
            )
            .replacen(
                "<style>",
                &format!("<script nonce=\"m\" data-measure>{script}</script><style>"),
                1,
            );
        let text = let_in.replace('&', "&amp;").replace('"', "&quot;");
        let harness = format!(
            "<!doctype html><html lang=\"en\"><title>sweep</title><body><script>globalThis.sweeping = true;</script>\
             <iframe id=\"f\" width=\"320\" height=\"4000\" style=\"border:0\" srcdoc=\"{text}\"></iframe><script>\
             addEventListener('load', () => {{ const f = document.getElementById('f'); const all = [];\
             for (let w = 320; w <= 1600; w += 20) {{ f.width = w; all.push(f.contentWindow.layoutNow()); }}\
             const out = document.createElement('pre'); out.id = 'measured';\
             out.textContent = encodeURIComponent(JSON.stringify(all)); document.body.append(out); }});\
             </script></body></html>"
        );
        let name = format!("{name}-sweep");
        let url = self.put(&name, &harness);
        let output = self
            .command(&name)
            .args(["--dump-dom", "--virtual-time-budget=20000", "--window-size=1700,1000"])
            .arg(url)
            .output()
            .expect("Chromium starts");
        let seen = measured(&name, &output);
        let widths = seen.as_array().expect("a list of widths");
        assert_eq!(widths.len(), 65, "{name}: {seen}");
        let mut faults = Vec::new();
        for (seen, width) in widths.iter().zip((320_u64..).step_by(20)) {
            assert_eq!(seen["width"].as_u64(), Some(width), "{name}");
            if seen["scroll"].as_u64() > Some(width) {
                faults.push(format!("{name} at {width}: overflows to {}", seen["scroll"]));
            }
            for key in ["wide", "overlaps", "outside"] {
                if seen[key].as_array().is_none_or(|a| !a.is_empty()) {
                    faults.push(format!("{name} at {width}: {key}: {}", seen[key]));
                }
            }
        }
        faults
    }

    /// Prints the page as it is; gives the pages, and what the console said.
    pub(crate) fn print(&self, name: &str, html: &str) -> (usize, Vec<String>) {
        let url = self.put(&format!("{name}-print"), html);
        let pdf = self.folder.join(format!("{name}.pdf"));
        let output = self
            .command(&format!("{name}-print"))
            .args(["--no-pdf-header-footer"])
            .arg(format!("--print-to-pdf={}", pdf.display()))
            .arg(url)
            .output()
            .expect("Chromium starts");
        let said = String::from_utf8_lossy(&output.stderr)
            .lines()
            .filter(|l| l.contains("CONSOLE"))
            .map(str::to_owned)
            .collect();
        let bytes = fs::read(&pdf).unwrap_or_else(|_| {
            panic!("{name}: nothing printed\n{}", String::from_utf8_lossy(&output.stderr))
        });
        (pages(&bytes), said)
    }
}

/// What a script measured, out of the document that the browser wrote.
fn measured(name: &str, output: &std::process::Output) -> Value {
    let dom = String::from_utf8_lossy(&output.stdout);
    let found = dom
        .split_once("<pre id=\"measured\">")
        .and_then(|(_, rest)| rest.split_once('<'))
        .map(|(text, _)| decoded(text));
    let found = found.unwrap_or_else(|| {
        panic!("{name}: nothing measured\n{}", String::from_utf8_lossy(&output.stderr))
    });
    serde_json::from_str(&found).expect("what was measured is JSON")
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// Page objects of a PDF.
fn pages(pdf: &[u8]) -> usize {
    let mark = b"/Type /Page";
    pdf.windows(mark.len() + 1).filter(|w| w.starts_with(mark) && w.last() != Some(&b's')).count()
}

fn framed(html: &str, width: u32) -> String {
    let text = html.replace('&', "&amp;").replace('"', "&quot;");
    format!(
        "<!doctype html><html lang=\"en\"><title>phone</title><body><iframe width=\"{width}\" height=\"4000\" style=\"border:0\" srcdoc=\"{text}\"></iframe></body></html>"
    )
}

fn decoded(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let digits = [rest.next().unwrap_or(b'0'), rest.next().unwrap_or(b'0')];
            let hex = std::str::from_utf8(&digits).unwrap_or("00");
            bytes.push(u8::from_str_radix(hex, 16).unwrap_or(b'?'));
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Past the test runner's capture: a skip must be seen.
fn say(words: &str) {
    use std::io::Write as _;
    let _ = writeln!(std::io::stderr(), "{words}");
}
