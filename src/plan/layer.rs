//! What stands between a fault and a fire tonight.

use crate::exchange::{Capability, OnMainsReturn};
use crate::units::Span;

/// One layer of protection, and whether it stands tonight.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Layer {
    /// A word for it: `guards`, `supply-limits`, `keeper`, `supply-watchdog`, `relay`,
    /// `mains-return`, `mains-timer`, `fuse-and-switch`.
    pub name: &'static str,
    /// Whether it stands; `None` where only the person at the bench can know.
    pub active: Option<bool>,
    /// What it does, or why it does not stand.
    pub text: String,
}

/// The layers of a night on a supply that can do this, with a relay in the output lead that opens
/// within so long, if there is one.
#[must_use]
pub fn layers(supply: &Capability, relay: Option<Span>) -> Vec<Layer> {
    let layer = |name, active: Option<bool>, text: &str| Layer {
        name,
        active,
        text: text.to_owned(),
    };
    let limits = match (supply.guards_over_voltage, supply.guards_over_current) {
        (true, true) => "over-voltage and over-current levels are set in the supply and read back",
        (true, false) => "only an over-voltage level is set in the supply and read back",
        (false, true) => "only an over-current level is set in the supply and read back",
        (false, false) => "this supply has no protection that can be set",
    };
    let programmed = supply.guards_over_voltage || supply.guards_over_current;
    let own = supply.watchdog.map_or_else(
        || "this supply has no watchdog or output timer that its profile knows".to_owned(),
        |within| {
            let s = within.s();
            format!("the supply turns its output off by itself when nobody renews it for {s:.0} s")
        },
    );
    let mains = match supply.on_mains_return {
        OnMainsReturn::Off => "after a mains outage this supply stays off",
        OnMainsReturn::On => "after a mains outage this supply comes back on by itself",
        OnMainsReturn::Unknown => "nobody has tried what this supply does after a mains outage",
    };
    let cut = relay.map_or_else(
        || "the station names no relay in the output lead".to_owned(),
        |opens| {
            let s = opens.s();
            format!(
                "a relay in the output lead opens within {s:.1} s when the keeper stops toggling \
                 it, for any reason; what it does is a cut, not a confirmed off"
            )
        },
    );
    let timer = if relay.is_some() {
        "if this computer loses power, the relay opens: the supply keeps its output on, with \
         nothing on it"
    } else {
        "if this computer loses power or its cable, the supply keeps running: only a timer or \
         a switch outside ends that"
    };
    vec![
        layer(
            "guards",
            Some(true),
            "every reading is judged; the output goes off after a doubt",
        ),
        layer("supply-limits", Some(programmed), limits),
        layer(
            "keeper",
            Some(true),
            "a process of its own turns the output off when the daemon dies or is silent 5 s",
        ),
        layer("supply-watchdog", Some(supply.watchdog.is_some()), &own),
        layer("relay", Some(relay.is_some()), &cut),
        layer(
            "mains-return",
            Some(supply.on_mains_return == OnMainsReturn::Off),
            mains,
        ),
        layer("mains-timer", None, timer),
        layer(
            "fuse-and-switch",
            None,
            "a fuse in the cell lead and a switch within reach; software cannot see them",
        ),
    ]
}
