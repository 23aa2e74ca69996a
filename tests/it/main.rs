//! Every integration test, in one binary.
#![allow(clippy::unwrap_used)]

mod fake_supply;
mod keeper;
mod keeper_owner;
mod rig_bench;
mod rig_cell;
mod rig_lend;
mod rig_standard;
mod rig_studio;
mod rig_terse;
mod spec;
mod supply_codec;
mod supply_link;
mod supply_profile;
mod supply_rig;
mod supply_scpi;
