//! Every integration test, in one binary.

mod supply_profile;
