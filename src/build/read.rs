//! Reading a build file: all of it is checked before any rule runs.

mod line_parts;

use std::sync::Arc;

use jiff::civil::Date;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fields::{BUILD_FIELDS, BuildField};
use super::quote::QUOTE;
use super::waivers::WAIVER;
use super::{Build, Line, LineSpans, What, quote, waivers};
use crate::catalogue::declared::{Declared, Key, Reading, Row, Takes, check, check_values, key};
use crate::catalogue::field_reader::{found, plain_number};
use crate::catalogue::kinds::KindId;
use crate::catalogue::market::{Facts, SellerBid};
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, field_reader};
use crate::source::{Problem, Problems, Source, Span};
use crate::trade::money::{Money, Rate};
use crate::words::{clip, some_of};

/// Most lines in a build.
pub const MAX_LINES: usize = 200;
/// Most pieces on a line.
pub const MAX_COUNT: u32 = 99;
/// Largest build file, in bytes.
pub const MAX_BYTES: usize = 4 << 20;
/// A line of a build.
pub(crate) const LINE: Declared = Declared {
    of: "a line",
    keys: &[
        key("part", Takes::Text, "the part's id"),
        key("kind", Takes::Text, "its kind, where the part is not of the catalogue"),
        key("name", Takes::Text, "what such a part is called"),
        key("facts", Takes::Other, "what is known of it"),
        key("any", Takes::Text, "a kind: the line is left open"),
        key("wants", Takes::Texts, "what an open line must meet, as expressions"),
        key("count", Takes::Whole(1, MAX_COUNT), "pieces"),
        key("mount", Takes::Rows("mount"), "where it is fitted"),
        key("flow", Takes::Words(&["in", "out"]), "which way it blows"),
        key("owned", Takes::Flag, "the customer has it already"),
        key("included", Takes::Flag, "false leaves its included parts out"),
        key("quoted", Takes::Table(&QUOTE), "a price that was quoted"),
        key("note", Takes::Text, "for people"),
    ],
};
const AMOUNT: Takes = Takes::Number(0.0, 1e9);
/// What a rule case may state of the offers on a line.
pub(crate) const OFFER: Declared = Declared {
    of: "a line",
    keys: &[
        key("price", AMOUNT, "purchase price of one"),
        key("stock", AMOUNT, "pieces in stock"),
        key("sellers", AMOUNT, "sellers that have it"),
        key("offer_age_days", AMOUNT, "days since the offer was seen"),
        key("mail_rebate", AMOUNT, "mail-in rebate for one"),
        key("credit", AMOUNT, "credit for a later purchase"),
        key("bundle_value", AMOUNT, "value of what comes with one"),
        key("shipping", AMOUNT, "shipping of an order of this alone"),
        key("left_out", Takes::Whole(0, 1000), "offers that were left out"),
    ],
};
/// What a rule case may change of the part it names.
pub(crate) const CHANGES: Declared = Declared {
    of: "a line",
    keys: &[
        key("set", Takes::Other, "fields of the part that are otherwise here"),
        key("unknown", Takes::Texts, "fields of the part that nobody knows here"),
    ],
};
/// What a build says beside its fields.
pub(crate) const BESIDE: Declared = Declared {
    of: "a build",
    keys: &[
        key("priced_on", Takes::Day, "offers count as of this day"),
        key("bundles", Takes::Texts, "parts that are worth having when a seller adds them"),
        key("note", Takes::Text, "for people"),
        key("line", Takes::Tables(&LINE), "its lines, each under `[[line]]`"),
        key("waive", Takes::Tables(&WAIVER), "findings signed off, each under `[[waive]]`"),
    ],
};

/// Reads a build; one that is `begun` may have no lines yet.
pub(super) fn parse(
    source: &Arc<Source>,
    catalogue: &Catalogue,
    today: Date,
    begun: bool,
) -> Result<Build, Problems> {
    let mut problems = Problems::default();
    if source.text.len() > MAX_BYTES {
        return Err(Problem::new(format!(
            "{} is larger than {} MiB, which no parts list is",
            source.name,
            MAX_BYTES >> 20
        ))
        .into());
    }
    let Some(parsed) = field_reader::sound(source, &mut problems) else {
        return Err(pasted(source).map_or(problems, Problems::from));
    };
    let mut reader =
        BuildReader { source, catalogue, problems: &mut problems, spot: false, begun, own: None };
    let build = reader.build(parsed.get_ref(), parsed.get_ref().get("line"), today);
    problems.or(build)
}

/// What to do with a text that was never meant to be a build: a list as customers send it.
fn pasted(source: &Arc<Source>) -> Option<Problem> {
    let line = |l: &str| l.trim_start().starts_with("[[") || l.contains(" = ");
    if source.text.lines().any(line) || source.text.trim().is_empty() {
        return None;
    }
    let message = format!("{} is no build: this reads like a pasted list", source.name);
    Some(
        Problem::new(message).help(format!(
            "read it into a build first: `dryfit intake {} -o LIST.toml`",
            source.name
        )),
    )
}

/// Reads the keys that a brief shares with a build, and its lines if it has any; keys `aside` are
/// the brief's own. An open line is added for each kind that is needed and has no line.
pub(super) fn parse_brief(
    source: &Arc<Source>,
    catalogue: &Catalogue,
    today: Date,
    own: &'static Declared,
    table: &DeTable<'_>,
    problems: &mut Problems,
) -> Build {
    let mut reader =
        BuildReader { source, catalogue, problems, spot: false, begun: false, own: Some(own) };
    let mut build = reader.build(table, table.get("line"), today);
    let Some(needs) = table.get("needs") else { return build };
    let items = needs.get_ref().as_array().map_or(&[][..], |items| items);
    let mut seen = Vec::new();
    for item in items.iter().filter(|item| item.get_ref().as_str().is_some()) {
        let Some(kind) = reader.kind(item) else { continue };
        if seen.contains(&kind) {
            let help = "a kind is named once; for a second line of it write `[[line]]` with `any = \
             \"…\"` for each, or give one a `count`";
            reader.helped(item.span(), "this kind is needed twice", "named above", help);
            continue;
        }
        seen.push(kind);
        if build.lines.iter().any(|l| l.kind() == kind) {
            continue;
        }
        let spans = LineSpans {
            whole: item.span().into(),
            part: item.span().into(),
            ..LineSpans::default()
        };
        let what = What::Open { kind, wants: Vec::new() };
        build.lines.push(Line { spans, ..Line::new(what) });
    }
    if build.lines.len() > MAX_LINES {
        reader.problem(
            needs.span(),
            format!("a build has {MAX_LINES} lines at the most"),
            "too many kinds",
        );
    }
    build
}

/// A build written in figures inside a rule case: parts on the spot, fields left out where no rule
/// under test reads them.
pub struct CaseBuild;

impl CaseBuild {
    /// Reads the keys of a build from one table and its lines from a list.
    pub(crate) fn read(
        source: &Arc<Source>,
        catalogue: &Catalogue,
        table: &DeTable<'_>,
        lines: Option<&Spanned<DeValue<'_>>>,
        day: Date,
        problems: &mut Problems,
    ) -> Build {
        BuildReader { source, catalogue, problems, spot: true, begun: false, own: None }
            .build(table, lines, day)
    }
}

struct BuildReader<'a> {
    source: &'a Arc<Source>,
    catalogue: &'a Catalogue,
    problems: &'a mut Problems,
    /// Whether a line may write its part on the spot.
    spot: bool,
    /// Whether it may have no lines yet.
    begun: bool,
    /// Keys that a brief has beside those of a build.
    own: Option<&'static Declared>,
}

impl BuildReader<'_> {
    fn reading(&mut self) -> Reading<'_> {
        Reading { source: self.source, catalogue: Some(self.catalogue), problems: self.problems }
    }

    fn problem(
        &mut self,
        span: impl Into<Span>,
        message: impl Into<String>,
        label: impl Into<String>,
    ) {
        self.problems.push(Problem::new(message).at(self.source, span.into(), label));
    }

    fn helped(
        &mut self,
        span: impl Into<Span>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.problems.push(Problem::new(message).at(self.source, span.into(), label).help(help));
    }

    fn build(
        &mut self,
        table: &DeTable<'_>,
        lines: Option<&Spanned<DeValue<'_>>>,
        today: Date,
    ) -> Build {
        let mut build = Build {
            source: self.source.clone(),
            values: BUILD_FIELDS.iter().map(|f| f.default.map_or(Val::Absent, Val::Num)).collect(),
            spans: vec![Span::default(); BUILD_FIELDS.len()],
            currency: self.catalogue.currency.code().into(),
            priced_on: today,
            lines: Vec::new(),
            waivers: Vec::new(),
            bundles: Vec::new(),
        };
        let beside: Vec<&Declared> = [&BESIDE].into_iter().chain(self.own).collect();
        check_values(&beside, table, &mut self.reading());
        for (key, value) in table {
            let name: &str = key.get_ref();
            let field = BUILD_FIELDS.iter().position(|f| f.name == name);
            match field.and_then(|at| Some((at, BUILD_FIELDS.get(at)?))) {
                Some((at, field)) => self.field(&mut build, at, field, value),
                None if beside.iter().any(|d| d.names().any(|k| k == name)) => {}
                None => {
                    let whose = if self.own.is_some() { "a brief" } else { "a build" };
                    let known = BUILD_FIELDS
                        .iter()
                        .map(|f| f.name)
                        .chain(beside.iter().flat_map(|d| d.names()));
                    self.reading().unknown_key(whose, key, known);
                }
            }
        }
        let row = Row { table, whole: Span::default() };
        build.priced_on = row.day("priced_on").unwrap_or(today);
        build.waivers = waivers::read_all(&row, &mut self.reading());
        build.bundles = quote::bundles(&row, self.catalogue, &mut self.reading());
        if let Some(lines) = lines {
            build.lines = self.lines(lines);
        } else if !self.spot && !self.begun && self.own.is_none() {
            self.reading().wrong(
                "no-lines",
                Span::default(),
                "this build has no lines",
                "add a line",
                "a line is written `[[line]]` and below it `part = \"kind/name\"`",
            );
        }
        build
    }

    fn field(
        &mut self,
        build: &mut Build,
        at: usize,
        field: &BuildField,
        value: &Spanned<DeValue<'_>>,
    ) {
        let before = self.problems.0.len();
        let unit = if matches!(field.takes, Takes::Number(..)) { field.unit } else { "" };
        let declared = Key { unit, ..key(field.name, field.takes, field.meaning) };
        declared.check(value, &mut self.reading());
        if self.problems.0.len() > before {
            return;
        }
        let read = match (field.takes, value.get_ref()) {
            (Takes::Rate, DeValue::String(text)) => Rate::parse(text).ok().map(|rate| {
                build.currency = rate.currency().code().into();
                Val::Num(rate.to_f64())
            }),
            (Takes::Money, DeValue::String(text)) => Money::parse(text).ok().map(|money| {
                build.currency = money.currency().code().into();
                Val::Num(money.to_f64())
            }),
            (_, DeValue::String(text)) => Some(Val::Text((&**text).into())),
            (_, number) => plain_number(number).map(Val::Num),
        };
        if let (Some(read), Some(slot), Some(place)) =
            (read, build.values.get_mut(at), build.spans.get_mut(at))
        {
            *slot = read;
            *place = value.span().into();
        }
    }

    fn lines(&mut self, value: &Spanned<DeValue<'_>>) -> Vec<Line> {
        let Some(items) = value.get_ref().as_array() else {
            if self.spot {
                let line = key("line", Takes::Tables(&LINE), "each is written under `[[line]]`");
                line.check(value, &mut self.reading());
            }
            return Vec::new();
        };
        if items.len() > MAX_LINES {
            self.problem(
                value.span(),
                format!("a build has {MAX_LINES} lines at the most"),
                format!("{} lines", items.len()),
            );
            return Vec::new();
        }
        items.iter().filter_map(|item| self.line(item)).collect()
    }

    fn line(&mut self, item: &Spanned<DeValue<'_>>) -> Option<Line> {
        let whole = Span::from(item.span());
        let spot = self.spot && item.get_ref().get("kind").is_some();
        let row = match (item.get_ref(), spot, self.spot) {
            // The fields of a part on the spot are checked by its kind.
            (DeValue::Table(table), true, _) => {
                check_values(&[&LINE, &OFFER, &CHANGES], table, &mut self.reading());
                Row { table, whole }
            }
            (DeValue::Table(table), false, true) => {
                check(&[&LINE, &OFFER, &CHANGES], table, whole, &mut self.reading())
            }
            _ => LINE.row(item, &mut self.reading())?,
        };
        let mut spans = LineSpans {
            whole,
            part: row.span("part"),
            count: row.span("count"),
            mount: row.span("mount"),
            flow: row.span("flow"),
            owned: row.span("owned"),
        };
        let what = self.what(&row, spot, &mut spans);
        if let Some(what) = &what {
            self.place_of_kind(what, &spans);
        }
        let stated = self.spot.then(|| stated(&row)).flatten();
        let mut line = Line {
            what: what?,
            count: row.number("count").map_or(1, |n| n as u32),
            mount: row.text("mount").map(Into::into),
            flow: row.text("flow").map(Into::into),
            flow_usual: false,
            owned: row.flag("owned").unwrap_or(false),
            included: row.flag("included").unwrap_or(true),
            wish: row.text("any").and_then(|_| row.text("note")).map(Into::into),
            quoted: quote::read(&row),
            stated,
            spans,
        };
        if let (None, Some(mount)) = (&line.flow, &line.mount) {
            line.flow = self.catalogue.usual_flow(line.kind(), mount).cloned();
            line.flow_usual = line.flow.is_some();
        }
        Some(line)
    }

    /// What stands on a line: a part of the catalogue, one described on the spot, or a kind left
    /// open.
    fn what(&mut self, row: &Row<'_, '_>, spot: bool, spans: &mut LineSpans) -> Option<What> {
        let (table, whole) = (row.table, row.whole);
        match (table.get("part"), table.get("any")) {
            _ if spot => {
                spans.part = row.span("kind");
                self.spot_part(table, whole)
            }
            (Some(_), Some(any)) => {
                self.problem(
                    any.span(),
                    "a line names a part or is left open, not both",
                    "`any` beside `part`",
                );
                None
            }
            (Some(part), None) => self.named_part(part, table),
            (None, Some(any)) => {
                spans.part = any.span().into();
                self.open(any, row)
            }
            (None, None) if table.contains_key("kind") => {
                spans.part = row.span("name");
                self.described(table, whole)
            }
            (None, None) => {
                self.helped(
                    whole,
                    "this line names no part",
                    "here",
                    "add `part = \"kind/name\"`, or `any = \"kind\"` to leave it open",
                );
                None
            }
        }
    }

    fn kind(&mut self, entry: &Spanned<DeValue<'_>>) -> Option<KindId> {
        let Some(word) = entry.get_ref().as_str() else {
            self.problem(
                entry.span(),
                "a kind is named by a text",
                format!("this is {}", found(entry.get_ref())),
            );
            return None;
        };
        let id = self.catalogue.kind_id(word);
        if id.is_none() {
            let problem = Problem::new(format!("there is no kind `{}`", clip(word, 40)));
            let problem =
                problem.code("unknown-kind").at(self.source, entry.span().into(), "unknown");
            let names: Vec<&str> = self.catalogue.kinds.iter().map(|k| &*k.name).collect();
            self.problems.push(match crate::words::nearest(word, names.iter().copied()) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None if word.contains(['<', '>', '=']) => {
                    problem.help("a condition goes in `wants`: wants = [\"build.board.wifi\"]")
                }
                None => problem.help(format!("kinds: {}", some_of(names, 30))),
            });
        }
        id
    }

    fn open(&mut self, any: &Spanned<DeValue<'_>>, row: &Row<'_, '_>) -> Option<What> {
        let wants = row.texts("wants").map(|(text, span)| (text.to_owned(), span)).collect();
        any.get_ref().as_str()?;
        Some(What::Open { kind: self.kind(any)?, wants })
    }
}

/// What the sellers say, as a rule case may write it on the line.
fn stated(row: &Row<'_, '_>) -> Option<Box<Facts>> {
    let number = |key: &str| row.number(key);
    OFFER.names().find(|key| row.get(key).is_some())?;
    let money = |key: &str| number(key).and_then(|p| Money::parse(&format!("{p:.2} EUR")).ok());
    let bids = money("price").map(|price| SellerBid {
        seller: "".into(),
        price,
        shipping: money("shipping"),
        free_from: None,
        stock: None,
        mail_rebate: money("mail_rebate"),
        credit: money("credit"),
        bundle: None,
        bundle_value: money("bundle_value"),
    });
    Some(Box::new(Facts {
        price: money("price"),
        mail_rebate: money("mail_rebate"),
        credit: money("credit"),
        bundle_value: money("bundle_value"),
        shipping: money("shipping"),
        bids: bids.into_iter().collect(),
        left_out: number("left_out").map_or(0, |n| n as u32),
        stock: number("stock"),
        sellers: number("sellers").unwrap_or(1.0),
        age_days: number("offer_age_days"),
        ..Facts::default()
    }))
}
