//! Air: how dense it is, how much of it carries a heat away, what a fan moves against a resistance,
//! and how loud fans are together.
//!
//! Flows are in m³/s and pressures in Pa unless a name says otherwise.

use super::TradeError;
use super::error::{above_zero, at_least_zero, finite, within};

/// One cubic foot a minute in m³/s, exact: 0.3048³ / 60.
pub const CFM_M3S: f64 = 0.000_471_947_443_2;
/// One m³/h in m³/s.
pub const M3H_M3S: f64 = 1.0 / 3600.0;
/// Gas constant of dry air in J/(kg·K): 8.314462618 over 0.0289652 kg/mol.
pub const DRY_AIR_GAS: f64 = 287.05;
/// Heat capacity of dry air at constant pressure in J/(kg·K). It is 1006 within 0.1 % from 0 °C to
/// 40 °C (checked against recorded values of a property library).
pub const DRY_AIR_HEAT: f64 = 1006.0;
/// Discharge coefficient of a sharp-edged opening: common practice, 0.6 to 0.65.
pub const SHARP_OPENING: f64 = 0.61;
const ZERO_CELSIUS_K: f64 = 273.15;

/// Pressure of the standard atmosphere in Pa at an altitude in m: `101325·(1 −
/// 2.25577e-5·h)^5.25588`.
///
/// # Errors
/// An altitude outside -500 m to 9000 m.
pub fn pressure_pa(altitude_m: f64) -> Result<f64, TradeError> {
    let altitude = within("altitude in m", altitude_m, -500.0, 9000.0, "-500 to 9000")?;
    Ok(101_325.0 * (1.0 - 2.25577e-5 * altitude).powf(5.25588))
}

/// Density of dry air in kg/m³. Air at 50 % humidity carries heat within 0.6 % of it.
///
/// # Errors
/// An altitude outside -500 m to 9000 m, a temperature outside -60 °C to 150 °C.
pub fn density(altitude_m: f64, celsius: f64) -> Result<f64, TradeError> {
    let celsius = within("air temperature in °C", celsius, -60.0, 150.0, "-60 to 150")?;
    Ok(pressure_pa(altitude_m)? / (DRY_AIR_GAS * (celsius + ZERO_CELSIUS_K)))
}

/// Heat in J that warms a cubic metre of dry air by one kelvin, at an altitude in m and the
/// temperature at which the volume is measured.
///
/// # Errors
/// As for [`density`].
pub fn heat_per_m3(altitude_m: f64, celsius: f64) -> Result<f64, TradeError> {
    Ok(density(altitude_m, celsius)? * DRY_AIR_HEAT)
}

/// Flow in m³/s, measured at `celsius`, that carries a heat in W away while the air warms by
/// `rise_k`.
///
/// # Errors
/// A heat that is negative, a rise that is not above zero, and as for [`density`].
pub fn flow_for_rise(
    watts: f64,
    rise_k: f64,
    altitude_m: f64,
    celsius: f64,
) -> Result<f64, TradeError> {
    Ok(at_least_zero("heat in W", watts)?
        / (heat_per_m3(altitude_m, celsius)? * above_zero("rise in K", rise_k)?))
}

/// Rise in K of air that carries a heat in W away at a flow in m³/s, measured at `celsius`.
///
/// # Errors
/// A heat that is negative, a flow that is not above zero, and as for [`density`].
pub fn rise_for_flow(
    watts: f64,
    flow_m3s: f64,
    altitude_m: f64,
    celsius: f64,
) -> Result<f64, TradeError> {
    Ok(at_least_zero("heat in W", watts)?
        / (heat_per_m3(altitude_m, celsius)? * above_zero("flow in m3/s", flow_m3s)?))
}

/// Flow of a fan at a share of its speed: in proportion. Source: basic fan laws.
pub fn flow_at_speed(flow: f64, speed: f64) -> f64 {
    flow * speed
}

/// Pressure of a fan at a share of its speed: by the square. Source: basic fan laws.
pub fn pressure_at_speed(pressure: f64, speed: f64) -> f64 {
    pressure * speed * speed
}

/// Power of a fan at a share of its speed: by the cube. Source: basic fan laws.
pub fn power_at_speed(power: f64, speed: f64) -> f64 {
    power * speed * speed * speed
}

/// Change in dB of a fan's noise at a share of its speed: `50·log10(speed)`, secondary, and rough
/// at low speed.
///
/// # Errors
/// A speed that is not above zero.
pub fn noise_change_at_speed(speed: f64) -> Result<f64, TradeError> {
    Ok(50.0 * above_zero("share of speed", speed)?.log10())
}

/// A fan's curve `P = P0·(1 − (Q/Q0)²)`: the parabola through its two published ends. Real curves
/// sag in the middle, so it is a fair guess, not a measurement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanCurve {
    /// Pressure with nothing flowing, in Pa.
    pub shutoff_pa: f64,
    /// Flow against nothing, in m³/s.
    pub free_m3s: f64,
}

impl FanCurve {
    /// A curve from its two ends.
    ///
    /// # Errors
    /// An end that is not above zero.
    pub fn new(shutoff_pa: f64, free_m3s: f64) -> Result<Self, TradeError> {
        Ok(Self {
            shutoff_pa: above_zero("shut-off pressure in Pa", shutoff_pa)?,
            free_m3s: above_zero("free flow in m3/s", free_m3s)?,
        })
    }

    /// Pressure in Pa at a flow in m³/s. Beyond the ends the curve goes on falling: a flow pushed
    /// backwards meets more than the shut-off pressure, one pulled through faster than free meets a
    /// drag. That keeps it monotone; a real fan in stall does otherwise.
    pub fn pressure(&self, flow: f64) -> f64 {
        self.shutoff_pa - self.own_resistance() * flow * flow.abs()
    }

    /// Resistance in Pa/(m³/s)² that makes the curve of a steady pressure `P0`.
    pub fn own_resistance(&self) -> f64 {
        self.shutoff_pa / (self.free_m3s * self.free_m3s)
    }

    /// Flow in m³/s against a resistance `k` in Pa/(m³/s)²: `Q = √(P0 / (k + P0/Q0²))`.
    ///
    /// # Errors
    /// A resistance that is negative or not finite.
    pub fn flow_against(&self, resistance: f64) -> Result<f64, TradeError> {
        Ok((self.shutoff_pa
            / (at_least_zero("resistance in Pa/(m3/s)2", resistance)? + self.own_resistance()))
        .sqrt())
    }

    /// So many alike side by side: the flows add.
    pub fn side_by_side(&self, count: u32) -> Self {
        Self { free_m3s: self.free_m3s * f64::from(count), ..*self }
    }

    /// So many alike one behind the other: the pressures add.
    pub fn in_line(&self, count: u32) -> Self {
        Self { shutoff_pa: self.shutoff_pa * f64::from(count), ..*self }
    }

    /// The curve at a share of its speed, by the fan laws.
    pub fn at_speed(&self, speed: f64) -> Self {
        Self {
            shutoff_pa: pressure_at_speed(self.shutoff_pa, speed),
            free_m3s: flow_at_speed(self.free_m3s, speed),
        }
    }
}

/// Pressure in Pa that a flow in m³/s loses in a resistance `k` in Pa/(m³/s)²; it has the sign of
/// the flow.
pub fn resistance_pa(resistance: f64, flow: f64) -> f64 {
    resistance * flow * flow.abs()
}

/// Resistance in Pa/(m³/s)² of an opening of a free area in m²: `ρ / (2·(Cd·A)²)`, turbulent flow.
/// `discharge` is [`SHARP_OPENING`] where nothing better is known.
///
/// # Errors
/// A value that is not above zero.
pub fn opening_resistance(area_m2: f64, discharge: f64, density: f64) -> Result<f64, TradeError> {
    let effective =
        above_zero("discharge coefficient", discharge)? * above_zero("free area in m2", area_m2)?;
    Ok(above_zero("density in kg/m3", density)? / (2.0 * effective * effective))
}

/// Resistance of several openings side by side: `1/√k` adds.
///
/// # Errors
/// None given, or one that is not above zero.
pub fn side_by_side_resistance(resistances: &[f64]) -> Result<f64, TradeError> {
    let ease = resistances.iter().try_fold(0.0, |sum, k| {
        above_zero("resistance in Pa/(m3/s)2", *k).map(|k| sum + k.sqrt().recip())
    })?;
    Ok(above_zero("openings", ease)?.powi(-2))
}

/// Sound level in dB of several sources together: `10·log10(Σ 10^(L/10))`; none for no source.
///
/// # Errors
/// A level that is not finite.
pub fn total_db(levels: &[f64]) -> Result<Option<f64>, TradeError> {
    let energy = levels.iter().try_fold(0.0, |sum, level| {
        finite("level in dB", *level).map(|level| sum + 10f64.powf(level / 10.0))
    })?;
    Ok((!levels.is_empty()).then(|| 10.0 * energy.log10()))
}

/// Sound level in dB at another distance from a small source in the open: `−20·log10(to/from)`. A
/// room falls off less.
///
/// # Errors
/// A distance that is not above zero.
pub fn db_at_distance(level_db: f64, from_m: f64, to_m: f64) -> Result<f64, TradeError> {
    let ratio = above_zero("distance in m", to_m)? / above_zero("distance in m", from_m)?;
    Ok(finite("level in dB", level_db)? - 20.0 * ratio.log10())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flow_and_rise_undo_each_other() {
        let flow = flow_for_rise(300.0, 10.0, 800.0, 25.0).unwrap_or(f64::NAN);
        let rise = rise_for_flow(300.0, flow, 800.0, 25.0).unwrap_or(f64::NAN);
        assert!((rise - 10.0).abs() < 1e-12);
    }

    #[test]
    fn a_curve_passes_through_its_ends() {
        let fan = FanCurve { shutoff_pa: 20.0, free_m3s: 0.03 };
        assert_eq!(fan.pressure(0.0), 20.0);
        assert!(fan.pressure(0.03).abs() < 1e-12);
        assert_eq!(fan.flow_against(0.0), Ok(0.03));
        assert!(fan.pressure(-0.01) > 20.0);
        assert!(FanCurve::new(0.0, 0.03).is_err());
    }

    #[test]
    fn two_alike_openings_have_a_quarter_of_the_resistance() {
        let both = side_by_side_resistance(&[8.0, 8.0]).unwrap_or(f64::NAN);
        assert!((both - 2.0).abs() < 1e-12);
        assert!(side_by_side_resistance(&[]).is_err());
    }

    #[test]
    fn what_has_no_meaning_is_refused() {
        assert!(density(0.0, -300.0).is_err());
        assert!(density(50_000.0, 20.0).is_err());
        assert!(rise_for_flow(100.0, 0.0, 0.0, 20.0).is_err());
        assert_eq!(total_db(&[]), Ok(None));
        assert!(total_db(&[f64::NAN]).is_err());
    }
}
