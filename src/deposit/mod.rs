//! What charge lays down. This room knows metals, Faraday's law, how a thickening piece grows and
//! how pieces on one cathode share a current. It must never know time of day, files, supplies or
//! guards. Bath, spec, plan, control and everything below come in.

mod account;
mod cover;
mod fault;
mod growth;
mod interval;
pub mod metal;
pub mod paint;
mod share;

pub use account::Account;
pub use cover::Cover;
pub use fault::DepositError;
pub use growth::Deposit;
pub use interval::thickness_interval;
pub use metal::{FARADAY, Metal};
pub use share::split;
