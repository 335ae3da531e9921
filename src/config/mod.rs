//! `dryfit.toml`: what a shop sets once, in the nearest file of that name beside a list or above
//! it.

pub(crate) mod packs;
pub(crate) mod read;
mod shop;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::layer::{Replaces, find_above, read_source};
use crate::level::Level;
use crate::source::{Label, Problem, Problems, Source};
use crate::trade::money::Currency;

pub use packs::{Origin, Pack};
pub use shop::{ByKind, DateForm, Earned, Labour, NumberForm, Shop, Tax};

/// The file's name.
pub const NAME: &str = "dryfit.toml";

/// What a shop set.
#[derive(Debug, Clone, Default)]
pub struct Config {
    /// The file; none when there is none.
    pub source: Option<Arc<Source>>,
    /// The folder it lies in, which its paths start from.
    pub folder: PathBuf,
    /// The shop's rules, when it says where; `rules` beside a list or above it otherwise.
    pub rules: Option<PathBuf>,
    /// The shop's catalogue, likewise.
    pub catalogue: Option<PathBuf>,
    /// Files of the layers below whose place the shop's take.
    pub replaces: Vec<Replaces>,
    /// How `audit` writes when it is not told.
    pub format: Option<Given<String>>,
    /// The level that makes `audit` fail when it is not told.
    pub fail_on: Option<Level>,
    /// The currency of lists that name none.
    pub currency: Option<Currency>,
    /// The address of the shop's handbook, whose pages are named by rule.
    pub handbook: Option<String>,
    /// Rules and parts of others that are in use, in the order they are named in.
    pub packs: Vec<Pack>,
    /// What stands on the sheet.
    pub shop: Shop,
    /// Every value as it is written, in the order of the file.
    pub entries: Vec<Entry>,
}

/// A value with its place.
#[derive(Debug, Clone)]
pub struct Given<T> {
    /// The value.
    pub value: T,
    /// Where it is written.
    pub place: Label,
}

/// One value of the file, for listing.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its key, with the keys it is under: `shop.tax.percent`.
    pub key: String,
    /// The value as it is written.
    pub value: String,
    /// Where.
    pub place: Label,
}

impl Config {
    /// The nearest `dryfit.toml` beside a file (or in the folder, when it is one) or above it;
    /// nothing set when there is none.
    ///
    /// # Errors
    /// Everything wrong with it.
    pub fn beside(file: &Path) -> Result<Self, Problems> {
        match find_above(file, NAME, |path| path.symlink_metadata().is_ok()) {
            None => Ok(Self::default()),
            Some(path) => {
                let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
                Self::read(&read_source(&path)?, &folder)
            }
        }
    }

    /// Reads a configuration whose paths start from `folder`.
    ///
    /// # Errors
    /// Everything wrong with it.
    pub fn read(source: &Arc<Source>, folder: &Path) -> Result<Self, Problems> {
        read::read(source, folder)
    }

    /// The files of rules folders whose place the shop's take.
    pub(crate) fn replaces_rules(&self) -> Vec<Replaces> {
        self.replaces.iter().filter(|r| !is_of_catalogue(&r.file)).cloned().collect()
    }

    /// The files of catalogue folders whose place the shop's take.
    pub(crate) fn replaces_catalogue(&self) -> Vec<Replaces> {
        self.replaces.iter().filter(|r| is_of_catalogue(&r.file)).cloned().collect()
    }

    /// What it takes the place of with no folder of its own to do it.
    pub(crate) fn check_folders(&self, rules: bool, catalogue: bool) -> Result<(), Problems> {
        let mut problems = Problems::default();
        for replaces in &self.replaces {
            let of_catalogue = is_of_catalogue(&replaces.file);
            if (of_catalogue && !catalogue) || (!of_catalogue && !rules) {
                let folder = if of_catalogue { "catalogue" } else { "rules" };
                let place = &replaces.place;
                problems.push(
                    Problem::new(format!(
                        "nothing takes the place of `{}`: there is no {folder} folder here",
                        replaces.file
                    ))
                    .at(&place.source, place.span, "here")
                    .help(format!("add the folder, or say where it is: {folder} = \"…\"")),
                );
            }
        }
        problems.or(())
    }
}

fn is_of_catalogue(file: &str) -> bool {
    ["kinds/", "parts/", "tables/", "offers/"].iter().any(|folder| file.starts_with(folder))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn config(text: &str) -> Result<Config, Problems> {
        Config::read(&Source::new("dryfit.toml", text), Path::new("."))
    }

    #[test]
    fn a_shop_is_read() -> Result<(), Problems> {
        let read = config(
            r#"
            replaces = ["fit", "tables/socket"]
            reason = "ours"
            fail_on = "caution"
            currency = "SEK"
            [shop]
            name = "Bench and Solder"
            address = ["1 Quay", "Ebbstone"]
            job_numbers = "BS-{year}-{list}"
            valid_days = 14
            dates = "20.11.2026"
            numbers = "1.234,56"
            labour = [{ what = "assembly", price = "85.00 EUR" }]
            margin_percent = { all = 12, graphics = 8 }
            discount_percent = 3
            tax = { name = "VAT", percent = 25, included = true }
            "#,
        )?;
        assert_eq!(read.currency.map(Currency::code), Some("SEK"));
        assert_eq!(read.fail_on, Some(Level::Caution));
        assert_eq!(read.shop.earned("graphics"), Some(Earned::Margin(8.0)));
        assert_eq!(read.shop.earned("supply"), Some(Earned::Margin(12.0)));
        let day = jiff::civil::date(2026, 11, 5);
        assert_eq!(read.shop.job_number("desk", day).as_deref(), Some("BS-2026-desk"));
        assert_eq!(read.shop.dates.write(day), "05.11.2026");
        assert_eq!(read.shop.labour.len(), 1);
        assert!(read.shop.tax.as_ref().is_some_and(|tax| tax.included));
        assert_eq!(read.replaces_rules().len(), 1);
        assert_eq!(read.replaces_catalogue().len(), 1);
        // Taking a place needs a folder that has what comes instead.
        assert!(read.check_folders(true, true).is_ok());
        assert!(read.check_folders(true, false).is_err());
        assert!(read.check_folders(false, true).is_err());
        assert!(read.entries.iter().any(|e| e.key == "shop.tax.percent" && e.value == "25"));
        Ok(())
    }

    #[test]
    fn what_is_wrong_is_said_at_its_place() {
        for (text, says) in [
            ("shpo = 1", "has no `shpo`"),
            ("replaces = [\"fit\"]", "gives no reason"),
            ("reason = \"x\"", "none is"),
            ("fail_on = \"red\"", "no level `red`"),
            ("currency = \"XYZ\"", "no currency `XYZ`"),
            ("rules = \"no/such\"", "there is no folder"),
            ("[shop]\nname = 3", "a text is wanted"),
            ("[shop]\nname = \" \"", "a text is wanted"),
            ("[shop]\nvalid_days = 1.5", "whole days"),
            ("[shop]\nvalid_days = 0", "outside 1"),
            ("[shop]\njob_numbers = \"{no}\"", "hole"),
            ("[shop]\ndates = \"today\"", "not one of the forms"),
            ("[shop]\nlabour = [{ what = \"a\" }]", "gives no `price`"),
            ("[shop]\nlabour = [{ what = \"a\", price = \"-1.00 EUR\" }]", "not negative"),
            ("[shop]\nmargin_percent = -1", "outside 0"),
            ("[shop]\nmargin_percent = 100", "outside 0"),
            ("[shop]\nmarkup_percent = 0.1234567", "six decimals"),
            ("[shop]\nmarkup_percent = 5\nmargin_percent = 5", "both"),
            ("[shop]\nmarkup_percent = { fan = 5 }\nmargin_percent = { fan = 5 }", "both"),
            ("[shop]\nmargin_percent = nan", "a number is wanted"),
            ("[shop]\ntax = { name = \"VAT\", percent = 25 }", "gives no `included`"),
            ("[shop]\nlogo = \"none.svg\"", "there is no file"),
            ("[packs]\nx = 1", "is wanted here"),
            ("[packs.X]\nfolder = \".\"", "no name of a pack"),
            ("[packs.x]", "comes from one place"),
            ("[packs.x]\nfolder = \".\"\ngit = \"a\"", "comes from one place"),
            ("[packs.x]\nfolder = \"no/such\"", "there is no folder"),
            ("[packs.x]\ngit = \"https://a.example/b\"", "says no `revision`"),
            ("[packs.x]\ngit = \"ext::sh -c date\"\nrevision = \"v1\"", "no address"),
            ("[packs.x]\ngit = \"--upload-pack=date\"\nrevision = \"v1\"", "no address"),
            ("[packs.x]\ngit = \"gopher://a/b\"\nrevision = \"v1\"", "no address"),
            ("[packs.x]\ngit = \"../a\"\nrevision = \"--all\"", "a tag, a branch"),
            ("[packs.x]\nfolder = \".\"\nprefix = \"A\"", "a prefix is"),
            ("[packs.x]\nfolder = \".\"\nsha256 = \"12\"", "64 hexadecimal"),
            ("[packs.x]\nfolder = \".\"\nneeds = \"new\"", "versions of dryfit"),
            ("[packs.x]\nfolder = \".\"\nwants = \"new\"", "a pack has no `wants`"),
            ("[shop", "not valid TOML"),
        ] {
            let said = config(text).map(|_| String::new()).unwrap_or_else(|p| p.to_string());
            assert!(said.contains(says), "{text}: {said}");
        }
    }
}
