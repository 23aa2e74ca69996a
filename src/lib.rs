//! nightvat runs an electroforming bath through the night so that its owner can sleep.
//!
//! The rooms stand in the order of the flow. **A room may import only rooms above it.** `control` and `supply`
//! never meet: both speak [`exchange`], and [`run`] joins them.

/// What one kind of bath is and allows.
pub mod bath;
/// What charge lays down.
pub mod deposit;
/// What passes between deciding and talking.
pub mod exchange;
/// The bench in software: cell, instrument, virtual time.
pub mod rig;
/// How much surface there is.
pub mod shape;
/// What people write, checked.
pub mod spec;
/// Talks to a supply.
pub mod supply;
/// Quantities, and the products physics allows.
pub mod units;
