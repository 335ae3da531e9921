//! What may stand in a cell of an offers file: its column says what.

use lsp_types::CompletionItemKind;

use super::completion::{Found, MOST};
use crate::catalogue::offers::COLUMNS;
use crate::source::Span;
use crate::trade::money::Currency;

impl Found<'_, '_> {
    /// The words of the cell that the cursor is in; on the first line, the columns not named yet.
    pub(super) fn cells(&mut self) {
        let (text, offset) = (self.here.text().to_owned(), self.here.offset);
        let before = text.get(..offset).unwrap_or("");
        let line = before.rfind('\n').map_or(0, |at| at + 1);
        let row = before.get(line..).unwrap_or("");
        let cell = Span::new(line + row.rfind(',').map_or(0, |at| at + 1), offset);
        let header = text.lines().next().unwrap_or("").trim_start_matches('\u{feff}');
        let columns: Vec<&str> = header.split(',').map(str::trim).collect();
        if line == 0 {
            for column in COLUMNS.iter().filter(|column| !columns.contains(*column)) {
                self.cell(column, String::new(), cell);
            }
            return;
        }
        let Some(kit) = self.here.kit() else { return };
        let catalogue = kit.catalogue();
        let typed = text.get(cell.start()..offset).unwrap_or("").to_lowercase();
        match columns.get(row.matches(',').count()).copied() {
            Some("part") => {
                let fits = |id: &str| id.contains(&typed);
                let mut parts: Vec<_> = catalogue.parts().filter(|p| fits(&p.id)).collect();
                parts.sort_by_key(|part| !part.id.starts_with(&typed));
                self.whole &= parts.len() <= MOST;
                for part in parts {
                    self.cell(&part.id, part.name.to_string(), cell);
                }
            }
            Some("seller") => {
                for seller in catalogue.words("seller") {
                    self.cell(seller, String::new(), cell);
                }
            }
            Some("seen_on") => {
                let today = self.here.server.shops.base().today().to_string();
                self.cell(&today, "today".to_owned(), cell);
            }
            Some("currency") => {
                for currency in Currency::all() {
                    self.cell(currency.code(), String::new(), cell);
                }
            }
            _ => {}
        }
    }

    fn cell(&mut self, word: &str, detail: String, at: Span) {
        self.add(word, CompletionItemKind::VALUE, detail, at, word.to_owned());
    }
}
