//! One binary for the tests of all rooms: linking it once is what takes the time.
#![allow(clippy::unwrap_used)]

mod charge;
mod daemon;
mod deposit;
mod fake_supply;
mod guards;
mod keeper;
mod keeper_owner;
mod ledger;
mod made_up;
mod manual;
mod moment;
mod night_kit;
mod nights;
mod notices;
mod plan;
mod published_surface;
mod rig_bench;
mod rig_cell;
mod rig_lend;
mod rig_standard;
mod rig_studio;
mod rig_terse;
mod spec;
mod spec_notices;
mod spec_sensors;
mod supply_codec;
mod supply_link;
mod supply_profile;
mod supply_rig;
mod supply_scpi;
mod surface;
mod view;
