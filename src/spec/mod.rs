//! What people write. This room knows the TOML of jobs, stations, supply profiles and bath
//! profiles, and turns a text into a checked value or into every problem it has at once. It must
//! never know the time, a port or a run. `shelf` is its door to files. Plan and everything below
//! come in.

mod embedded;
pub mod form;
pub mod job;
mod kind;
mod node;
pub mod notices;
pub mod problem;
mod read_bath;
mod read_looks;
pub mod read_form;
mod read_job;
mod read_notices;
pub mod read_paint;
mod read_relay;
mod read_sensors;
mod read_station;
pub mod said;
pub mod sheet;
pub mod shelf;
pub mod station;
pub mod supply;
pub mod table;
mod values;

/// What may be behind how a deposit looks.
pub mod looks {
    pub use super::read_looks::{built_in, read};
}

/// Bath profiles.
pub mod bath {
    pub use super::read_bath::{open, open_kept, read};
}

pub use embedded::{DEMO_JOB, DEMO_STATION};
pub use form::Form;
pub use job::{Finish, Hanger, Job, Look, Paint, Piece, Ramp, Strike, Surface, Target, Until};
pub use kind::kinds;
pub use notices::Notices;
pub use problem::{Problem, Problems};
pub use read_station::open_supply;
pub use sheet::Sheet;
pub use shelf::Shelf;
pub use station::{
    Anode, Brightener, Level, Measures, Page, Relay, RelayLine, Resume, Sensor, Station, Tank,
};
pub use supply::SupplyProfile;
pub use table::Table;
