//! Power: what a rail carries, how far a supply may be overdrawn for a moment, and what all of it
//! draws and costs at the wall.

use super::TradeError;
use super::error::{above_zero, at_least_zero, finite, within};

/// Power in W of a current in A at a voltage in V.
pub fn rail_w(volts: f64, amps: f64) -> f64 {
    volts * amps
}

/// Current in A of a power in W at a voltage in V.
///
/// # Errors
/// A voltage that is not above zero.
pub fn rail_amps(watts: f64, volts: f64) -> Result<f64, TradeError> {
    Ok(finite("power in W", watts)? / above_zero("voltage in V", volts)?)
}

/// Lowest and highest voltage of a rail, from its nominal voltage and how far it may stray each
/// way, in per cent. A 12 V rail at 5 % either way may be 11.4 V to 12.6 V (ATX12V PSU design guide
/// 2.0, Table 2).
///
/// # Errors
/// A tolerance outside 0 % to 100 %.
pub fn rail_range_v(
    nominal_v: f64,
    below_pct: f64,
    above_pct: f64,
) -> Result<(f64, f64), TradeError> {
    let share =
        |pct: f64| within("tolerance in %", pct, 0.0, 100.0, "0 to 100").map(|pct| pct / 100.0);
    Ok((nominal_v * (1.0 - share(below_pct)?), nominal_v * (1.0 + share(above_pct)?)))
}

/// Which column of the excursion table a supply that follows guide 3.x falls under.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SupplyClass {
    /// Rated over 450 W, with the 16-pin graphics plug.
    Over450,
    /// Rated to 450 W, or without that plug.
    To450,
}

impl SupplyClass {
    /// The class of a supply by its rating in W and whether it has the 16-pin graphics plug.
    pub fn of(rated_w: f64, has_16_pin: bool) -> Self {
        if rated_w > 450.0 && has_16_pin { Self::Over450 } else { Self::To450 }
    }
}

/// One row of the excursion table: how far over its rating a supply must go, and for how much of
/// the time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Excursion {
    /// Longest such peak, in microseconds.
    pub span_us: f64,
    /// Power in the peak, in per cent of the rating.
    pub pct: f64,
    /// Share of the time spent in such peaks, in per cent.
    pub duty_pct: f64,
}

const fn row(span_us: f64, pct: f64, duty_pct: f64) -> Excursion {
    Excursion { span_us, pct, duty_pct }
}

const OVER_450: [Excursion; 4] = [
    row(100.0, 200.0, 5.0),
    row(1_000.0, 180.0, 8.0),
    row(10_000.0, 160.0, 12.5),
    row(100_000.0, 120.0, 25.0),
];
const TO_450: [Excursion; 4] = [
    row(100.0, 150.0, 5.0),
    row(1_000.0, 145.0, 8.0),
    row(10_000.0, 135.0, 12.5),
    row(100_000.0, 110.0, 25.0),
];

/// The excursions that a supply of a class must bear, shortest first. Source: 12 V-only PSU design
/// guide (doc 613768), Table 3-3. A supply to an older guide promises none of them.
pub fn excursions(class: SupplyClass) -> &'static [Excursion; 4] {
    match class {
        SupplyClass::Over450 => &OVER_450,
        SupplyClass::To450 => &TO_450,
    }
}

/// Most power in W that a supply of a class must bear in a peak of a length in microseconds: the
/// row of the next longer span, since a promise for 1 ms covers 0.5 ms and one for 0.1 ms does not;
/// the rating itself for longer than any row.
///
/// # Errors
/// A rating or a span that is negative or not finite.
pub fn excursion_limit_w(
    rated_w: f64,
    class: SupplyClass,
    span_us: f64,
) -> Result<f64, TradeError> {
    let (rated_w, span_us) =
        (at_least_zero("rating in W", rated_w)?, at_least_zero("span in microseconds", span_us)?);
    let pct =
        excursions(class).iter().find(|row| span_us <= row.span_us).map_or(100.0, |row| row.pct);
    Ok(rated_w * pct / 100.0)
}

/// Steady power in W between peaks at which the effective (RMS) power over time is just the rating:
/// `rated · √((1 − d·k²) / (1 − d))`, with `k` the peak as a share of the rating and `d` the share
/// of the time in it. Table 3-4 of doc 613768 prints its results for 1000 W (with two column heads
/// swapped in the copy seen).
///
/// # Errors
/// Values out of range, and a peak so high and so long that it alone is over the rating.
pub fn excursion_base_w(rated_w: f64, peak_pct: f64, duty_pct: f64) -> Result<f64, TradeError> {
    let rated_w = at_least_zero("rating in W", rated_w)?;
    let peak = at_least_zero("peak in % of rating", peak_pct)? / 100.0;
    let duty = within("duty in %", duty_pct, 0.0, 99.999, "0 to less than 100")? / 100.0;
    let left = 1.0 - duty * peak * peak;
    Ok(rated_w
        * (at_least_zero("effective power left beside the peaks", left)? / (1.0 - duty)).sqrt())
}

/// An efficiency and how it was come by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Efficiency {
    /// Power out over power in, above 0 and up to 1.
    pub value: f64,
    /// Whether the load lies between certified points. Outside them the nearest point's value is
    /// given, which nobody has certified; below the lowest, the truth is usually worse.
    pub certified: bool,
}

/// Efficiency at a load, straight between certified points. `points` are pairs of load (share of
/// the rating) and efficiency (share), in rising order of load; grades certify minima, so a draw at
/// the wall worked out from them is an upper bound. Method: computed, no source.
///
/// # Errors
/// No points, points out of order, an efficiency outside 0 to 1, a load that is negative or not
/// finite.
pub fn efficiency_at(points: &[(f64, f64)], load: f64) -> Result<Efficiency, TradeError> {
    let load = at_least_zero("load as a share of the rating", load)?;
    for (at, value) in points {
        finite("load of a certified point", *at)?;
        within("efficiency", *value, f64::MIN_POSITIVE, 1.0, "a share above 0 and up to 1")?;
    }
    let rising = points.iter().zip(points.iter().skip(1)).all(|(a, b)| a.0 < b.0);
    let (Some(first), Some(last), true) = (points.first(), points.last(), rising) else {
        return Err(TradeError::Inconsistent {
            why: "certified points must be given, in rising order of load",
        });
    };
    let between =
        points.iter().zip(points.iter().skip(1)).find(|(a, b)| a.0 <= load && load <= b.0);
    Ok(match between {
        Some((a, b)) => {
            Efficiency { value: a.1 + (b.1 - a.1) * (load - a.0) / (b.0 - a.0), certified: true }
        }
        None if load <= first.0 => Efficiency { value: first.1, certified: load == first.0 },
        None => Efficiency { value: last.1, certified: load == last.0 },
    })
}

/// Power in W drawn from the wall for a power out in W.
///
/// # Errors
/// An efficiency outside 0 to 1, a power that is negative or not finite.
pub fn wall_w(out_w: f64, efficiency: f64) -> Result<f64, TradeError> {
    let efficiency =
        within("efficiency", efficiency, f64::MIN_POSITIVE, 1.0, "a share above 0 and up to 1")?;
    Ok(at_least_zero("power out in W", out_w)? / efficiency)
}

/// Heat in W that a supply gives off itself: what it draws less what it gives.
///
/// # Errors
/// As for [`wall_w`].
pub fn waste_w(out_w: f64, efficiency: f64) -> Result<f64, TradeError> {
    Ok(wall_w(out_w, efficiency)? - out_w)
}

/// Current in A drawn from the mains: power over power factor and voltage. A power factor of 0.95
/// is usual with correction (from memory); graded supplies have at least 0.9 at full load (grade's
/// table, secondary).
///
/// # Errors
/// A power factor outside 0 to 1, a voltage that is not above zero.
pub fn mains_amps(wall_w: f64, power_factor: f64, mains_v: f64) -> Result<f64, TradeError> {
    let factor = within(
        "power factor",
        power_factor,
        f64::MIN_POSITIVE,
        1.0,
        "a share above 0 and up to 1",
    )?;
    Ok(at_least_zero("power in W", wall_w)? / factor / above_zero("mains voltage in V", mains_v)?)
}

/// Energy in kWh over a year.
///
/// # Errors
/// More than 24 hours a day or 366 days a year; a power that is negative or not finite.
pub fn yearly_kwh(wall_w: f64, hours_per_day: f64, days_per_year: f64) -> Result<f64, TradeError> {
    let hours = within("hours a day", hours_per_day, 0.0, 24.0, "0 to 24")?;
    let days = within("days a year", days_per_year, 0.0, 366.0, "0 to 366")?;
    Ok(at_least_zero("power in W", wall_w)? * hours * days / 1000.0)
}

/// Cost of a year's energy, in the currency of the price of a kWh.
///
/// # Errors
/// A value that is negative or not finite.
pub fn yearly_cost(kwh: f64, price_per_kwh: f64) -> Result<f64, TradeError> {
    Ok(at_least_zero("energy in kWh", kwh)? * at_least_zero("price of a kWh", price_per_kwh)?)
}

/// Years until a higher price is saved; none where nothing is saved in a year. A part that costs no
/// more has paid back at once.
///
/// # Errors
/// A value that is not finite.
pub fn payback_years(extra_price: f64, saved_per_year: f64) -> Result<Option<f64>, TradeError> {
    let (extra, saved) =
        (finite("extra price", extra_price)?, finite("saving a year", saved_per_year)?);
    Ok(if extra <= 0.0 { Some(0.0) } else { (saved > 0.0).then(|| extra / saved) })
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOLD: [(f64, f64); 3] = [(0.2, 0.87), (0.5, 0.90), (1.0, 0.87)];

    #[test]
    fn a_peak_is_held_to_the_next_longer_row() {
        let limit = |span| excursion_limit_w(1000.0, SupplyClass::Over450, span);
        assert_eq!(limit(100.0), Ok(2000.0));
        assert_eq!(limit(101.0), Ok(1800.0));
        assert_eq!(limit(100_000.0), Ok(1200.0));
        assert_eq!(limit(100_001.0), Ok(1000.0));
        assert_eq!(SupplyClass::of(450.0, true), SupplyClass::To450);
        assert_eq!(SupplyClass::of(850.0, false), SupplyClass::To450);
    }

    #[test]
    fn outside_the_points_nothing_is_certified() {
        assert_eq!(efficiency_at(&GOLD, 0.05), Ok(Efficiency { value: 0.87, certified: false }));
        assert_eq!(efficiency_at(&GOLD, 1.1), Ok(Efficiency { value: 0.87, certified: false }));
        assert_eq!(efficiency_at(&GOLD, 0.2).map(|e| e.certified), Ok(true));
        assert_eq!(efficiency_at(&GOLD, 0.5).map(|e| e.value), Ok(0.90));
        assert_eq!(
            efficiency_at(&[(0.5, 0.8)], 0.5),
            Ok(Efficiency { value: 0.8, certified: true })
        );
    }

    #[test]
    fn points_that_make_no_sense_are_refused() {
        assert!(efficiency_at(&[], 0.5).is_err());
        assert!(efficiency_at(&[(0.5, 0.9), (0.2, 0.8)], 0.5).is_err());
        assert!(efficiency_at(&[(0.5, 90.0)], 0.5).is_err());
        assert!(wall_w(100.0, 0.0).is_err());
        assert!(excursion_base_w(1000.0, 500.0, 25.0).is_err());
    }

    #[test]
    fn nothing_saved_never_pays_back() {
        assert_eq!(payback_years(20.0, 0.0), Ok(None));
        assert_eq!(payback_years(20.0, 5.0), Ok(Some(4.0)));
        assert_eq!(payback_years(-1.0, -5.0), Ok(Some(0.0)));
        assert!(payback_years(f64::NAN, 1.0).is_err());
    }
}
