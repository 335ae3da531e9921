//! Targets that read what others wrote: customers' lists, makers' pages, configurations, packs.

use std::fs;
use std::path::Path;

use dryfit::inside::config::Config;
use dryfit::inside::intake::{Aliases, Intake, State, read_bytes};
use dryfit::inside::packs::{lock::Lock, read_folder};
use dryfit::inside::partsheet::{SheetMap, import, merged};
use dryfit::inside::source::{Problems, Source};

use super::desk::{MOST, folder, harmless, refused, shipped, text, today};
use super::lists::NEXT;

/// A customer's list in any form: the list made of it reads, shows nothing that acts, and gives
/// itself back when it is read again.
pub(crate) fn intake(data: &[u8]) {
    if data.len() > MOST {
        return;
    }
    let kit = shipped();
    let intake = Intake::new(kit.catalogue(), Aliases::default());
    let rows = read_bytes(data, "list").and_then(|text| intake.read(&text));
    let rows = match rows {
        Ok(rows) => rows,
        Err(problem) => return refused(&problem.into()),
    };
    let list = intake.list(&rows, "list", today());
    harmless(&list);
    let due = rows
        .iter()
        .filter(|r| r.state != State::Ignored && (r.kind.is_some() || r.part.is_some()))
        .count();
    if due > 0 {
        let read = kit.read(&Source::new("list.toml", list.as_str()), today());
        let build = read.unwrap_or_else(|p| panic!("the list cannot be read: {p}\n{list}"));
        assert_eq!(build.lines.len(), due, "{list}");
    }
}

/// The name of a kind, a line end, and a page or table of parts of it: what is written of it is
/// TOML, and a second import changes nothing.
pub(crate) fn page(data: &[u8]) {
    let at = data.iter().position(|b| *b == b'\n').unwrap_or(data.len());
    let Some(kind) = text(&data[..at]) else { return };
    let page = data.get(at + 1..).unwrap_or_default();
    let kit = shipped();
    let catalogue = kit.catalogue();
    let Some(id) = catalogue.kind_id(kind.trim()).filter(|_| page.len() <= MOST) else { return };
    let map = SheetMap::default();
    let parts = read_bytes(page, "page").and_then(|t| import(catalogue, id, &t, &map, "page"));
    let parts = match parts {
        Ok(parts) => parts,
        Err(problem) => return refused(&problem.into()),
    };
    let Ok((written, _)) = merged("", "parts.toml", kind.trim(), &parts) else { return };
    let (again, changes) = merged(&written, "parts.toml", kind.trim(), &parts)
        .unwrap_or_else(|p| panic!("the second time: {p}"));
    assert!(changes.is_empty() && again == written, "{changes:?}\n{written}\n{again}");
}

/// A `dryfit.toml`.
pub(crate) fn config(data: &[u8]) {
    let Some(text) = text(data) else { return };
    if let Err(problems) = Config::read(&Source::new("dryfit.toml", text), Path::new(".")) {
        refused(&problems);
    }
}

/// A pack's card, `=====`, a rule file of it, `=====`, a lock.
pub(crate) fn pack(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let mut files = text.split(NEXT);
    let place = folder("pack");
    let write = |name: &str, text: Option<&str>| {
        fs::write(place.join(name), text.unwrap_or("")).unwrap_or_else(|e| panic!("{e}"));
    };
    fs::create_dir_all(place.join("rules")).unwrap_or_else(|e| panic!("{e}"));
    write("pack.toml", files.next());
    write("rules/own_a.rhai", files.next());
    write("dryfit.lock", files.next());
    if let Err(problems) = read_folder(&place, "own", "own") {
        refused(&problems);
    }
    if let Err(problem) = Lock::read(&place) {
        refused(&Problems::from(problem));
    }
}
