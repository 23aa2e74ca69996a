//! Hands: the process that runs jobs on one station. This room knows threads, sockets, signals,
//! locks and in which order a daemon begins and ends. It must never know what a guard means, how a
//! supply is spoken to or what a page looks like: it carries out what `run` asks. Only cli may come
//! in.

mod api;
mod board;
mod desk;
mod first;
mod going_on;
mod hand;
mod inbox;
mod latch;
mod notice;
mod page;
mod place;
mod prepare;
mod pulse;
mod recover;
mod refusal;
mod rehang;
mod scribe;
mod senses;
mod serve;
mod signals;
mod standing;
mod tank;
mod told;

pub use desk::End;
pub use notice::{Tried, try_each};
pub use page::token;
pub use place::{Lock, Place, PlaceFault, STATE_VARIABLE};
pub use prepare::Asking;
pub use refusal::{BAD_INPUT, NO_SUPPLY, NOT_CONFIRMED_OFF, REFUSED, Refusal};
pub use rehang::{Named, Newly};
pub use serve::{Serving, Settings, serve};
pub use tank::{Kept, as_kept};

use std::path::PathBuf;

/// The state folder that the environment names.
///
/// # Errors
/// [`PlaceFault`] if it names none.
pub fn state_folder() -> Result<PathBuf, PlaceFault> {
    Ok(Place::of_environment()?.folder().to_owned())
}
