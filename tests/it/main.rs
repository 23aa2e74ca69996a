//! Every integration test, in one binary.

mod fake_supply;
mod keeper;
mod supply_codec;
mod supply_link;
mod supply_profile;
mod supply_scpi;
