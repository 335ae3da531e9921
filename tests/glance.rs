//! The audit at a glance, at every width of a terminal: it fits its screen, no line is longer than
//! the terminal, no word is broken, and what matters most comes first.

use std::collections::HashSet;
use std::fs;
use std::path::Path;

use dryfit::inside::app::report::style::Look;
use dryfit::inside::app::report::terminal::Terminal;
use dryfit::inside::app::report::{Audited, Report, Stream, Tally, Wishes};
use dryfit::inside::source::Source;
use dryfit::{Kit, Layers};
use jiff::civil::date;
use unicode_width::UnicodeWidthStr as _;

const WIDTHS: [usize; 5] = [40, 53, 60, 80, 120];

fn reports() -> Vec<Report> {
    let kit = Kit::load(&Layers::built_in()).expect("it loads");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut reports = Vec::new();
    for entry in fs::read_dir(folder).expect("there are examples").flatten() {
        let path = entry.path();
        if path.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        let name = format!("examples/{}", entry.file_name().to_string_lossy());
        let text = fs::read_to_string(&path).expect("it reads");
        let build = kit.read(&Source::new(&name, text), date(2026, 11, 20)).expect("a list");
        let outcome = Ok(Box::new(Audited::with_causes(&kit.audit(&build))));
        reports.push(Report { file: name, outcome });
    }
    assert!(reports.len() >= 7, "the demo has lists");
    reports
}

fn shown(report: &Report, width: usize, all: bool, colour: bool) -> String {
    let look = Look { colour, drawing: false, width };
    let wishes = Wishes { all, ..Wishes::default() };
    let mut out = Vec::new();
    let mut way = Terminal::new(look, look, wishes);
    way.report(report.clone(), &mut out, &mut Vec::new())
        .and_then(|()| way.end(&Tally::default(), &mut out, &mut Vec::new()))
        .expect("memory takes it");
    String::from_utf8(out).expect("text")
}

#[test]
fn no_line_is_longer_than_the_terminal_and_no_word_is_broken() {
    for report in &reports() {
        for all in [false, true] {
            let wide = shown(report, 4_000, all, false);
            let words: HashSet<&str> = wide.split_whitespace().collect();
            for width in WIDTHS {
                let text = shown(report, width, all, false);
                for line in text.lines() {
                    assert!(line.width() <= width, "{} at {width}: {line}", report.file);
                    // An excerpt of a file is cut where it leaves the page.
                    let excerpt = line.contains(" | ")
                        || line.contains("::: ")
                        || line.contains("--> ")
                        || line.contains("more caution");
                    for word in
                        line.split_whitespace().filter(|w| !excerpt && w.parse::<f64>().is_err())
                    {
                        let whole = words.contains(word) || word.width() + 8 > width;
                        let known = |w: &&str| {
                            w.trim_end_matches([':', ';']) == word.trim_end_matches([':', ';'])
                        };
                        assert!(
                            whole || words.iter().any(known),
                            "{} at {width}: `{word}` is no word of it",
                            report.file
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn the_wreck_fits_a_screen_and_a_clean_list_eight_lines() {
    for report in &reports() {
        let text = shown(report, 80, false, false);
        let lines = text.lines().count();
        assert!(lines <= 50, "{}: {lines} lines\n{text}", report.file);
        if text.starts_with("BUILD ") && !text.starts_with("BUILD WITH CARE") {
            assert!(lines <= 8, "{}: {lines} lines\n{text}", report.file);
        }
    }
}

#[test]
fn the_verdict_is_first_the_next_step_last_and_every_stop_between() {
    for report in &reports() {
        let audited = report.outcome.as_ref().expect("it is audited");
        let text = shown(report, 80, false, false);
        let first = text.lines().next().expect("a line");
        let words = ["DO NOT BUILD", "NOT SETTLED", "BUILD WITH CARE", "BUILD"];
        assert!(words.iter().any(|w| first.starts_with(w)), "{first}");
        let last = text.split("\n\n").last().expect("a block");
        assert!(last.starts_with("Next: "), "{last}");
        let told: Vec<&str> = text.split_whitespace().collect();
        let mut stops: Vec<usize> =
            audited.causes.iter().flat_map(|c| c.findings.iter().copied()).collect();
        stops.sort_unstable();
        let wanted: Vec<usize> = (0..audited.findings.len())
            .filter(|at| {
                let finding = &audited.findings[*at].finding;
                finding.level == dryfit::Level::Stop && finding.waived.is_none()
            })
            .collect();
        assert_eq!(stops, wanted, "{}: every stop has one cause", report.file);
        for at in wanted {
            let rule = audited.findings[at].finding.rule.as_str();
            assert!(told.contains(&rule), "{}: {rule} is not told", report.file);
        }
        let sizes: Vec<usize> = audited.causes.iter().map(|c| c.findings.len()).collect();
        assert!(sizes.is_sorted_by(|a, b| a >= b), "{}: {sizes:?}", report.file);
    }
}

#[test]
fn colour_changes_no_letter() {
    for report in &reports() {
        let plain = shown(report, 80, false, false);
        let mut coloured = shown(report, 80, false, true);
        while let Some(at) = coloured.find('\u{1b}') {
            let end = coloured[at..].find('m').expect("a colour ends") + at;
            coloured.replace_range(at..=end, "");
        }
        let trimmed = |text: &str| text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n");
        assert_eq!(trimmed(&plain), trimmed(&coloured), "{}", report.file);
    }
}
