//! Holds what is seen against the guard table and remembers how long each guard has seen its
//! fault. Each file beside this one knows one kind of evidence and keeps what it needs of it.

mod bath;
mod electrical;
mod host;
pub mod limit;
mod link;
mod said;
mod supply;

pub use electrical::Step;

use super::guard::{Evidence, Fault, Faults, Latch, Patience, Response};
use super::permit::Envelope;
use super::sense::Sense;
use super::state::State;
use crate::exchange::{Capability, LinkFault, Reading};
use crate::plan::Bounds;
use crate::units::{Area, Charge, Current, Moment, Span, Voltage};
use bath::Bath;
use electrical::Electrical;
use host::Host;
use link::Link;
use supply::Strange;

/// What there is to judge at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Sight<'a> {
    /// The clock.
    pub now: Moment,
    /// The state the run is in.
    pub state: State,
    /// The reading, if one came.
    pub reading: Option<&'a Reading>,
    /// How long it took from the question to the last reply.
    pub took: Span,
    /// From one reading to the next.
    pub period: Span,
    /// The setpoint that was last sent and acknowledged.
    pub set: Current,
    /// The setpoint has stood long enough to be judged.
    pub settled: bool,
    /// The constant-voltage ceiling.
    pub ceiling: Voltage,
    /// The envelope that stands.
    pub envelope: Envelope,
    /// The supply's limits and steps.
    pub supply: &'a Capability,
    /// What bath and station bear.
    pub bounds: &'a Bounds,
    /// The surface that takes current now, as far as control knows.
    pub covered: Area,
    /// What should be covered by now, by the plan.
    pub planned: Area,
    /// All the surface there is.
    pub whole: Area,
    /// Charge delivered so far.
    pub charge: Charge,
    /// The most that may be delivered.
    pub charge_cap: Charge,
    /// Time with the output on.
    pub on: Span,
    /// The longest it may be on.
    pub on_cap: Span,
}

/// What one guard says at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sees {
    Fault,
    Clear,
    NoNews,
}

/// What the guards say together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Verdict {
    /// The worst guard that ends the run.
    pub trips: Option<Fault>,
    /// Alarms that begin now.
    pub begun: Faults,
    /// Alarms whose cause is gone.
    pub gone: Faults,
}

/// The memory of the guards.
#[derive(Clone, Debug)]
pub struct Watch {
    seen: [Option<(Moment, u32)>; Fault::ALL.len()],
    /// Alarms that speak.
    speaking: Faults,
    /// Since when the cause of each has been gone.
    gone: [Option<Moment>; Fault::ALL.len()],
    electrical: Electrical,
    strange: Strange,
    link: Link,
    bath: Bath,
    host: Host,
}

impl Watch {
    /// Guards that have seen nothing yet.
    #[must_use]
    pub fn new(now: Moment) -> Self {
        Self {
            seen: [None; Fault::ALL.len()],
            speaking: Faults::NONE,
            gone: [None; Fault::ALL.len()],
            electrical: Electrical::new(now),
            strange: Strange::default(),
            link: Link::new(now),
            bath: Bath::new(now),
            host: Host::default(),
        }
    }

    /// A run begins.
    pub fn begin(&mut self, now: Moment) {
        self.bath.begin(now);
        self.wake(now);
    }

    /// The run goes on after it had current for so long.
    pub(super) fn goes_on(&mut self, before: Span) {
        self.bath.goes_on(before);
    }

    /// Starts afresh after the output was off: the silence meanwhile is not the supply's. What is
    /// known of bath and computer stays, and so do the alarms that speak.
    pub fn wake(&mut self, now: Moment) {
        self.seen = [None; Fault::ALL.len()];
        self.electrical = Electrical::new(now);
        self.strange = Strange::default();
        self.link = Link::new(now);
        self.host.wake();
    }

    /// Something came from the supply.
    pub fn answered(&mut self, now: Moment) {
        self.link.answered(now);
    }

    /// The current is not measured now: that no reading comes is nobody's fault.
    pub(super) fn measures_nothing(&mut self, now: Moment) {
        self.link.measures_nothing(now);
    }

    /// An order came to nothing on the line.
    pub fn failed(&mut self, now: Moment, fault: &LinkFault) {
        self.link.failed(now, fault);
    }

    /// Something beside the supply was noticed.
    pub fn sense(&mut self, now: Moment, sense: Sense) {
        match sense {
            Sense::Slept(_)
            | Sense::ClockJumped(_)
            | Sense::DiskFree(_)
            | Sense::LedgerWaits(_) => {
                self.host.sense(sense);
            }
            Sense::Sensor(measures, number) => self.bath.sense(now, measures, number),
        }
    }

    /// A step of the setpoint and what the readings made of it; in a strike the most surface that
    /// can take part, if it shows.
    pub fn stepped(&mut self, step: &Step, sight: &Sight<'_>) -> Option<Area> {
        self.electrical.stepped(step, sight)
    }

    /// True while a guard that could end the run has seen something and is not sure yet: whoever
    /// asks next asks everything.
    #[must_use]
    pub fn is_uneasy(&self) -> bool {
        Fault::ALL
            .into_iter()
            .zip(&self.seen)
            .filter(|(_, seen)| seen.is_some())
            .any(|(fault, _)| fault.guard().response != Response::Alarm)
    }

    /// True after a step of the setpoint that did not show.
    #[must_use]
    pub fn doubts_meter(&self) -> bool {
        self.electrical.doubts_meter()
    }

    /// Judges a moment. The worst guard that has seen its fault long enough trips.
    pub fn judge(&mut self, sight: &Sight<'_>) -> Verdict {
        self.link.note(sight);
        self.electrical.note(sight);
        self.strange.note(sight);
        let mut verdict = Verdict::default();
        let mut disturbed = false;
        for (slot, fault) in Fault::ALL.into_iter().enumerate() {
            let guard = fault.guard();
            if !guard.states.contains(&sight.state) {
                self.seen[slot] = None;
                continue;
            }
            let sees = self.sees(fault, sight);
            match sees {
                Sees::Clear => self.seen[slot] = None,
                Sees::NoNews => {}
                Sees::Fault => {
                    disturbed |= guard.evidence == Evidence::Electrical;
                    let (first, count) = self.seen[slot].unwrap_or((sight.now, 0));
                    self.seen[slot] = Some((first, count + 1));
                    if !ripe(guard.patience, first, count + 1, sight.now) {
                    } else if guard.response == Response::Alarm {
                        self.speak(fault, &mut verdict);
                    } else if verdict
                        .trips
                        .is_none_or(|other| guard.response > other.guard().response)
                    {
                        verdict.trips = Some(fault);
                    }
                }
            }
            self.let_go(slot, fault, sees, sight.now, &mut verdict);
        }
        if !disturbed {
            self.electrical.follow(sight);
        }
        verdict
    }

    /// An alarm speaks once, however long its cause lasts.
    fn speak(&mut self, fault: Fault, verdict: &mut Verdict) {
        if !self.speaking.has(fault) {
            self.speaking.add(fault);
            verdict.begun.add(fault);
        }
    }

    /// An alarm that does not latch falls silent when its cause has been gone for a while.
    fn let_go(&mut self, slot: usize, fault: Fault, sees: Sees, now: Moment, to: &mut Verdict) {
        if !self.speaking.has(fault) || fault.guard().latch != Latch::WhileSeen {
            return;
        }
        match sees {
            Sees::Fault => self.gone[slot] = None,
            Sees::NoNews => {}
            Sees::Clear => {
                let since = *self.gone[slot].get_or_insert(now);
                if now.since(since).s() >= limit::SILENT_AFTER_S {
                    self.gone[slot] = None;
                    self.speaking.remove(fault);
                    to.gone.add(fault);
                }
            }
        }
    }

    fn sees(&self, fault: Fault, sight: &Sight<'_>) -> Sees {
        let (electrical, link, bath, host) = (&self.electrical, &self.link, &self.bath, &self.host);
        match fault {
            Fault::SupplyPowerCycled => supply::power_cycled(sight),
            Fault::WrongChannel => supply::wrong_channel(sight),
            Fault::ReadbackFrozen => electrical.frozen(),
            Fault::CurrentWithoutVoltage => electrical::without_voltage(sight),
            Fault::CurrentOffSetpoint => electrical::off_setpoint(sight),
            Fault::ConstantCurrentLost => electrical::cc_lost(sight),
            Fault::CellVoltageHigh => electrical.high(sight),
            Fault::CellVoltageCollapsed => electrical.collapsed(sight),
            Fault::AnodeFilm => electrical.filmed(sight),
            Fault::VoltageClimbing => electrical.climbing(sight),
            Fault::VoltageNoisy => electrical.noisy(sight),
            Fault::CoverNotGrowing => electrical.uncovered(sight),
            Fault::OutputNotAsCommanded => supply::output_off(sight),
            Fault::SetpointChanged => self.strange.setpoint_changed(sight),
            Fault::ProtectionTripped => supply::tripped(sight),
            Fault::SupplyError => supply::error(sight),
            Fault::ReadingStale => link.stale(sight),
            Fault::ReadingImplausible => electrical::implausible(sight),
            Fault::LinkLost => link.lost(sight),
            Fault::LinkGarbled => link.garbled(),
            Fault::RepliesLate => link::late(sight),
            Fault::EnvelopeExceeded => electrical::beyond_envelope(sight),
            Fault::PeakDensityHigh => bath.too_dense(sight),
            Fault::ChargeCap => from(sight.charge > sight.charge_cap),
            Fault::TimeCap => from(sight.on > sight.on_cap),
            Fault::LevelLow => bath.low(sight),
            Fault::TemperatureOut => bath.out_of_temperature(sight),
            Fault::StirringOut => bath.out_of_stirring(sight),
            Fault::SensorSilent => from(bath.silent(sight).is_some()),
            Fault::BrightenerOverdue => bath::overdue(sight),
            Fault::HostSlept => host.slept(),
            Fault::ClockJumped => host.jumped(),
            Fault::LedgerSlow => host.slow(),
            Fault::DiskNearlyFull => host.full(),
            // These speak through events, not here.
            Fault::LedgerNotWriting
            | Fault::CommandFailed
            | Fault::WrongSupply
            | Fault::IdentityChanged
            | Fault::OnBeforeStart
            | Fault::LimitsNotTaken
            | Fault::NoContact
            | Fault::OutputStaysOn
            | Fault::RelayStuck
            | Fault::RelayOpen
            | Fault::RelayLost
            | Fault::KeeperLost
            | Fault::DaemonLost => Sees::NoNews,
        }
    }
}

fn from(fault: bool) -> Sees {
    if fault { Sees::Fault } else { Sees::Clear }
}

fn news<T>(value: Option<T>, fault: impl Fn(T) -> bool) -> Sees {
    value.map_or(Sees::NoNews, |value| from(fault(value)))
}

fn ripe(patience: Patience, first: Moment, count: u32, now: Moment) -> bool {
    match patience {
        Patience::None => true,
        Patience::Readings(wanted) => count >= wanted,
        Patience::For(span) => now.since(first) >= span,
    }
}
