//! The rule writer's kit: what it writes passes, its schemas hold what people write, and a shop's
//! folder does as it says.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use dryfit::inside::app::report::style::Look;
use dryfit::inside::app::writing::listing::Wanted;
use dryfit::inside::app::writing::schema::{SCHEMAS, schema};
use dryfit::inside::app::writing::{lint, listing, mutate, new_rule, rule_page, signatures};
use dryfit::inside::cases;
use dryfit::inside::layer::{Layer, read_source};
use dryfit::inside::level::Level;
use dryfit::{Kit, Layers};
use jiff::civil::date;
use serde_json::Value;

const LOOK: Look = Look { colour: false, drawing: false, width: 100 };

fn built_in() -> Kit {
    Kit::load(&Layers::built_in()).expect("the binary's own files are in order")
}

fn with(folder: &Path) -> Layers {
    let mut layers = Layers::built_in();
    layers.rules.push(Layer::read(folder).expect("the folder is read"));
    layers
}

/// TOML as JSON, days as texts, as editors see it.
fn json(value: toml::Value) -> Value {
    match value {
        toml::Value::Datetime(day) => Value::String(day.to_string()),
        toml::Value::Array(items) => items.into_iter().map(json).collect(),
        toml::Value::Table(table) => table.into_iter().map(|(k, v)| (k, json(v))).collect(),
        toml::Value::String(text) => Value::String(text),
        toml::Value::Integer(n) => n.into(),
        toml::Value::Float(n) => serde_json::json!(n),
        toml::Value::Boolean(flag) => flag.into(),
    }
}

/// A schema, compiled by a validator that knows nothing of this program.
struct Checker {
    schemas: boon::Schemas,
    index: boon::SchemaIndex,
}

impl Checker {
    fn new(kit: &Kit, name: &str) -> Self {
        let mut schemas = boon::Schemas::new();
        let mut compiler = boon::Compiler::new();
        compiler
            .add_resource("schema.json", schema(kit, name).expect("there is such a schema"))
            .expect("it is a schema");
        let index = compiler.compile("schema.json", &mut schemas).expect("it compiles");
        Self { schemas, index }
    }

    fn says(&self, text: &str) -> Result<(), String> {
        let value = json(toml::Value::Table(toml::from_str(text).map_err(|e| e.to_string())?));
        self.schemas.validate(&value, self.index).map_err(|e| format!("{e:#}"))
    }
}

fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a folder")
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.to_string_lossy().ends_with(ending))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "{folder} holds no {ending}");
    files
}

#[test]
fn schemas_hold_every_file_of_the_demo() {
    let kit = built_in();
    let shop = Kit::load(&with(Path::new("examples/shop-rules/rules"))).expect("it loads");
    let sets = [
        (&kit, "build", files("examples", ".toml")),
        (&shop, "build", files("examples/shop-rules", "records.toml")),
        (&kit, "brief", files("examples/briefs", ".toml")),
        (&kit, "parts", files("catalogue/parts", ".toml")),
        (&kit, "cases", files("rules", ".cases.toml")),
        (&shop, "cases", files("examples/shop-rules/rules", ".cases.toml")),
        (&kit, "settings", files("rules", "settings.toml")),
        (&shop, "settings", files("examples/shop-rules/rules", "settings.toml")),
        (&shop, "config", files("examples/shop-rules", "dryfit.toml")),
        (&shop, "waivers", files("examples/shop-rules/rules", "waivers.toml")),
    ];
    for (kit, name, paths) in sets {
        let checker = Checker::new(kit, name);
        for path in paths {
            let text = fs::read_to_string(&path).expect("it is text");
            if let Err(why) = checker.says(&text) {
                panic!("{} is not as schema {name} says: {why}", path.display());
            }
        }
    }
}

/// Editors find the schema by the first line of a file; what they find is what the program says
/// today.
#[test]
fn schemas_beside_the_demo_are_true_and_found() {
    let kit = built_in();
    for name in ["build", "brief", "config", "search"] {
        let path = format!("examples/schema/{name}.schema.json");
        let text = format!("{:#}\n", schema(&kit, name).expect("there is such a schema"));
        if std::env::var_os("DRYFIT_BLESS").is_some() {
            fs::write(&path, &text).expect("it can be written");
        }
        assert!(
            fs::read_to_string(&path).unwrap_or_default() == text,
            "{path} is out of date: dryfit schema {name} > {path}"
        );
    }
    for path in [
        files("examples", ".toml"),
        files("examples/briefs", ".toml"),
        files("examples/shop-rules", ".toml"),
    ]
    .concat()
    {
        let text = fs::read_to_string(&path).expect("it is text");
        let line =
            text.lines().next().and_then(|l| l.strip_prefix("#:schema ")).unwrap_or_default();
        let schema = path.parent().unwrap_or(&path).join(line);
        assert!(
            schema.is_file(),
            "{} names {}, which is not there",
            path.display(),
            schema.display()
        );
    }
}

/// The whole pass takes a minute, so the result is written down in `tests/mutation.txt`
/// (`DRYFIT_BLESS=1` writes it anew), and every run plants one wrong in twenty again. What goes
/// unnoticed now and did not then counts twenty times against the bar.
#[test]
fn the_shipped_rules_notice_what_goes_wrong_in_them() {
    let (bless, every) =
        if std::env::var_os("DRYFIT_BLESS").is_some() { (true, 1) } else { (false, 20) };
    let mutation =
        mutate::mutate(&with(Path::new("rules")), None, every, &|_, _| {}).expect("its cases hold");
    if bless {
        fs::write("tests/mutation.txt", mutate::text(LOOK, &mutation)).expect("it can be written");
    }
    let record = fs::read_to_string("tests/mutation.txt").expect("it is there");
    let mut figures = record
        .lines()
        .last()
        .unwrap_or("")
        .split(' ')
        .filter_map(|word| word.parse::<usize>().ok());
    let (planted, noticed) =
        figures.next().zip(figures.next()).expect("the record ends with its figures");
    assert!(
        mutation.all.abs_diff(planted) * 20 <= planted,
        "{planted} wrongs were planted then and {} could be now: DRYFIT_BLESS=1",
        mutation.all
    );
    // Lines move when a rule above them changes, so a place is a file, a wrong and a function.
    let wrong = |line: &str| {
        line.trim()
            .split_once(' ')
            .map(|(place, what)| format!("{} {what}", place.split(':').next().unwrap_or("")))
    };
    let owned: BTreeSet<String> = record.lines().filter_map(wrong).collect();
    let told = mutate::text(LOOK, &mutation);
    let new: Vec<String> = told
        .lines()
        .filter(|l| l.starts_with("  rules/"))
        .filter_map(wrong)
        .filter(|w| !owned.contains(w))
        .collect();
    let unnoticed = planted - noticed + new.len() * every;
    // The rest are weights of which any would do, sums that start from nothing, limits met by no
    // figure that can be written, and guards that only spare work.
    assert!(
        unnoticed * 100 <= planted * 12,
        "{unnoticed} of {planted} would go unnoticed, among them: {new:#?}"
    );
}

#[test]
fn schemas_refuse_what_the_program_refuses() {
    let kit = built_in();
    let wrong = [
        ("build", "[[line]]\npart = \"supply/tarn-655\""),
        ("build", "[[line]]\npart = \"supply/tarn-650\"\nany = \"supply\""),
        ("build", "titel = \"x\"\n[[line]]\npart = \"supply/tarn-650\""),
        ("build", "title = \"no lines\""),
        ("build", "purpose = \"gaming\"\n[[line]]\npart = \"supply/tarn-650\""),
        ("build", "[[line]]\npart = \"supply/tarn-650\"\ncount = 0"),
        ("build", "[[line]]\npart = \"supply/tarn-650\"\n[[waive]]\nrule = \"power.total\""),
        ("parts", "kind = \"fan\"\n[x]\nmaker = \"X\""),
        ("parts", "kind = \"fen\""),
        ("cases", "[[case]]\nname = \"x\"\nsilent = [\"power.totl\"]"),
        (
            "cases",
            "[[case]]\nname = \"x\"\nline = [{ kind = \"supply\", rated_w = \"650\" }]\nsilent = [\"power.total\"]",
        ),
        (
            "cases",
            "[[case]]\nname = \"x\"\nline = [{ kind = \"supply\", raited_w = 650 }]\nsilent = [\"power.total\"]",
        ),
        ("settings", "[power.headroom]\nvalue = \"much\""),
        ("settings", "[rule.\"power.oversized\"]\noff = true"),
        (
            "waivers",
            "[[waive]]\nrule = \"power.total\"\nreason = \"x\"\nby = \"hw\"\nuntil = 2027-01-01",
        ),
        ("brief", "title = \"needs nothing\""),
        ("config", "replaces = [\"fit\"]"),
        ("config", "fail_on = \"red\""),
        ("config", "[shop]\ntax = { name = \"VAT\" }"),
    ];
    for (name, text) in wrong {
        assert!(Checker::new(&kit, name).says(text).is_err(), "schema {name} lets pass: {text}");
    }
    assert!(schema(&kit, "bild").is_err());
    assert_eq!(SCHEMAS.len(), 9);
}

#[test]
fn every_call_of_the_word_list_is_a_word_of_scripts() {
    let kit = built_in();
    let name = |part: &str| {
        let call = part.strip_suffix(')')?.split_once('(')?.0;
        let name = call.rsplit('.').next()?;
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        (!name.is_empty() && name.chars().all(plain)).then(|| name.to_owned())
    };
    let words = kit.words().iter().flat_map(|word| signatures::parts(&word.signature));
    let heads: BTreeSet<String> = words.filter_map(name).collect();
    assert!(heads.len() > 30, "{} functions", heads.len());
    // Each is a word that a script may call: an unknown one would be found when the script is
    // loaded.
    // `step` is for a rule in the order of work only.
    let calls: String =
        heads.iter().filter(|head| *head != "step").map(|h| format!("    {h}();\n")).collect();
    let mut layers = Layers::built_in();
    layers.rules.push(Layer::from_texts(
        "shop",
        &[(
            "shop_words.rhai",
            &format!("/// Calls every word.\n/// Basis: none.\nfn check(build) {{\n{calls}}}\n"),
        )],
    ));
    let rules = Kit::load(&layers).expect("it loads").rules();
    assert!(
        rules.problems().next().is_none(),
        "{:?}",
        rules.problems().map(|p| p.to_string()).collect::<Vec<_>>()
    );
}

#[test]
fn a_new_rule_passes_and_nothing_is_written_over() {
    let folder =
        std::env::temp_dir().join(format!("dryfit-new-{}", std::process::id())).join("rules");
    let kit = built_in();
    let written = new_rule::write(&kit, &folder, "house_style").expect("it is written");
    let report = cases::run_top(&with(&folder), None).expect("it loads");
    assert!(report.good() && report.cases == 3 && report.exit_code() == 0, "{report:?}");
    let before = fs::read_to_string(&written.rules).expect("it is there");
    assert!(new_rule::write(&kit, &folder, "house_style").is_err());
    assert_eq!(fs::read_to_string(&written.rules).expect("it is there"), before);
    for name in ["power", "House", "a-b", "", "../x", "case"] {
        assert!(new_rule::write(&kit, &folder, name).is_err(), "{name} cannot be a rule file");
    }
    assert_eq!(fs::read_dir(&folder).expect("it is there").count(), 2);
    let _ = fs::remove_dir_all(folder.parent().unwrap_or(&folder));
}

#[test]
fn nothing_is_odd_in_the_rules_that_ship() {
    for folder in ["rules", "examples/shop-rules/rules"] {
        let layers = with(Path::new(folder));
        let kit = Kit::load(&layers).expect("it loads");
        let layer = &layers.rules.last().expect("the folder").label;
        assert!(kit.rules().rules.iter().any(|r| r.layer == *layer), "{folder} has no rule");
        let found: Vec<String> =
            lint::lint(&kit, &layers).iter().map(ToString::to_string).collect();
        assert!(found.is_empty(), "{folder}: {found:#?}");
    }
}

#[test]
fn the_shop_folder_is_tested_through() {
    let layers = with(Path::new("examples/shop-rules/rules"));
    let report = cases::run_top(&layers, None).expect("it loads");
    assert!(report.good(), "{:?}", report.failures);
    assert!(report.warnings.is_empty() && report.unreached.is_empty());
    let mutation = mutate::mutate(&layers, None, 1, &|_, _| {}).expect("its cases hold");
    assert!(mutation.share() >= 95.0, "{}", mutate::text(LOOK, &mutation));
}

#[test]
fn the_shop_folder_does_as_it_says() {
    let layers = with(Path::new("examples/shop-rules/rules"));
    let kit = Kit::load(&layers).expect("it loads");
    let own = kit
        .rules()
        .rules
        .iter()
        .filter(|r| r.layer.ends_with("shop-rules/rules") && r.unit.is_none())
        .count();
    assert!(own >= 8, "{own} rules of its own");
    let source =
        read_source(Path::new("examples/shop-rules/harbour-records.toml")).expect("it is read");
    let audit = kit.audit(&kit.read(&source, date(2026, 11, 20)).expect("it is whole"));
    let waived: Vec<(String, Level)> = audit
        .findings()
        .into_iter()
        .filter(|f| f.waived.is_some())
        .map(|f| (f.rule, f.level))
        .collect();
    assert_eq!(
        waived,
        [
            ("front_panel.leads".to_owned(), Level::Stop),
            ("records.memory".to_owned(), Level::Caution)
        ]
    );
    assert!(
        audit.waiver_problems().is_empty()
            && audit.broken().is_empty()
            && audit.warnings().is_empty()
    );
    assert_eq!(audit.exit_code(), 0);
    assert_eq!(
        audit.decided().iter().map(|(id, c)| (id.as_str(), c.off)).collect::<Vec<_>>(),
        [("bench.lift", true), ("front_panel.leads", false)]
    );
    let late = kit.audit(
        &kit.read(
            &dryfit::inside::source::Source::new(
                "late.toml",
                source.text.replace("2026-11-20", "2027-03-01"),
            ),
            date(2027, 3, 1),
        )
        .expect("it is whole"),
    );
    assert!(
        late.waiver_problems()
            .iter()
            .any(|p| p.message.contains("records.memory ended on 2027-02-28")),
        "an old waiver is told"
    );
}

#[test]
fn lists_and_pages_say_where_each_thing_comes_from() {
    let layers = with(Path::new("examples/shop-rules/rules"));
    let kit = Kit::load(&layers).expect("it loads");
    let flat = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let list = |wanted| flat(listing::list(LOOK, &kit, wanted).expect("there is such a list"));
    let all = list(Wanted { settings: true, ..Wanted::default() });
    assert!(all.contains("[built in]") && all.contains("[examples/shop-rules/rules]"), "{all}");
    assert!(all.contains("switched off in examples/shop-rules/rules/settings.toml"), "{all}");
    let shop = list(Wanted { layer: Some("shop-rules"), settings: true, ..Wanted::default() });
    assert!(
        shop.contains("house.glass")
            && shop.contains("bench.lift")
            && shop.contains("power.headroom")
            && !shop.contains("fit.card_length"),
        "{shop}"
    );
    let stops = list(Wanted {
        level: Some(Level::Stop),
        subject: Some("front_panel"),
        ..Wanted::default()
    });
    assert!(stops.contains("front_panel.leads") && !stops.contains("fit."), "{stops}");
    assert!(
        listing::list(LOOK, &kit, Wanted { layer: Some("nowhere"), ..Wanted::default() }).is_err()
    );
    let page = rule_page::explain(LOOK, &kit, &layers, "house.old_offer")
        .map(flat)
        .expect("there is such a rule");
    for words in [
        "Source: agreed at the bench",
        "Setting: house.offer_days = 183 days",
        "Reads, over its cases:",
        "fan.offer_age_days",
        "Fires in this case",
        "Stays silent in this case",
        "Its script",
    ] {
        assert!(page.contains(words), "no {words} in {page}");
    }
    assert!(
        rule_page::explain(LOOK, &kit, &layers, "house.old_ofer")
            .is_err_and(|p| p.help.is_some_and(|h| h.contains("house.old_offer")))
    );
}

#[test]
fn the_shipped_rules_name_only_what_there_is() {
    let rules = built_in().rules();
    let said: Vec<String> =
        rules.problems().chain(rules.warnings.iter().cloned()).map(|p| p.to_string()).collect();
    assert!(said.is_empty(), "{said:?}");
}
