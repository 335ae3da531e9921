//! The report as JUnit XML: a suite a list, a case a finding, and one case for a list without any.

use std::io;

use crate::app::report::escape::inert_char;
use crate::app::report::located::with_help;
use crate::app::report::{Audited, Out, Report, Stream, Tally};
use crate::level::Level;

/// JUnit, failing on findings of a level or above.
#[derive(Debug, Clone, Copy)]
pub struct Junit {
    pub fail_on: Level,
}

enum Case<'a> {
    Passes(&'a str),
    Fails(&'a str),
    Skips(&'a str),
    Breaks(String),
}

impl Stream for Junit {
    fn begin(&mut self, out: Out<'_>) -> io::Result<()> {
        writeln!(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"dryfit\">")
    }

    fn report(&mut self, report: Report, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        let cases = match &report.outcome {
            Ok(audited) => self.cases(audited),
            Err(problems) => {
                problems.0.iter().map(|p| ("dryfit", Case::Breaks(with_help(p)))).collect()
            }
        };
        let of = |wanted: fn(&Case<'_>) -> bool| cases.iter().filter(|(_, c)| wanted(c)).count();
        writeln!(
            out,
            "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\">",
            escaped(&report.file),
            cases.len(),
            of(|c| matches!(c, Case::Fails(_))),
            of(|c| matches!(c, Case::Breaks(_))),
            of(|c| matches!(c, Case::Skips(_))),
        )?;
        for (rule, case) in &cases {
            self.case(&report.file, rule, case, out)?;
        }
        writeln!(out, "  </testsuite>")
    }

    fn end(&mut self, _: &Tally, out: Out<'_>, _: Out<'_>) -> io::Result<()> {
        writeln!(out, "</testsuites>")
    }
}

impl Junit {
    fn cases<'a>(&self, audited: &'a Audited) -> Vec<(&'a str, Case<'a>)> {
        let mut cases: Vec<(&str, Case<'_>)> = Vec::new();
        for merged in &audited.findings {
            let finding = &merged.finding;
            let case = match &finding.waived {
                Some(waiver) => Case::Skips(&waiver.reason),
                None if finding.level >= self.fail_on => Case::Fails(&finding.message),
                None => Case::Passes(&finding.message),
            };
            cases.push((&finding.rule, case));
        }
        for open in audited.open_rules.iter().filter(|o| !o.waived) {
            cases.push((&open.rule, Case::Skips(open.words())));
        }
        cases.extend(audited.left.iter().map(|p| ("open line", Case::Breaks(with_help(p)))));
        cases.extend(audited.broken.iter().map(|p| ("dryfit", Case::Breaks(with_help(&p.told())))));
        if cases.is_empty() {
            cases.push(("audit", Case::Passes("nothing found")));
        }
        cases
    }

    fn case(&self, file: &str, rule: &str, case: &Case<'_>, out: Out<'_>) -> io::Result<()> {
        write!(out, "    <testcase classname=\"{}\" name=\"{}\">", escaped(file), escaped(rule))?;
        match case {
            Case::Passes(said) => write!(out, "<system-out>{}</system-out>", escaped(said))?,
            Case::Fails(said) => write!(out, "<failure message=\"{}\"/>", escaped(said))?,
            Case::Skips(said) => write!(out, "<skipped message=\"{}\"/>", escaped(said))?,
            Case::Breaks(said) => write!(out, "<error message=\"{}\"/>", escaped(said))?,
        }
        writeln!(out, "</testcase>")
    }
}

/// Text for an element or an attribute in double quotes.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            // Not to be had in XML, escaped or not.
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            '\n' | '\t' => out.push(' '),
            c => out.push(inert_char(c)),
        }
    }
    out
}
