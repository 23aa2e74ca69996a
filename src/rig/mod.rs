//! The bench in software. This room knows a simulated electroforming cell, a simulated supply that
//! speaks on a wire, and a line in virtual time, all drawn from one seed, with physics and command
//! tables of their own. It must never know how the rest of the house reckons a surface, a deposit
//! or a decision, so that an error on either side shows in the result. `lend` is its door to a
//! pseudo-terminal. Daemon, cli and tests come in.

/// A line to the simulated supply in virtual time.
pub mod bench;
/// The simulated cell and its own account.
pub mod cell;
/// True surfaces and how they grow.
pub mod growth;
/// A simulated supply around the cell.
pub mod instrument;
/// Interfaces: Butler–Volmer and the limiting density.
pub mod kinetics;
/// Lends a simulated supply on a pseudo-terminal.
pub mod lend;
/// Whole nights from one seed, and what must hold in them.
pub mod night;
/// Resistances of the electrolyte.
pub mod ohmic;
/// Drives a run over a line in virtual time.
pub mod rehearsal;
/// Copper that spreads over paint.
mod skin;
/// Everything drawn from one seed.
pub mod world;
