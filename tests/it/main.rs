//! One binary for the tests of all rooms: linking it once is what takes the time.

mod charge;
mod guards;
