//! What charge lays down. This room knows metals, Faraday's law, how a thickening piece grows and how pieces
//! on one cathode share a current. It must never know time of day, files, supplies or guards. Bath, spec,
//! plan, control and everything below come in.

pub mod metal;

pub use metal::Metal;
