//! What flows while proving, and whether it stops: by the relay, where there is one, and by off.

use super::super::Phase;
use super::super::deadline::Deadline;
use super::super::guard::Fault;
use super::super::leaving::still_on;
use super::super::live::Live;
use super::super::night::Night;
use super::super::watch::limit;
use super::{LOOKS, Proving, Step};
use crate::exchange::{Contact, Order, Reading};
use crate::units::{Current, Moment, Span};

/// It flows for this long.
const PROVING_FOR: Span = Span::from_s(5.0);
/// A contact shows at least this share of the proving current.
const CONTACT_SHARE: f64 = 0.4;
/// An output takes so long to come up.
const COMES_UP: Span = Span::from_s(1.0);
/// So many readings after the off of the test that say it is still on.
const READINGS_AGAINST: u32 = 3;
/// So many that show a current through a relay that should be open.
const READINGS_THROUGH: u32 = 2;
/// So many at its end that show no contact: one may fall into a flicker, which a run gets over.
const READINGS_WITHOUT: u32 = 3;
/// From the decision to let the relay go to the last edge on its line.
const LAST_EDGE: Span = Span::from_ms(250.0);

impl Proving {
    /// From now on what flows is looked at in this step.
    pub(super) fn look_on(mut self, night: &mut Night, now: Moment, step: Step) -> Phase {
        (self.step, self.flows_since, self.against) = (step, now, 0);
        self.look_again(night, now)
    }

    /// Closes the relay: from now on as much may flow as is set.
    fn close(self, night: &mut Night, now: Moment, step: Step) -> Phase {
        night.relay(Contact::Hold);
        let small = night.proving_current();
        night.integral.commanded(now, now, small);
        // It takes its time.
        night.integral.silent();
        self.look_on(night, now, step)
    }

    fn look_again(self, night: &mut Night, now: Moment) -> Phase {
        night.deadlines.set(Deadline::Period, now + LOOKS);
        Phase::Proving(self)
    }

    /// Books and judges a reading; the way off if a guard wants it.
    fn seen(&mut self, night: &mut Night, now: Moment, reading: &Reading) -> Option<Phase> {
        self.waiting = false;
        night.book(reading, night.proving_current());
        let settled = self.step == Step::Flow && now.since(self.flows_since) > COMES_UP;
        let look = self.look(night, settled);
        night.last_reading = Some(reading.clone());
        let (fault, said) = night.judge(now, Some(reading), look)?;
        Some(self.clone().trip(night, now, fault, said))
    }

    /// The output is on and the relay has not been closed: nothing may flow.
    pub(super) fn lead_open(mut self, night: &mut Night, now: Moment, reading: Reading) -> Phase {
        if let Some(phase) = self.seen(night, now, &reading) {
            return phase;
        }
        if reading.sent.since(self.flows_since) < COMES_UP {
            return self.look_again(night, now);
        }
        let current = reading.current.unwrap_or_default();
        if night.is_nothing(current) {
            return self.close(night, now, Step::Flow);
        }
        // It was let go as the proving began: just after a pause it may not have opened yet.
        let waited = reading.sent.since(self.off_at);
        let within = night.relay.opens_within().unwrap_or_default();
        self.against += u32::from(waited > within + LAST_EDGE);
        if self.against < READINGS_THROUGH {
            return self.look_again(night, now);
        }
        let said = format!("{:.1} mA flow before it was closed", current.ma());
        self.trip(night, now, Fault::RelayStuck, said)
    }

    /// A small current rises, and the cell answers plausibly.
    pub(super) fn flow(mut self, night: &mut Night, now: Moment, reading: Reading) -> Phase {
        if let Some(phase) = self.seen(night, now, &reading) {
            return phase;
        }
        if now.since(self.flows_since) < PROVING_FOR {
            return self.look_again(night, now);
        }
        if !is_contact(night, &reading) {
            self.against += 1;
            if self.against < READINGS_WITHOUT {
                return self.look_again(night, now);
            }
            return self.nothing_flows(night, now, &reading);
        }
        if self.stands_still(night) {
            let shown = self.resting.unwrap_or_default().v();
            let said = format!("{shown:.3} V with the output off, and {shown:.3} V with it on");
            return self.trip(night, now, Fault::ReadbackFrozen, said);
        }
        if night.relay.opens_within().is_none() {
            return self.next(night, Step::OffTest, Order::Off);
        }
        night.relay(Contact::LetGo);
        self.off_at = now;
        self.look_on(night, now, Step::LetGo)
    }

    fn nothing_flows(self, night: &mut Night, now: Moment, reading: &Reading) -> Phase {
        let said = format!(
            "{:.1} mA set, {:.1} mA flow at {:.2} V",
            night.proving_current().ma(),
            reading.current.unwrap_or_default().ma(),
            reading.voltage.unwrap_or_default().v()
        );
        let fault = match night.relay.opens_within() {
            Some(_) => Fault::RelayOpen,
            None => Fault::NoContact,
        };
        self.trip(night, now, fault, said)
    }

    /// The relay was let go while it flows: in its time nothing flows any more.
    pub(super) fn let_go(mut self, night: &mut Night, now: Moment, reading: Reading) -> Phase {
        if let Some(phase) = self.seen(night, now, &reading) {
            return phase;
        }
        let current = reading.current.unwrap_or_default();
        if night.is_nothing(current) {
            return self.close(night, now, Step::FlowAgain);
        }
        let waited = reading.sent.since(self.off_at);
        let within = night.relay.opens_within().unwrap_or_default();
        self.against += u32::from(waited > within + LAST_EDGE);
        if self.against < READINGS_THROUGH {
            return self.look_again(night, now);
        }
        let said = format!(
            "{:.1} mA flow {:.1} s after it was let go; the station says {:.1} s",
            current.ma(),
            waited.s(),
            within.s()
        );
        self.trip(night, now, Fault::RelayStuck, said)
    }

    /// The relay is closed again: it flows, and off can be tried.
    pub(super) fn flow_again(mut self, night: &mut Night, now: Moment, reading: Reading) -> Phase {
        if let Some(phase) = self.seen(night, now, &reading) {
            return phase;
        }
        if is_contact(night, &reading) {
            return self.next(night, Step::OffTest, Order::Off);
        }
        if now.since(self.flows_since) < PROVING_FOR {
            return self.look_again(night, now);
        }
        self.nothing_flows(night, now, &reading)
    }

    /// A voltmeter that shows the same to the last digit whether current flows or not, and more
    /// than it shows of nothing.
    fn stands_still(&self, night: &Night) -> bool {
        let on = night.last_reading.as_ref().and_then(|last| last.voltage);
        let meter = night.supply.read_voltage;
        let nothing = limit::JUDGED * (meter.step.max(1e-6) + meter.fixed);
        let same = self.resting.zip(on).is_some_and(|(off, on)| off == on);
        same && on.is_some_and(|on| on.v() > nothing)
    }

    /// The reading after the off of the test. A meter needs a moment; three that say on are a
    /// supply that does not obey.
    pub(super) fn off_proof(mut self, night: &mut Night, now: Moment, reading: Reading) -> Phase {
        self.waiting = false;
        night.weigh_word(&reading);
        let off = night.confirms(&reading).is_some();
        let words = still_on(&reading);
        night.last_reading = Some(reading);
        if off {
            self.step = Step::RunEnvelope;
            let first = night.rack.current_wanted();
            night.widen(now, Live::headroom(night, first));
            night
                .deadlines
                .set(Deadline::Period, now + night.timing.period);
            return Phase::Proving(self);
        }
        self.against += 1;
        if self.against < READINGS_AGAINST {
            return self.look_again(night, now);
        }
        night.flowed_on(self.off_at, now);
        self.trip(night, now, Fault::OutputStaysOn, words)
    }
}

/// Enough of the proving current flows to be a contact.
fn is_contact(night: &Night, reading: &Reading) -> bool {
    let least: Current = night.proving_current() * CONTACT_SHARE;
    reading.current.is_some_and(|current| current >= least)
}
