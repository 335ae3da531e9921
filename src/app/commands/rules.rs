//! What `dryfit rules` and `dryfit schema` do.

use std::path::{Path, PathBuf};

use crate::app::book;
use crate::app::report::escape::inert;
use crate::app::report::reference;
use crate::app::report::style::{Look, Role};
use crate::app::writing::listing::Wanted;
use crate::app::writing::{
    examples, kind_fields, lint, listing, new_rule, profile, rule_page, schema,
};
use crate::config::Config;
use crate::kit::{Kit, Layers};
use crate::layer::{find_upward, read_source};
use crate::level::Level;
use crate::source::{Problem, Problems};
use crate::words::{clip, nearest};

use crate::app::args::BaseArgs;
use crate::app::args::rules::{ListArgs, RulesCommand, TestFormat};
use crate::app::batch;
use crate::app::commands::{Page, kit_beside, kit_here, packs, rules_test};
use crate::app::lists;

pub(crate) fn run(command: RulesCommand, page: &mut Page) -> Result<u8, Problems> {
    match command {
        RulesCommand::List(args) => list(&args, page),
        RulesCommand::Explain { id, base } => explain(&id, &base, page),
        RulesCommand::Words { find: Some(find), base } => searched(&find, &base, page),
        RulesCommand::Words { .. } => words(page),
        RulesCommand::New { name, base } => new(&name, &base, page),
        RulesCommand::Test(args) if args.watch => rules_test::again(args, page),
        RulesCommand::Test(args) => rules_test::test(&args, page),
        RulesCommand::Lint { folder, base } => linted(folder.as_deref(), &base, page),
        RulesCommand::Book { output, base } => book(&output, &base, page),
        RulesCommand::Fetch { update } => packs::fetched(update, page),
        RulesCommand::Pack(args) => packs::packed(&args, page),
        RulesCommand::Diff(args) => packs::differ(&args, page),
        RulesCommand::Profile { builds, format, base } => profiled(&builds, format, &base, page),
    }
}

fn list(args: &ListArgs, page: &mut Page) -> Result<u8, Problems> {
    let kit = kit_here(&args.base)?;
    let wanted = Wanted {
        subject: args.subject.as_deref(),
        level: args.level,
        layer: args.layer.as_deref(),
        settings: args.settings,
    };
    let chosen = listing::chosen(&kit, wanted)?;
    match args.format {
        TestFormat::Json => page.json(&listing::json(&kit, wanted)?),
        TestFormat::Text if chosen.is_empty() => page.note_aside("No rule fits all of that."),
        TestFormat::Text => page.write(&listing::list(Look::stdout(), &kit, wanted)?),
    }
    let code = u8::from(chosen.is_empty());
    // Rule files that can't be read are missing from any list: say so.
    let broken: Vec<Problem> = kit.rules().problems().collect();
    Ok(if broken.is_empty() { code } else { code.max(page.refuse(&Problems(broken))) })
}

fn explain(id: &str, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let layers = batch::layers(Path::new("."), base)?;
    page.write(&rule_page::explain(Look::stdout(), &Kit::load(&layers)?, &layers, id)?);
    Ok(0)
}

/// Writes the handbook of the rules that hold here.
fn book(output: &Path, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let layers = batch::layers(Path::new("."), base)?;
    let kit = Kit::load(&layers)?;
    let pages = book::pages(&kit, &layers)?;
    book::write(&pages, output)?;
    let at = inert(&output.join("index.html").display().to_string());
    page.write(&format!("{} files written; the handbook begins at {at}\n", pages.len()));
    let broken: Vec<Problem> = kit.rules().problems().collect();
    Ok(if broken.is_empty() { 0 } else { page.refuse(&Problems(broken)) })
}

fn words(page: &mut Page) -> Result<u8, Problems> {
    let kit = Kit::load(&Layers::built_in())?;
    page.write(&reference::words(Look::stdout(), kit.words(), None));
    Ok(0)
}

/// The fields of a kind that is called so, and the words with that in them.
fn searched(find: &str, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let layers = batch::layers(Path::new("."), base)?;
    let kit = Kit::load(&layers)?;
    let catalogue = kit.catalogue();
    let kind = catalogue.kind_called(find).and_then(|id| catalogue.kind(id));
    let found = reference::words(Look::stdout(), kit.words(), Some(find));
    if let Some(kind) = kind {
        let shown = examples::gather(&kit, &layers, |_| true);
        let mut readers = examples::readers(&shown);
        // What a rule without a case reads is not seen, but may be read off its script.
        for field in &kind.fields {
            let place = format!("{}.{}", kind.name, field.name);
            let unseen = super::parts::readers(&kit, kind, &field.name).into_iter();
            let unseen = unseen.filter(|id| !shown.contains_key(id));
            readers.entry(place).or_default().extend(unseen);
        }
        page.write(&kind_fields::text(Look::stdout(), kind, &readers));
        if !found.is_empty() {
            page.write("\n");
        }
    }
    page.write(&found);
    if kind.is_some() || !found.is_empty() {
        return Ok(0);
    }
    let kinds = catalogue.kinds.iter().map(|k| &*k.name);
    let near = nearest(find, kinds).map(|near| format!(" Did you mean `{near}`?"));
    let find = clip(find, 60);
    page.note_aside(&format!(
        "No kind is called `{find}`, and no word for scripts has it in it.{}",
        near.unwrap_or_default()
    ));
    Ok(1)
}

/// Writes into the rules folder that is named, or found from here, or made here.
fn new(name: &str, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let folder = base.rules.clone().or_else(rules_folder).unwrap_or_else(|| PathBuf::from("rules"));
    let here = BaseArgs { rules: base.rules.clone().filter(|r| r.is_dir()), ..base.clone() };
    let written = new_rule::write(&kit_here(&here)?, &folder, name)?;
    page.write(&format!(
        "Written:\n  {}\n  {}\nThey hold one rule, with cases that pass. Change it, then run: \
         dryfit rules test {}\n",
        written.rules.display(),
        written.cases.display(),
        folder.display()
    ));
    Ok(0)
}

/// The rules folder that belongs to this place.
pub(super) fn rules_folder() -> Option<PathBuf> {
    let here = Path::new(".");
    let set = Config::beside(here).ok().and_then(|config| config.rules);
    set.or_else(|| find_upward(here, "rules"))
}

/// What is odd in the topmost rules.
fn linted(folder: Option<&Path>, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    let layers = test_layers(folder, base)?;
    let kit = Kit::load(&layers)?;
    let Some(top) = layers.rules.last() else { return Ok(0) };
    if !top.files.iter().any(|(below, _)| below.ends_with(".rhai") || below == "settings.toml") {
        let problem = Problem::new(format!("{} holds no rule file", top.label));
        return Err(problem.help("name a folder of rules, NAME.rhai and its cases").into());
    }
    let own = |name: &str| top.files.iter().any(|(_, source)| source.name == name);
    let of_top = |p: &Problem| p.labels.first().is_none_or(|l| own(&l.source.name));
    let broken: Vec<Problem> = kit.rules().problems().filter(of_top).collect();
    if !broken.is_empty() {
        return Err(Problems(broken));
    }
    let found = lint::lint(&kit, &layers);
    let look = Look::stdout();
    for problem in &found {
        page.write(&look.problem(Role::Level(Level::Caution), problem));
        page.write("\n");
    }
    page.write(&match found.len() {
        0 => "Nothing is odd in these rules.\n".to_owned(),
        1 => "1 thing is odd in these rules.\n".to_owned(),
        n => format!("{n} things are odd in these rules.\n"),
    });
    Ok(u8::from(!found.is_empty()))
}

/// The folder itself, or the `rules` folder in it: a shop's folder may be named either way. A
/// catalogue beside the rules counts too.
pub(super) fn test_layers(folder: Option<&Path>, base: &BaseArgs) -> Result<Layers, Problems> {
    match folder {
        None => batch::layers(Path::new("."), base),
        Some(folder) => layers_of(folder, base.catalogue.as_deref()),
    }
}

/// What a shop's folder is tested with: its rules, the catalogue that is named or lies beside them,
/// and its packs.
pub(crate) fn layers_of(folder: &Path, named: Option<&Path>) -> Result<Layers, Problems> {
    let inner = folder.join("rules");
    let rules = if inner.is_dir() { inner } else { folder.to_path_buf() };
    let catalogue = rules.parent().map(|shop| shop.join("catalogue")).filter(|c| c.is_dir());
    // What lies beside the user's own place does not count when a folder is named.
    let config = Config::beside(&rules)?;
    let mut layers = Layers::built_in();
    layers.lay_packs(&config)?;
    if let Some(catalogue) = named.map(Path::to_path_buf).or(catalogue) {
        layers.lay_catalogue(&catalogue, &config)?;
    }
    layers.lay_rules(&rules, &config)?;
    Ok(layers)
}

fn profiled(
    builds: &[PathBuf],
    format: TestFormat,
    base: &BaseArgs,
    page: &mut Page,
) -> Result<u8, Problems> {
    let Some(first) = builds.first() else { return Ok(2) };
    let kit = kit_beside(first, base)?;
    let builds = lists::only_lists(builds)?
        .iter()
        .map(|file| kit.read(&read_source(file)?, base.today()))
        .collect::<Result<Vec<_>, Problems>>()?;
    let rows = profile::profile(&kit, &builds);
    match format {
        TestFormat::Text => page.write(&profile::text(&rows, builds.len())),
        TestFormat::Json => page.json(&profile::json(&rows, builds.len())),
    }
    Ok(if rows.iter().any(|r| r.broken) { 2 } else { 0 })
}

pub(crate) fn schemas(name: &str, base: &BaseArgs, page: &mut Page) -> Result<u8, Problems> {
    page.write(&format!("{:#}\n", schema::schema(&kit_here(base)?, name)?));
    Ok(0)
}
