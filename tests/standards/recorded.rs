//! Holds the arithmetic to what other tools gave, as recorded.

use super::calls::{CFM_M3S, timing};
use dryfit::inside::trade::air::{self, FanCurve};
use dryfit::inside::trade::heat::{self, Chamber};
use dryfit::inside::trade::money::{Currency, Rate, Rounding};
use dryfit::inside::trade::network::{Edge, Flows, solve_flows};
use dryfit::inside::trade::video;
use dryfit::{Kit, Layers};

/// A line of a recorded table, its cells by name.
struct Line<'a> {
    names: Vec<&'a str>,
    cells: Vec<&'a str>,
}

impl<'a> Line<'a> {
    fn text(&self, name: &str) -> &'a str {
        let at = self.names.iter().position(|held| *held == name);
        let Some(cell) = at.and_then(|at| self.cells.get(at)) else {
            panic!("no cell {name} in {:?}", self.cells)
        };
        cell
    }

    fn number(&self, name: &str) -> f64 {
        let Ok(number) = self.text(name).parse() else {
            panic!("{name} is not a number in {:?}", self.cells)
        };
        number
    }

    fn whole(&self, name: &str) -> u32 {
        self.number(name) as u32
    }
}

/// The lines of a recorded table, which starts with a comment that says where it comes from.
fn lines(table: &str) -> Vec<Line<'_>> {
    assert!(table.starts_with("# "), "a recorded table says where it comes from");
    let mut rows = table
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split(',').collect::<Vec<_>>());
    let names = rows.next().unwrap_or_default();
    let lines: Vec<_> = rows.map(|cells| Line { names: names.clone(), cells }).collect();
    assert!(lines.len() > 10, "the table is nearly empty");
    lines
}

fn ok<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    result.unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn air_agrees_with_a_property_library() {
    for line in lines(include_str!("recorded/air.csv")) {
        let (altitude, celsius) = (line.number("altitude_m"), line.number("celsius"));
        let density = ok(air::density(altitude, celsius));
        let cfm = 1.0 / ok(air::heat_per_m3(altitude, celsius)) / CFM_M3S;
        let off = |found: f64, wanted: f64| (found / wanted - 1.0).abs();
        // An ideal gas of constant heat capacity is what the sum takes air for; it is off by less
        // than 0.2 % from 0 °C to 50 °C.
        assert!(
            off(density, line.number("density")) < 0.001,
            "{altitude} m, {celsius} °C: {density}"
        );
        assert!(off(cfm, line.number("cfm_k_per_w")) < 0.002, "{altitude} m, {celsius} °C: {cfm}");
    }
}

#[test]
fn pressure_agrees_with_the_standard_atmosphere() {
    for line in lines(include_str!("recorded/atmosphere.csv")) {
        let (by_ruler, wanted) = (line.number("altitude_m"), line.number("pressure_pa"));
        // The table takes heights by the ruler, the formula by gravity: 8000 m are 10 m less
        // (radius of the Earth in the standard: 6356766 m).
        let found = ok(air::pressure_pa(by_ruler * 6_356_766.0 / (6_356_766.0 + by_ruler)));
        assert!((found / wanted - 1.0).abs() < 1e-4, "{by_ruler} m: {found}, wanted {wanted}");
    }
}

#[test]
fn currencies_agree_with_two_carriers_of_the_standard() {
    let carried = lines(include_str!("recorded/currencies.csv"));
    // The second carrier follows shops rather than the standard for these two.
    let in_shops = ["IQD", "RSD"];
    for currency in Currency::all() {
        let Some(line) = carried.iter().find(|line| line.text("code") == currency.code()) else {
            panic!("{currency} is in neither")
        };
        assert_eq!(line.whole("moneyed"), u32::from(currency.minor_digits()), "{currency}");
        assert_eq!(
            line.whole("babel") != u32::from(currency.minor_digits()),
            in_shops.contains(&currency.code()),
            "{currency}"
        );
    }
}

#[test]
fn rounding_agrees_with_a_decimal_library() {
    for line in lines(include_str!("recorded/rounding.csv")) {
        let (amount, currency) = (line.text("amount"), line.text("currency"));
        let rate = ok(Rate::parse(&format!("{amount} {currency}")));
        let rounded = |how| ok(rate.round(how)).to_string();
        assert_eq!(
            rounded(Rounding::HalfUp),
            format!("{} {currency}", line.text("half_up")),
            "{amount}"
        );
        assert_eq!(
            rounded(Rounding::HalfEven),
            format!("{} {currency}", line.text("half_even")),
            "{amount}"
        );
    }
}

/// A recorded mode and the one worked out for it.
fn mode(line: &Line<'_>) -> video::Mode {
    ok(video::mode(line.whole("w"), line.whole("h"), line.number("fps"), timing(line.whole("rb"))))
}

#[test]
fn modes_agree_with_the_trades_list() {
    for line in
        lines(include_str!("recorded/mode_timings.csv")).iter().filter(|line| line.whole("rb") < 3)
    {
        let mode = mode(line);
        assert_eq!(
            (mode.total_width, mode.total_height),
            (line.number("htotal"), line.number("vtotal")),
            "{:?}",
            line.cells
        );
        // The figures are printed to 1 kHz, 1 µHz and 0.1 Mbit/s.
        assert!(
            (mode.clock_mhz - line.number("pclk_mhz")).abs() < 5e-4,
            "{:?}: {mode:?}",
            line.cells
        );
        assert!(
            (mode.refresh_hz() - line.number("hz")).abs() < 1e-5,
            "{:?}: {}",
            line.cells,
            mode.refresh_hz()
        );
        assert!((mode.gbps(24.0) - line.number("gbps8")).abs() < 6e-5, "{:?}", line.cells);
        assert!((mode.gbps(30.0) - line.number("gbps10")).abs() < 6e-5, "{:?}", line.cells);
    }
}

#[test]
fn modes_of_all_shapes_agree_with_a_reference_decoder() {
    for line in lines(include_str!("recorded/modes.csv")) {
        let mode = mode(&line);
        // Widths are cut to cells of 8 except in version 2. The decoder's clock is of the cut
        // width, but it prints the blanking beside the full one.
        let cut_off = if line.whole("rb") == 2 { 0.0 } else { line.number("w") % 8.0 };
        assert_eq!(
            (mode.total_width + cut_off, mode.total_height),
            (line.number("htotal"), line.number("vtotal")),
            "{:?}",
            line.cells
        );
        // Where the exact clock is a whole number of steps, as 27.060 MHz for 880 x 615 x 50, the
        // decoder's binary fraction may fall a hair short and lose a step of 1 kHz; nowhere else
        // may it differ.
        let exact_hz = mode.total_width * mode.total_height * line.number("fps");
        let lost = line.whole("rb") == 2
            && exact_hz % 1000.0 == 0.0
            && (mode.clock_mhz - exact_hz / 1e6).abs() < 1e-9;
        let allowed = if lost { 1.5e-3 } else { 5e-4 };
        assert!(
            (mode.clock_mhz - line.number("pclk_mhz")).abs() < allowed,
            "{:?}: {mode:?}",
            line.cells
        );
    }
}

#[test]
fn link_payloads_agree_with_the_trades_list() {
    let kit = Kit::load(&Layers::built_in()).unwrap_or_else(|problems| panic!("{problems:?}"));
    let catalogue = kit.catalogue();
    let payload = |row: &str| {
        let table = catalogue.table_id("link").and_then(|id| catalogue.table(id));
        table
            .and_then(|t| t.column("payload_gbps").and_then(|at| t.cell(row, at).as_num()))
            .unwrap_or_else(|| panic!("no link {row}"))
    };
    for line in lines(include_str!("recorded/link_payloads.csv")) {
        let row = match line.text("link") {
            "DP RBR x4" => "dp-rbr",
            "DP HBR x4" => "dp-hbr",
            "DP HBR2 x4" => "dp-hbr2",
            "DP HBR3 x4" => "dp-hbr3",
            "DP UHBR10 x4" => "dp-uhbr10",
            "DP UHBR13.5 x4" => "dp-uhbr13.5",
            "DP UHBR20 x4" => "dp-uhbr20",
            "HDMI 1.4 TMDS 10.2" => "hdmi-14",
            "HDMI 2.0 TMDS 18" => "hdmi-20",
            "HDMI 2.1 FRL1 3x3" => "hdmi-frl1",
            "HDMI 2.1 FRL2 3x6" => "hdmi-frl2",
            "HDMI 2.1 FRL3 4x6" => "hdmi-frl3",
            "HDMI 2.1 FRL4 4x8" => "hdmi-frl4",
            "HDMI 2.1 FRL5 4x10" => "hdmi-frl5",
            "HDMI 2.1 FRL6 4x12" => "hdmi-frl6",
            other => panic!("unknown link {other}"),
        };
        let found = payload(row);
        assert!((found - line.number("effective_gbps")).abs() < 6e-5, "{:?}: {found}", line.cells);
    }
}

/// A recorded network, with the flows that were found for it.
struct Network {
    name: u32,
    nodes: usize,
    edges: Vec<Edge>,
    flows: Vec<f64>,
}

fn networks() -> Vec<Network> {
    let mut networks: Vec<Network> = Vec::new();
    for line in lines(include_str!("recorded/networks.csv")) {
        let name = line.whole("network");
        if networks.last().is_none_or(|last| last.name != name) {
            networks.push(Network {
                name,
                nodes: line.whole("nodes") as usize,
                edges: Vec::new(),
                flows: Vec::new(),
            });
        }
        let fan = FanCurve::new(line.number("shutoff_pa"), line.number("free_m3s")).ok();
        let edge = Edge {
            from: line.whole("from") as usize,
            to: line.whole("to") as usize,
            fan,
            resistance: line.number("resistance"),
        };
        if let Some(network) = networks.last_mut() {
            network.edges.push(edge);
            network.flows.push(line.number("flow_m3s"));
        }
    }
    networks
}

fn solved(network: &Network) -> Flows {
    ok(solve_flows(network.nodes, &network.edges))
}

#[test]
fn flows_agree_with_a_general_solver() {
    let networks = networks();
    assert!(networks.len() >= 30);
    for network in &networks {
        let found = solved(network);
        assert!(
            found.residual_m3s < 1e-9 && found.residual_pa < 1e-4,
            "network {}: {found:?}",
            network.name
        );
        for (at, (flow, wanted)) in found.flows.iter().zip(&network.flows).enumerate() {
            // A millionth of a m³/s is 0.002 cubic feet a minute.
            assert!(
                (flow - wanted).abs() < 1e-6,
                "network {}, edge {at}: {flow}, wanted {wanted}",
                network.name
            );
        }
    }
}

#[test]
fn temperatures_agree_with_a_simulation_in_time() {
    let networks = networks();
    for line in lines(include_str!("recorded/heat.csv")) {
        let Some(network) = networks.iter().find(|network| network.name == line.whole("network"))
        else {
            panic!("no network {}", line.whole("network"))
        };
        let chambers: Vec<Chamber> = (1..network.nodes)
            .map(|node| Chamber { heat_w: 10.0 * node as f64 + 5.0, wall_w_per_k: 0.0 })
            .collect();
        let found =
            ok(heat::chamber_c(22.0, 1200.0, &chambers, &network.edges, &solved(network).flows));
        let celsius = found.get(line.whole("node") as usize).copied().flatten().unwrap_or(f64::NAN);
        assert!((celsius - line.number("celsius")).abs() < 0.02, "{:?}: {celsius}", line.cells);
    }
}
