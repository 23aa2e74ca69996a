//! The integration tests of all rooms, in one binary.

mod deposit;
mod published_surface;
mod surface;
