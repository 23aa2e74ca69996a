//! What bath and station bear tonight, and which sensors say how it stands.

use super::PEAK_TO_MEAN;
use crate::bath::BathProfile;
use crate::spec::{Brightener, Level, Measures, Station};
use crate::units::{CurrentDensity, Length, Span, Temperature};

/// Anode to cathode where the station says nothing, m: as wide as studio tanks are.
const GAP: Length = Length::from_cm(12.0);

/// What bath and station bear tonight.
#[derive(Clone, Debug, PartialEq)]
pub struct Bounds {
    /// How long the link to the supply may be lost.
    pub link_allowance: Span,
    /// Highest density the bath bears at edges and tips, as the tank is stirred.
    pub density: CurrentDensity,
    /// The same should the stirring stop.
    pub density_still: CurrentDensity,
    /// The highest density on any piece against the mean; 1 or more.
    pub peak_to_mean: f64,
    /// Lowest and highest working temperature.
    pub temperature: [Temperature; 2],
    /// Least and most the stirring sensor should say, if there is one.
    pub stirring: Option<[f64; 2]>,
    /// How the level falls, if the station says so.
    pub level: Option<Level>,
    /// When the brightener is due, if the station says so.
    pub brightener: Option<Brightener>,
    /// The sensors there are.
    pub sensors: Vec<Measures>,
    /// Anode to cathode.
    pub gap: Length,
    /// The relay in the output lead opens within this, if there is one.
    pub relay: Option<Span>,
}

impl Default for Bounds {
    /// Nothing is known of bath and station, so nothing is out of bounds.
    fn default() -> Self {
        Self {
            link_allowance: crate::spec::station::LINK_ALLOWANCE,
            density: CurrentDensity::from_si(f64::INFINITY),
            peak_to_mean: PEAK_TO_MEAN,
            density_still: CurrentDensity::from_si(f64::INFINITY),
            temperature: [f64::NEG_INFINITY, f64::INFINITY].map(Temperature::from_si),
            stirring: None,
            level: None,
            brightener: None,
            sensors: Vec::new(),
            gap: GAP,
            relay: None,
        }
    }
}

/// The bounds of a night.
pub(super) fn bounds(bath: &BathProfile, station: &Station, peak_to_mean: f64) -> Bounds {
    let stirring = station.sensors.iter().find_map(|sensor| {
        sensor
            .window
            .filter(|_| sensor.measures == Measures::Stirring)
    });
    Bounds {
        link_allowance: station.link_allowance,
        density: bath.window(station.tank.stirred)[1],
        peak_to_mean,
        density_still: bath.window(false)[1],
        temperature: bath.temperature,
        stirring,
        level: station.tank.level,
        brightener: station.tank.brightener,
        sensors: station.sensors.iter().map(|one| one.measures).collect(),
        gap: station.tank.gap.unwrap_or(GAP),
        relay: station.relay.as_ref().map(|relay| relay.opens_within),
    }
}
