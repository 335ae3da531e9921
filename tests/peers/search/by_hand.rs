//! The same two questions answered by a search that was written for these fifteen rules and no
//! others: a yardstick of what a general search may cost.
//!
//!     rustc -O -o by_hand by_hand.rs && ./by_hand DIR
//!
//! Prints, for each question, the optimum, the word `proven`, the milliseconds of reading, and those
//! of the search, both of processor time.
//! Parts that another of the same kind beats in all that a rule looks at are left out first. Then
//! processors and cards are tried in pairs, the most promising first, and for each pair the rest is
//! filled kind by kind, the cheapest first, while it can still come out cheaper.

use std::collections::HashMap;
use std::path::Path;

/// A part: what must be the same for one to beat another, what should be small, and its price in
/// cents.
#[derive(Clone)]
struct Part {
    same: Vec<i64>,
    small: Vec<i64>,
    price: i64,
}

type Row = HashMap<String, String>;

fn rows(root: &Path, kind: &str, prices: &HashMap<String, i64>) -> Vec<(Row, i64)> {
    let text = std::fs::read_to_string(root.join(format!("catalogue/parts/{kind}.toml"))).unwrap();
    let mut all: Vec<(Row, i64)> = Vec::new();
    for line in text.lines() {
        if let Some(name) = line.strip_prefix('[').and_then(|l| l.strip_suffix(']')) {
            all.push((Row::new(), prices[&format!("{kind}/{name}")]));
        } else if let (Some((key, value)), Some((row, _))) =
            (line.split_once(" = "), all.last_mut())
        {
            row.insert(key.to_owned(), value.trim_matches('"').to_owned());
        }
    }
    all
}

/// A letter or a word as a number.
fn code(text: &str) -> i64 {
    text.bytes().fold(0, |n, b| n * 256 + i64::from(b))
}

fn parts(
    rows: &[(Row, i64)],
    same: impl Fn(&Row) -> Vec<i64>,
    small: impl Fn(&Row) -> Vec<i64>,
) -> Vec<Part> {
    rows.iter()
        .map(|(row, price)| Part { same: same(row), small: small(row), price: *price })
        .collect()
}

/// Without the parts that another beats, the cheapest first.
fn unbeaten(all: &[Part]) -> Vec<Part> {
    let mut all = all.to_vec();
    all.sort_by(|a, b| a.price.cmp(&b.price).then_with(|| a.small.cmp(&b.small)));
    let mut groups: HashMap<Vec<i64>, Vec<Part>> = HashMap::new();
    for part in all {
        let kept = groups.entry(part.same.clone()).or_default();
        if !kept.iter().any(|held| held.small.iter().zip(&part.small).all(|(a, b)| a <= b)) {
            kept.push(part);
        }
    }
    let mut kept: Vec<Part> = groups.into_values().flatten().collect();
    kept.sort_by(|a, b| a.price.cmp(&b.price).then_with(|| a.same.cmp(&b.same)));
    kept
}

fn number(row: &Row, key: &str) -> i64 {
    row[key].parse().unwrap()
}

/// Every kind.
struct Catalogue {
    /// Socket and index; draw.
    processors: Vec<Part>,
    /// Index; length, draw.
    cards: Vec<Part>,
    /// Socket, memory; size, M.2 sockets (negative).
    boards: Vec<Part>,
    /// Memory; height.
    memory: Vec<Part>,
    /// Whether on the board, draw.
    storage: Vec<Part>,
    /// Size, room for the card, for the cooler, exchange (all negative).
    cases: Vec<Part>,
    /// Rating (negative).
    supplies: Vec<Part>,
    /// Height, rating (negative), room over memory (negative), then by socket 0 where it fits.
    coolers: Vec<Part>,
    /// Air (negative), draw.
    fans: Vec<Part>,
    /// Pixels a second.
    displays: Vec<Part>,
}

fn catalogue(all: &HashMap<&str, Vec<(Row, i64)>>) -> Catalogue {
    let n = number;
    let large = |key: &'static str, least: i64| {
        move |(row, _): &&(Row, i64)| number(row, key) >= least
    };
    let enough = |kind: &str, least: i64| -> Vec<(Row, i64)> {
        all[kind].iter().filter(large("gb", least)).cloned().collect()
    };
    let fits = |row: &Row, socket: char| i64::from(!row["sockets"].contains(socket));
    Catalogue {
        processors: parts(
            &all["processor"],
            |r| vec![code(&r["socket"]), n(r, "index")],
            |r| vec![n(r, "draw_w")],
        ),
        cards: parts(
            &all["graphics"],
            |r| vec![n(r, "index")],
            |r| vec![n(r, "length_mm"), n(r, "draw_w")],
        ),
        boards: parts(
            &all["board"],
            |r| vec![code(&r["socket"]), code(&r["memory"])],
            |r| vec![n(r, "size"), -n(r, "m2").min(1)],
        ),
        memory: parts(
            &enough("memory", 16),
            |r| vec![code(&r["memory"])],
            |r| vec![n(r, "height_mm")],
        ),
        storage: parts(
            &enough("storage", 1000),
            |_| vec![],
            |r| vec![i64::from(r["on_board"] == "true"), n(r, "draw_w")],
        ),
        cases: parts(
            &all["chassis"],
            |_| vec![],
            |r| vec![-n(r, "size"), -n(r, "card_mm"), -n(r, "cooler_mm"), -n(r, "exchange")],
        ),
        supplies: parts(&all["supply"], |_| vec![], |r| vec![-n(r, "rated_w")]),
        coolers: parts(
            &all["cooler"],
            |_| vec![],
            |r| {
                let sockets = ['a', 'b', 'c'].map(|s| fits(r, s));
                let first = [n(r, "height_mm"), -n(r, "rated_w"), -n(r, "over_memory_mm")];
                [first, sockets].concat()
            },
        ),
        fans: parts(&all["fan"], |_| vec![], |r| vec![-n(r, "moves"), n(r, "draw_w")]),
        displays: parts(&all["display"], |_| vec![], |r| vec![n(r, "pixels") * n(r, "refresh")]),
    }
}

impl Catalogue {
    fn unbeaten(&self) -> Self {
        Self {
            processors: unbeaten(&self.processors),
            cards: unbeaten(&self.cards),
            boards: unbeaten(&self.boards),
            memory: unbeaten(&self.memory),
            storage: unbeaten(&self.storage),
            cases: unbeaten(&self.cases),
            supplies: unbeaten(&self.supplies),
            coolers: unbeaten(&self.coolers),
            fans: unbeaten(&self.fans),
            displays: unbeaten(&self.displays),
        }
    }

    /// The cheapest price of what goes with a processor and a card, below a limit.
    fn rest(&self, processor: &Part, card: &Part, limit: i64) -> Option<i64> {
        let (socket, index) = (processor.same[0], card.same[0]);
        let display = self.displays.iter().find(|d| d.small[0] <= 4_000_000 * index)?;
        let first = |all: &[Part]| all.first().map_or(0, |p| p.price);
        let at_socket = 3 + (socket - i64::from(b'a')) as usize;
        let coolers: Vec<&Part> = self
            .coolers
            .iter()
            .filter(|c| -c.small[1] >= processor.small[0] && c.small[at_socket] == 0)
            .collect();
        let cases: Vec<&Part> =
            self.cases.iter().filter(|c| -c.small[1] >= card.small[0]).collect();
        let boards: Vec<&Part> = self.boards.iter().filter(|b| b.same[0] == socket).collect();
        let (cooler0, case0) = (coolers.first()?.price, cases.first()?.price);
        let (board0, memory0) = (boards.first()?.price, first(&self.memory));
        let supply = |draw: i64| {
            self.supplies.iter().find(|s| 4 * -s.small[0] >= 5 * draw).map(|s| s.price)
        };
        let mut best = limit;
        let mut found = None;
        for storage in &self.storage {
            for fan in &self.fans {
                let draw = processor.small[0] + card.small[1] + storage.small[1] + fan.small[1];
                let Some(supply) = supply(draw) else { continue };
                let so_far = display.price + storage.price + fan.price + supply;
                if so_far + cooler0 + case0 + board0 + memory0 >= best {
                    break;
                }
                for case in &cases {
                    if so_far + case.price + cooler0 + board0 + memory0 >= best {
                        break;
                    }
                    if 10 * (-fan.small[0] - case.small[3]) < 3 * draw {
                        continue;
                    }
                    for cooler in &coolers {
                        let so_far = so_far + case.price + cooler.price;
                        if so_far + board0 + memory0 >= best {
                            break;
                        }
                        if cooler.small[0] > -case.small[2] {
                            continue;
                        }
                        let held = |b: &&&Part| {
                            b.small[0] <= -case.small[0] && -b.small[1] >= storage.small[0]
                        };
                        for board in boards.iter().filter(held) {
                            if so_far + board.price + memory0 >= best {
                                break;
                            }
                            let memory = self.memory.iter().find(|m| {
                                m.same[0] == board.same[1] && m.small[0] <= -cooler.small[2]
                            });
                            let Some(memory) = memory else { continue };
                            if so_far + board.price + memory.price < best {
                                best = so_far + board.price + memory.price;
                                found = Some(best);
                            }
                        }
                    }
                }
            }
        }
        found
    }

    /// Processors and cards that may be together.
    fn pairs(&self, processor: i64, card: i64) -> Vec<(&Part, &Part)> {
        let mut pairs = Vec::new();
        for p in self.processors.iter().filter(|p| p.same[1] >= processor) {
            let with = self.cards.iter().filter(|c| c.same[0] >= card);
            pairs.extend(with.filter(|c| (c.same[0] - p.same[1]).abs() <= 60).map(|c| (p, c)));
        }
        pairs
    }

    /// What the cheapest of each other kind come to.
    fn least_rest(&self) -> i64 {
        let kinds = [
            &self.boards, &self.memory, &self.storage, &self.cases, &self.supplies, &self.coolers,
            &self.fans, &self.displays,
        ];
        kinds.iter().map(|kind| kind.first().map_or(0, |p| p.price)).sum()
    }

    fn cheapest(&self) -> i64 {
        let mut pairs = self.pairs(100, 110);
        pairs.sort_by_key(|(p, c)| p.price + c.price);
        let (mut best, rest) = (i64::MAX >> 2, self.least_rest());
        for (p, c) in pairs {
            let own = p.price + c.price;
            if own + rest >= best {
                break;
            }
            if let Some(rest) = self.rest(p, c, best - own) {
                best = own + rest;
            }
        }
        best
    }

    fn best_index(&self, budget: i64) -> (i64, i64) {
        let rest = self.least_rest();
        let mut pairs = self.pairs(0, 0);
        pairs.retain(|(p, c)| p.price + c.price + rest <= budget);
        pairs.sort_by_key(|(p, c)| (-p.same[1] - c.same[0], p.price + c.price));
        let (mut index, mut best) = (0, budget + 1);
        for (p, c) in pairs {
            let sum = p.same[1] + c.same[0];
            if sum < index {
                break;
            }
            if let Some(rest) = self.rest(p, c, best - p.price - c.price) {
                (index, best) = (sum, p.price + c.price + rest);
            }
        }
        (index, best)
    }
}

fn main() {
    let root = std::env::args().nth(1).expect("a folder that make.py made");
    let root = Path::new(&root);
    let offers = std::fs::read_to_string(root.join("catalogue/offers/all.csv")).unwrap();
    let price = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        (cells[0].to_owned(), (cells[3].parse::<f64>().unwrap() * 100.0).round() as i64)
    };
    let prices: HashMap<String, i64> = offers.lines().skip(1).map(price).collect();
    let kinds = [
        "processor", "board", "memory", "graphics", "storage", "chassis", "supply", "cooler",
        "fan", "display",
    ];
    let start = cpu_ms();
    let all = catalogue(&kinds.iter().map(|kind| (*kind, rows(root, kind, &prices))).collect());
    let read = cpu_ms() - start;
    let start = cpu_ms();
    let cheapest = all.unbeaten().cheapest();
    let took = cpu_ms() - start;
    println!("cheapest\t{:.2}\tproven\t{read:.1}\t{took:.1}", cheapest as f64 / 100.0);
    let start = cpu_ms();
    let (index, price) = all.unbeaten().best_index(140_000);
    let took = cpu_ms() - start;
    println!("best\t{index} {:.2}\tproven\t{read:.1}\t{took:.1}", price as f64 / 100.0);
}

/// Processor time of this thread, in milliseconds.
fn cpu_ms() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap();
    text.split(' ').next().unwrap().parse::<f64>().unwrap() / 1e6
}
