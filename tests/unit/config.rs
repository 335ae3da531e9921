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
        ("[shop]\nname = 3", "`name` must be a text"),
        ("[shop]\nname = \" \"", "`name` is empty"),
        ("[shop]\nvalid_days = 1.5", "a whole number"),
        ("[shop]\nvalid_days = 0", "from 1 to 3650"),
        ("[shop]\njob_numbers = \"{no}\"", "hole"),
        ("[shop]\ndates = \"today\"", "`dates` cannot be \"today\""),
        ("[shop]\nlabour = [{ what = \"a\" }]", "gives no `price`"),
        ("[shop]\nlabour = [{ what = \"a\", price = \"-1.00 EUR\" }]", "not negative"),
        ("[shop]\nmargin_percent = -1", "from 0 to 99"),
        ("[shop]\nmargin_percent = 100", "from 0 to 99"),
        ("[shop]\nmarkup_percent = 0.1234567", "six decimals"),
        ("[shop]\nmarkup_percent = 5\nmargin_percent = 5", "both"),
        ("[shop]\nmarkup_percent = { fan = 5 }\nmargin_percent = { fan = 5 }", "both"),
        ("[shop]\nmargin_percent = nan", "must be a number"),
        ("[shop]\ntax = { name = \"VAT\", percent = 25 }", "gives no `included`"),
        ("[shop]\nlogo = \"none.svg\"", "there is no file"),
        ("[packs]\nx = 1", "a pack is a table"),
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
        ("packs = 1", "a table of packs"),
        ("shop = 1", "must be a table"),
        ("[shop]\nmarkup_percent = { fan = \"x\" }", "must be a number"),
        ("[shop", "not valid TOML"),
    ] {
        let said = config(text).map(|_| String::new()).unwrap_or_else(|p| p.to_string());
        assert!(said.contains(says), "{text}: {said}");
    }
}
