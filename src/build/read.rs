//! Reading a build file: all of it is checked before any rule runs.

use std::sync::Arc;

use jiff::civil::Date;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fields::{BUILD_FIELDS, OTHER_KEYS, Shape};
use super::{Build, Line, LineSpans, What, quote, waivers};
use crate::catalogue::field_reader::{found, key_span, plain_number};
use crate::catalogue::kinds::{KindId, LINE_WORDS};
use crate::catalogue::market::Facts;
use crate::catalogue::value::Val;
use crate::catalogue::{Catalogue, LeftOut, Part, Place, field_reader};
use crate::source::{Problem, Problems, Source, Span};
use crate::trade::money::{Money, Rate};
use crate::words::{clip, some_of};

/// Most lines in a build.
pub const MAX_LINES: usize = 200;
/// Most pieces on a line.
pub const MAX_COUNT: u32 = 99;
/// Largest build file, in bytes.
pub(crate) const MAX_BYTES: usize = 4 << 20;
/// Keys of a line.
pub(crate) const LINE_KEYS: &[&str] = &[
    "part", "kind", "name", "facts", "any", "wants", "count", "mount", "flow", "owned", "included",
    "quoted", "note",
];
/// What a rule case may state of the offers on a line.
pub(crate) const OFFER_KEYS: &[&str] = &[
    "price",
    "stock",
    "sellers",
    "offer_age_days",
    "mail_rebate",
    "credit",
    "bundle_value",
    "shipping",
    "left_out",
];

pub(super) fn parse(
    source: &Arc<Source>,
    catalogue: &Catalogue,
    today: Date,
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
    let parsed = field_reader::parse(source, &mut problems);
    if !problems.0.is_empty() {
        return Err(problems);
    }
    let mut reader =
        BuildReader { source, catalogue, problems: &mut problems, spot: false, aside: &[] };
    let build = reader.build(parsed.get_ref(), parsed.get_ref().get("line"), today);
    problems.or(build)
}

/// Reads the keys that a brief shares with a build, and its lines if it has any; keys `aside` are
/// the brief's own. An open line is added for each kind that is needed and has no line.
pub(super) fn parse_brief(
    source: &Arc<Source>,
    catalogue: &Catalogue,
    today: Date,
    aside: &[&str],
    table: &DeTable<'_>,
    problems: &mut Problems,
) -> Build {
    let mut reader = BuildReader { source, catalogue, problems, spot: false, aside };
    let mut build = reader.build(table, table.get("line"), today);
    let Some(needs) = table.get("needs") else { return build };
    let Some(items) = needs.get_ref().as_array() else {
        reader.problem(
            needs.span(),
            "`needs` must be a list of kinds",
            format!("this is {}", found(needs.get_ref())),
        );
        return build;
    };
    let mut seen = Vec::new();
    for item in items {
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
        build.lines.push(Line {
            what,
            count: 1,
            mount: None,
            flow: None,
            owned: false,
            included: true,
            quoted: None,
            stated: None,
            spans,
        });
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
        BuildReader { source, catalogue, problems, spot: true, aside: &[] }.build(table, lines, day)
    }
}

struct BuildReader<'a> {
    source: &'a Arc<Source>,
    catalogue: &'a Catalogue,
    problems: &'a mut Problems,
    /// Whether a line may write its part on the spot.
    spot: bool,
    /// Keys that are not a build's, and that somebody else reads.
    aside: &'a [&'a str],
}

impl BuildReader<'_> {
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
        for (key, value) in table {
            let name: &str = key.get_ref();
            match name {
                "priced_on" => build.priced_on = self.day(value).unwrap_or(today),
                "waive" => build.waivers = waivers::read_all(self.source, value, self.problems),
                "bundles" => {
                    build.bundles =
                        quote::bundles(self.source, self.catalogue, value, self.problems)
                }
                _ if OTHER_KEYS.contains(&name) || self.aside.contains(&name) => {}
                _ => self.field(&mut build, key, value),
            }
        }
        if let Some(lines) = lines {
            build.lines = self.lines(lines);
        } else if !self.spot && self.aside.is_empty() {
            self.helped(
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
        key: &Spanned<std::borrow::Cow<'_, str>>,
        value: &Spanned<DeValue<'_>>,
    ) {
        let name: &str = key.get_ref();
        let Some((at, field)) = BUILD_FIELDS.iter().enumerate().find(|(_, f)| f.name == name)
        else {
            let known: Vec<&str> = self
                .aside
                .iter()
                .copied()
                .chain(BUILD_FIELDS.iter().map(|f| f.name))
                .chain(OTHER_KEYS.iter().copied())
                .collect();
            let whose = if self.aside.is_empty() { "a build" } else { "a brief" };
            let problem = Problem::new(format!("{whose} has no `{}`", clip(name, 60))).at(
                self.source,
                key_span(key),
                "unknown",
            );
            let near = crate::words::nearest(name, known.iter().copied());
            self.problems.push(problem.help(near.map_or_else(
                || format!("known here: {}", some_of(known, 24)),
                |n| format!("did you mean `{n}`?"),
            )));
            return;
        };
        let span: Span = value.span().into();
        let read = match (field.shape, value.get_ref()) {
            (Shape::Text, DeValue::String(text)) => Ok(Val::Text((&**text).into())),
            (Shape::Purpose, DeValue::String(text)) => self.purpose(text, span),
            (Shape::Number(low, high), number) => match plain_number(number) {
                Some(n) if (low..=high).contains(&n) => Ok(Val::Num(n)),
                Some(n) => Err(format!("{n} is outside {low} to {high} {}", field.unit)),
                None => Err(format!(
                    "this is {}, and a number in {} is wanted",
                    found(number),
                    field.unit
                )),
            },
            (Shape::Money, DeValue::String(text)) => match Rate::parse(text) {
                Ok(rate) if !rate.is_negative() => {
                    build.currency = rate.currency().code().into();
                    Ok(Val::Num(rate.to_f64()))
                }
                Ok(_) => Err("an amount is not negative".to_owned()),
                Err(error) => Err(error.to_string()),
            },
            (Shape::Money, other) => Err(format!(
                "this is {}, and an amount such as \"1450.00 EUR\" is wanted",
                found(other)
            )),
            (_, other) => Err(format!("this is {}, and a text is wanted", found(other))),
        };
        match read {
            Ok(read) => {
                if let (Some(slot), Some(place)) =
                    (build.values.get_mut(at), build.spans.get_mut(at))
                {
                    *slot = read;
                    *place = span;
                }
            }
            Err(why) => self.helped(
                span,
                format!("`{name}` cannot be read"),
                why,
                format!("{name}: {}", field.meaning),
            ),
        }
    }

    fn purpose(&mut self, text: &str, span: Span) -> Result<Val, String> {
        if let Some(table) =
            self.catalogue.table_id("purpose").and_then(|id| self.catalogue.table(id))
            && !table.rows.iter().any(|r| **r == *text)
        {
            let rows: Vec<&str> = table.rows.iter().map(|r| &**r).collect();
            let near = crate::words::nearest(text, rows.iter().copied())
                .map(|n| format!("did you mean \"{n}\"?"));
            self.helped(
                span,
                format!("there is no purpose \"{}\"", clip(text, 60)),
                "not in table purpose",
                near.unwrap_or_else(|| format!("one of: {}", some_of(rows, 16))),
            );
        }
        Ok(Val::Text(text.into()))
    }

    fn day(&mut self, value: &Spanned<DeValue<'_>>) -> Option<Date> {
        let day = waivers::day(value.get_ref());
        if day.is_none() {
            self.problem(
                value.span(),
                "a day is written YYYY-MM-DD",
                format!("this is {}", found(value.get_ref())),
            );
        }
        day
    }

    fn lines(&mut self, value: &Spanned<DeValue<'_>>) -> Vec<Line> {
        let Some(items) = value.get_ref().as_array() else {
            self.helped(
                value.span(),
                "`line` must be a list of lines",
                format!("this is {}", found(value.get_ref())),
                "write each line under `[[line]]`",
            );
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
        items
            .iter()
            .filter_map(|item| match item.get_ref() {
                DeValue::Table(table) => self.line(table, item.span().into()),
                other => {
                    self.problem(
                        item.span(),
                        "a line is a table",
                        format!("this is {}", found(other)),
                    );
                    None
                }
            })
            .collect()
    }

    fn line(&mut self, table: &DeTable<'_>, whole: Span) -> Option<Line> {
        let spot = self.spot && table.contains_key("kind");
        if !spot {
            for (key, _) in table {
                let known = LINE_KEYS.contains(&&**key.get_ref())
                    || (self.spot
                        && (&**key.get_ref() == "set" || OFFER_KEYS.contains(&&**key.get_ref())));
                if !known {
                    let problem = Problem::new(format!(
                        "a line has no `{}`",
                        clip(key.get_ref(), 60)
                    ))
                    .at(self.source, key_span(key), "unknown");
                    let near = crate::words::nearest(key.get_ref(), LINE_KEYS.iter().copied());
                    self.problems.push(problem.help(near.map_or_else(
                        || format!("known here: {}", LINE_KEYS.join(", ")),
                        |n| format!("did you mean `{n}`?"),
                    )));
                }
            }
        }
        let span = |key: &str| table.get(key).map_or_else(Span::default, |v| v.span().into());
        let mut spans = LineSpans {
            whole,
            part: span("part"),
            count: span("count"),
            mount: span("mount"),
            flow: span("flow"),
            owned: span("owned"),
        };
        let what = match (table.get("part"), table.get("any")) {
            _ if spot => {
                spans.part = span("kind");
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
                self.open(any, table)
            }
            (None, None) if table.contains_key("kind") => {
                spans.part = span("name");
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
        };
        // The rest of the line is read even where its part is unknown, so that all that is wrong is
        // said at once.
        let mounts = self
            .catalogue
            .table_id("mount")
            .and_then(|id| self.catalogue.table(id))
            .map(|t| t.rows.clone())
            .unwrap_or_default();
        let owned = self.flag(table, "owned", false);
        let included = self.flag(table, "included", true);
        let quoted =
            table.get("quoted").and_then(|value| quote::read(self.source, value, self.problems));
        let stated = self.spot.then(|| self.stated(table)).flatten();
        let count = self.count(table);
        let mount = self.choice(table, "mount", mounts);
        let flow = self.choice(table, "flow", vec!["in".into(), "out".into()]);
        Some(Line { what: what?, count, mount, flow, owned, included, quoted, stated, spans })
    }

    /// What the sellers say, as a rule case may write it on the line.
    fn stated(&mut self, table: &DeTable<'_>) -> Option<Box<Facts>> {
        let number = |key: &str| table.get(key).and_then(|v| plain_number(v.get_ref()));
        if !OFFER_KEYS.iter().any(|k| table.contains_key(*k)) {
            return None;
        }
        let money = |key: &str| number(key).and_then(|p| Money::parse(&format!("{p:.2} EUR")).ok());
        Some(Box::new(Facts {
            price: money("price"),
            mail_rebate: money("mail_rebate"),
            credit: money("credit"),
            bundle_value: money("bundle_value"),
            shipping: money("shipping"),
            left_out: number("left_out").map_or(0, |n| n as u32),
            stock: number("stock"),
            sellers: number("sellers").unwrap_or(1.0),
            age_days: number("offer_age_days"),
            ..Facts::default()
        }))
    }

    fn named_part(&mut self, entry: &Spanned<DeValue<'_>>, table: &DeTable<'_>) -> Option<What> {
        let DeValue::String(id) = entry.get_ref() else {
            self.problem(
                entry.span(),
                "`part` must be a part's id",
                format!("this is {}", found(entry.get_ref())),
            );
            return None;
        };
        let Some(part) = self.catalogue.part(id).cloned() else {
            self.unknown_part(id, entry.span().into());
            return None;
        };
        match table.get("set").filter(|_| self.spot).and_then(|v| v.get_ref().as_table()) {
            Some(changes) => self.changed(&part, changes).map(|p| What::Part(Arc::new(p))),
            None => Some(What::Part(self.with_facts(part, table)?)),
        }
    }

    /// The part with the facts that its line adds: what the catalogue does not know.
    fn with_facts(&mut self, part: Arc<Part>, table: &DeTable<'_>) -> Option<Arc<Part>> {
        let Some(facts) = self.facts(table) else { return Some(part) };
        let added = self.changed(&part, facts)?;
        let kind = self.catalogue.kind(part.kind)?;
        for ((field, held), (now, span)) in
            kind.fields.iter().zip(&part.values).zip(added.values.iter().zip(&added.spans))
        {
            if !span.is_empty() && !held.is_unknown() && held != now {
                self.problem(
                    *span,
                    format!(
                        "{} has {} = {} in the catalogue, and {} here",
                        part.name,
                        field.name,
                        held.show(),
                        now.show()
                    ),
                    "take it out here, or correct the catalogue",
                );
            }
        }
        Some(Arc::new(added))
    }

    fn facts<'t>(&mut self, table: &'t DeTable<'_>) -> Option<&'t DeTable<'t>> {
        let value = table.get("facts")?;
        let facts = value.get_ref().as_table();
        if facts.is_none() {
            self.helped(
                value.span(),
                "`facts` must be a table",
                format!("this is {}", found(value.get_ref())),
                "write facts = { rated_w = 850 }",
            );
        }
        facts
    }

    /// A part of no catalogue: its kind, its name, and what is known of it.
    fn described(&mut self, table: &DeTable<'_>, whole: Span) -> Option<What> {
        let kind = self.kind(table.get("kind")?)?;
        let name = table.get("name").and_then(|n| n.get_ref().as_str()).map(str::trim);
        let Some(name) = name.filter(|name| !name.is_empty()) else {
            self.helped(
                whole,
                "a line with a `kind` describes a part, and this one gives it no name",
                "here",
                "add `name = \"…\"`; for any part of the kind write `any = \"kind\"`",
            );
            return None;
        };
        let nothing = DeTable::new();
        let facts = self.facts(table).unwrap_or(&nothing);
        let word = &self.catalogue.kind(kind)?.name;
        let id = format!("{word}/{}", slug(name));
        let mut part = self.catalogue.part_from(
            &id,
            kind,
            facts,
            &["name"],
            whole,
            self.source,
            self.problems,
            LeftOut::Named,
        )?;
        part.name = clip(name, 120).into();
        if let Some((at, _)) = self.catalogue.kind(kind)?.field("name")
            && let Some(slot) = part.values.get_mut(at as usize)
        {
            *slot = Val::Text(part.name.clone());
        }
        Some(What::Part(Arc::new(part)))
    }

    fn unknown_part(&mut self, id: &str, span: Span) {
        let problem = Problem::new(format!("there is no part {} in the catalogue", clip(id, 60)))
            .at(self.source, span, "unknown part");
        let kind = id.split_once('/').map(|(k, _)| k);
        let same = |p: &&Arc<Part>| {
            kind.is_none_or(|k| p.id.split_once('/').is_some_and(|(pk, _)| pk == k))
        };
        let ids: Vec<&str> = self.catalogue.parts.iter().filter(same).map(|p| &*p.id).collect();
        let near = crate::words::nearest(id, ids.iter().copied())
            .or_else(|| crate::words::nearest(id, self.catalogue.parts.iter().map(|p| &*p.id)));
        self.problems.push(match (near, kind) {
            (Some(near), _) => problem.help(format!("did you mean {near}?")),
            (None, Some(kind)) if self.catalogue.kind_id(kind).is_none() => problem.help(format!(
                "no kind is called `{}`; kinds: {}",
                clip(kind, 40),
                some_of(self.catalogue.kinds.iter().map(|k| &*k.name), 30)
            )),
            _ => problem
                .help(format!("`dryfit parts {}` lists what there is", kind.unwrap_or("KIND"))),
        });
    }

    /// A catalogue part with some fields set otherwise, for rule cases.
    fn changed(&mut self, part: &Arc<Part>, changes: &DeTable<'_>) -> Option<Part> {
        let patch = self.catalogue.part_from(
            &part.id,
            part.kind,
            changes,
            &[],
            part.head,
            self.source,
            self.problems,
            LeftOut::Sparse,
        )?;
        let kind = self.catalogue.kind(part.kind)?;
        let mut values = part.values.clone();
        for (at, field) in kind.fields.iter().enumerate() {
            if changes.contains_key(&*field.name)
                && let (Some(slot), Some(value)) = (values.get_mut(at), patch.values.get(at))
            {
                *slot = value.clone();
            }
        }
        Some(Part {
            values,
            spans: patch.spans,
            source: self.source.clone(),
            head: Span::default(),
            under: Some(part.clone()),
            name: part.name.clone(),
            id: part.id.clone(),
            kind: part.kind,
            place: Place::NONE,
        })
    }

    fn spot_part(&mut self, table: &DeTable<'_>, whole: Span) -> Option<What> {
        let kind = self.kind(table.get("kind")?)?;
        let skip: Vec<&str> = LINE_KEYS
            .iter()
            .copied()
            .chain(["kind"])
            .chain(OFFER_KEYS.iter().copied())
            .filter(|k| *k == "kind" || LINE_WORDS.contains(k) || *k == "note")
            .chain(["unknown"])
            .collect();
        let word = table.get("kind")?.get_ref().as_str()?.to_owned();
        let mut part = self.catalogue.part_from(
            &word,
            kind,
            table,
            &skip,
            whole,
            self.source,
            self.problems,
            LeftOut::Sparse,
        )?;
        self.strike_out(&mut part, table);
        Some(What::Part(Arc::new(part)))
    }

    /// Fields that a rule case says nobody knows: `unknown = ["height_mm"]`.
    fn strike_out(&mut self, part: &mut Part, table: &DeTable<'_>) {
        let Some(value) = table.get("unknown") else { return };
        let Some(kind) = self.catalogue.kind(part.kind) else { return };
        for item in value.get_ref().as_array().into_iter().flatten() {
            let at = item.get_ref().as_str().and_then(|name| kind.field(name));
            match at.and_then(|(at, _)| part.values.get_mut(at as usize)) {
                Some(slot) => *slot = Val::Unknown,
                None => self.problem(
                    item.span(),
                    format!("a {} has no such field to be unknown", kind.title),
                    "not a field of the kind",
                ),
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
            let problem = Problem::new(format!("there is no kind `{}`", clip(word, 40))).at(
                self.source,
                entry.span().into(),
                "unknown",
            );
            let names: Vec<&str> = self.catalogue.kinds.iter().map(|k| &*k.name).collect();
            self.problems.push(match crate::words::nearest(word, names.iter().copied()) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem.help(format!("kinds: {}", some_of(names, 30))),
            });
        }
        id
    }

    fn open(&mut self, any: &Spanned<DeValue<'_>>, table: &DeTable<'_>) -> Option<What> {
        let kind = self.kind(any);
        let mut wants = Vec::new();
        if let Some(list) = table.get("wants") {
            for item in list.get_ref().as_array().into_iter().flatten() {
                match item.get_ref().as_str() {
                    Some(text) => wants.push((text.to_owned(), item.span().into())),
                    None => self.problem(
                        item.span(),
                        "a want is a text with an expression",
                        format!("this is {}", found(item.get_ref())),
                    ),
                }
            }
            if list.get_ref().as_array().is_none() {
                self.problem(
                    list.span(),
                    "`wants` must be a list of texts",
                    format!("this is {}", found(list.get_ref())),
                );
            }
        }
        Some(What::Open { kind: kind?, wants })
    }

    fn count(&mut self, table: &DeTable<'_>) -> u32 {
        let Some(value) = table.get("count") else { return 1 };
        match plain_number(value.get_ref()) {
            Some(n) if n.fract() == 0.0 && (1.0..=f64::from(MAX_COUNT)).contains(&n) => n as u32,
            _ => {
                self.problem(
                    value.span(),
                    format!("`count` must be a whole number from 1 to {MAX_COUNT}"),
                    "not such a count",
                );
                1
            }
        }
    }

    fn flag(&mut self, table: &DeTable<'_>, key: &str, default: bool) -> bool {
        match table.get(key).map(|v| (v.get_ref(), v.span())) {
            None => default,
            Some((DeValue::Boolean(flag), _)) => *flag,
            Some((other, span)) => {
                self.problem(
                    span,
                    format!("`{key}` must be true or false"),
                    format!("this is {}", found(other)),
                );
                default
            }
        }
    }

    fn choice(&mut self, table: &DeTable<'_>, key: &str, words: Vec<Arc<str>>) -> Option<Arc<str>> {
        let value = table.get(key)?;
        let Some(text) = value.get_ref().as_str() else {
            self.problem(
                value.span(),
                format!("`{key}` must be a text"),
                format!("this is {}", found(value.get_ref())),
            );
            return None;
        };
        if !words.is_empty() && !words.iter().any(|w| **w == *text) {
            let near = crate::words::nearest(text, words.iter().map(|w| &**w))
                .map(|n| format!("did you mean \"{n}\"?"));
            let help = near
                .unwrap_or_else(|| format!("one of: {}", some_of(words.iter().map(|w| &**w), 16)));
            self.helped(
                value.span(),
                format!("`{key}` cannot be \"{}\"", clip(text, 40)),
                "unknown",
                help,
            );
        }
        Some(text.into())
    }
}

/// A name as part of an id: lower-case letters and digits, all else one dash.
fn slug(name: &str) -> String {
    let lower = name.to_lowercase();
    let words = lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty());
    let slug = words.collect::<Vec<_>>().join("-");
    if slug.is_empty() { "part".to_owned() } else { clip(&slug, 60) }
}
