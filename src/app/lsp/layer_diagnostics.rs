//! What is said of the files that lists are audited with: everything wrong in them at once, and the
//! facts that their parts do not give.

use std::collections::{BTreeMap, HashSet};
use std::path::Path;
use std::sync::Arc;

use lsp_types::{Diagnostic, DiagnosticSeverity, NumberOrString};

use super::diagnostics::{Page, SOURCE, at_top};
use super::documents::{Document, Sort};
use super::positions::Places;
use super::server::Server;
use super::shops::{Shop, ShopKey};
use super::uris;
use crate::config::{self, Config};
use crate::source::{Problem, Source};
use crate::words::some_of;

/// Most fields that are named for one part.
const MOST_NAMED: usize = 12;

impl Server {
    /// Sends what is said of every file of a shop's layers.
    pub(super) fn tell_of_shop(&mut self, key: &ShopKey) {
        let Some(shop) = self.shops.find(key) else { return };
        let docs: Vec<&Document> =
            self.docs.values().filter(|d| d.sort == Sort::Layer && d.shop == *key).collect();
        let mut said: BTreeMap<String, (Option<i32>, Vec<Diagnostic>)> = BTreeMap::new();
        for doc in &docs {
            said.insert(doc.uri.clone(), (Some(doc.version), Vec::new()));
        }
        let ordered = shop.problems.iter().map(|p| (p, DiagnosticSeverity::ERROR));
        let odd = shop.warnings.iter().map(|p| (p, DiagnosticSeverity::WARNING));
        for (problem, severity) in ordered.chain(odd) {
            place(shop, problem, severity, &docs, &mut self.places, &mut said);
        }
        for doc in &docs {
            let own = own_remarks(shop, doc, &mut self.places);
            said.entry(doc.uri.clone()).or_default().1.extend(own);
        }
        let now: HashSet<String> = said.keys().cloned().collect();
        let folders: Vec<String> = key.iter().flatten().map(|path| uris::uri_of(path)).collect();
        let of_shop = |uri: &String| folders.iter().any(|folder| uri.starts_with(folder.as_str()));
        let gone: Vec<String> =
            self.told.iter().filter(|uri| of_shop(uri) && !now.contains(*uri)).cloned().collect();
        for uri in gone {
            self.told.remove(&uri);
            let version = self.docs.get(&uri).map(|doc| doc.version);
            self.publish(&uri, version, &[]);
        }
        for (uri, (version, diagnostics)) in said {
            self.told.insert(uri.clone());
            self.publish(&uri, version, &diagnostics);
        }
    }
}

/// Says a problem at its file; one that names no file stands at the top of every open one.
fn place(
    shop: &Shop,
    problem: &Problem,
    severity: DiagnosticSeverity,
    docs: &[&Document],
    places: &mut Places,
    said: &mut BTreeMap<String, (Option<i32>, Vec<Diagnostic>)>,
) {
    let Some(label) = problem.labels.first() else {
        let help = problem.help.as_ref().map(|h| format!("\nFix: {h}")).unwrap_or_default();
        for doc in docs {
            let top = at_top(format!("{}{help}", problem.message), severity);
            said.entry(doc.uri.clone()).or_default().1.push(top);
        }
        return;
    };
    let Some(uri) = shop.uri_of(&label.source) else { return };
    // What the program carries is no file of the user's.
    if uri.starts_with(uris::CARRIED) {
        return;
    }
    let open = docs.iter().find(|doc| doc.canonical == uri);
    let uri = open.map_or(uri, |doc| doc.uri.clone());
    let mut page = Page { source: &label.source, uri: &uri, shop, places };
    let diagnostic = page.problem(problem, severity);
    let (_, held) = said.entry(uri).or_default();
    if !held.contains(&diagnostic) {
        held.push(diagnostic);
    }
}

/// What is said of an open file beside what is wrong with it as a part of the whole.
fn own_remarks(shop: &Shop, doc: &Document, places: &mut Places) -> Vec<Diagnostic> {
    let source = shop.source_of(&doc.canonical).unwrap_or(&doc.source);
    let name = doc.path.as_deref().and_then(Path::file_name);
    if name.is_some_and(|n| n == config::NAME) {
        return of_config(shop, doc, places);
    }
    if shop.stale && !shop.problems.is_empty() {
        return Vec::new();
    }
    unknown_facts(shop, source, places)
}

fn of_config(shop: &Shop, doc: &Document, places: &mut Places) -> Vec<Diagnostic> {
    let folder = doc.path.as_deref().and_then(Path::parent).unwrap_or(Path::new("."));
    let Err(problems) = Config::read(&doc.source, folder) else { return Vec::new() };
    let mut page = Page { source: &doc.source, uri: &doc.uri, shop, places };
    let known = |p: &&Problem| !shop.problems.iter().any(|held| held.message == p.message);
    let problems = problems.0.iter().filter(known);
    problems.map(|p| page.problem(p, DiagnosticSeverity::ERROR)).collect()
}

/// The fields that the parts of a file do not give and that are not known to be absent.
fn unknown_facts(shop: &Shop, source: &Arc<Source>, places: &mut Places) -> Vec<Diagnostic> {
    let Some(kit) = &shop.kit else { return Vec::new() };
    let catalogue = kit.catalogue();
    let own = catalogue.parts().filter(|part| Arc::ptr_eq(&part.source, source));
    own.filter_map(|part| {
        let kind = catalogue.kind(part.kind)?;
        let fields = part.unknown().filter_map(|at| kind.fields.get(at as usize));
        let names: Vec<&str> = fields.map(|field| &*field.name).collect();
        (!names.is_empty()).then(|| Diagnostic {
            range: places.range_of(source, part.head),
            severity: Some(DiagnosticSeverity::HINT),
            code: Some(NumberOrString::String("unknown-facts".to_owned())),
            source: Some(SOURCE.to_owned()),
            message: format!(
                "{} does not say: {}",
                part.name,
                some_of(names.iter().copied(), MOST_NAMED)
            ),
            ..Diagnostic::default()
        })
    })
    .collect()
}
