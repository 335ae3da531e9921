//! The functions under test, by the names that `checks.toml` uses.

use dryfit::inside::trade::air::{self, CFM_M3S, FanCurve};
use dryfit::inside::trade::fit::{self, Radiator};
use dryfit::inside::trade::memory::{self, RatedRate};
use dryfit::inside::trade::money::{Currency, Money, Rate, Rounding};
use dryfit::inside::trade::power::{self, SupplyClass};
use dryfit::inside::trade::video::{self, LinkFit, Mode, Timing};
use dryfit::inside::trade::{TradeError, storage};

/// A value that a row gives.
#[derive(Debug, Clone)]
pub(crate) enum Input {
    Number(f64),
    Text(String),
}

/// What came of it.
#[derive(Debug, Clone)]
pub(crate) enum Output {
    Number(f64),
    Text(String),
    /// In the words of the error.
    #[allow(dead_code, reason = "shown when a check fails")]
    Refused(String),
}

impl From<f64> for Output {
    fn from(value: f64) -> Self {
        Self::Number(value)
    }
}

impl From<Result<f64, TradeError>> for Output {
    fn from(value: Result<f64, TradeError>) -> Self {
        value.map_or_else(|error| Self::Refused(error.to_string()), Self::Number)
    }
}

impl From<Result<Money, TradeError>> for Output {
    fn from(value: Result<Money, TradeError>) -> Self {
        value.map_or_else(
            |error| Self::Refused(error.to_string()),
            |money| Self::Text(money.to_string()),
        )
    }
}

impl From<Option<f64>> for Output {
    fn from(value: Option<f64>) -> Self {
        value.map_or_else(|| Self::Refused("no answer".to_owned()), Self::Number)
    }
}

/// A row's inputs, by position.
struct Inputs<'a>(&'a [Input]);

impl Inputs<'_> {
    fn number(&self, at: usize) -> f64 {
        match self.0.get(at) {
            Some(Input::Number(number)) => *number,
            other => panic!("input {at} is {other:?}, and a number is wanted"),
        }
    }

    fn whole(&self, at: usize) -> u32 {
        self.number(at) as u32
    }

    fn text(&self, at: usize) -> &str {
        match self.0.get(at) {
            Some(Input::Text(text)) => text,
            other => panic!("input {at} is {other:?}, and a text is wanted"),
        }
    }

    fn numbers_from(&self, at: usize) -> Vec<f64> {
        (at..self.0.len()).map(|at| self.number(at)).collect()
    }
}

/// Calls a function by name.
pub(crate) fn call(name: &str, inputs: &[Input]) -> Output {
    let inputs = Inputs(inputs);
    let found = match name.split_once('.') {
        Some(("power", name)) => call_power(name, &inputs),
        Some(("air", name)) => call_air(name, &inputs),
        Some(("memory", name)) => call_memory(name, &inputs),
        Some(("video", name)) => call_video(name, &inputs),
        Some(("storage", name)) => call_storage(name, &inputs),
        Some(("fit", name)) => call_fit(name, &inputs),
        Some(("money", name)) => call_money(name, &inputs),
        _ => None,
    };
    found.unwrap_or_else(|| panic!("no function is called {name}"))
}

/// Pairs of load and efficiency from a position on.
fn points(inputs: &Inputs<'_>, at: usize) -> Vec<(f64, f64)> {
    inputs
        .numbers_from(at)
        .chunks_exact(2)
        .filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
        .collect()
}

fn call_power(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let n = |at| inputs.number(at);
    let class = || SupplyClass::of(n(0), n(1) == 1.0);
    Some(match name {
        "rail_low_v" => power::rail_range_v(n(0), n(1), n(2)).map(|range| range.0).into(),
        "rail_high_v" => power::rail_range_v(n(0), n(1), n(2)).map(|range| range.1).into(),
        "rail_w" => power::rail_w(n(0), n(1)).into(),
        "rail_amps" => power::rail_amps(n(0), n(1)).into(),
        "excursion_limit_w" => power::excursion_limit_w(n(0), class(), n(2)).into(),
        "excursion_duty_pct" => power::excursions(class())
            .iter()
            .find(|row| row.span_us == n(2))
            .map(|row| row.duty_pct)
            .into(),
        "excursion_base_w" => power::excursion_base_w(n(0), n(1), n(2)).into(),
        "efficiency" => {
            power::efficiency_at(&points(inputs, 1), n(0)).map(|found| found.value).into()
        }
        "efficiency_certified" => power::efficiency_at(&points(inputs, 1), n(0))
            .map(|found| f64::from(found.certified))
            .into(),
        "wall_at_load" => power::efficiency_at(&points(inputs, 2), n(0) / n(1))
            .and_then(|found| power::wall_w(n(0), found.value))
            .into(),
        "waste_w" => power::waste_w(n(0), n(1)).into(),
        "yearly_kwh" => power::yearly_kwh(n(0), n(1), n(2)).into(),
        "yearly_cost" => power::yearly_cost(n(0), n(1)).into(),
        "mains_amps" => power::mains_amps(n(0), n(1), n(2)).into(),
        "payback_years" => power::payback_years(n(0), n(1)).ok().flatten().into(),
        _ => return None,
    })
}

/// Flow of so many fans side by side and so many in line, against a resistance: P0, Q0, side by
/// side, in line, k.
fn flow_against(inputs: &Inputs<'_>) -> Result<f64, TradeError> {
    let fan = FanCurve::new(inputs.number(0), inputs.number(1))?;
    fan.side_by_side(inputs.whole(2)).in_line(inputs.whole(3)).flow_against(inputs.number(4))
}

fn call_air(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let n = |at| inputs.number(at);
    let to_cfm = |flow: f64| flow / CFM_M3S;
    Some(match name {
        "cfm_for_rise" => air::flow_for_rise(n(0), n(1), n(2), n(3)).map(to_cfm).into(),
        "rise_for_cfm" => air::rise_for_flow(n(0), n(1) * CFM_M3S, n(2), n(3)).into(),
        "flow_at_speed" => air::flow_at_speed(n(0), n(1)).into(),
        "pressure_at_speed" => air::pressure_at_speed(n(0), n(1)).into(),
        "power_at_speed" => air::power_at_speed(n(0), n(1)).into(),
        "noise_change_at_speed" => air::noise_change_at_speed(n(0)).into(),
        "total_db" => air::total_db(&inputs.numbers_from(0)).ok().flatten().into(),
        "db_at_distance" => air::db_at_distance(n(0), n(1), n(2)).into(),
        "flow_against" => flow_against(inputs).into(),
        "cfm_against" => flow_against(inputs).map(to_cfm).into(),
        _ => return None,
    })
}

fn call_memory(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let n = |at| inputs.number(at);
    let rated = |row: &[f64]| {
        Some(RatedRate {
            per_channel: *row.first()? as u32,
            ranks: *row.get(1)? as u32,
            mts: *row.get(2)?,
        })
    };
    Some(match name {
        "latency_ns" => memory::latency_ns(n(0), n(1)).into(),
        "tck_of_label" => memory::tck_ns(memory::exact_mts(n(0))).into(),
        "peak_gbytes" => memory::peak_gbytes(n(0), inputs.whole(1)).into(),
        "peak_of_label" => memory::peak_gbytes(memory::exact_mts(n(0)), inputs.whole(1)).into(),
        "rated_mts" => {
            let rows: Vec<RatedRate> =
                inputs.numbers_from(2).chunks_exact(3).filter_map(rated).collect();
            memory::rated_mts(&rows, inputs.whole(0), inputs.whole(1)).into()
        }
        _ => return None,
    })
}

/// Which timing the number `rb` stands for in the recorded lists.
pub(crate) fn timing(rb: u32) -> Timing {
    match rb {
        0 => Timing::Standard,
        1 => Timing::Reduced,
        2 => Timing::Reduced2,
        _ => panic!("no timing is numbered {rb}"),
    }
}

fn call_video(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let n = |at| inputs.number(at);
    let mode = || video::mode(inputs.whole(0), inputs.whole(1), n(2), timing(inputs.whole(3)));
    let bits = |mode: Mode| video::link_fit(&mode, n(4), n(5), true);
    Some(match name {
        "clock_mhz" => mode().map(|mode| mode.clock_mhz).into(),
        "gbps" => mode().map(|mode| mode.gbps(n(4))).into(),
        "payload_gbps" => video::payload_gbps(inputs.whole(0), n(1), n(2)).into(),
        "compressed_bits" => {
            let fit = mode().and_then(bits);
            fit.map(|fit| if let LinkFit::Compressed { bits } = fit { bits } else { 0.0 }).into()
        }
        _ => return None,
    })
}

fn call_storage(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let (n, whole) = (|at| inputs.number(at), |at| inputs.whole(at));
    Some(match name {
        "lane_gbytes" => storage::lane_gbytes(whole(0)).into(),
        "link_gbytes" => storage::link_gbytes((whole(0), whole(1)), (whole(2), whole(3))).into(),
        "sata_mbytes" => storage::sata_mbytes(n(0)).into(),
        "gb_to_gib" => storage::gb_to_gib(n(0)).into(),
        "gib_to_gb" => storage::gib_to_gb(n(0)).into(),
        "endurance_days" => storage::endurance_days(n(0), n(1)).into(),
        _ => return None,
    })
}

fn call_fit(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let n = |at| inputs.number(at);
    Some(match name {
        "slots_mm" => fit::slots_mm(inputs.whole(0)).into(),
        "slots_taken" => fit::slots_taken(n(0)).map(f64::from).into(),
        "radiator_stack_mm" => fit::radiator_stack_mm(n(0), n(1), inputs.whole(2)).into(),
        // Fans of a width on a radiator of a length: 0 where the radiator is not made for them.
        "radiator_fans" => {
            let radiator = Radiator::nominal(inputs.whole(0))
                .filter(|radiator| radiator.fan_mm == inputs.whole(1));
            radiator.map_or(0.0, |radiator| f64::from(radiator.fans)).into()
        }
        _ => return None,
    })
}

fn call_money(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let round = |how| Rate::parse(inputs.text(0)).and_then(|rate| rate.round(how));
    let amount = |at| Money::parse(inputs.text(at));
    let whole = |at| i64::from(inputs.whole(at));
    Some(match name {
        "minor_digits" => Currency::from_code(inputs.text(0))
            .map(|currency| f64::from(currency.minor_digits()))
            .into(),
        "parse" => amount(0).into(),
        "add" => amount(0).and_then(|one| one.checked_add(&amount(1)?)).into(),
        "round_half_up" => round(Rounding::HalfUp).into(),
        "round_half_even" => round(Rounding::HalfEven).into(),
        "taxed_each" => amount(0)
            .and_then(|one| one.scaled(whole(2), whole(3), Rounding::HalfUp)?.times(whole(1)))
            .into(),
        "taxed_sum" => amount(0)
            .and_then(|one| one.times(whole(1))?.scaled(whole(2), whole(3), Rounding::HalfUp))
            .into(),
        _ => return None,
    })
}
