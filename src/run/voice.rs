//! Puts what happens into the ledger's words and into snapshots.

use super::{Alarm, Effect, PieceState, Snapshot};
use crate::control::{Core, Envelope, Note, Outcome, State};
use crate::exchange::Reading;
use crate::ledger::{Account, ElectrodeHead, Entry, Origin, ReadingEntry, Rehung, RunHead, RunId};
use crate::units::{Length, Moment, Span};

/// The code of the event that an alarm fell silent.
const ALARM_OVER: &str = "alarm-over";

/// The code of the event that the relay was let go, and its words.
const CUT: &str = "cut";
const CUT_SAID: &str =
    "off could not be confirmed in time: the relay in the output lead is let go, which is no proof";

/// What a run has to say about itself.
pub(super) struct Voice {
    id: RunId,
    job: String,
    station: String,
    target: Option<Length>,
    names: Vec<String>,
    origin: Origin,
    /// The state that was entered last, and when.
    entered: Option<(State, Moment)>,
    identity: Option<String>,
    output_on: Option<bool>,
    last_reply: Option<Moment>,
    alarms: Vec<Alarm>,
    pending: Option<Reading>,
}

impl Voice {
    pub(super) fn new(id: RunId, head: &RunHead, origin: Origin) -> Self {
        Self {
            id,
            job: head.job.clone(),
            station: head.station.clone(),
            target: head.target,
            names: head
                .electrodes
                .iter()
                .map(|electrode| electrode.name.clone())
                .collect(),
            origin,
            entered: None,
            identity: None,
            output_on: None,
            last_reply: None,
            alarms: Vec::new(),
            pending: None,
        }
    }

    /// The run's times count from here.
    pub(super) fn count_from(&mut self, origin: Origin) {
        self.origin = origin;
    }

    /// These pieces come after the run's others.
    pub(super) fn hang(&mut self, pieces: usize, added: &[ElectrodeHead]) {
        let names = added.iter().map(|head| head.name.clone());
        self.names.splice(pieces..pieces, names);
    }

    /// A change of what hangs, for the ledger.
    pub(super) fn rehung(&self, now: Moment, change: Rehung) -> Entry {
        tracing::info!(run = self.id, "{}", change.text);
        let at = self.origin.since(now);
        Entry::Rehung { at, change }
    }

    /// A reply came.
    pub(super) fn heard(&mut self, at: Moment) {
        self.last_reply = Some(at);
    }

    /// When one last came.
    pub(super) const fn last_reply(&self) -> Option<Moment> {
        self.last_reply
    }

    /// The output was turned on or off, as far as an acknowledged order says.
    pub(super) fn output(&mut self, on: bool) {
        self.output_on = Some(on);
    }

    /// A reading came; it is written down when control has seen it.
    pub(super) fn reading(&mut self, reading: &Reading) {
        if reading.output.is_some() {
            self.output_on = reading.output;
        }
        if reading.current.is_some() {
            self.pending = Some(reading.clone());
        }
    }

    /// The entry for the last reading, once, if current is meant to flow.
    pub(super) fn reading_entry(&mut self, core: &Core) -> Option<Entry> {
        let reading = self.pending.take()?;
        let middle = reading.sent + reading.received.since(reading.sent) * 0.5;
        Some(Entry::Reading(ReadingEntry {
            at: self.origin.since(middle),
            current: reading.current,
            voltage: reading.voltage,
            setpoint: core.setpoint().unwrap_or_default(),
            mode: reading.mode,
            charge: core.charge().best,
            thickness: core.rack().shown_thickness(),
        }))
    }

    /// The supply said who it is.
    pub(super) fn identity(&mut self, identity: String) -> Entry {
        self.identity = Some(identity.clone());
        Entry::Supply { identity }
    }

    /// An envelope for the ledger.
    pub(super) fn envelope(&self, now: Moment, envelope: Envelope) -> Entry {
        Entry::Envelope {
            at: self.origin.since(now),
            envelope,
            until: self.origin.since(envelope.until),
        }
    }

    /// Writes a note down; true if it should be durable at once.
    pub(super) fn note(
        &mut self,
        now: Moment,
        note: &Note,
        core: &Core,
        effects: &mut Vec<Effect>,
    ) -> bool {
        let at = self.origin.since(now);
        let (code, text) = match note {
            Note::Entered(state) => {
                tracing::info!(state = state.word(), run = self.id, "state");
                if self.since(*state).is_none() {
                    self.entered = Some((*state, now));
                }
                effects.push(Effect::Record(Entry::Entered { at, state: *state }));
                return true;
            }
            Note::Spoke(fault, evidence) => {
                tracing::warn!(guard = fault.code(), run = self.id, "{evidence}");
                self.alarms.push(Alarm {
                    fault: *fault,
                    text: evidence.clone(),
                    since: now,
                });
                (fault.code(), evidence.clone())
            }
            Note::Quiet(fault) => {
                tracing::info!(guard = fault.code(), run = self.id, "no longer seen");
                self.alarms.retain(|alarm| alarm.fault != *fault);
                (ALARM_OVER, format!("{}: no longer seen", fault.code()))
            }
            Note::Reached => {
                let charge = core
                    .reached()
                    .map_or(core.charge(), |reached| reached.charge);
                effects.push(Effect::Record(Entry::Reached { at, charge }));
                return true;
            }
            Note::LookDue => (
                "look-due",
                format!(
                    "a planned look at {:.0} um: lift, look, turn, hang again, then resume",
                    core.rack().shown_thickness().um()
                ),
            ),
            Note::PausedByHand => ("paused-by-hand", "a person paused the run".to_owned()),
            Note::Behind { should, most } => (
                "copper-behind",
                format!(
                    "a step of the current shows {:.1} cm² at most where {:.1} cm² should be \
                     covered by now: the current follows the copper",
                    most.cm2(),
                    should.cm2()
                ),
            ),
            Note::Gap(span) => ("gap", format!("nobody looked for {:.1} s", span.s())),
            Note::Cut => {
                tracing::error!(run = self.id, "{CUT_SAID}");
                (CUT, CUT_SAID.to_owned())
            }
            Note::OffAgain(tries) => ("off-again", format!("off sent for the {tries}. time")),
        };
        effects.push(Effect::Record(Entry::Event { at, code, text }));
        *note == Note::Cut
    }

    /// The accounts as they stand.
    pub(super) fn accounts(&self, now: Moment, core: &Core) -> Entry {
        let rack = core.rack();
        let electrodes = (0..rack.electrodes())
            .map(|index| Account {
                charge: rack.charge(index),
                mass: rack.mass(index),
                thickness: rack.thickness_interval(index),
                area: rack.area(index),
                on: rack.on(index),
            })
            .collect();
        let (shown, governing) = rack.shown();
        Entry::Accounts {
            shown,
            governing,
            at: self.origin.since(now),
            charge: core.charge(),
            electrodes,
        }
    }

    /// The end.
    pub(super) fn ended(&self, now: Moment, outcome: Outcome) -> Entry {
        Entry::Ended {
            at: self.origin.since(now),
            outcome,
            fault: outcome.fault(),
        }
    }

    /// Since when it is in this state, if it was entered.
    fn since(&self, state: State) -> Option<Moment> {
        let (entered, at) = self.entered?;
        (entered == state).then_some(at)
    }

    /// All that a view may show.
    pub(super) fn snapshot(&self, now: Moment, core: &Core) -> Snapshot {
        let rack = core.rack();
        let reading = core.last_reading();
        let state = core.state();
        let mut electrodes: Vec<PieceState> = self
            .names
            .iter()
            .enumerate()
            .map(|(index, name)| PieceState {
                name: name.clone(),
                charge: rack.charge(index),
                mass: rack.mass(index),
                thickness: rack.thickness_interval(index),
                area: rack.area(index),
                hangs: rack.hangs(index),
            })
            .collect();
        let hangers = electrodes.split_off(rack.pieces());
        Snapshot {
            now,
            station: self.station.clone(),
            state,
            state_since: self.since(state),
            run: Some(self.id),
            job: Some(self.job.clone()),
            output_on: self.output_on,
            current: reading.and_then(|reading| reading.current),
            setpoint: core.setpoint(),
            voltage: reading.and_then(|reading| reading.voltage),
            charge: core.charge_at(now),
            thickness: rack.shown_thickness(),
            target: self.target,
            progress: rack.progress(),
            time_left: time_left(core, state),
            elapsed: self.origin.since(now),
            time_on: rack.time_on(),
            alarms: self.alarms.clone(),
            pieces: electrodes,
            hangers,
            identity: self.identity.clone(),
            last_reply: self.last_reply,
            cut: core.is_cut(),
        }
    }
}

/// Time until the goal: along the schedule while it still rises, then from what flows.
fn time_left(core: &Core, state: State) -> Option<Span> {
    match state {
        State::Striking | State::Ramping => {
            Some((core.plan().forecast.duration - core.rack().time_on()).max(Span::ZERO))
        }
        State::Building => core.time_left(),
        State::Idle
        | State::Proving
        | State::Holding
        | State::Finished
        | State::Paused
        | State::Stopping
        | State::Stopped
        | State::Tripped
        | State::Interrupted
        | State::Unconfirmed => None,
    }
}
