//! The rooms together, from outside.

mod rig_bench;
mod rig_cell;
mod rig_lend;
mod rig_standard;
mod rig_studio;
mod rig_terse;
