//! The bath in the tank, joined to a night: is it the job's, and what is due in it.

use super::refusal::{BAD_INPUT, REFUSED, Refusal};
use crate::bath::{BathProfile, keep::MISMATCH};
use crate::ledger::{Ledger, TankDeed, TankRow};
use crate::run::{Losses, TankState, tank_state};
use crate::spec::{self, Brightener, Shelf, Station};
use crate::units::{Span, Volume};
use std::path::Path;

/// The station as the ledger of its tank's bath knows it: when the brightener is due, and what is
/// left of the anode, and how far the level has fallen since water was last added. A station
/// whose tank names no bath, or one that was never made, is as its file has it.
///
/// # Errors
/// [`Refusal`] if the bath in the tank is not the job's, or the ledger cannot be read.
pub fn as_kept(
    station: &Station,
    bath: &BathProfile,
    ledger: &Path,
    shelf: &Shelf,
    now: Span,
) -> Result<Station, Refusal> {
    let mut kept = station.clone();
    let Some(name) = station
        .tank
        .bath_ledger
        .as_ref()
        .filter(|_| ledger.exists())
    else {
        return Ok(kept);
    };
    let unreadable = |fault: crate::ledger::StoreFault| {
        Refusal::new(BAD_INPUT, "ledger-unreadable", fault.to_string())
            .remedy("look at the ledger's disk, or name another ledger")
    };
    let held = Ledger::open_read(ledger)
        .and_then(|ledger| ledger.bath(name))
        .map_err(unreadable)?;
    let Some(row) = held.map(|row| row.by(now)) else {
        return Ok(kept);
    };
    let profile = spec::bath::open(&row.made.substance, shelf)?;
    if profile.name != bath.name {
        let text = format!(
            "the job wants {}, and the tank of {} holds {name:?}, which is {}, made {}",
            bath.name, station.name, profile.name, row.made.at
        );
        return Err(Refusal::new(REFUSED, "bath-differs", text)
            .remedy("change the job's bath, or say what is in the tank: `nightvat bath add`"));
    }
    let losses = Losses {
        mismatch: MISMATCH,
        carried: Volume::ZERO,
    };
    // A run that is on counts its own charge.
    let state = tank_state(&row, &profile, losses, now, false);
    take_over(&mut kept, &row, &state);
    Ok(kept)
}

fn take_over(kept: &mut Station, row: &TankRow, state: &TankState) {
    if let Some(one) = state.additives.first() {
        let per_charge = one.additive.per_charge;
        if per_charge.si() > 0.0 {
            let level = &one.level;
            let every = ((level.full - level.low) / per_charge).max(level.next_charge);
            let late = (level.low - level.held).max(Volume::ZERO) / per_charge;
            kept.tank.brightener = Some(Brightener {
                every,
                since: every - level.next_charge + late,
            });
        }
    }
    // A tank whose water is written down is as high as stated when it was topped up.
    let written = row
        .entries
        .iter()
        .any(|entry| entry.kind == TankDeed::Water);
    if let Some(level) = kept.tank.level.as_mut().filter(|_| written) {
        level.above -= level.falls_a_day * (state.dry_for / Span::from_h(24.0));
    }
    if let (Some(anode), Some(found)) = (kept.tank.anode.as_mut(), state.anode) {
        anode.mass = Some(found.left());
    }
    if row.volume() > Volume::ZERO {
        kept.tank.volume = row.volume();
    }
}
