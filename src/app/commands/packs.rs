//! What `dryfit rules fetch`, `pack` and `diff` do.

use std::path::Path;

use crate::app::args::BaseArgs;
use crate::app::args::rules::{DiffArgs, PackArgs, TestFormat};
use crate::app::commands::Page;
use crate::app::commands::rules::layers_of;
use crate::app::lists;
use crate::app::packs::differ::{self, side};
use crate::app::packs::fetch::fetch;
use crate::app::packs::make::{Wanted, make};
use crate::app::report::escape::inert;
use crate::app::report::style::Look;
use crate::app::writing::outcome;
use crate::cases;
use crate::config::Config;
use crate::packs::folder_of;
use crate::source::{Problem, Problems};

/// `dryfit rules fetch`.
pub(crate) fn fetched(update: bool, page: &mut Page) -> Result<u8, Problems> {
    let config = Config::beside(Path::new("."))?;
    if config.packs.is_empty() {
        let said = "no dryfit.toml here names a pack";
        let help = "name one: [packs.quay] with git = \"…\" and revision = \"…\"";
        return Err(Problem::new(said).help(help).into());
    }
    for pack in fetch(&config, update)? {
        page.write(&format!("{}: {}\n", pack.name, inert(&pack.said)));
    }
    Ok(0)
}

/// `dryfit rules pack`: the cases come first, and a folder whose cases fail makes no pack.
pub(crate) fn packed(args: &PackArgs, page: &mut Page) -> Result<u8, Problems> {
    let layers = layers_of(&args.folder, None)?;
    let report = cases::run_top(&layers, None)?;
    page.write(&outcome::text(Look::stdout(), &report));
    if !report.good() {
        page.note_aside("No pack is written: its cases have to pass first.");
        return Ok(report.exit_code());
    }
    let name = args.name.as_deref();
    let made = make(&layers, &Wanted { into: &args.output, name, version: &args.pack_version })?;
    let folder = inert(&args.output.display().to_string());
    page.write(&format!(
        "\nPack {name} with {files} files is in {folder}. A shop takes it with this in its \
         dryfit.toml:\n\n[packs.{name}]\nfolder = \"{folder}\"\nsha256 = \"{sha256}\"\n",
        name = made.name,
        files = made.files,
        sha256 = made.sha256,
    ));
    Ok(0)
}

/// `dryfit rules diff`.
pub(crate) fn differ(args: &DiffArgs, page: &mut Page) -> Result<u8, Problems> {
    let named: Vec<lists::Entry> = lists::only_lists(&args.lists)?
        .into_iter()
        .map(|path| lists::Entry { path, named: true })
        .collect();
    let first = named.first().map_or(Path::new("."), |entry| entry.path.as_path());
    let (old, new) = sides(args, &Config::beside(first)?)?;
    let differences = differ::differ(&named, &old, &new);
    match args.format {
        TestFormat::Text => {
            page.write(&differences.text(Look::stdout()));
            let problems = differences.problems();
            if !problems.0.is_empty() {
                page.refuse(&problems);
            }
        }
        TestFormat::Json => page.json(&differences.json()),
    }
    Ok(differences.exit_code())
}

/// What each side is audited against. Where one of them is a pack of the shop, the other takes its
/// place, so that what a pack no longer has goes.
fn sides(args: &DiffArgs, config: &Config) -> Result<(BaseArgs, BaseArgs), Problems> {
    let pack = |named: &Path| {
        config.packs.iter().find(|pack| {
            let same = || match (folder_of(config, pack).canonicalize(), named.canonicalize()) {
                (Ok(a), Ok(b)) => a == b,
                _ => false,
            };
            Path::new(&pack.name) == named || same()
        })
    };
    let there = |folder: &Path| match folder.is_dir() {
        true => Ok(folder.to_path_buf()),
        false => Err(Problem::new(format!("there is no folder {}", folder.display()))
            .help("name a folder of rules, or a pack of dryfit.toml")),
    };
    let base = &args.base;
    let swapped = |name: &str, folder: &Path| -> Result<BaseArgs, Problems> {
        Ok(BaseArgs { pack: Some((name.to_owned(), there(folder)?)), ..base.clone() })
    };
    match (pack(&args.old), pack(&args.new)) {
        (Some(old), None) => Ok((base.clone(), swapped(&old.name, &args.new)?)),
        (None, Some(new)) => Ok((swapped(&new.name, &args.old)?, base.clone())),
        (Some(old), Some(new)) => Ok((
            swapped(&old.name, &folder_of(config, old))?,
            swapped(&old.name, &folder_of(config, new))?,
        )),
        (None, None) => Ok((side(&there(&args.old)?, base), side(&there(&args.new)?, base))),
    }
}
