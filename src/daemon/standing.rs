//! What does not change while a daemon lives: its station, its supply, its clock.

use crate::control::State;
use crate::exchange::Capability;
use crate::run::Snapshot;
use crate::spec::{Shelf, Station, SupplyProfile};
use crate::supply::clock::Clock;
use crate::supply::port::is_pseudo_terminal;
use crate::units::{Bounded, Charge, Length, Moment, Span};
use chrono::{DateTime, Local, SecondsFormat};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The daemon's fixed facts.
#[derive(Debug)]
pub(super) struct Standing {
    /// The station.
    pub(super) station: Station,
    /// Its supply.
    pub(super) profile: Arc<SupplyProfile>,
    /// What that supply can do.
    pub(super) capability: Capability,
    /// Where files are found.
    pub(super) shelf: Shelf,
    /// The clock of daemon and keeper.
    pub(super) clock: Clock,
    /// The socket.
    pub(super) socket: PathBuf,
    /// The ledger.
    pub(super) ledger: PathBuf,
}

impl Standing {
    /// The station at rest, as the supply was last seen.
    pub(super) fn at_rest(&self, last: &Snapshot) -> Snapshot {
        Snapshot {
            output_on: last.output_on,
            current: last.current,
            identity: last.identity.clone(),
            last_reply: last.last_reply,
            ..self.untouched()
        }
    }

    /// The station before anything was heard of its supply.
    pub(super) fn untouched(&self) -> Snapshot {
        Snapshot {
            now: self.clock.now(),
            station: self.station.name.clone(),
            state: State::Idle,
            state_since: None,
            run: None,
            job: None,
            output_on: None,
            current: None,
            setpoint: None,
            voltage: None,
            charge: Bounded::exact(Charge::ZERO),
            thickness: Length::ZERO,
            target: None,
            progress: 0.0,
            time_left: None,
            elapsed: Span::ZERO,
            time_on: Span::ZERO,
            alarms: Vec::new(),
            pieces: Vec::new(),
            hangers: Vec::new(),
            identity: None,
            last_reply: None,
            cut: false,
        }
    }

    /// The relay in the output lead opens within this, if there is one.
    pub(super) fn opens_within(&self) -> Option<Span> {
        self.station.relay.as_ref().map(|relay| relay.opens_within)
    }

    /// True if the supply is a simulated one, lent on a pseudo-terminal.
    pub(super) fn simulated(&self) -> bool {
        is_pseudo_terminal(Path::new(&self.station.port))
    }

    /// The time of day of a moment on the station's clock.
    pub(super) fn time_of(&self, at: Moment) -> DateTime<Local> {
        let now = self.clock.now();
        Local::now() + self.clock.real(at.since(now)) - self.clock.real(now.since(at))
    }

    /// The same as a label, RFC 3339.
    pub(super) fn label(&self, at: Moment) -> String {
        self.time_of(at).to_rfc3339_opts(SecondsFormat::Secs, false)
    }
}

/// Now, as a label.
pub(super) fn label_now() -> String {
    Local::now().to_rfc3339_opts(SecondsFormat::Secs, false)
}
