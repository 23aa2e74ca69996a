//! One binary for the tests of all rooms: linking it once is what takes the time.
#![allow(clippy::unwrap_used)]

mod spec;
mod supply_profile;
