//! Fit: the few lengths that follow from a convention. What a maker's drawing says comes before any
//! of them.

use super::TradeError;
use super::error::{above_zero, at_least_zero};

/// Distance between expansion slots in mm: 0.8 inch. Source: a platform design guide's figure 3-5,
/// "0.800 typical" (a copy of SSI EEB 3.0, figure 1), read.
pub const SLOT_PITCH_MM: f64 = 20.32;

/// How far a radiator's body is longer than its nominal length, in mm, least and most. Common
/// practice, no source.
pub const RADIATOR_EXTRA_MM: (f64, f64) = (20.0, 40.0);

/// Thickness of an ordinary case fan in mm. Common practice, no source.
pub const FAN_THICK_MM: f64 = 25.0;

/// Most fans along a radiator.
const MOST_FANS: u32 = 4;

/// Height in mm that so many slots give a card, about.
pub fn slots_mm(slots: u32) -> f64 {
    f64::from(slots) * SLOT_PITCH_MM
}

/// Slots that a card of a thickness in mm takes up, whole: one that pokes into the next slot takes
/// it.
///
/// # Errors
/// A thickness that is negative, not finite, or over 100 slots.
pub fn slots_taken(thick_mm: f64) -> Result<u32, TradeError> {
    let slots = (at_least_zero("thickness in mm", thick_mm)? / SLOT_PITCH_MM).ceil().max(1.0);
    // A cast is safe below the bound, and the bound is far above any card.
    if slots <= 100.0 {
        Ok(slots as u32)
    } else {
        Err(TradeError::Range {
            what: "thickness in mm",
            value: thick_mm,
            wants: "a card's thickness",
        })
    }
}

/// A radiator by the fans that it carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Radiator {
    /// Width of its fans in mm: 120 or 140. The two do not share holes.
    pub fan_mm: u32,
    /// Fans along it.
    pub fans: u32,
}

impl Radiator {
    /// The radiator of a nominal length in mm: 120, 240, 360, 480 of 120 mm fans, 140, 280, 420,
    /// 560 of 140 mm fans; none for another length. Common practice, no source.
    pub fn nominal(length_mm: u32) -> Option<Self> {
        [120, 140].into_iter().find_map(|fan_mm| {
            let radiator = Self { fan_mm, fans: length_mm / fan_mm };
            (radiator.length_mm() == length_mm && (1..=MOST_FANS).contains(&radiator.fans))
                .then_some(radiator)
        })
    }

    /// Its nominal length in mm.
    pub fn length_mm(self) -> u32 {
        self.fan_mm.saturating_mul(self.fans)
    }

    /// Length of its body in mm, least and most, where the drawing is not at hand.
    pub fn body_mm(self) -> (f64, f64) {
        let nominal = f64::from(self.length_mm());
        (nominal + RADIATOR_EXTRA_MM.0, nominal + RADIATOR_EXTRA_MM.1)
    }
}

/// Depth in mm of a radiator with a row of fans on so many of its sides.
///
/// # Errors
/// A thickness that is not above zero.
pub fn radiator_stack_mm(radiator_mm: f64, fan_mm: f64, fan_rows: u32) -> Result<f64, TradeError> {
    Ok(above_zero("radiator's thickness in mm", radiator_mm)?
        + above_zero("fan's thickness in mm", fan_mm)? * f64::from(fan_rows))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_that_pokes_into_a_slot_takes_it() {
        assert_eq!(slots_taken(40.64), Ok(2));
        assert_eq!(slots_taken(41.0), Ok(3));
        assert_eq!(slots_taken(0.0), Ok(1));
        assert!(slots_taken(f64::INFINITY).is_err());
        assert!(slots_taken(1e9).is_err());
    }

    #[test]
    fn nominal_lengths_are_whole_fans() {
        assert_eq!(Radiator::nominal(280), Some(Radiator { fan_mm: 140, fans: 2 }));
        assert_eq!(Radiator::nominal(360), Some(Radiator { fan_mm: 120, fans: 3 }));
        assert_eq!(Radiator::nominal(200), None);
        assert_eq!(Radiator::nominal(0), None);
        assert_eq!(Radiator::nominal(840), None);
    }
}
