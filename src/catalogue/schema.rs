//! Reading `kinds/*.toml`: the schema of the parts.

mod usual;

use std::collections::HashMap;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::declared::Declared;
use super::field_reader::{
    Allowed, LeftOut, Reader, Texts, found, key_span, label, plain_number, sound,
};
use super::kind_keys::{FIELD, KIND};
use super::kinds::{Field, FieldType, Kind, LINE_WORDS, RESERVED, Words, is_word, nowhere};
use super::ranks;
use super::roles::{BilledAs, Heat};
use super::value::Val;
use crate::source::{Label, Problem, Problems, Source, Span};
use crate::words::is_one_of;

/// A kind as its file says, before the fields of every part are put in.
pub(crate) struct KindFile {
    pub(crate) name: Arc<str>,
    pub(crate) title: String,
    pub(crate) also: Vec<Arc<str>>,
    pub(crate) figures: Vec<Arc<str>>,
    pub(crate) meaning: String,
    pub(crate) single: bool,
    mounted: Option<bool>,
    heat: Option<Heat>,
    billed_as: Option<BilledAs>,
    /// By what its parts are ranked, each with its place.
    pub(crate) ranks: Vec<(String, Label)>,
    /// What lists show of its parts, each with its place.
    shown: Vec<(String, Label)>,
    /// The title and `single`, where the file says them.
    given_title: Option<String>,
    given_single: Option<bool>,
    pub(crate) fields: Vec<Field>,
    pub(crate) source: Arc<Source>,
}

impl KindFile {
    /// Takes over what a higher layer says of the same kind: fields it declares come beside those
    /// there are, or in the place of those of the same name.
    pub(crate) fn add(&mut self, higher: Self) {
        if let Some(title) = higher.given_title {
            self.title = title;
        }
        if !higher.meaning.is_empty() {
            self.meaning = higher.meaning;
        }
        self.single = higher.given_single.unwrap_or(self.single);
        self.mounted = higher.mounted.or(self.mounted);
        self.heat = higher.heat.or(self.heat);
        self.billed_as = higher.billed_as.or(self.billed_as);
        self.also.extend(higher.also);
        if !higher.figures.is_empty() {
            self.figures = higher.figures;
        }
        if !higher.ranks.is_empty() {
            self.ranks = higher.ranks;
        }
        if !higher.shown.is_empty() {
            self.shown = higher.shown;
        }
        for field in higher.fields {
            match self.fields.iter_mut().find(|f| f.name == field.name) {
                Some(held) => *held = field,
                None => self.fields.push(field),
            }
        }
    }

    /// Joins the fields of every part with the kind's own.
    pub(crate) fn join(self, every: &[Field], problems: &mut Problems) -> Kind {
        let mut fields = every.to_vec();
        for field in self.fields {
            if fields.iter().any(|f| f.name == field.name) {
                problems.push(
                    Problem::new(format!("`{}` is a field of every part already", field.name)).at(
                        &field.declared.source,
                        field.declared.span,
                        "declared again",
                    ),
                );
            } else {
                fields.push(field);
            }
        }
        let ranks = ranks::ranked(&self.ranks, &fields, problems);
        let shown = ranks::shown(&self.shown, &fields, problems);
        let by_name: HashMap<_, _> =
            fields.iter().zip(0u16..).map(|(f, i)| (f.name.clone(), i)).collect();
        let mut kind = Kind {
            name: self.name,
            title: self.title,
            also: self.also,
            figures: self.figures,
            meaning: self.meaning,
            single: self.single,
            mounted: self.mounted.unwrap_or(false),
            heat: self.heat.unwrap_or_default(),
            billed_as: self.billed_as.unwrap_or_default(),
            includes: by_name.get("includes").copied(),
            ranks,
            shown,
            fields,
            by_name,
            source: self.source,
        };
        // What moves air has a place, whoever made the kind.
        kind.mounted |= kind.is_fan();
        kind
    }
}

/// Reads one kind's file.
pub(crate) fn read_kind(
    source: &Arc<Source>,
    texts: &mut Texts,
    problems: &mut Problems,
) -> Option<KindFile> {
    let table = sound(source, problems)?;
    let mut reader = SchemaReader { source, texts, problems };
    reader.check_keys(&KIND, table.get_ref());
    let name = reader.text(table.get_ref(), "kind")?;
    if &*name != "*" {
        let span = table.get_ref().get("kind").map_or_else(Span::default, |v| v.span().into());
        reader.check_word("kind", &name, span);
    }
    let table = table.get_ref();
    let given_title = reader.text(table, "title").map(|t| t.to_string());
    let flag = |key: &str| table.get(key).and_then(|v| v.get_ref().as_bool());
    let given_single = flag("single");
    Some(KindFile {
        title: given_title.clone().unwrap_or_else(|| name.to_string()),
        name,
        given_title,
        meaning: reader.text(table, "meaning").map_or_else(String::new, |t| t.to_string()),
        single: given_single.unwrap_or(false),
        given_single,
        mounted: flag("mounted"),
        heat: reader.one_of(table, "heat", &Heat::WORDS),
        billed_as: reader.one_of(table, "billed_as", &BilledAs::WORDS),
        also: reader.list(table, "also"),
        figures: reader.list(table, "figures"),
        ranks: reader.placed(table, "ranks"),
        shown: reader.placed(table, "shown"),
        fields: reader.fields(table, true),
        source: source.clone(),
    })
}

struct SchemaReader<'a> {
    source: &'a Arc<Source>,
    texts: &'a mut Texts,
    problems: &'a mut Problems,
}

impl SchemaReader<'_> {
    fn problem(&mut self, span: impl Into<Span>, message: impl Into<String>, label: &str) {
        self.problems.push(Problem::new(message).at(self.source, span.into(), label));
    }

    fn check_keys(&mut self, declared: &Declared, table: &DeTable<'_>) {
        let Declared { of, keys } = declared;
        let known = || keys.iter().map(|key| key.name);
        for (key, _) in table {
            if !known().any(|name| *name == **key.get_ref()) {
                let problem = Problem::new(format!("{of} has no `{}`", key.get_ref())).at(
                    self.source,
                    key_span(key),
                    "unknown",
                );
                self.problems.push(problem.suggest(key.get_ref(), known()));
            }
        }
    }

    /// Reads a key that takes one of a few words.
    fn one_of<T: Copy>(
        &mut self,
        table: &DeTable<'_>,
        key: &str,
        words: &[(&str, T)],
    ) -> Option<T> {
        let given = table.get(key)?;
        let word = given.get_ref().as_str().unwrap_or("");
        let found = words.iter().find(|(known, _)| *known == word).map(|(_, meant)| *meant);
        if found.is_none() {
            let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            let problem = Problem::new(format!("`{key}` is one of {}", known.join(", "))).at(
                self.source,
                Span::from(given.span()),
                "not one of them",
            );
            self.problems.push(problem.suggest(word, known));
        }
        found
    }

    /// Reads a list of fields, each with its place, such as
    /// `ranks = ["gb", "-noise_db", "modules * module_gb"]`.
    fn placed(&mut self, table: &DeTable<'_>, key: &str) -> Vec<(String, Label)> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let Some(items) = value.get_ref().as_array() else {
            self.problem(value.span(), format!("`{key}` must be a list of fields"), "not a list");
            return Vec::new();
        };
        let mut fields = Vec::new();
        for item in items {
            match item.get_ref().as_str() {
                Some(text) => {
                    let (source, span) = (self.source.clone(), item.span().into());
                    fields.push((text.to_owned(), Label { source, span, text: String::new() }));
                }
                None => {
                    self.problem(item.span(), format!("`{key}` holds names of fields"), "no text");
                }
            }
        }
        fields
    }

    fn check_word(&mut self, what: &str, name: &str, span: Span) {
        if is_one_of(RESERVED, name) {
            self.problem(
                span,
                format!(
                    "`{name}` is a word that Rhai keeps for itself, so no {what} may be called so"
                ),
                "choose another word",
            );
        } else if !is_word(name) {
            self.problem(
                span,
                format!(
                    "`{name}` cannot be the name of a {what}: lower-case letters, digits and \
                 _, a letter first, 40 at the most"
                ),
                "choose another word",
            );
        }
    }

    fn text(&mut self, table: &DeTable<'_>, key: &str) -> Option<Arc<str>> {
        match table.get(key)?.get_ref() {
            DeValue::String(text) => Some(self.texts.get(text)),
            other => {
                let span = table.get(key)?.span();
                self.problem(
                    span,
                    format!("`{key}` must be a text"),
                    &format!("this is {}", found(other)),
                );
                None
            }
        }
    }

    /// A list of texts.
    fn list(&mut self, table: &DeTable<'_>, key: &str) -> Vec<Arc<str>> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let items = value.get_ref().as_array().map(|a| a.iter().map(|v| v.get_ref().as_str()));
        match items.and_then(|items| items.collect::<Option<Vec<&str>>>()) {
            Some(words) => words.into_iter().map(|word| self.texts.get(word)).collect(),
            None => {
                let label = format!("this is {}", found(value.get_ref()));
                self.problem(value.span(), format!("`{key}` must be a list of texts"), &label);
                Vec::new()
            }
        }
    }

    /// How the values of a field are written by others: a list of spellings for each.
    fn spelled(&mut self, table: &DeTable<'_>) -> Vec<(Arc<str>, Vec<Arc<str>>)> {
        let Some(value) = table.get("spelled") else { return Vec::new() };
        let Some(entries) = value.get_ref().as_table() else {
            let label = format!("this is {}", found(value.get_ref()));
            self.problem(value.span(), "`spelled` must be a table of lists", &label);
            return Vec::new();
        };
        let keys: Vec<Arc<str>> =
            entries.iter().map(|(k, _)| self.texts.get(k.get_ref())).collect();
        keys.into_iter().map(|key| (key.clone(), self.list(entries, &key))).collect()
    }

    fn fields(&mut self, table: &DeTable<'_>, of_part: bool) -> Vec<Field> {
        let Some(entry) = table.get("field") else { return Vec::new() };
        let Some(entries) = entry.get_ref().as_table() else {
            self.problem(entry.span(), "`field` must be a table of fields", "here");
            return Vec::new();
        };
        let mut fields = Vec::with_capacity(entries.len());
        for (key, value) in entries {
            self.check_word("field", key.get_ref(), key_span(key));
            if of_part && is_one_of(LINE_WORDS, key.get_ref()) {
                self.problem(
                    key_span(key),
                    format!("every line answers `{}` already", key.get_ref()),
                    "choose another word",
                );
            }
            match value.get_ref() {
                DeValue::Table(table) => fields.extend(self.field(key, table)),
                other => self.problem(
                    value.span(),
                    "a field is declared by a table",
                    &format!("this is {}", found(other)),
                ),
            }
        }
        fields
    }

    fn field(
        &mut self,
        key: &Spanned<std::borrow::Cow<'_, str>>,
        table: &DeTable<'_>,
    ) -> Option<Field> {
        self.check_keys(&FIELD, table);
        let span = key_span(key);
        let ty = self.field_type(key.get_ref(), table, span)?;
        let bound = |key: &str| table.get(key).and_then(|v| plain_number(v.get_ref()));
        let mut field = Field {
            name: self.texts.get(key.get_ref()),
            ty,
            unit: self.text(table, "unit").unwrap_or_else(|| "".into()),
            min: bound("min").unwrap_or(-1e15),
            max: bound("max").unwrap_or(1e15),
            required: flag(table, "required"),
            optional: flag(table, "optional"),
            absent: None,
            stated: flag(table, "stated"),
            usual: None,
            usual_also: Vec::new(),
            meaning: self.text(table, "meaning").map_or_else(String::new, |t| t.to_string()),
            also: self.list(table, "also"),
            spelled: self.spelled(table),
            declared: label(
                self.source,
                span,
                &format!("leaving out {} means this", key.get_ref()),
            ),
        };
        if field.min > field.max {
            self.problem(
                span,
                format!("field `{}` has its `min` over its `max`", field.name),
                "no number fits",
            );
        }
        if let Some(value) = table.get("absent") {
            field.absent = self.value(&field, value);
        }
        self.check_states(&field, span);
        field.usual = self.usual(&field, table, span);
        field.usual_also = self.usual_also(&field, table, span);
        Some(field)
    }

    fn field_type(&mut self, name: &str, table: &DeTable<'_>, span: Span) -> Option<FieldType> {
        let Some(ty) = self.text(table, "type") else {
            self.problem(
                span,
                format!("field `{name}` gives no `type`"),
                "number, text, flag, list, counts or records",
            );
            return None;
        };
        Some(match &*ty {
            "number" => FieldType::Number,
            "text" => FieldType::Text(self.words(table, "from")),
            "flag" => FieldType::Flag,
            "list" => FieldType::List(self.words(table, "from")),
            "counts" => FieldType::Counts(self.words(table, "keys")),
            "records" => FieldType::Records(self.fields(table, false)),
            other => {
                let problem = Problem::new(format!("`{other}` is no type")).at(
                    self.source,
                    span,
                    "of this field",
                );
                self.problems.push(problem.help("number, text, flag, list, counts or records"));
                return None;
            }
        })
    }

    fn words(&mut self, table: &DeTable<'_>, from: &str) -> Words {
        if let Some(list) = table.get("one_of").and_then(|v| v.get_ref().as_array()) {
            return Words::OneOf(
                list.iter()
                    .filter_map(|v| v.get_ref().as_str().map(|t| self.texts.get(t)))
                    .collect(),
            );
        }
        self.text(table, from).map_or(Words::Any, Words::Table)
    }

    /// A field is given by every part, may be absent, or means something when left out: at most
    /// one of these.
    fn check_states(&mut self, field: &Field, span: Span) {
        let said = [field.required, field.optional, field.absent.is_some()];
        if said.iter().filter(|s| **s).count() > 1 {
            self.problem(
                span,
                format!(
                    "field `{}` says more than one of `required`, `optional` and `absent`",
                    field.name
                ),
                "keep one of them",
            );
        }
        if field.stated && field.when_left_out().is_none() {
            self.problem(
                span,
                format!("field `{}` counts only where it is stated, and says no more", field.name),
                "say `optional = true` or what leaving it out means: `absent = …`",
            );
        }
    }

    fn value(&mut self, field: &Field, value: &Spanned<DeValue<'_>>) -> Option<Val> {
        self.value_with(field, value, LeftOut::Known)
    }

    fn value_with(
        &mut self,
        field: &Field,
        value: &Spanned<DeValue<'_>>,
        left_out: LeftOut,
    ) -> Option<Val> {
        // A word of a table is checked when the tables are known: here any word will do.
        let mut reader = Reader {
            source: self.source,
            texts: self.texts,
            problems: self.problems,
            allowed: &|_, _| Allowed::Yes,
            left_out,
        };
        Some(reader.field(field, value)).filter(|v| !v.is_absent())
    }
}

fn flag(table: &DeTable<'_>, key: &str) -> bool {
    matches!(table.get(key).map(Spanned::get_ref), Some(DeValue::Boolean(true)))
}

/// The fields that every part has when no `every.toml` says otherwise: its name.
pub(crate) fn bare_fields(source: &Arc<Source>) -> Vec<Field> {
    vec![Field {
        name: "name".into(),
        ty: FieldType::Text(Words::Any),
        unit: "".into(),
        min: 0.0,
        max: 0.0,
        required: true,
        optional: false,
        absent: None,
        stated: false,
        usual: None,
        usual_also: Vec::new(),
        meaning: "what people call it".to_owned(),
        also: Vec::new(),
        spelled: Vec::new(),
        declared: nowhere(source),
    }]
}
