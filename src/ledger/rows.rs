//! What the ledger gives back: plain data.

use super::entry::{Account, ElectrodeHead, Paper, ReadingEntry, RunHead, RunId};
use crate::control::{Outcome, State};
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Voltage};

/// A reading as it stands in the ledger.
pub type ReadingRow = ReadingEntry;

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ending {
    /// Time since the run began.
    pub at: Span,
    /// How.
    pub outcome: Outcome,
}

/// A run in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct RunRow {
    /// Its number.
    pub id: RunId,
    /// The job's name.
    pub job: String,
    /// The station's name.
    pub station: String,
    /// The bath profile's name.
    pub bath: String,
    /// When it began: a label.
    pub began: String,
    /// True if supply and cell were simulated.
    pub simulated: bool,
    /// True for a rehearsal; a daemon's run on a simulated supply is none.
    pub rehearsed: bool,
    /// How it ended; `None` while it goes on, or if nobody wrote its end.
    pub ending: Option<Ending>,
    /// Charge with its hard bounds, as last accounted.
    pub charge: Bounded<Charge>,
    /// Thickness of the piece that governs the end, at the last reading.
    pub thickness: Option<Length>,
    /// The piece that thickness is of; `None` for a mean of all, or where it is not known.
    pub governing: Option<usize>,
    /// The target that is shown.
    pub target: Option<Length>,
}

/// A run, whole but for its readings.
#[derive(Clone, Debug, PartialEq)]
pub struct RunRecord {
    /// Its number.
    pub id: RunId,
    /// What was known before it began.
    pub head: RunHead,
    /// Who the supply said it was.
    pub identity: Option<String>,
    /// When the accounts were last written.
    pub accounted: Span,
    /// Charge with its hard bounds, hangers and hold included.
    pub charge: Bounded<Charge>,
    /// Thickness of the piece that governs the end, at the last reading.
    pub thickness: Option<Length>,
    /// The piece that thickness is of; `None` for a mean of all, or where it is not known.
    pub governing: Option<usize>,
    /// The states it came through.
    pub states: Vec<StateRow>,
    /// What happened.
    pub events: Vec<EventRow>,
    /// Pieces first, then hangers.
    pub electrodes: Vec<ElectrodeRow>,
    /// Files of pieces that were hung into it, in their order.
    pub papers: Vec<Paper>,
    /// What was allowed, in the order it was written.
    pub envelopes: Vec<EnvelopeRow>,
    /// When the target was reached, and the charge until then.
    pub reached: Option<ReachedRow>,
    /// How it ended; `None` while it goes on, or if nobody wrote its end.
    pub ending: Option<Ending>,
    /// True if only the readings worth keeping are left.
    pub thinned: bool,
}

impl RunRecord {
    /// The pieces, without the hangers.
    pub fn pieces(&self) -> impl Iterator<Item = &ElectrodeRow> {
        self.electrodes
            .iter()
            .filter(|electrode| !electrode.head.hanger)
    }

    /// The hangers.
    pub fn hangers(&self) -> impl Iterator<Item = &ElectrodeRow> {
        self.electrodes
            .iter()
            .filter(|electrode| electrode.head.hanger)
    }

    /// The state the run was last in: that of its end, if it has one.
    #[must_use]
    pub fn state(&self) -> State {
        let last = self.states.last().map_or(State::Idle, |row| row.state);
        self.ending.map_or(last, |ending| ending.outcome.state())
    }

    /// How long it went on: to its end, or to the last thing that is known of it.
    #[must_use]
    pub fn lasted(&self) -> Span {
        let last = self
            .states
            .iter()
            .map(|row| row.at)
            .chain(self.events.iter().map(|row| row.at));
        self.ending
            .map_or_else(|| last.fold(self.accounted, Span::max), |ending| ending.at)
    }
}

/// A change of state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StateRow {
    /// Time since the run began.
    pub at: Span,
    /// The state it came into.
    pub state: State,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct EventRow {
    /// Time since the run began.
    pub at: Span,
    /// Its word code.
    pub code: String,
    /// A sentence.
    pub text: String,
}

/// One electrode with its account.
#[derive(Clone, Debug, PartialEq)]
pub struct ElectrodeRow {
    /// What was known before.
    pub head: ElectrodeHead,
    /// How it stands.
    pub account: Account,
    /// It hangs in the bath; false for a piece that was lifted out of the run.
    pub hangs: bool,
}

/// What was allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EnvelopeRow {
    /// Time since the run began.
    pub at: Span,
    /// At most this current.
    pub current: Current,
    /// At most this voltage.
    pub voltage: Voltage,
    /// Until then, as time since the run began.
    pub until: Span,
}

/// When the target was reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReachedRow {
    /// Time since the run began.
    pub at: Span,
    /// Charge until then.
    pub charge: Bounded<Charge>,
}

/// A piece in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceRow {
    /// The run it hung in.
    pub run: RunId,
    /// When that began: a label.
    pub began: String,
    /// Its name.
    pub name: String,
    /// True if supply and cell were simulated.
    pub simulated: bool,
    /// Its area at the start.
    pub area_start: Area,
    /// How it stands.
    pub account: Account,
    /// What it gained on the scale, weighed last.
    pub weighed: Option<Mass>,
    /// What a gauge read on it last.
    pub gauged: Option<Length>,
    /// How far that may be from its mean, 95 %, where it was said.
    pub gauge_doubt: Option<Length>,
}

/// A run that began and whose end nobody wrote.
#[derive(Clone, Debug, PartialEq)]
pub struct UnfinishedRow {
    /// Its number.
    pub id: RunId,
    /// The job's name.
    pub job: String,
    /// The station's name.
    pub station: String,
    /// When it began: a label.
    pub began: String,
    /// True for a rehearsal.
    pub rehearsed: bool,
    /// The last reading in the ledger.
    pub last_reading: Option<ReadingRow>,
    /// When the accounts were last written.
    pub accounted: Span,
    /// Charge with its bounds, as last accounted.
    pub charge: Bounded<Charge>,
    /// The most charge that can have flowed: the accounts' upper bound, and from then on every
    /// envelope's current until its end.
    pub charge_at_most: Charge,
    /// When the last envelope ended: later than that nothing was allowed to flow.
    pub allowed_until: Span,
}
