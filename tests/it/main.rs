//! Every integration test, in one binary.

mod supply_codec;
mod supply_link;
mod supply_profile;
mod supply_scpi;
