//! A run whose end nobody wrote: what can have flowed in it, and how its end is written.

use super::super::going_on;
use super::super::latch::{INTERRUPTED, Latch, OffSince, ReadBy};
use super::super::scribe::{Full, Scribe};
use super::super::standing::Standing;
use super::super::told::ago;
use super::when;
use crate::control::{Fault, Outcome, State};
use crate::ledger::{Account, Entry, ReadingRow, RunId, RunRecord, Ticket, UnfinishedRow};
use crate::run::Snapshot;
use crate::spec;
use crate::supply::keeper::{Proof, Record, same_boot};
use crate::units::{Bounded, Charge, Current, Span};

/// A run whose end nobody wrote, with what its keeper left behind.
#[derive(Debug)]
pub(in crate::daemon) struct Unfinished {
    row: UnfinishedRow,
    record: RunRecord,
    proof: Option<Proof>,
    /// The time of the last reading that is in the accounts, or of a later proof of off.
    seen: Span,
    /// The computer was not started again since.
    same_boot: bool,
}

impl Unfinished {
    pub(super) fn new(
        row: UnfinishedRow,
        record: RunRecord,
        readings: &[ReadingRow],
        keeper: Option<&Record>,
    ) -> Self {
        let proof = proof_of(row.id, keeper);
        // The accounts are a little younger than what they account for, and a reading may have been
        // on its way while they were written: the charge tells which was in them.
        let booked = row.charge.best + Charge::from_ah(1e-12);
        let mut latest = readings.iter().rev();
        let seen = latest
            .find(|reading| reading.charge <= booked)
            .map_or(Span::ZERO, |reading| reading.at)
            .min(row.accounted);
        // Proving and a pause begin with an output that was read to be off.
        let was_off = record
            .states
            .iter()
            .rev()
            .find(|row| matches!(row.state, State::Proving | State::Paused))
            .map_or(Span::ZERO, |row| row.at);
        let seen = seen.max(was_off.min(row.accounted));
        Self {
            row,
            record,
            proof,
            seen,
            same_boot: same_boot(keeper),
        }
    }

    /// Its number.
    pub(in crate::daemon) fn id(&self) -> RunId {
        self.row.id
    }

    /// The computer was not started again since it broke off.
    pub(in crate::daemon) fn same_boot(&self) -> bool {
        self.same_boot
    }

    pub(super) fn record(&self) -> &RunRecord {
        &self.record
    }

    /// The last time at which anything is known of it, since it began.
    fn known(&self) -> Span {
        let last = self.row.last_reading.map_or(Span::ZERO, |last| last.at);
        self.row.accounted.max(last)
    }

    /// Current can have flowed until then, as time since the run began: until the keeper read that
    /// it was off; without that until now by the wall clock, since a supply whose keeper died goes
    /// on; and where that clock was set back, as long as the ledger allowed.
    fn until(&self, standing: &Standing) -> Span {
        let now = || ago(&self.row.began).map(|real| real * standing.clock.speed);
        let proof = self.proof.as_ref().and_then(|proof| proof.after);
        let mut until = proof.or_else(now).unwrap_or(self.row.allowed_until);
        if proof.is_none() && !self.same_boot {
            // A computer that was started again may not know the time.
            until = until.max(self.row.allowed_until);
        }
        until.max(self.known())
    }

    /// The most current that can have flowed since the last reading accounted for: that of the
    /// widest envelope that stood then or later, and what the supply may set beyond it.
    fn most(&self, standing: &Standing) -> Current {
        let later = self.record.envelopes.iter();
        let most = later
            .filter(|envelope| envelope.until > self.seen)
            .map(|envelope| envelope.current)
            .fold(Current::ZERO, Current::max);
        if most == Current::ZERO {
            return most;
        }
        most + Current::from_a(standing.capability.set_current.half_width(most.a()))
    }

    /// What can have flowed by `until`. Where the keeper read the output off, the current of the
    /// last reading most likely flowed until then.
    fn charge(&self, standing: &Standing, until: Span) -> Bounded<Charge> {
        let charge = self.row.charge;
        let unseen = (until - self.seen).max(Span::ZERO);
        let most = self.most(standing) * unseen;
        let last = self.row.last_reading.filter(|last| last.at >= self.seen);
        let last = last.and_then(|last| last.current);
        let likely = match self.proof {
            Some(_) => (last.unwrap_or_default() * unseen).min(most),
            None => Charge::ZERO,
        };
        Bounded {
            low: charge.low,
            best: charge.best + likely,
            high: charge.high + most,
        }
    }

    /// All that nobody saw may have gone through any one of the electrodes: while paint is being
    /// covered, shares change many times over.
    fn accounts(&self, charge: Bounded<Charge>) -> Vec<Account> {
        let unseen = (charge.high - self.row.charge.high).max(Charge::ZERO);
        let grown = if self.row.charge.best > Charge::ZERO {
            charge.best / self.row.charge.best
        } else {
            1.0
        };
        let widened = |mut account: Account| {
            let before = account.charge.high;
            account.charge.best = account.charge.best * grown;
            account.charge.high += unseen;
            account.mass = account.mass * grown;
            // More charge never makes a deposit thicker than in proportion: its area does not
            // shrink that fast.
            account.thickness.best = account.thickness.best * grown;
            if before > Charge::ZERO {
                account.thickness.high = account.thickness.high * (account.charge.high / before);
            }
            account
        };
        let electrodes = self.record.electrodes.iter();
        electrodes.map(|one| widened(one.account)).collect()
    }

    fn text(&self) -> String {
        let text = format!(
            "the daemon or the computer died in this run, {:.0} min after it began or a little \
             later",
            self.known().s() / 60.0
        );
        if self.proof.is_some() || self.same_boot {
            return text;
        }
        format!(
            "{text}; the computer was started again and nobody read the output off before, so \
             the highest charge and thickness hold only if its clock is right now"
        )
    }

    /// What a person must read of it.
    pub(super) fn latch(&self, standing: &Standing) -> Latch {
        let since = when(standing, &self.row.began, self.known());
        Latch {
            run: self.row.id,
            state: State::Interrupted,
            code: INTERRUPTED.to_owned(),
            text: self.text(),
            metal: metal_of(standing, &self.record),
            off: off_since(self.proof.as_ref(), since.clone()),
            since,
            resumes: going_on::may(&self.record),
        }
    }

    /// Shows its widened bounds until the next run.
    pub(super) fn show(&self, standing: &Standing, rest: &mut Snapshot) {
        let until = self.until(standing);
        rest.charge = self.charge(standing, until);
        // Where the keeper turned it off, it was on until then, most likely.
        let seen = self.proof.as_ref().map_or(self.known(), |_| until);
        rest.time_on = going_on::time_on(&self.record, seen);
        rest.elapsed = until;
        let shown = rest.pieces.iter_mut().chain(&mut rest.hangers);
        for (state, account) in shown.zip(self.accounts(rest.charge)) {
            state.charge = account.charge;
            state.mass = account.mass;
            state.thickness = account.thickness;
        }
    }

    /// Writes its end, now that a reading has proved the output off.
    pub(in crate::daemon) fn close(self, standing: &Standing, scribe: &Scribe) -> Result<(), Full> {
        let (id, at) = (self.row.id, self.until(standing));
        let charge = self.charge(standing, at);
        let entries = [
            Entry::Event {
                at,
                code: INTERRUPTED,
                text: self.text(),
            },
            Entry::Entered {
                at,
                state: State::Interrupted,
            },
            Entry::Accounts {
                at,
                charge,
                electrodes: self.accounts(charge),
                shown: self.record.thickness.unwrap_or_default(),
                governing: self.record.governing,
            },
            Entry::Ended {
                at,
                outcome: Outcome::Interrupted(Fault::DaemonLost),
                fault: None,
            },
        ];
        entries
            .into_iter()
            .try_for_each(|entry| scribe.append(id, entry))?;
        scribe.commit(Ticket(0))
    }
}

/// The keeper's proof that the output of this run was off.
pub(super) fn proof_of(run: RunId, keeper: Option<&Record>) -> Option<Proof> {
    let proof = keeper?.proof.as_ref()?;
    (proof.run == Some(run) && proof.after.is_some()).then(|| proof.clone())
}

/// Since when it is off, where the keeper read it; else not before the last thing known.
pub(super) fn off_since(proof: Option<&Proof>, known: Option<String>) -> OffSince {
    match proof {
        Some(proof) => OffSince {
            not_before: Some(proof.at.clone()),
            read_by: ReadBy::Keeper,
        },
        None => OffSince {
            not_before: known,
            read_by: ReadBy::Nobody,
        },
    }
}

/// The metal of a run's bath, where the bath is still known.
pub(super) fn metal_of(standing: &Standing, record: &RunRecord) -> Option<String> {
    let bath = spec::bath::open(&record.head.bath, &standing.shelf).ok()?;
    Some(bath.metal.name.to_owned())
}
