//! JSON: its keys and units are fixed, a value that does not exist is `null`.
//!
//! Times of the day come in as labels: a view knows no clock.

mod after;
mod bath;
mod bedtime;
mod before;
mod kept;
mod now;
mod trial;

pub use after::{Filed, Pieces, Rehearsed, Report, Runs, filed, pieces, rehearsal, report, runs};
pub use bath::{bath_checked, bath_made, bath_panel, bath_reckoned};
pub use bedtime::{Evening, bedtime};
pub use before::{Area, Planned, area, plan};
pub use kept::{bath_added, bath_due, bath_shown};
pub use now::{Status, status};
pub use trial::{compared, exported, looked};
pub(in crate::view) use trial::{mode, set};

use crate::units::{Area as Surface, Bounded, Charge, Length, Mass};
use serde::Serialize;

/// One line of JSON.
#[must_use]
pub fn line(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_else(|e| error("json", &e.to_string(), None, None))
}

/// The error object, `{error: {code, text, place, remedy}}`.
#[must_use]
pub fn error(code: &str, text: &str, place: Option<&str>, remedy: Option<&str>) -> String {
    serde_json::json!({
        "error": { "code": code, "text": text, "place": place, "remedy": remedy }
    })
    .to_string()
}

/// A piece as plan and rehearsal tell it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Piece {
    /// Its name.
    pub name: String,
    /// Area at the start.
    pub area_cm2: f64,
    /// Area at the end.
    pub area_end_cm2: f64,
    /// Charge through it.
    pub charge_ah: f64,
    /// Metal on it.
    pub mass_g: f64,
    /// Mean thickness on it.
    pub thickness_um: f64,
    /// Low end of its 95 % interval.
    pub thickness_low_um: f64,
    /// High end of its 95 % interval.
    pub thickness_high_um: f64,
}

impl Piece {
    fn new(
        name: &str,
        area: (Surface, Surface),
        charge: Charge,
        mass: Mass,
        thickness: Bounded<Length>,
    ) -> Self {
        Self {
            name: name.to_owned(),
            area_cm2: area.0.cm2(),
            area_end_cm2: area.1.cm2(),
            charge_ah: charge.ah(),
            mass_g: mass.g(),
            thickness_um: thickness.best.um(),
            thickness_low_um: thickness.low.um(),
            thickness_high_um: thickness.high.um(),
        }
    }
}

/// A hanger as plan and rehearsal tell it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Hanger {
    /// Area at the start.
    pub area_cm2: f64,
    /// Charge through it.
    pub charge_ah: f64,
    /// Metal on it.
    pub mass_g: f64,
}
