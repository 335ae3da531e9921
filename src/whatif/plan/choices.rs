//! What may stand on each line of a brief.

use std::sync::Arc;

use crate::build::{Build, Line, What};
use crate::catalogue::Part;
use crate::kit::Kit;
use crate::source::{Problem, Problems};
use crate::trade::money::Money;
use crate::whatif::open_lines::{Candidates, candidates};

/// What may stand on each line: nothing for a line that is not open.
pub(super) struct Choices {
    pub(super) sold: Vec<Vec<Line>>,
    /// The same with parts that no seller has in stock.
    pub(super) all: Vec<Vec<Line>>,
    pub(super) empty: Vec<Problem>,
}

pub(super) fn choices(kit: &Kit, build: &Build) -> Result<Choices, Problems> {
    let mut choices = Choices { sold: Vec::new(), all: Vec::new(), empty: Vec::new() };
    let mut wrong = Problems::default();
    for (at, line) in build.lines.iter().enumerate() {
        let What::Open { kind, wants } = &line.what else {
            choices.sold.push(Vec::new());
            choices.all.push(Vec::new());
            continue;
        };
        let Candidates { sold, unsold } = match candidates(kit, build, at, *kind, wants) {
            Ok(found) => found,
            Err(problem) => {
                wrong.push(*problem);
                continue;
            }
        };
        if sold.is_empty() {
            let name = kit.catalogue().kind(*kind).map_or("", |k| &k.name);
            let problem = Problem::new(format!("there is no {name} to choose from")).at(
                &build.source,
                line.spans.part,
                "nothing for this",
            );
            let help = match unsold.len() {
                0 => "no part of the kind meets the line's wants and has a seller on the pricing \
                      day"
                .to_owned(),
                n => format!(
                    "no seller has one in stock on the pricing day; {n} meet the line's wants"
                ),
            };
            choices.empty.push(problem.help(help));
        }
        let with = |parts: &[(Arc<Part>, Money)]| {
            parts.iter().map(|(part, _)| line.with_part(part)).collect::<Vec<_>>()
        };
        let sold = with(&sold);
        choices.all.push(sold.iter().cloned().chain(with(&unsold)).collect());
        choices.sold.push(sold);
    }
    wrong.or(choices)
}
