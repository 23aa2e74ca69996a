//! Shows. This room knows how a moment, a plan or a record reads as text, JSON, a picture or a
//! page, and draws it from plain data. It must never know a file or a clock, and it neither waits
//! nor decides. Daemon and cli come in.

pub mod cards;
mod facts;
pub mod json;
mod kept;
pub mod page;
pub mod picture;
pub mod report;
pub mod salvage;
pub mod text;
mod trial;
mod words;

pub use crate::plan::Layer;
pub use facts::{AreaFacts, Grown, Label, Rehearsal, Tonight, TrueElectrode, TruthTable};
pub use kept::{BATH_NOTES, BathDue, bath_notes};
pub use report::report;
pub use trial::{Trial, unlike};
