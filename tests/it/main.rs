//! One binary for the tests of all rooms: linking it once is what takes the time.
#![allow(clippy::unwrap_used)]

mod aftermath;
mod bedtime;
mod blindness;
mod charge;
mod charge_bounds;
mod commands;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod crash;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod crash_points;
mod daemon;
mod deposit;
mod deposit_edges;
mod desk;
mod errands;
mod fake_supply;
mod first_look;
mod goal;
mod guards;
mod in_flight;
mod keeper;
mod keeper_doubt;
mod keeper_owner;
mod keeper_relay;
mod keeper_watchdog;
mod leaf;
mod ledger;
mod line_edges;
mod made_up;
mod manual;
mod measure;
mod mesh_files;
mod moment;
mod night_kit;
mod nights;
mod notices;
mod permits;
mod plan;
mod plan_edges;
mod plant;
mod plugs;
mod proving;
mod published_surface;
mod relay;
mod rig_bench;
mod rig_cell;
mod rig_lend;
mod rig_standard;
mod rig_studio;
mod rig_terse;
mod setpoint;
mod shapes;
mod soak;
mod soak_faults;
mod spec;
mod spec_notices;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod storage_faults;
mod spec_relay;
mod spec_sensors;
mod supply_codec;
mod supply_link;
mod supply_profile;
mod supply_rig;
mod supply_scpi;
mod surface;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod tracer;
mod view;
mod worst;
mod way_off;
