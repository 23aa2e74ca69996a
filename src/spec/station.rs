//! A station: one supply output wired to one tank.

pub use super::read_station::{open, read};

use super::notices::Notices;
use crate::units::{Area, Current, Length, Mass, Span, Voltage, Volume};
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Page {
    /// Address and port.
    pub listen: SocketAddr,
}
