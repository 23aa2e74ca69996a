//! What must hold in every night, written apart from whoever decides. It knows what passed on the
//! wire, what truly flowed, what went into the ledger and what went wrong; it has command words of
//! its own and compares plain numbers.

mod account;
mod due;
mod flowing;
mod words;

pub use account::{Account, Allowed, Broken, Ending};

use super::mishap::{Class, Mishap};
use crate::exchange::Tolerance;
use crate::rig::instrument::{Flow, Kind};
use crate::supply::wire::Outcome;
use crate::units::{Moment, Span};
use due::Dues;
use flowing::Paused;
use std::collections::BTreeMap;
use words::{Said, said};

/// After a trouble on the line everything takes so much longer: the way back from a confusion.
const RECOVERS: Span = Span::from_s(8.0);
/// A setpoint is obeyed within this.
const SETTLES: Span = Span::from_s(2.0);
/// Readings further apart than this are a gap, and the ledger must say so.
const GAP: Span = Span::from_s(3.6);
/// States in which current flows for the job.
const LIVE: [&str; 4] = ["striking", "ramping", "building", "holding"];
/// No current is told from none below this, A.
const NOTHING_A: f64 = 1e-6;

/// Looks on, and remembers what did not hold.
#[derive(Clone, Debug)]
pub struct Oracle {
    kind: Kind,
    set: Tolerance,
    /// What its meter cannot tell from nothing, A.
    least_amps: f64,
    /// Its output relay has welded: it says off, and whatever flows flows.
    welded: bool,
    state: &'static str,
    allowed: Option<Allowed>,
    /// A wider one stood before, and the current may still be on its way down from it.
    fades: Option<(f64, Moment)>,
    /// The last words of the house, whether they arrived or not.
    on: bool,
    set_amps: f64,
    set_at: Moment,
    /// Off was said to a port that was not there.
    owes_off: bool,
    flow: Flow,
    flowed_at: Moment,
    /// Nobody can be expected to see anything before this.
    blind_until: Moment,
    /// Current may flow that nobody asked for.
    unasked: bool,
    /// When somebody last pressed or turned what lets current flow.
    pressed: Option<Moment>,
    /// When the output closed last.
    came_on: Option<Moment>,
    /// When the last exchange left.
    asked: Moment,
    /// When a reply last came.
    heard: Moment,
    due: Dues,
    short_since: Option<Moment>,
    over_since: Option<Moment>,
    excuse_c: f64,
    unwatched_c: f64,
    paused: Paused,
    ledger: Times,
    tolerable: bool,
    ended: Option<Moment>,
    broken: Vec<Broken>,
    /// What went wrong, and the state the run was in when it began.
    pub onsets: Vec<(Class, &'static str)>,
    /// When the reply that ended the run was there, and when off should be on its way.
    evident: Option<[Moment; 2]>,
    /// From the reply that ended the run to off on the wire, s; none if there was none.
    pub off_after: Option<f64>,
    /// The longest time from a cause to off on the wire, s, by its word.
    pub worst: BTreeMap<&'static str, f64>,
    /// What passed, in a number.
    pub digest: Digest,
}

/// The times the ledger was given, by kind of entry.
#[derive(Clone, Copy, Debug, Default)]
struct Times {
    reading: Option<f64>,
    other: Option<f64>,
    told_gap: bool,
}

/// A number that stands for everything that passed (FNV-1a, 64 bits).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Digest(pub u64);

impl Digest {
    /// Takes a word in.
    pub fn word(&mut self, word: u64) {
        self.0 = (self.0 ^ word).wrapping_mul(0x0100_0000_01b3);
    }

    /// Takes bytes in.
    pub fn bytes(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.word(u64::from(*byte));
        }
    }
}

impl Oracle {
    /// Looks on from now on, at a supply that speaks like this and sets and reads a current this
    /// exactly.
    #[must_use]
    pub fn new(kind: Kind, set: Tolerance, read: Tolerance) -> Self {
        Self {
            kind,
            set,
            least_amps: 2.0 * read.fixed + 1.5 * read.step + 1e-3,
            welded: false,
            state: "idle",
            allowed: None,
            fades: None,
            on: false,
            set_amps: 0.0,
            set_at: Moment::ZERO,
            owes_off: false,
            flow: Flow::default(),
            flowed_at: Moment::ZERO,
            blind_until: Moment::ZERO,
            unasked: false,
            pressed: None,
            came_on: None,
            asked: Moment::ZERO,
            heard: Moment::ZERO,
            due: Dues::default(),
            short_since: None,
            over_since: None,
            excuse_c: 0.0,
            unwatched_c: 0.0,
            paused: Paused::default(),
            ledger: Times::default(),
            tolerable: true,
            ended: None,
            broken: Vec::new(),
            onsets: Vec::new(),
            evident: None,
            off_after: None,
            worst: BTreeMap::new(),
            digest: Digest(0xcbf2_9ce4_8422_2325),
        }
    }

    fn breaks(&mut self, at: Moment, rule: &'static str, text: String) {
        if self.broken.iter().all(|other| other.rule != rule) {
            self.broken.push(Broken { at, rule, text });
        }
    }

    /// Somebody is about to send this; `there` if the port is.
    pub fn tried(&mut self, now: Moment, bytes: &[u8], there: bool) {
        let word = said(self.kind, bytes);
        if there && std::mem::take(&mut self.owes_off) && word != Said::Off && word != Said::Channel
        {
            let text = String::from_utf8_lossy(bytes).into_owned();
            self.breaks(
                now,
                "off-first",
                format!("after the port came back: {text}"),
            );
        }
        match word {
            Said::Off => self.off(now, there),
            Said::On => {
                self.may_raise(now, "output on", 0.0, 0.0);
                if there {
                    (self.on, self.set_at) = (true, now);
                }
            }
            Said::Amps(amps) => {
                if !self.on || amps > self.set_amps {
                    self.may_raise(now, "current", amps, 0.0);
                }
                (self.set_amps, self.set_at) = (amps, now);
            }
            Said::Volts(volts) => self.may_raise(now, "voltage", 0.0, volts),
            Said::Channel | Said::Other => {}
        }
    }

    fn off(&mut self, now: Moment, there: bool) {
        self.owes_off = !there;
        if there {
            self.on = false;
            self.off_in_a_pause(now);
        }
        if let Some([heard, by]) = self.evident.take().filter(|_| there) {
            let after = now.since(heard).s();
            self.off_after = Some(after);
            if now > by {
                let text = format!("{after:.3} s after the reply that ended the run");
                self.breaks(now, "off-slow", text);
            }
        }
        for due in self.due.settle() {
            self.took(due.class, now.since(due.since));
        }
        for since in [self.short_since.take(), self.over_since.take()]
            .into_iter()
            .flatten()
        {
            self.took("current-not-as-set", now.since(since));
        }
    }

    fn took(&mut self, word: &'static str, span: Span) {
        let worst = self.worst.entry(word).or_insert(0.0);
        *worst = worst.max(span.s());
    }

    /// What raises is inside an envelope that the ledger holds.
    fn may_raise(&mut self, now: Moment, what: &str, amps: f64, volts: f64) {
        let text = match self.allowed {
            None => format!("{what} without an envelope"),
            Some(it) if now >= it.until => {
                format!(
                    "{what} at {:.3} s, the envelope ended at {:.3} s",
                    now.s(),
                    it.until.s()
                )
            }
            Some(it) if amps > it.amps + 1e-9 || volts > it.volts + 1e-9 => {
                format!(
                    "{what} {amps} A {volts} V, the ledger holds {} A {} V",
                    it.amps, it.volts
                )
            }
            Some(_) => return,
        };
        self.breaks(now, "raised-before-recorded", text);
    }

    /// An exchange is over.
    pub fn passed(&mut self, bytes: &[u8], outcome: &Outcome) {
        if outcome.reply.as_ref().is_ok_and(|reply| !reply.is_empty()) {
            self.heard = outcome.received;
        }
        if outcome.reply.is_err() {
            // A port that is away, or a supply that is silent, holds off up.
            self.evident = None;
        }
        self.asked = outcome.sent;
        self.digest.word(outcome.sent.ns());
        self.digest.bytes(bytes);
        self.digest.word(outcome.received.ns());
        match &outcome.reply {
            Ok(reply) => self.digest.bytes(reply),
            Err(_) => self.digest.word(u64::MAX),
        }
    }

    /// Something goes wrong. Only a run that is on its way, and not merely being proved or left,
    /// need get over it.
    pub fn begins(&mut self, now: Moment, mishap: &Mishap) {
        let on_its_way = LIVE.contains(&self.state);
        self.onsets.push((mishap.class, self.state));
        let at_rest = matches!(self.state, "idle" | "proving" | "paused");
        self.tolerable &= mishap.tolerable && (on_its_way || at_rest && mishap.class.is_a_share());
        self.unasked |= mishap.raises;
        if mishap.raises {
            self.pressed = Some(now);
        }
        self.welded |= mishap.class == Class::RelayWelded;
        if mishap.blinds {
            self.blind_until = self.blind_until.max(now + mishap.lasts + RECOVERS);
        }
        self.due.stands_still(now, mishap);
        self.due.slows(now, mishap);
        if self.on && on_its_way {
            let from = match mishap.class {
                // Nothing on the line holds these up.
                Class::Silence | Class::Unplugged => now,
                _ => now.max(self.blind_until),
            };
            self.due.add(now, mishap, from);
        }
    }

    /// The ledger holds an envelope now.
    pub fn durable(&mut self, allowed: Allowed) {
        let before = self.allowed.replace(allowed);
        if let Some(before) = before.filter(|before| before.amps > allowed.amps) {
            self.fades = Some((before.amps, self.flowed_at + SETTLES));
        }
    }

    /// The run has come into a state.
    pub fn entered(&mut self, word: &'static str) {
        self.leaves_a_pause(word);
        self.state = word;
        if !LIVE.contains(&word) {
            self.ledger.reading = None;
        }
    }

    /// What was heard at this moment has ended the run: off is sent within so long.
    pub fn made_evident(&mut self, heard: Moment, within: Span) {
        self.evident = Some([heard, heard + within]);
    }

    /// The ledger was given a reading.
    pub fn reading(&mut self, now: Moment, at: Span) {
        let told = std::mem::take(&mut self.ledger.told_gap);
        if !LIVE.contains(&self.state) {
            return;
        }
        if let Some(before) = self.ledger.reading {
            if at.s() < before {
                let text = format!("a reading at {:.6} s after one at {before:.6} s", at.s());
                self.breaks(now, "ledger-time", text);
            }
            if at.s() - before > GAP.s() && !told {
                let text = format!("nothing from {before:.3} s to {:.3} s, and no word", at.s());
                self.breaks(now, "silent-gap", text);
            }
        }
        self.ledger.reading = Some(at.s());
    }

    /// The ledger was given anything else with a time.
    pub fn other(&mut self, now: Moment, at: Span, is_gap: bool) {
        self.ledger.told_gap |= is_gap;
        if let Some(before) = self.ledger.other
            && at.s() < before
        {
            let text = format!("an entry at {:.6} s after one at {before:.6} s", at.s());
            self.breaks(now, "ledger-time", text);
        }
        self.ledger.other = Some(at.s());
    }

    /// The run says that it is over; `at` is when its proof was read.
    pub fn ended(&mut self, now: Moment) {
        self.ended = Some(now);
        // Pressed, or turned on by a garbled word, after the last question that proved it off:
        // nobody could know. The keeper may be ahead of the run on the wire.
        let since = self.asked.min(now);
        let pressed = self.pressed.is_some_and(|at| at >= since);
        let came_on = !self.on && self.came_on.is_some_and(|at| at >= since);
        if self.is_on(self.flow) && !pressed && !came_on {
            let text = format!("{:.4} A flow, output on: {}", self.flow.amps, self.flow.on);
            self.breaks(now, "ended-while-on", text);
        }
    }

    /// Something flows that can be known of. What a supply denies and its meter cannot tell from
    /// nothing nobody can know of.
    fn is_on(&self, flow: Flow) -> bool {
        let flows = flow.on || flow.amps > NOTHING_A;
        flows && !(self.welded && flow.amps <= self.least_amps)
    }

    /// True if nothing happened so far that a run need not get over.
    #[must_use]
    pub fn is_tolerable(&self) -> bool {
        self.tolerable
    }

    /// Charge that flowed while nobody was to look, C.
    #[must_use]
    pub fn unwatched_c(&self) -> f64 {
        self.unwatched_c
    }

    /// Everything is mended. A supply whose mains come back may turn its output on.
    pub fn mended(&mut self, mains_came: bool) {
        self.unasked |= mains_came;
        self.due.settle();
    }

    /// A night did not end, although its world is healthy. One that is cut needs no proof, only
    /// that nothing flows.
    pub fn left(&mut self, now: Moment, cut: bool) {
        if cut && self.flow.amps <= NOTHING_A {
            return;
        }
        let text = format!("still {}, {:.4} A flow", self.state, self.flow.amps);
        self.breaks(now, "never-ends", text);
    }

    /// Closes the account of a night.
    pub fn close(&mut self, now: Moment, it: &Account) -> Vec<Broken> {
        let excuse = self.excuse_c + self.unwatched_c + 1e-6;
        let knows = !matches!(it.ending, Ending::LeftToTheKeeper | Ending::Cut);
        if knows && !(it.low_c - excuse <= it.truth_c && it.truth_c <= it.high_c + excuse) {
            let text = format!(
                "{:.3} to {:.3} C do not hold {:.3} C (excused {excuse:.3} C)",
                it.low_c, it.high_c, it.truth_c
            );
            let open = matches!(it.ending, Ending::Unconfirmed | Ending::GivenUp);
            let rule = if open {
                "charge-open"
            } else {
                "charge-outside"
            };
            self.breaks(now, rule, text);
        }
        if !(it.low_c..=it.high_c).contains(&it.best_c) {
            let text = format!(
                "{:.3} C is not within {:.3} to {:.3} C",
                it.best_c, it.low_c, it.high_c
            );
            self.breaks(now, "best-outside", text);
        }
        if self.tolerable && it.ending != Ending::Finished {
            self.breaks(
                now,
                "false-trip",
                format!("{:?} in {}", it.ending, self.state),
            );
        }
        if let Some(of_plan) = it.of_plan.filter(|_| self.tolerable)
            && (of_plan - 1.0).abs() > 0.005 + it.softened
        {
            self.breaks(
                now,
                "off-plan",
                format!("{:+.3} % of plan", (of_plan - 1.0) * 100.0),
            );
        }
        std::mem::take(&mut self.broken)
    }
}
