//! What the keeper watches: limits, lease, latest end. It decides; the line it is given does the
//! talking.

use super::grip::{CUT_AFTER, CUT_BY, Grip};
use super::{Limits, Report, Request, Why};
use crate::exchange::{Contact, LinkFault, Order, Watchdog, Word};
use crate::supply::clock::Clock;
use crate::supply::link::Link;
use crate::supply::off::{OffReport, prove_off, send_off, turn_off};
use crate::supply::wire::{Exchange, Line, Outcome, Raise, WireFault};
use crate::units::{Moment, Span};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Off that is not confirmed is tried again this often, for ever.
const TRY_AGAIN: Duration = Duration::from_secs(1);

/// The pause after something broke inside.
const AFTER_BREAKING: Duration = Duration::from_millis(100);

/// What may flow.
#[derive(Clone, Debug, PartialEq)]
enum Standing {
    /// Nothing: not armed, or confirmed off since.
    Idle,
    /// Anything within the limits.
    Armed {
        limits: Limits,
        end: Moment,
        renewed: Instant,
    },
    /// The output must go off and is not confirmed off yet.
    MustOff { why: Why, next: Instant },
}

/// A keeper at its post. The real time comes as an argument.
#[derive(Debug)]
pub struct Watch<L> {
    line: L,
    link: Link,
    clock: Clock,
    standing: Standing,
    /// While the supply's own watchdog is armed: when it was last renewed, on the line's clock.
    own: Option<Moment>,
    /// Why it was not armed when it was last asked to be.
    not_armed: Option<String>,
    /// Its last off met a port that was not there.
    owes: bool,
    relay: Option<Held>,
}

/// The relay in the output lead, as far as this keeper has to do with it.
#[derive(Debug)]
struct Held {
    grip: Arc<Grip>,
    /// It opens within this after the last edge.
    opens_within: Duration,
    /// Until when it may be held, as the grip was told.
    until: Option<Instant>,
    /// It was let go since off was not confirmed.
    cut: bool,
    /// What the supply's word for off is worth.
    word: Word,
}

impl Held {
    fn allow(&mut self, until: Option<Instant>) {
        self.until = until;
        self.grip.allow(until);
    }

    /// A lease was given or renewed. Without another the lead is open by the time that what must
    /// end is to be cut, and never before the lease has lapsed.
    fn renewed(&mut self, lease: Duration, now: Instant) {
        self.allow(Some(
            now + lease.max(CUT_BY.saturating_sub(self.opens_within)),
        ));
    }

    /// Off is ordered: it has so long to be confirmed.
    fn ordered(&mut self, now: Instant) {
        let latest = now + CUT_AFTER;
        self.allow(self.until.map(|until| until.min(latest)));
    }

    /// Nothing may flow, so nothing needs to be closed.
    fn rests(&mut self) {
        self.grip.want(false);
        self.allow(None);
    }
}

impl<L: Line> Watch<L> {
    /// A keeper that is not armed.
    pub fn new(line: L, link: Link, clock: Clock) -> Self {
        Self {
            line,
            link,
            clock,
            standing: Standing::Idle,
            own: None,
            not_armed: None,
            owes: false,
            relay: None,
        }
    }

    /// The same with a relay in the output lead that opens within so long, in real time.
    #[must_use]
    pub fn with_relay(mut self, grip: Arc<Grip>, opens_within: Duration) -> Self {
        self.relay = Some(Held {
            grip,
            opens_within,
            until: None,
            cut: false,
            word: Word::default(),
        });
        self
    }

    /// True if the relay was let go since off was not confirmed, and nothing was armed since.
    #[must_use]
    pub fn is_cut(&self) -> bool {
        self.relay.as_ref().is_some_and(|relay| relay.cut)
    }

    /// True once, when the time is over in which off could have been confirmed and the relay has
    /// been let go.
    pub fn cuts(&mut self, now: Instant) -> bool {
        let must_off = self.must_off();
        let Some(relay) = &mut self.relay else {
            return false;
        };
        let over = relay.until.is_some_and(|until| until <= now);
        let cuts = must_off && over && !relay.cut;
        relay.cut |= cuts;
        cuts
    }

    /// The line.
    #[must_use]
    pub fn line(&self) -> &L {
        &self.line
    }

    /// True if nothing may flow: not armed, or confirmed off since.
    #[must_use]
    pub fn is_idle(&self) -> bool {
        self.standing == Standing::Idle
    }

    /// True while off is not confirmed.
    #[must_use]
    pub fn must_off(&self) -> bool {
        matches!(self.standing, Standing::MustOff { .. })
    }

    /// Orders the output off: the next [`Watch::due`] does it.
    pub fn order_off(&mut self, why: Why, now: Instant) {
        if !self.must_off() {
            self.standing = Standing::MustOff { why, next: now };
            self.ordered(now);
        }
    }

    fn ordered(&mut self, now: Instant) {
        if let Some(relay) = &mut self.relay {
            relay.ordered(now);
        }
    }

    /// Nothing may flow any more.
    fn rests(&mut self) {
        self.disarm_own();
        self.standing = Standing::Idle;
        if let Some(relay) = &mut self.relay {
            relay.rests();
        }
    }

    /// Starts anew after something broke inside: the link is met again, and the output goes off
    /// after a short while, so that what breaks every time does not break without a pause.
    pub fn start_anew(&mut self, now: Instant) {
        self.link = Link::new(Arc::new(self.link.profile().clone()));
        self.standing = Standing::MustOff {
            why: Why::Broken,
            next: now + AFTER_BREAKING,
        };
        self.ordered(now);
    }

    /// How long nothing needs doing; `None` for ever.
    #[must_use]
    pub fn idle_for(&self, now: Instant) -> Option<Duration> {
        match &self.standing {
            Standing::Idle => None,
            Standing::MustOff { next, .. } => {
                let cut = self.relay.as_ref().filter(|relay| !relay.cut);
                let soonest = cut.and_then(|relay| relay.until).into_iter().chain([*next]);
                soonest.min().map(|at| at.saturating_duration_since(now))
            }
            Standing::Armed {
                limits,
                end,
                renewed,
            } => {
                let lapse = *renewed + lease(limits);
                let ending = self.clock.real(end.since(self.line.now()));
                Some(lapse.saturating_duration_since(now).min(ending))
            }
        }
    }

    /// Does what is due: turns the output off if the lease lapsed, the end was reached, or an off
    /// is still unconfirmed.
    pub fn due(&mut self, now: Instant) -> Option<(Why, OffReport)> {
        let why = match &self.standing {
            Standing::Idle => return None,
            Standing::MustOff { why, next } if *next <= now => why.clone(),
            Standing::MustOff { .. } => return None,
            Standing::Armed {
                limits, renewed, ..
            } if *renewed + lease(limits) <= now => Why::LeaseLapsed,
            Standing::Armed { end, .. } if *end <= self.line.now() => Why::EndReached,
            Standing::Armed { .. } => return None,
        };
        let report = self.off(&why, now);
        Some((why, report))
    }

    /// Turns the output off now.
    fn off(&mut self, why: &Why, now: Instant) -> OffReport {
        self.ordered(now);
        let mut report = turn_off(&mut self.link, &mut self.line);
        self.owes = matches!(report.fault, Some(LinkFault::PortLost(_)));
        if let Some(relay) = &mut self.relay {
            let below = self.link.profile().off.below;
            if let Some(reading) = &report.reading {
                let flows = reading.current.is_some_and(|current| current.abs() > below);
                relay.word.weigh(flows, reading.output);
            }
            // Through an open lead nothing flows, whatever the supply does.
            report.confirmed &= !(relay.cut && relay.word.is_false());
        }
        if report.confirmed {
            self.rests();
        } else {
            self.standing = Standing::MustOff {
                why: why.clone(),
                // Counted from the end of the try: between two the owner is heard.
                next: now + self.clock.real(report.took) + TRY_AGAIN,
            };
        }
        report
    }

    /// Does what the owner asks. `None` where there is nothing to report.
    pub fn handle(&mut self, request: Request, now: Instant) -> Option<Report> {
        match request {
            Request::Exchange { id, exchange } => {
                let outcome = self.exchange(&exchange);
                Some(Report::Exchanged { id, outcome })
            }
            Request::Arm(limits) => Some(self.arm(limits, now)),
            Request::Renew => {
                if let Standing::Armed {
                    renewed, limits, ..
                } = &mut self.standing
                {
                    *renewed = now;
                    let lease = lease(limits);
                    if let Some(relay) = &mut self.relay {
                        relay.renewed(lease, now);
                    }
                    self.renew_own();
                }
                None
            }
            Request::Relay(contact) => self.contact(contact),
            Request::Disarm => Some(self.disarm(now)),
            Request::Off => {
                let report = self.off(&Why::Asked, now);
                Some(Report::Off {
                    why: Why::Asked,
                    report,
                })
            }
        }
    }

    /// Moves the relay. It is held only while a run is armed.
    fn contact(&mut self, contact: Contact) -> Option<Report> {
        let armed = matches!(self.standing, Standing::Armed { .. });
        let idle = self.is_idle();
        let relay = self.relay.as_mut()?;
        relay.grip.want(contact == Contact::Hold && armed);
        let Contact::Cut { lies } = contact else {
            return None;
        };
        relay.allow(None);
        relay.word.heard(lies);
        let first = !idle && !relay.cut;
        relay.cut |= first;
        first.then_some(Report::Cut { asked: true })
    }

    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        if let Err(text) = self.permits(&exchange.raises) {
            let now = self.line.now();
            return Outcome {
                sent: now,
                received: now,
                reply: Err(WireFault::Forbidden(text)),
            };
        }
        if self.owes {
            // The port may be back by now, and off is the first thing on it.
            let sent = self.line.now();
            if let Some(text) = send_off(&mut self.link, &mut self.line, false) {
                // It may be back in a moment: nothing else goes before off.
                return Outcome {
                    sent,
                    received: self.line.now(),
                    reply: Err(WireFault::PortLost(text)),
                };
            }
            self.owes = false;
        }
        let outcome = self.line.exchange(exchange);
        if outcome.reply.is_err() {
            self.link.mistrust();
        }
        outcome
    }

    /// Whether an exchange may raise what it would.
    fn permits(&self, raises: &Raise) -> Result<(), String> {
        let amps = raises.current.map_or(0.0, |current| current.a());
        let volts = raises.voltage.map_or(0.0, |voltage| voltage.v());
        if amps == 0.0 && volts == 0.0 && !raises.output {
            return Ok(());
        }
        let limits = match &self.standing {
            Standing::Armed { limits, .. } => limits,
            Standing::Idle => {
                let why = self.not_armed.as_deref().unwrap_or("nobody asked it to be");
                return Err(format!("the keeper is not armed: {why}"));
            }
            Standing::MustOff { why, .. } => return Err(format!("the output must be off: {why}")),
        };
        // Written so that not-a-number is never within a limit.
        let within = |value: f64, most: f64| value <= most * (1.0 + 1e-9);
        let (most_amps, most_volts) = (limits.max_current.a(), limits.max_voltage.v());
        if !within(amps, most_amps) {
            return Err(format!("{amps} A is beyond the {most_amps} A of this run"));
        }
        if !within(volts, most_volts) {
            return Err(format!(
                "{volts} V is beyond the {most_volts} V of this run"
            ));
        }
        Ok(())
    }

    fn arm(&mut self, asked: Limits, now: Instant) -> Report {
        let sizes = [
            asked.max_current.a(),
            asked.max_voltage.v(),
            asked.end_within.s(),
            asked.lease.s(),
        ];
        if !sizes.iter().all(|size| size.is_finite() && *size > 0.0) {
            return Report::NotArmed("limits are numbers above zero".to_owned());
        }
        if self.standing == Standing::Idle
            && let Err(why) = self.arm_own()
        {
            self.not_armed = Some(why.clone());
            return Report::NotArmed(why);
        }
        let end = self.line.now() + asked.end_within;
        let (limits, end) = match &self.standing {
            Standing::Idle => (asked, end),
            Standing::Armed {
                limits,
                end: before,
                ..
            } => (narrower(&asked, limits), end.min(*before)),
            Standing::MustOff { why, .. } => {
                return Report::NotArmed(format!("the output must be off: {why}"));
            }
        };
        self.standing = Standing::Armed {
            limits,
            end,
            renewed: now,
        };
        if let Some(relay) = &mut self.relay {
            relay.renewed(lease(&limits), now);
            (relay.cut, relay.word) = (false, Word::default());
        }
        let end_within = end.since(self.line.now());
        Report::Armed(Limits {
            end_within,
            ..limits
        })
    }

    /// Disarms if the output reads off; turns it off if it does not.
    fn disarm(&mut self, now: Instant) -> Report {
        if let Ok((true, _)) = prove_off(&mut self.link, &mut self.line) {
            self.rests();
            return Report::Disarmed;
        }
        let report = self.off(&Why::StillOn, now);
        Report::Off {
            why: Why::StillOn,
            report,
        }
    }
}

/// The supply's own watchdog, where it has one: it outlives keeper and computer.
impl<L: Line> Watch<L> {
    /// Arms it. A supply that does not take it is not trusted with a run.
    fn arm_own(&mut self) -> Result<(), String> {
        if self.link.profile().watchdog.is_none() {
            return Ok(());
        }
        self.tell_own(Watchdog::Arm).map_err(|fault| {
            // It may have been heard all the same.
            self.disarm_own();
            format!("the supply's own watchdog was not armed: {fault}")
        })?;
        self.own = Some(self.line.now());
        Ok(())
    }

    /// Renews it, four times as often as it needs. One that cannot be renewed turns the output off,
    /// as it should.
    fn renew_own(&mut self) {
        let within = self.link.profile().watchdog.as_ref().map(|own| own.within);
        if let (Some(within), Some(last)) = (within, self.own)
            && self.line.now().since(last) >= within * 0.25
            && self.tell_own(Watchdog::Renew).is_ok()
        {
            self.own = Some(self.line.now());
        }
    }

    /// Disarms it, the output being off: one that stays armed does no harm.
    fn disarm_own(&mut self) {
        if self.link.profile().watchdog.is_some() {
            let _ = self.tell_own(Watchdog::Disarm);
        }
        self.own = None;
    }

    fn tell_own(&mut self, what: Watchdog) -> Result<(), LinkFault> {
        let told = self.link.carry(Order::Watchdog(what), &mut self.line);
        told.map(|_| ())
    }
}

fn lease(limits: &Limits) -> Duration {
    Duration::try_from_secs_f64(limits.lease.s()).unwrap_or(Duration::ZERO)
}

fn narrower(asked: &Limits, standing: &Limits) -> Limits {
    let shorter = |a: Span, b: Span| a.min(b);
    Limits {
        max_current: asked.max_current.min(standing.max_current),
        max_voltage: asked.max_voltage.min(standing.max_voltage),
        end_within: asked.end_within,
        lease: shorter(asked.lease, standing.lease),
        mark: asked.mark.or(standing.mark),
    }
}
