//! The fields of a build itself: one table that the reader, the scripts and the help share.

/// How a build's field is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Any text.
    Text,
    /// One of the rows of table `purpose`.
    Purpose,
    /// A number between two bounds.
    Number(f64, f64),
    /// `"1450.00 EUR"`.
    Money,
}

/// A field of a build.
#[derive(Debug)]
pub struct BuildField {
    /// Its word in files and scripts.
    pub name: &'static str,
    /// How it is written.
    pub shape: Shape,
    /// Unit of its number.
    pub unit: &'static str,
    /// What it is when left out.
    pub default: Option<f64>,
    /// What it means.
    pub meaning: &'static str,
}

const fn field(
    name: &'static str,
    shape: Shape,
    unit: &'static str,
    default: Option<f64>,
    meaning: &'static str,
) -> BuildField {
    BuildField { name, shape, unit, default, meaning }
}

/// Every field of a build that a rule may read, in a fixed order.
pub const BUILD_FIELDS: &[BuildField] = &[
    field("title", Shape::Text, "", None, "what the job is called"),
    field("customer", Shape::Text, "", None, "for whom it is"),
    field("purpose", Shape::Purpose, "", None, "what it is for: a row of table `purpose`"),
    field("budget", Shape::Money, "money", None, "what it may cost, display included"),
    field("hours_per_day", Shape::Number(0.0, 24.0), "h", None, "hours of use a day"),
    field("days_per_year", Shape::Number(0.0, 366.0), "days", Some(250.0), "days of use a year"),
    field("electricity", Shape::Money, "money", None, "price of a kilowatt-hour"),
    field("years", Shape::Number(0.0, 30.0), "years", None, "years it is meant to serve"),
    field("room_c", Shape::Number(-10.0, 60.0), "°C", Some(25.0), "warmest the room gets"),
    field("altitude_m", Shape::Number(-400.0, 6000.0), "m", Some(0.0), "height above the sea"),
    field("mains_v", Shape::Number(90.0, 264.0), "V", Some(230.0), "mains voltage"),
];

/// Keys of a build file that are not read by rules.
pub const OTHER_KEYS: &[&str] = &["priced_on", "bundles", "note", "line", "waive"];

/// A field's place.
pub fn build_field(name: &str) -> Option<u8> {
    BUILD_FIELDS.iter().position(|f| f.name == name).and_then(|at| u8::try_from(at).ok())
}

/// The unit of a field by its place.
pub fn unit_of(at: u8) -> &'static str {
    BUILD_FIELDS.get(at as usize).map_or("", |f| f.unit)
}
