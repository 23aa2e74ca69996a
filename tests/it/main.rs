//! One binary for the tests of all rooms: linking it once is what takes the time.
#![allow(clippy::unwrap_used)]

mod deposit;
mod plan;
mod published_surface;
mod spec;
mod supply_profile;
mod surface;
