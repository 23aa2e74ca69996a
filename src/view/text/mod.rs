//! Text for a terminal of 80 columns. No colour: what a word does not say is not said.

mod bath;
mod bedtime;
mod kept;
pub(super) mod layout;
mod lists;
mod night;
mod salvage;
pub(in crate::view) mod status;
mod trial;

pub use bath::{bath_checked, bath_made, bath_panel, bath_reckoned};
pub use bedtime::bedtime;
pub use kept::{bath_added, bath_due, bath_shown};
pub use lists::{pieces, runs};
pub use night::{area, plan, rehearsal};
pub use salvage::{Aftermath, salvage};
pub use status::status;
pub use trial::{compared, exported, looked};

use crate::manual;
use layout::{WIDTH, wrap};

/// A page of the manual, as it reads in a terminal; `None` if no page has this code.
#[must_use]
pub fn page(code: &str) -> Option<String> {
    let page = manual::page(code)?;
    let mut text = format!("{code}\n");
    for (heading, body) in manual::sections(page) {
        text.push_str(&format!("\n{heading}\n"));
        for line in wrap(&body, WIDTH - 2) {
            text.push_str(&format!("  {line}\n"));
        }
    }
    Some(text)
}
