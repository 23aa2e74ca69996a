//! The amp-hour integral: timed readings, cut at every commanded step, with hard bounds.

mod stretch;
mod witness;

use self::stretch::{Open, Sample, between};
use self::witness::{TRUE, Tolerances};
use crate::exchange::{Capability, Mode, Reading};
use crate::units::{Bounded, Charge, Current, Moment, Span};

/// A supply has obeyed a command this long after its exchange at the latest; a dialect that needs
/// more says so as a gap, which is part of the exchange.
const OBEYS_WITHIN: Span = Span::from_ms(100.0);

/// A commanded change of the current between two samples.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Cut {
    at: Moment,
    slack: Span,
    to: Bounded<Current>,
}

/// What one call adds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Added {
    /// Charge with its hard bounds.
    pub charge: Bounded<Charge>,
    /// Time with the output on.
    pub on: Span,
    /// The part of `on` in which nobody looked, zero if readings came as they should.
    pub gap: Span,
}

/// Integrates the current over readings whose times are known.
#[derive(Clone, Debug)]
pub struct Integral {
    supply: Tolerances,
    gap_after: Span,
    last: Option<Sample>,
    cuts: Vec<Cut>,
    total: Bounded<Charge>,
    /// What the bounds lack, below and above, if meter or setting has been worse than it states.
    lacks: [Charge; 2],
    /// The most that stood when off was sent, or that a reading has shown since.
    stood: Current,
    /// The most that can flow at what was set last: a lead that was open at the last reading may be
    /// back.
    set: Current,
    /// When a reading, or a word about a gap, last said what flows.
    looked: Moment,
    /// The least that was booked since then, at a step that closed an account.
    unlooked: Charge,
    /// It may have been away since then.
    away: bool,
    /// Since when somebody else has it off.
    stopped: Option<Moment>,
}

impl Integral {
    /// An empty integral. A pause between readings longer than `gap_after` is a gap: nothing is
    /// known of it but the setpoint.
    #[must_use]
    pub fn new(supply: &Capability, gap_after: Span) -> Self {
        Self {
            supply: Tolerances::of(supply),
            gap_after,
            last: None,
            cuts: Vec::with_capacity(4),
            total: Bounded::default(),
            lacks: [Charge::ZERO; 2],
            stood: Current::ZERO,
            set: Current::ZERO,
            looked: Moment::ZERO,
            unlooked: Charge::ZERO,
            away: false,
            stopped: None,
        }
    }

    /// An integral that goes on from a charge on record.
    #[must_use]
    pub fn resume(self, total: Bounded<Charge>) -> Self {
        Self { total, ..self }
    }

    /// All charge so far.
    #[must_use]
    pub const fn total(&self) -> Bounded<Charge> {
        self.total
    }

    /// When the last sample was taken, and its current.
    #[must_use]
    pub fn last(&self) -> Option<(Moment, Current)> {
        self.last.map(|sample| (sample.at, sample.current.best))
    }

    /// The output was turned on, or a setpoint changed, by an exchange between these two moments.
    pub fn commanded(&mut self, sent: Moment, received: Moment, to: Current) {
        let at = middle(sent, received);
        let slack = received.since(sent) * 0.5 + OBEYS_WITHIN;
        if self.last.is_none() {
            let zero = Bounded::exact(Current::ZERO);
            self.last = Some(Sample {
                at,
                slack: Span::ZERO,
                current: zero,
                beyond: TRUE,
                held: true,
            });
            self.looked_at(at);
        }
        let to = self.supply.around_set(to);
        self.set = to.high;
        self.cuts.push(Cut { at, slack, to });
    }

    /// A setpoint was sent between these two moments and nobody knows what the supply took. From
    /// then on it is this one or the one before, or, a digit having changed on the way, anything up
    /// to `most`.
    pub fn unheard(&mut self, sent: Moment, given_up: Moment, to: Current, most: Current) {
        self.commanded(sent, given_up, to);
        self.set = self.set.max(most);
        if let Some(cut) = self.cuts.last_mut() {
            cut.to.low = Current::ZERO;
            cut.to.high = cut.to.high.max(most);
        }
    }

    /// The meter may have stood still, or shown another output, since `checked`, when the total was
    /// `then`: since then as little as nothing and as much as `most` may have flowed. It returns
    /// what that adds.
    pub fn distrusted(
        &mut self,
        checked: Moment,
        then: Bounded<Charge>,
        most: Current,
    ) -> Bounded<Charge> {
        let before = self.total;
        let Some(last) = &mut self.last else {
            return Bounded::default();
        };
        let at = last.at;
        // What stands is not what was read either.
        last.current.low = Current::ZERO;
        last.current.high = last.current.high.max(most);
        self.cuts.clear();
        self.total.low = before.low.min(then.low);
        self.total.high = before.high.max(then.high + most * at.since(checked));
        Bounded {
            low: self.total.low - before.low,
            best: Charge::ZERO,
            high: self.total.high - before.high,
        }
    }

    /// Setting and meter contradict each other: one of the two is worse than it states, and nobody
    /// knows which or since when. From the beginning on either may have been right alone. It
    /// returns what that adds.
    pub fn contradicted(&mut self) -> Bounded<Charge> {
        let before = self.total;
        let [less, more] = std::mem::take(&mut self.lacks);
        self.total.low = (before.low - less).max(Charge::ZERO);
        self.total.high += more;
        if let Some(last) = &mut self.last {
            // What stands is no better known.
            last.current.low -= last.beyond[0];
            last.current.high += last.beyond[1];
            last.beyond = TRUE;
        }
        Bounded {
            low: self.total.low - before.low,
            best: Charge::ZERO,
            high: more,
        }
    }

    /// Current was missing for a part of the time since the total was `then`. It returns what that
    /// adds.
    pub fn missed(&mut self, then: Bounded<Charge>) -> Bounded<Charge> {
        let before = self.total.low;
        self.total.low = before.min(then.low);
        Bounded {
            low: self.total.low - before,
            best: Charge::ZERO,
            high: Charge::ZERO,
        }
    }

    /// A reading: the current between the last sample and this one becomes charge.
    pub fn read(&mut self, reading: &Reading, set: Current, held: bool) -> Option<Added> {
        let measured = reading.current?;
        let held = match reading.mode {
            Some(Mode::ConstantCurrent) => true,
            Some(Mode::ConstantVoltage | Mode::Unregulated) => false,
            None => held,
        };
        let (current, beyond) = self.supply.best_of(measured, set, held);
        let at = middle(reading.sent, reading.received);
        let slack = reading.received.since(reading.sent) * 0.5;
        let added = self.up_to(Sample {
            at,
            slack,
            current,
            beyond,
            held,
        });
        self.set = self.supply.around_set(set).high;
        self.looked_at(at);
        Some(added)
    }

    /// What may flow by now: what was set last. A supply that sat at its voltage goes on with what
    /// the cell takes.
    fn stands(&self, last: Sample) -> Bounded<Current> {
        let before = last.current;
        match self.cuts.last().map(|cut| cut.to) {
            None => before,
            Some(to) if last.held => to,
            Some(to) => Bounded {
                low: to.low.min(before.low),
                best: to.best.min(before.best),
                high: to.high.max(before.high),
            },
        }
    }

    fn looked_at(&mut self, at: Moment) {
        (self.looked, self.unlooked, self.away) = (at, Charge::ZERO, false);
    }

    /// Until the next reading as little as nothing may flow: the supply was silent, and may have
    /// lost its mains and got it back without a word, or nothing has shown yet that any does.
    pub const fn silent(&mut self) {
        self.away = true;
    }

    /// Somebody else has it off since the last sample.
    #[must_use]
    pub const fn is_stopped(&self) -> bool {
        self.stopped.is_some()
    }

    /// Somebody else turned the output off and read it off, between these two moments. Most likely
    /// nothing flows since, whatever was sent to it after; whether it came on again the next
    /// reading shows, and until then as much as before may.
    pub fn stopped(&mut self, begun: Moment, read: Moment) {
        let at = middle(begun, read);
        let Some(last) = self.last.filter(|last| last.at < at) else {
            return;
        };
        let before = self.cuts.partition_point(|cut| cut.at < at);
        let later = self.cuts.drain(before..).map(|cut| cut.to.high);
        let most = later.fold(self.set, Current::max);
        let to = Bounded {
            low: Current::ZERO,
            best: Current::ZERO,
            high: self.stands(last).high.max(most),
        };
        let slack = read.since(begun) * 0.5;
        self.cuts.push(Cut { at, slack, to });
        self.stopped.get_or_insert(at);
    }

    /// As [`Integral::commanded`], but what flowed until then is booked at once: the step closes an
    /// account.
    pub fn turned(&mut self, sent: Moment, received: Moment, to: Current) -> Added {
        let Some(last) = self.last else {
            return Added::default();
        };
        let at = middle(sent, received);
        let current = self.stands(last);
        let added = self.up_to(Sample {
            at,
            slack: Span::ZERO,
            current,
            beyond: last.beyond,
            held: true,
        });
        self.unlooked += added.charge.low.max(Charge::ZERO);
        self.commanded(sent, received, to);
        added
    }

    /// The output was turned off by an exchange between these two moments. `flowing` is false when
    /// a guard has shown that the current may have stopped at any time since the last sample.
    pub fn closed(&mut self, sent: Moment, received: Moment, flowing: bool) -> Added {
        let Some(last) = self.last else {
            return Added::default();
        };
        let at = middle(sent, received);
        let slack = received.since(sent) * 0.5 + OBEYS_WITHIN;
        let stepped = !self.cuts.is_empty();
        let current = self.stands(last);
        let mut added = self.up_to(Sample {
            at,
            slack: Span::ZERO,
            current,
            beyond: last.beyond,
            held: true,
        });
        self.stood = current.high;
        if !last.held && !stepped {
            self.stood = self.stood.max(self.set);
            let more = (self.stood * added.on - added.charge.high).max(Charge::ZERO);
            added.charge.high += more;
            self.total.high += more;
        }
        let spill = self.stood * slack;
        // The last reading showed what flowed until then; nothing since is certain.
        let least = added.charge.low.min(-self.unlooked);
        let low = if flowing {
            (added.charge.low - spill).max(least)
        } else {
            least
        };
        self.total.low += low - added.charge.low;
        self.total.high += spill;
        added.charge.low = low;
        added.charge.high += spill;
        self.total.low = self.total.low.max(Charge::ZERO);
        self.last = None;
        added
    }

    /// A reading after off was sent shows this: someone turned the knob of an output that does not
    /// obey.
    pub fn still_shows(&mut self, current: Current) {
        let high = current.a() + self.supply.read.half_width(current.a());
        self.stood = self.stood.max(Current::from_a(high));
    }

    /// The output was not proved off until `proved`, although off was sent first at `sent`: the
    /// current that stood may have flowed on. It returns what that adds.
    pub fn doubt(&mut self, sent: Moment, proved: Moment) -> Bounded<Charge> {
        let most = self.stood * proved.since(sent);
        self.total.high += most;
        Bounded {
            low: Charge::ZERO,
            best: Charge::ZERO,
            high: most,
        }
    }

    /// What the bounds lack of this stretch, if meter or setting is worse than it states.
    fn lacked(&mut self, one: [Current; 2], other: [Current; 2], span: Span) {
        for (lacks, (one, other)) in self.lacks.iter_mut().zip(one.into_iter().zip(other)) {
            *lacks += one.max(other) * span;
        }
    }

    /// Books everything from the last sample up to this one.
    fn up_to(&mut self, now: Sample) -> Added {
        let Some(last) = self.last.replace(now) else {
            return Added::default();
        };
        let span = now.at.since(last.at);
        self.lacked(last.beyond, now.beyond, span);
        let mut charge = Bounded::exact(Charge::ZERO);
        let mut from = last;
        let stepped = !self.cuts.is_empty();
        let mut open = Open::new(last, now);
        for cut in self.cuts.drain(..) {
            let until = Sample {
                at: cut.at,
                slack: cut.slack,
                current: from.current,
                beyond: from.beyond,
                held: from.held,
            };
            charge = charge + between(from, until);
            open.until(cut.at);
            open.step(cut.to);
            let blur = (cut.to.best - from.current.best).abs() * cut.slack;
            charge.low -= blur;
            charge.high += blur;
            from = Sample {
                at: cut.at,
                slack: Span::ZERO,
                current: cut.to,
                beyond: from.beyond,
                held: from.held,
            };
        }
        // After a commanded step the new reading says what the current has been since, unless it
        // is neither what stood before nor what was commanded.
        let set = from.current;
        if stepped {
            from.current = now.current;
        }
        charge = charge + between(from, now);
        let meant = set.low <= now.current.high && now.current.low <= set.high;
        if stepped && !meant {
            open.until(now.at);
            charge.low = charge.low.min(open.charge.low);
            charge.high = charge.high.max(open.charge.high);
        }
        let dark = now.at.since(self.looked);
        let gap = if dark > self.gap_after {
            dark
        } else {
            Span::ZERO
        };
        charge.low = charge.low.max(Charge::ZERO);
        if gap > Span::ZERO {
            let known = set.high.max(last.current.high).max(now.current.high);
            let most = known.max(self.set);
            charge.high = charge.high.max(most * span);
            self.looked = now.at;
        }
        if gap > Span::ZERO || self.away {
            charge.low = -std::mem::take(&mut self.unlooked);
        }
        self.total = self.total + charge;
        let off = self.stopped.take().map(|at| at.since(last.at));
        let on = off.unwrap_or(span);
        Added { charge, on, gap }
    }
}

fn middle(a: Moment, b: Moment) -> Moment {
    a + b.since(a) * 0.5
}
