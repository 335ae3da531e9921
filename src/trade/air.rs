//! Air: how dense it is, how much heat it carries, and what fans and openings do with it.
//!
//! Flows are in m³/s and pressures in Pa unless a name says otherwise.

use super::TradeError;
use super::error::{above_zero, within};

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
/// Errors: an altitude outside -500 m to 9000 m.
pub fn pressure_pa(altitude_m: f64) -> Result<f64, TradeError> {
    let altitude = within("altitude in m", altitude_m, -500.0, 9000.0, "-500 to 9000")?;
    Ok(101_325.0 * (1.0 - 2.25577e-5 * altitude).powf(5.25588))
}

/// Density of dry air in kg/m³. Air at 50 % humidity carries heat within 0.6 % of it.
/// Errors: an altitude outside -500 m to 9000 m, a temperature outside -60 °C to 150 °C.
pub fn density(altitude_m: f64, celsius: f64) -> Result<f64, TradeError> {
    let celsius = within("air temperature in °C", celsius, -60.0, 150.0, "-60 to 150")?;
    Ok(pressure_pa(altitude_m)? / (DRY_AIR_GAS * (celsius + ZERO_CELSIUS_K)))
}

/// Heat in J that warms a cubic metre of dry air by one kelvin, at an altitude in m and the
/// temperature at which the volume is measured.
pub fn heat_per_m3(altitude_m: f64, celsius: f64) -> Result<f64, TradeError> {
    Ok(density(altitude_m, celsius)? * DRY_AIR_HEAT)
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
    /// Errors: an end that is not above zero.
    pub fn new(shutoff_pa: f64, free_m3s: f64) -> Result<Self, TradeError> {
        Ok(Self {
            shutoff_pa: above_zero("shut-off pressure in Pa", shutoff_pa)?,
            free_m3s: above_zero("free flow in m3/s", free_m3s)?,
        })
    }

    /// Resistance in Pa/(m³/s)² that makes the curve of a steady pressure `P0`.
    pub fn own_resistance(&self) -> f64 {
        self.shutoff_pa / (self.free_m3s * self.free_m3s)
    }
}

/// Resistance in Pa/(m³/s)² of an opening of a free area in m²: `ρ / (2·(Cd·A)²)`, turbulent flow.
/// `discharge` is [`SHARP_OPENING`] where nothing better is known.
/// Errors: a value that is not above zero.
pub fn opening_resistance(area_m2: f64, discharge: f64, density: f64) -> Result<f64, TradeError> {
    let effective =
        above_zero("discharge coefficient", discharge)? * above_zero("free area in m2", area_m2)?;
    Ok(above_zero("density in kg/m3", density)? / (2.0 * effective * effective))
}

#[cfg(test)]
#[path = "../../tests/unit/trade/air.rs"]
mod tests;
