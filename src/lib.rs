//! nightvat runs an electroforming bath through the night so that its owner can sleep.
//!
//! The rooms stand in the order of the flow. **A room may import only rooms above it.** `control`
//! and `supply` never meet: both speak [`exchange`], and [`run`] joins them. A test holds both
//! rules, and the list of the few files that may touch the world.

/// Quantities, and the products physics allows.
pub mod units;
/// What passes between deciding and talking.
pub mod exchange;
/// How much surface there is.
pub mod shape;
/// What charge lays down.
pub mod deposit;
/// What one kind of bath is and allows.
pub mod bath;
/// What people write, checked.
pub mod spec;
/// What tonight will be.
pub mod plan;
/// Decides: states, guards, charge, permits.
pub mod control;
/// Talks to a supply: dialects, link, keeper, port.
pub mod supply;
/// What can be proved afterwards.
pub mod ledger;
/// Control, link and ledger joined.
pub mod run;
/// One page a guard or refusal.
pub mod manual;
/// A snapshot or a record, drawn.
pub mod view;
/// The bench in software.
pub mod rig;
/// The one loop, the local API, signals.
pub mod daemon;
/// Words: one file a command.
pub mod cli;
