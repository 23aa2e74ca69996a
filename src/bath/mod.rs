//! What one kind of bath is and allows, and the arithmetic of making it up and keeping it. This
//! room knows windows, chemicals, solubilities, titrations, consumption and looks; it must never
//! know a file, a clock, a run or a ledger. Spec, plan and everything below come in.

pub mod chemical;
pub mod conductivity;
mod correct;
mod cupboard;
pub mod density;
mod fault;
pub mod keep;
pub mod looks;
pub mod panel;
mod profile;
mod put;
mod recipe;
mod reckon;
pub mod solubility;
mod strength;
mod titration;

pub use chemical::Chemical;
pub use correct::{Correction, acid_by_density, correct, possible};
pub use cupboard::Cupboard;
pub use fault::{BathFault, FAULTS};
pub use profile::{Additive, AnodeKind, BathProfile, Component};
pub use put::{Put, read_put, read_share};
pub use recipe::{Addition, Recipe, chloride_checked, make, volume_checked};
pub use reckon::{Checked, NOTES, Note, check, notes, reckon, window_notes};
pub use strength::Acid;
pub use titration::{Titrated, Titration};
