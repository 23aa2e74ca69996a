//! The integration tests of all rooms, in one binary.
#![allow(clippy::unwrap_used)]

mod ledger;
mod manual;
