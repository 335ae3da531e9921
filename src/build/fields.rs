//! The fields of a build itself: one table that the reader, the scripts and the help share.

use crate::catalogue::declared::Takes;

/// A field of a build.
#[derive(Debug)]
pub struct BuildField {
    /// Its word in files and scripts.
    pub name: &'static str,
    /// How it is written.
    pub(crate) takes: Takes,
    /// Unit of its number.
    pub unit: &'static str,
    /// What it is when left out.
    pub default: Option<f64>,
    /// What it means.
    pub meaning: &'static str,
}

const fn field(
    name: &'static str,
    takes: Takes,
    unit: &'static str,
    default: Option<f64>,
    meaning: &'static str,
) -> BuildField {
    BuildField { name, takes, unit, default, meaning }
}

/// Every field of a build that a rule may read, in a fixed order.
pub const BUILD_FIELDS: &[BuildField] = &[
    field("title", Takes::Text, "", None, "what the job is called"),
    field("customer", Takes::Text, "", None, "for whom it is"),
    field("purpose", Takes::Rows("purpose"), "", None, "what it is for: a row of table `purpose`"),
    field("budget", Takes::Money, "money", None, "what it may cost, monitor included"),
    field("hours_per_day", Takes::Number(0.0, 24.0), "h", None, "hours of use a day"),
    field("days_per_year", Takes::Number(0.0, 366.0), "days", Some(250.0), "days of use a year"),
    field("electricity", Takes::Rate, "money", None, "price of a kilowatt-hour"),
    field("years", Takes::Number(0.0, 30.0), "years", None, "years it is meant to serve"),
    field("room_c", Takes::Number(-10.0, 60.0), "°C", Some(25.0), "warmest the room gets"),
    field("altitude_m", Takes::Number(-400.0, 6000.0), "m", Some(0.0), "height above the sea"),
    field("mains_v", Takes::Number(90.0, 264.0), "V", Some(230.0), "mains voltage"),
    field("noise_max_db", Takes::Number(0.0, 90.0), "dB(A)", None, "loudest it may be, at 1 m"),
];

/// A field's place.
pub fn build_field(name: &str) -> Option<u8> {
    BUILD_FIELDS.iter().position(|f| f.name == name).and_then(|at| u8::try_from(at).ok())
}

/// The unit of a field by its place.
pub fn unit_of(at: u8) -> &'static str {
    BUILD_FIELDS.get(at as usize).map_or("", |f| f.unit)
}
