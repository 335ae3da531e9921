//! Laws of money: sums against an independent decimal library, rates of exchange, and what a
//! seller's feed leaves behind.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::rc::Rc;
use std::str::FromStr as _;
use std::sync::Arc;
use std::time::Duration;

use dryfit::inside::build::orders::{Orders, orders};
use dryfit::inside::build::resolve::Resolved;
use dryfit::inside::prices::import::{Done, Map, import};
use dryfit::inside::source::Source;
use dryfit::inside::trade::money::{Money, Rate, Rounding};
use dryfit::{Kit, Layers};
use rust_decimal::{Decimal, RoundingStrategy};

use crate::{feed, share, watch};

/// A small generator of the test's own.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % below as u64) as usize
    }
}

fn kit() -> Kit {
    Kit::load(&Layers::built_in()).unwrap_or_else(|p| panic!("{p}"))
}

/// One offer as the file has it.
#[derive(Clone)]
struct Row {
    day: String,
    till: Decimal,
    shipping: Decimal,
    rebate: Decimal,
    credit: Decimal,
    seller: String,
    gone: bool,
}

/// The shipped offers by part, read without the library.
fn offers() -> BTreeMap<String, Vec<Row>> {
    let mut by_part: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("catalogue/offers");
    for entry in fs::read_dir(folder).unwrap_or_else(|e| panic!("{e}")).flatten() {
        let mut reader = csv::Reader::from_path(entry.path()).unwrap_or_else(|e| panic!("{e}"));
        for row in reader.records().flatten() {
            let money =
                |at: usize| Decimal::from_str(row.get(at).unwrap_or("")).unwrap_or(Decimal::ZERO);
            let offer = Row {
                day: row[2].to_owned(),
                till: money(3) - money(7),
                shipping: money(5),
                rebate: money(8),
                credit: money(9),
                seller: row[1].to_owned(),
                gone: &row[6] == "0",
            };
            if &row[4] == "EUR" {
                by_part.entry(row[0].to_owned()).or_default().push(offer);
            }
        }
    }
    by_part
}

/// The offer that counts on a day: the newest of each seller, the cheapest that is in stock, the
/// first by name among equals.
fn counts<'a>(rows: &'a [Row], day: &str) -> Option<&'a Row> {
    let mut newest: BTreeMap<&str, &Row> = BTreeMap::new();
    for row in rows.iter().filter(|r| r.day.as_str() <= day) {
        let held = newest.entry(&row.seller).or_insert(row);
        if held.day <= row.day {
            *held = row;
        }
    }
    let some = newest.values().any(|r| !r.gone);
    newest
        .into_values()
        .filter(|r| !some || !r.gone)
        .min_by(|a, b| a.till.cmp(&b.till).then_with(|| a.seller.cmp(&b.seller)))
}

/// What orders come to.
#[derive(Default)]
struct Ordered {
    goods: Decimal,
    shipping: Decimal,
    rebates: Decimal,
    credit: Decimal,
}

/// Adds up who is ordered from, each line at that seller's newest offer.
fn ordered(orders: &Orders, offers: &BTreeMap<String, Vec<Row>>, day: &str) -> Ordered {
    let mut sum = Ordered::default();
    for order in &orders.orders {
        let (mut goods, mut shipping) = (Decimal::ZERO, Decimal::ZERO);
        for line in &order.lines {
            let own = offers[&*line.part].iter().filter(|r| *r.seller == *order.seller);
            let row = own.filter(|r| r.day.as_str() <= day).max_by(|a, b| a.day.cmp(&b.day));
            let row = row.unwrap_or_else(|| panic!("{} of {}", line.part, order.seller));
            let count = Decimal::from(line.count);
            goods += row.till * count;
            shipping = shipping.max(row.shipping);
            sum.rebates += row.rebate * count;
            sum.credit += row.credit * count;
        }
        // As table `seller` has it.
        let free = match &*order.seller {
            "Causeway Parts" => goods >= Decimal::from(600),
            "Lantern Mail Order" => goods >= Decimal::from(400),
            _ => true,
        };
        sum.goods += goods;
        sum.shipping += if free { Decimal::ZERO } else { shipping };
    }
    sum
}

#[test]
fn sums_agree_with_a_decimal_library() {
    let (kit, offers) = (kit(), offers());
    let parts: Vec<String> = kit.catalogue().parts().map(|p| p.id.to_string()).collect();
    let mut dice = Dice(11);
    for round in 0..share::of(2_000) {
        let day = format!("2026-{:02}-{:02}", 7 + dice.roll(5), 1 + dice.roll(28));
        let mut text = format!("priced_on = {day}\n");
        let mut best = Decimal::ZERO;
        for _ in 0..1 + dice.roll(20) {
            let (part, count, owned) =
                (&parts[dice.roll(parts.len())], 1 + dice.roll(99), dice.roll(6) == 0);
            text.push_str(&format!(
                "[[line]]\npart = \"{part}\"\ncount = {count}\nowned = {owned}\nincluded = false\n"
            ));
            if let Some(row) =
                offers.get(part).and_then(|rows| counts(rows, &day)).filter(|_| !owned)
            {
                best += row.till * Decimal::from(count);
            }
        }
        let build = kit
            .read(&Source::new("<list>", text.clone()), jiff::civil::date(2026, 11, 20))
            .unwrap_or_else(|p| panic!("{p}\n{text}"));
        let resolved = Rc::new(Resolved::new(Arc::new(build), kit.catalogue().clone()));
        let bill = resolved.bill();
        let ordered = ordered(&orders(&resolved), &offers, &day);
        for (name, ours, theirs) in [
            ("goods", bill.paid.goods, ordered.goods),
            ("shipping", bill.paid.shipping, ordered.shipping),
            ("rebates", bill.rebates, ordered.rebates),
            ("credit", bill.credit, ordered.credit),
        ] {
            assert_eq!(Decimal::new(ours, 2), theirs, "round {round}, {name}:\n{text}");
        }
        let total = ordered.goods + ordered.shipping;
        assert_eq!(format!("{:.2}", resolved.total()), format!("{total:.2}"), "round {round}");
        assert!(ordered.goods >= best, "round {round}: no split has cheaper goods");
    }
}

#[test]
fn rates_of_exchange_round_as_a_decimal_library_does() {
    let mut dice = Dice(5);
    for _ in 0..share::of(20_000) {
        let (from, to) = (
            [("DKK", 2), ("JPY", 0), ("KWD", 3)][dice.roll(3)],
            [("EUR", 2), ("ISK", 0), ("TND", 3)][dice.roll(3)],
        );
        let (minor, units, decimals) =
            (dice.roll(100_000_000) as i64, dice.roll(2_000_000) as i64 + 1, dice.roll(7) as u32);
        let rate = Decimal::new(units, decimals);
        let amount = Decimal::new(minor, from.1);
        let exact =
            (amount * rate).round_dp_with_strategy(to.1, RoundingStrategy::MidpointAwayFromZero);
        let ours = Rate::parse(&format!("{rate} {}", to.0))
            .and_then(|rate| {
                rate.worth(&Money::parse(&format!("{amount} {}", from.0))?, Rounding::HalfUp)
            })
            .unwrap_or_else(|e| panic!("{amount} {rate}: {e}"));
        assert_eq!(Decimal::new(ours.minor(), to.1), exact, "{amount} {} at {rate}", from.0);
    }
}

fn folder(name: &str) -> PathBuf {
    let folder =
        Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("money-{name}-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap_or_else(|e| panic!("{e}"));
    folder
}

fn map() -> Map {
    Map::read(&Source::new("map.toml", feed::MAP)).unwrap_or_else(|p| panic!("{p}"))
}

fn part_ids(kit: &Kit) -> Vec<&str> {
    kit.catalogue().parts().map(|p| &*p.id).collect()
}

fn take(kit: &Kit, feed: &Path, into: Option<&Path>, at: &Path) -> Done {
    import(kit.catalogue(), &map(), feed, into, at, &mut |_, _| {})
        .unwrap_or_else(|p| panic!("{p}"))
}

#[test]
fn a_feed_taken_twice_adds_nothing_and_reads_back_as_it_was() {
    let (kit, folder) = (kit(), folder("twice"));
    let (path, out) = (folder.join("feed.csv"), folder.join("new.csv"));
    feed::write(&part_ids(&kit), &path, 5_000, 1_000);
    let dry = take(&kit, &path, None, &out);
    assert!(!out.exists(), "a dry run writes nothing");
    let first = take(&kit, &path, Some(&out), &out);
    assert_eq!((first.added, first.unmatched), (dry.added, 3_750));
    assert_eq!(first.added + first.known + first.twice, 1_250);
    let written = fs::read(&out).unwrap_or_default();
    let again = take(&kit, &path, Some(&out), &out);
    assert_eq!((again.added, again.known), (0, first.added));
    assert_eq!(fs::read(&out).unwrap_or_default(), written);
    assert_eq!(
        fs::read_dir(&folder).map(Iterator::count).unwrap_or(0),
        2,
        "nothing is left beside it"
    );
    let _ = fs::remove_dir_all(&folder);
}

#[test]
#[cfg(target_os = "linux")]
fn a_feed_a_hundred_times_as_long_takes_no_more_memory() {
    let (kit, folder) = (kit(), folder("long"));
    fs::write(folder.join("map.toml"), feed::MAP).unwrap_or_else(|e| panic!("{e}"));
    let peak = |rows: usize| {
        let path = folder.join(format!("feed-{rows}.csv"));
        feed::write(&part_ids(&kit), &path, rows, 7);
        let mut command = Command::new(env!("CARGO_BIN_EXE_dryfit"));
        command
            .args(["prices", "import"])
            .arg(&path)
            .args(["--map", "map.toml", "--write", "--into"])
            .arg(format!("new-{rows}.csv"))
            .current_dir(&folder);
        let mut child = command.stdout(Stdio::null()).spawn().unwrap_or_else(|e| panic!("{e}"));
        let used =
            watch::watch(&mut child, Duration::from_secs(60)).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(used.code, Some(0));
        assert!(folder.join(format!("new-{rows}.csv")).exists(), "it was written");
        used.peak_kb
    };
    let (short, long) = (peak(4_000), peak(400_000));
    let _ = fs::remove_dir_all(&folder);
    assert!(
        long < short + (4 << 10),
        "{} MiB for 4,000 rows, {} MiB for 400,000",
        short >> 10,
        long >> 10
    );
}
