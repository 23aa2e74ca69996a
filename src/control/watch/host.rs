//! The computer.

use super::{Fault, Sees, limit, news};
use crate::control::sense::Sense;
use crate::units::Span;

/// What is remembered of the computer.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Host {
    slept: Option<Span>,
    jumped: Option<Span>,
    free: Option<u64>,
    waits: Option<Span>,
}

impl Host {
    /// The output was off: a sleep meanwhile did no harm.
    pub(super) fn wake(&mut self) {
        self.slept = None;
    }

    pub(super) fn sense(&mut self, sense: Sense) {
        match sense {
            Sense::Slept(span) => self.slept = Some(span),
            Sense::ClockJumped(span) => self.jumped = Some(span),
            Sense::DiskFree(bytes) => self.free = Some(bytes),
            Sense::LedgerWaits(span) => self.waits = Some(span),
            Sense::Sensor(..) => {}
        }
    }

    /// The figure behind a guard, in words.
    pub(super) fn said(&self, fault: Fault) -> Option<String> {
        if fault == Fault::HostSlept {
            return Some(format!("nothing ran here for {:.1} s", self.slept?.s()));
        }
        if fault == Fault::ClockJumped {
            return Some(format!(
                "the time of day moved by {:+.1} s",
                self.jumped?.s()
            ));
        }
        if fault == Fault::DiskNearlyFull {
            let free = self.free?;
            return Some(format!("{} MB are left", free / 1_000_000));
        }
        (fault == Fault::LedgerSlow).then_some(())?;
        Some(format!("a commit has waited for {:.1} s", self.waits?.s()))
    }

    pub(super) fn slept(&self) -> Sees {
        news(self.slept, |span| span.s() > limit::SLEPT_S)
    }

    pub(super) fn jumped(&self) -> Sees {
        news(self.jumped, |span| span.s().abs() > limit::JUMPED_S)
    }

    pub(super) fn full(&self) -> Sees {
        news(self.free, |bytes| bytes < limit::DISK_BYTES)
    }

    pub(super) fn slow(&self) -> Sees {
        news(self.waits, |span| span.s() > limit::LEDGER_S)
    }
}
