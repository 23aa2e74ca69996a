//! nightvat runs an electroforming bath through the night so that its owner can sleep.
//!
//! The rooms stand in the order of the flow. **A room may import only rooms above it.** `control` and `supply`
//! never meet: both speak [`exchange`], and [`run`] joins them.

/// What one kind of bath is and allows.
pub mod bath;
/// Decides.
pub mod control;
/// What charge lays down.
pub mod deposit;
/// What passes between deciding and talking.
pub mod exchange;
/// What can be proved afterwards.
pub mod ledger;
/// One page for each word code.
pub mod manual;
/// What tonight will be.
pub mod plan;
/// Joins control, link and ledger.
pub mod run;
/// How much surface there is.
pub mod shape;
/// What people write, checked.
pub mod spec;
/// Talks to a supply.
pub mod supply;
/// Quantities, and the products physics allows.
pub mod units;
/// Shows.
pub mod view;
