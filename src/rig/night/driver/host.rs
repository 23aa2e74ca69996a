//! What happens to the computer, the ledger and the two processes, and what a person asks.

use super::{Driver, HEALTHY, HIRES, WAITS, keeper, prepare};
use crate::control::Wish;
use crate::rig::cell::CellFault;
use crate::rig::night::mishap::{Deed, Host, Word};
use crate::rig::night::oracle::Ending;
use crate::run::Input;
use crate::supply::keeper::{Request, Why};
use crate::supply::wire::Line;
use crate::units::{Moment, Span};

impl Driver<'_> {
    pub(super) fn does(&mut self, now: Moment, deed: Deed) {
        match deed {
            Deed::Asks(_) if self.deaf_until > now => {
                self.deeds.push_front((self.deaf_until, deed));
            }
            Deed::Asks(Word::Rehang(piece)) => self.rehang(now, piece),
            Deed::Asks(Word::Stop) => self.tell(now, Input::Asked(Wish::Stop)),
            Deed::Asks(Word::Pause) => self.tell(now, Input::Asked(Wish::Pause)),
            Deed::Asks(Word::Resume) => self.tell(now, Input::Asked(Wish::Resume)),
            Deed::Ledger(change) => self.book.change(change),
            Deed::Host(Host::Stalls(ms)) => {
                let until = now + Span::from_ms(f64::from(ms));
                self.deaf_until = self.deaf_until.max(until);
            }
            Deed::Host(Host::Sleeps(ms, keeper_first)) => {
                let until = now + Span::from_ms(f64::from(ms));
                self.deaf_until = self.deaf_until.max(until);
                self.keeper_deaf_until = self.deaf_until;
                self.keeper_first = keeper_first;
                self.line.0.borrow_mut().sleeps(self.deaf_until);
            }
            Deed::Host(Host::KeeperDies) => self.lose_keeper(now),
            Deed::Host(Host::DaemonDies) => self.leave_to_keeper(),
            Deed::Begins(_)
            | Deed::Cell(_)
            | Deed::Contact(..)
            | Deed::Falls(_)
            | Deed::Supply(_)
            | Deed::Relay(_)
            | Deed::RelayPulled
            | Deed::CurrentKnob(_)
            | Deed::VoltageKnob(_)
            | Deed::Button
            | Deed::Mains(_)
            | Deed::Link(_) => {}
        }
    }

    /// A person lifts a piece, or hangs it again, and says so; only where the run waits for her and
    /// takes the change.
    fn rehang(&mut self, now: Moment, piece: usize) {
        let core = self.run.core();
        let pieces = core.rack().pieces();
        let index = piece % pieces;
        let hung = !core.rack().hangs(index);
        if !core.is_paused() || hung && core.reached().is_some() {
            return;
        }
        let after = |other| {
            if other == index {
                hung
            } else {
                core.rack().hangs(other)
            }
        };
        let hang: Vec<bool> = (0..pieces).map(after).collect();
        let Some(change) = prepare::rehung(&self.night.studio, core, &hang) else {
            return;
        };
        let fault = if hung {
            CellFault::Hung(index)
        } else {
            CellFault::Fallen(index)
        };
        self.come_to(now);
        self.line.0.borrow_mut().bench().fault(fault);
        self.tell(now, Input::Rehung(Box::new(change)));
    }

    /// The keeper does what is due. An off of its own that it could prove is told.
    pub(super) fn keeper_acts(&mut self) {
        let at = self.instant(self.line.now());
        if let Some((why, report)) = self.keeper.due(at)
            && why != Why::Asked
            && report.confirmed
            && let Some(reading) = report.reading
        {
            self.kept = Some((report.begun, reading.received));
        }
    }

    /// The keeper dies; the next one's first act is off, and what the run wants comes after it.
    fn lose_keeper(&mut self, now: Moment) {
        self.heard = None;
        let mut effects = std::mem::take(&mut self.effects);
        self.run.handle(now, Input::KeeperLost, &mut effects);
        self.keeper = keeper(&self.line, &self.night.studio, self.base);
        self.line.rest(HIRES);
        let at = self.instant(self.line.now());
        let _reported = self.keeper.handle(Request::Off, at);
        self.carry_out(now, &mut effects);
        self.effects = effects;
        self.look(now);
    }

    /// Everything that can be mended is: from now on the world is healthy, and the night must come
    /// to its end.
    pub(super) fn mend(&mut self) {
        // A host that stands still is no world to end a night in.
        let awake = self.deaf_until.max(self.keeper_deaf_until);
        self.mended = Some(self.now.max(awake));
        self.deeds.clear();
        self.placed.fill(true);
        self.book.mend();
        let mut wire = self.line.0.borrow_mut();
        wire.mend();
    }

    /// The daemon dies; its keeper turns the output off and proves it.
    fn leave_to_keeper(&mut self) {
        let began = self.line.now();
        self.keeper.order_off(Why::OwnerGone, self.instant(began));
        self.left_at = Some(began);
        while self.keeper.must_off() {
            let waited = self.line.now().since(began);
            if waited > WAITS + HEALTHY {
                break;
            }
            if waited > WAITS && self.mended.is_none() {
                self.mend();
            }
            let at = self.instant(self.line.now());
            let _reported = self.keeper.due(at);
            let _cut = self.keeper.cuts(self.instant(self.line.now()));
            if let Some(left) = self.keeper.idle_for(self.instant(self.line.now())) {
                self.line.rest(Span::from_s(left.as_secs_f64()));
            }
        }
        let proved = !self.keeper.must_off();
        self.ending = Some(if proved {
            Ending::LeftToTheKeeper
        } else if self.keeper.is_cut() && self.has_lied() {
            Ending::Cut
        } else {
            Ending::Unconfirmed
        });
    }
}
