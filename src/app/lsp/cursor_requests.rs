//! Requests about a place in an open text: each is answered by what the text is.

use std::rc::Rc;
use std::sync::Arc;

use serde_json::Value;

use super::documents::{Document, Sort};
use super::list_view::ListView;
use super::positions::Encoding;
use super::requests::At;
use super::server::{Failure, Server};
use super::shops::Shop;
use super::toml_outline::TomlOutline;
use super::{
    completion, folding, format, hints, hover, navigation, rename, script_completion, script_words,
};
use crate::kit::Kit;
use crate::source::Source;

/// What answers a request.
pub(super) type AtCursor = fn(&mut Server, &str, &At) -> Result<Value, Failure>;

/// The answer to a request of the protocol; none where it is not known here.
pub(super) fn answers(method: &str) -> Option<AtCursor> {
    Some(match method {
        "textDocument/hover" => |s, uri, at| s.here(uri, at, hover::hover),
        "textDocument/completion" => |s, uri, at| s.here(uri, at, completion::complete),
        "textDocument/signatureHelp" => |s, uri, at| s.here(uri, at, script_words::signature),
        "textDocument/definition" => |s, uri, at| s.here(uri, at, navigation::definition),
        "textDocument/typeDefinition" => |s, uri, at| s.here(uri, at, navigation::kind_of),
        "textDocument/implementation" => |s, uri, at| s.here(uri, at, navigation::offer_of),
        "textDocument/documentSymbol" => |s, uri, at| s.here(uri, at, folding::symbols),
        "textDocument/foldingRange" => |s, uri, at| s.here(uri, at, folding::folds),
        "textDocument/formatting" => |s, uri, at| s.here(uri, at, format::format),
        "textDocument/inlayHint" => |s, uri, at| s.here(uri, at, hints::hints),
        "textDocument/codeLens" => |s, uri, at| s.here(uri, at, script_completion::lenses),
        "textDocument/prepareRename" => |s, uri, at| s.here(uri, at, rename::prepare),
        "textDocument/rename" => |s, uri, at| s.here(uri, at, rename::rename),
        _ => return None,
    })
}

/// A place in an open text, with all that is known there.
pub(super) struct Here<'a> {
    pub(super) server: &'a Server,
    pub(super) doc: &'a Document,
    pub(super) shop: &'a Shop,
    /// The text under the name that messages give it.
    pub(super) source: Arc<Source>,
    /// The list as it reads, or as it read last.
    pub(super) view: Option<Rc<ListView>>,
    /// The cursor, in bytes.
    pub(super) offset: usize,
    /// What columns count.
    pub(super) encoding: Encoding,
    /// The text's tables, where it is TOML.
    pub(super) outline: TomlOutline,
}

impl Server {
    fn here(
        &mut self,
        uri: &str,
        at: &At,
        answer: fn(&Here<'_>, &At) -> Result<Value, Failure>,
    ) -> Result<Value, Failure> {
        let encoding = self.places.encoding;
        let view = self.view(uri);
        let Some((doc, shop)) = self.looked_at(uri) else { return Ok(Value::Null) };
        let source = match doc.sort {
            Sort::Layer => shop.source_of(&doc.canonical).unwrap_or(&doc.source).clone(),
            _ => doc.source.clone(),
        };
        let toml = !is_script(doc) && !uri.ends_with(".csv");
        let outline = TomlOutline::read(if toml { &source.text } else { "" });
        let offset = doc.offset(at.position, encoding);
        answer(&Here { server: self, doc, shop, source, view, offset, encoding, outline }, at)
    }
}

impl<'a> Here<'a> {
    pub(super) fn text(&self) -> &str {
        &self.source.text
    }

    pub(super) fn is_script(&self) -> bool {
        is_script(self.doc)
    }

    pub(super) fn kit(&self) -> Option<&'a Rc<Kit>> {
        self.shop.kit.as_ref()
    }

    /// The file's path below its layer's folder, with `/` between names: `parts/fan.toml`.
    pub(super) fn below(&self) -> Option<String> {
        let path = self.doc.path.as_deref()?;
        let [_, rules, catalogue] = self.shop.key();
        let below =
            [catalogue, rules].into_iter().flatten().find_map(|f| path.strip_prefix(f).ok());
        Some(below?.to_str()?.replace('\\', "/"))
    }
}

fn is_script(doc: &Document) -> bool {
    doc.uri.ends_with(".rhai")
}
