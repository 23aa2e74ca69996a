//! Shows. This room knows how a moment, a plan or a record reads as text, JSON, a picture or a
//! page, and draws it from plain data. It must never read a file or a clock, wait, or decide.
//! Daemon and cli come in.

mod facts;
pub mod json;
pub mod picture;
pub mod report;
pub mod text;
mod words;

pub use crate::plan::Layer;
pub use facts::{AreaFacts, Grown, Rehearsal, Tonight, TrueElectrode, TruthTable};
pub use report::report;
