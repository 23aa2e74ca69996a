//! The integration tests of all rooms, in one binary.
#![allow(clippy::unwrap_used)]

mod ledger;
mod made_up;
mod manual;
mod moment;
mod view;
