//! Every integration test, in one binary.
#![allow(clippy::unwrap_used)]

mod spec;
mod supply_profile;
