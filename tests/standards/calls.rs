//! Functions of the host that audits call, by the names that `checks.toml` uses.

use dryfit::inside::trade::TradeError;
use dryfit::inside::trade::air::{self, FanCurve};
use dryfit::inside::trade::money::{Currency, Money, Rate, Rounding};
use dryfit::inside::trade::network::{Edge, ROOM, solve_flows};
use dryfit::inside::trade::video::Timing;

/// A value that a row gives.
#[derive(Debug, Clone)]
pub(crate) enum Input {
    Number(f64),
    Text(String),
}

/// The result.
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
}

/// One cubic foot a minute in m³/s, exact: 0.3048³ / 60.
pub(crate) const CFM_M3S: f64 = 0.000_471_947_443_2;

/// Calls a function by name.
pub(crate) fn call(name: &str, inputs: &[Input]) -> Output {
    let inputs = Inputs(inputs);
    let found = match name.split_once('.') {
        Some(("air", name)) => call_air(name, &inputs),
        Some(("money", name)) => call_money(name, &inputs),
        _ => None,
    };
    found.unwrap_or_else(|| panic!("no function is called {name}"))
}

/// Flow in m³/s of so many fans side by side and so many in line, against a resistance: P0, Q0,
/// side by side, in line, k. Fans in line have a chamber between each two.
fn flow_against(inputs: &Inputs<'_>) -> Result<f64, TradeError> {
    let fan = FanCurve::new(inputs.number(0), inputs.number(1))?;
    let (beside, in_line) = (inputs.whole(2) as usize, inputs.whole(3) as usize);
    let mut edges = vec![Edge::opening(in_line, ROOM, inputs.number(4))];
    for chamber in 0..in_line {
        edges.extend((0..beside).map(|_| Edge::fan(chamber, chamber + 1, fan, 0.0)));
    }
    let flows = solve_flows(in_line + 1, &edges)?.flows;
    Ok(flows.first().copied().unwrap_or(f64::NAN))
}

fn call_air(name: &str, inputs: &Inputs<'_>) -> Option<Output> {
    let n = |at| inputs.number(at);
    let to_cfm = |flow: f64| flow / CFM_M3S;
    let heat = || air::heat_per_m3(n(2), n(3));
    Some(match name {
        "cfm_for_rise" => heat().map(|heat| to_cfm(n(0) / (heat * n(1)))).into(),
        "rise_for_cfm" => heat().map(|heat| n(0) / (heat * n(1) * CFM_M3S)).into(),
        "flow_against" => flow_against(inputs).into(),
        "cfm_against" => flow_against(inputs).map(to_cfm).into(),
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
