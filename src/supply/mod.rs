//! Talks to a supply. This room knows dialects, which are data, how their commands become bytes
//! and how bytes become answers, one request at a time. It must never know why it is asked:
//! neither plan nor control nor ledger. Its doors are `keeper` and `port`. Run, rig, daemon and
//! cli come in.

pub mod clock;
pub mod codec;
pub mod keeper;
pub mod link;
pub mod off;
pub mod port;
pub mod wire;

pub use port::off_now;
