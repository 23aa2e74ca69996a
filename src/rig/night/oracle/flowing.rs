//! What truly flows, and what must follow from it.

use super::{NOTHING_A, Oracle, SETTLES};
use crate::rig::instrument::Flow;
use crate::units::{Moment, Span};

/// A current that is far from what is set must have been seen, and off sent, within this: ten
/// seconds in which a contact may come back, a period, an exchange.
const SEES_WITHIN: Span = Span::from_s(13.0);
/// In a pause the output is read every ten seconds, twice if it is on, and each exchange may take
/// its time.
const LOOKS_WITHIN: Span = Span::from_s(16.0);
/// Where no reply has come for so long, nobody knows what flows.
const DEAF: Span = Span::from_s(3.0);

/// What flows in a pause.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Paused {
    /// Since when a meter must show it.
    since: Option<Moment>,
    /// So much of it nobody has seen yet, C.
    unseen_c: f64,
}

impl Oracle {
    /// What truly flows now.
    pub fn flows(&mut self, now: Moment, flow: Flow) {
        let passed = now.since(self.flowed_at).s();
        self.excuse_c += passed * self.flow.lie_amps.max(flow.lie_amps);
        if self.due.is_still(self.flowed_at) || now.since(self.heard) > DEAF {
            // Nobody can read by how much a setting drifts, or a knob is turned, meanwhile.
            let most = self.set_amps + self.set.half_width(self.set_amps);
            self.excuse_c += passed * (self.flow.amps.max(flow.amps) - most).max(0.0);
        }
        if !self.on && matches!(self.state, "idle" | "proving") {
            self.unwatched_c += passed * self.flow.amps.max(flow.amps);
        }
        self.on_in_a_pause(now, passed, flow);
        if flow.on && !self.flow.on {
            self.came_on = Some(now);
        }
        (self.flow, self.flowed_at) = (flow, now);
        self.above(now);
        self.not_as_set(now);
        if let Some(late) = self.due.late(now) {
            let text = format!("{} at {:.3} s, still no off", late.class, late.since.s());
            self.breaks(now, "off-too-late", text);
            self.due.settle();
        }
        if let Some(ended) = self.ended
            && !self.unasked
            && self.is_on(flow)
        {
            let text = format!("{:.4} A, ended at {:.3} s", flow.amps, ended.s());
            self.breaks(now, "on-after-the-end", text);
        }
    }

    /// In a pause a current that the meter shows is turned off in time.
    fn on_in_a_pause(&mut self, now: Moment, passed: f64, flow: Flow) {
        if self.state != "paused" || self.on {
            return;
        }
        let charge = passed * self.flow.amps.max(flow.amps);
        if flow.amps <= self.least_amps || flow.lie_amps > 0.0 {
            self.unwatched_c += charge;
            self.paused.since = None;
            return;
        }
        self.paused.unseen_c += charge;
        let began = *self.paused.since.get_or_insert(now);
        if now.since(began.max(self.blind_until)) > LOOKS_WITHIN {
            let text = format!("{:.4} A in a pause since {:.3} s", flow.amps, began.s());
            self.breaks(now, "off-too-late", text);
            self.paused.since = Some(now);
        }
    }

    /// Off in a pause: what flowed was seen, and must be on the account.
    pub(super) fn off_in_a_pause(&mut self, now: Moment) {
        if self.state == "paused" {
            self.saw_on(now);
        }
    }

    /// The pause is over: what nobody has seen by then nobody can know of, unless that is why.
    pub(super) fn leaves_a_pause(&mut self, to: &'static str) {
        if matches!(to, "tripped" | "unconfirmed") {
            self.saw_on(self.flowed_at);
        }
        self.unwatched_c += std::mem::take(&mut self.paused).unseen_c;
    }

    fn saw_on(&mut self, now: Moment) {
        let paused = std::mem::take(&mut self.paused);
        if let Some(since) = paused.since {
            self.took("on-in-a-pause", now.since(since));
        }
    }

    /// How often to look while current may flow and nobody else does.
    #[must_use]
    pub fn looks_each(&self) -> Option<Span> {
        if self.unasked && self.flow.on && !self.on {
            return Some(Span::from_ms(50.0));
        }
        self.due
            .is_still(self.flowed_at)
            .then_some(Span::from_s(1.0))
    }

    /// The current is never above the envelope, but for a physical cause.
    fn above(&mut self, now: Moment) {
        let fades = self.fades.filter(|(_, until)| now < *until);
        let amps = self.allowed.map_or(0.0, |it| it.amps);
        let amps = amps.max(fades.map_or(0.0, |(amps, _)| amps));
        let most = amps + self.set.half_width(amps);
        if !self.unasked && self.flow.amps > most + NOTHING_A {
            let text = format!(
                "{:.4} A flow, at most {most:.4} A are allowed",
                self.flow.amps
            );
            self.breaks(now, "above-envelope", text);
        }
    }

    /// A current that is far from what is set is seen. In the strike the supply may sit at its
    /// voltage limit, so there only too much counts.
    fn not_as_set(&mut self, now: Moment) {
        let judged = self.on && now.since(self.set_at) > SETTLES;
        let full = matches!(self.state, "ramping" | "building" | "holding");
        let live = full || self.state == "striking";
        let short = judged && full && self.flow.amps < 0.8 * self.set_amps - 0.03;
        let over = judged && live && self.flow.amps > 1.15 * self.set_amps + 0.03;
        let blind_until = self.blind_until;
        let lies = self.flow.lie_amps > 0.0;
        let mut late = None;
        for (since, seen) in [(&mut self.short_since, short), (&mut self.over_since, over)] {
            if !seen || lies {
                *since = None;
                continue;
            }
            let began = *since.get_or_insert(now);
            if now.since(began.max(blind_until)) > SEES_WITHIN {
                late = Some(began);
            }
        }
        if let Some(began) = late {
            let text = format!(
                "{:.4} A at a setpoint of {:.4} A since {:.3} s, in {}",
                self.flow.amps,
                self.set_amps,
                began.s(),
                self.state
            );
            self.breaks(now, "off-too-late", text);
        }
    }
}
