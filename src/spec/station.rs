//! A station: one supply output wired to one tank.

pub use super::read_station::{open, read};

use super::notices::{Command, Notices};
use crate::units::{Area, Charge, Current, Length, Mass, Span, Voltage, Volume};
use std::net::SocketAddr;

/// A checked station.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Its name, for people.
    pub name: String,
    /// The supply profile: a name under `profiles/supplies`, or a path.
    pub supply: String,
    /// The serial port, best by a name that stays.
    pub port: String,
    /// No run on this station goes beyond this current.
    pub max_current: Current,
    /// The constant-voltage ceiling of every run; the trip is set just above it.
    pub max_voltage: Voltage,
    /// The tank.
    pub tank: Tank,
    /// When an interrupted run may go on by itself; without it a person resumes.
    pub resume: Option<Resume>,
    /// Where the page listens; without it no TCP at all.
    pub page: Option<Page>,
    /// Who is told what happens, and how.
    pub notices: Notices,
    /// How long the link to the supply may be lost before the output goes off.
    pub link_allowance: Span,
    /// What is measured beside the supply.
    pub sensors: Vec<Sensor>,
    /// The relay in the output lead that opens when nobody toggles its line, if there is one.
    pub relay: Option<Relay>,
}

/// How long a link may be lost where the station says nothing.
pub const LINK_ALLOWANCE: Span = Span::from_s(6.0);

/// A relay in the output lead. It is closed while edges come on its line, and opens by itself when
/// they stop, whatever the reason.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Relay {
    /// Its serial port, which is not the supply's.
    pub port: String,
    /// What is toggled.
    pub line: RelayLine,
    /// So often.
    pub every: Span,
    /// It opens within this after the last edge, as she has measured it.
    pub opens_within: Span,
}

/// What is toggled on a relay's port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RelayLine {
    /// The line that asks to send.
    Rts,
    /// The line that says the terminal is ready.
    Dtr,
    /// The line of the data: a byte is sent, and its edges count.
    Tx,
}

impl RelayLine {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Rts, Self::Dtr, Self::Tx];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rts => "rts",
            Self::Dtr => "dtr",
            Self::Tx => "tx",
        }
    }
}

/// The tank of a station.
#[derive(Clone, Debug, PartialEq)]
pub struct Tank {
    /// Volume of bath in it.
    pub volume: Volume,
    /// The bath in it, by its name in the ledger.
    pub bath_ledger: Option<String>,
    /// Stirred: the bath's window is the stirred one.
    pub stirred: bool,
    /// Surface of the liquid, for evaporation.
    pub surface: Option<Area>,
    /// Anode to cathode.
    pub gap: Option<Length>,
    /// The anode.
    pub anode: Option<Anode>,
    /// How far the liquid may fall.
    pub level: Option<Level>,
    /// When the brightener is due.
    pub brightener: Option<Brightener>,
}

/// How the level of the liquid falls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Liquid above the highest piece and the anode's wetted top when a run begins.
    pub above: Length,
    /// How far evaporation lets it fall in a day, as she has seen it fall.
    pub falls_a_day: Length,
}

/// When the brightener is due.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Brightener {
    /// It is added after every so much charge.
    pub every: Charge,
    /// So much has flowed since it was last added, before a run begins.
    pub since: Charge,
}

/// What a sensor measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Measures {
    /// The bath's temperature, in degrees Celsius.
    Temperature,
    /// How well the bath is stirred, in whatever the sensor counts.
    Stirring,
    /// Liquid above the highest piece, in millimetres.
    Level,
}

impl Measures {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Temperature, Self::Stirring, Self::Level];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::Stirring => "stirring",
            Self::Level => "level",
        }
    }
}

/// A sensor: a file, or a program of hers, that gives a number.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensor {
    /// What it measures.
    pub measures: Measures,
    /// Where the number comes from.
    pub from: Source,
    /// The number times this is the figure.
    pub scale: f64,
    /// It is read this often.
    pub every: Span,
    /// A reading may take this long.
    pub within: Span,
    /// For stirring: the least and the most there should be.
    pub window: Option<[f64; 2]>,
}

/// Where a sensor's number comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A file with a number at its beginning.
    File(String),
    /// A program that prints a number.
    Command(Command),
}

/// The anode of a tank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Anode {
    /// Its area that faces the cathode.
    pub area: Area,
    /// Its mass when last weighed.
    pub mass: Option<Mass>,
}

/// When an interrupted run may go on by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resume {
    /// Only within this time after the interruption.
    pub within: Span,
}

/// Where the page listens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// Address and port.
    pub listen: SocketAddr,
    /// Names it may be opened by, beside addresses and `localhost`.
    pub names: Vec<String>,
}
