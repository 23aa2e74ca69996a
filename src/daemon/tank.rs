//! The bath in the tank, joined to a night: is it the job's, and what is due in it.

use super::refusal::{BAD_INPUT, REFUSED, Refusal};
use crate::bath::{BathProfile, keep::MISMATCH};
use crate::ledger::{Ledger, TankRow};
use crate::plan::Remark;
use crate::run::{Losses, TankState, tank_state};
use crate::spec::{self, Brightener, Shelf, Station};
use crate::units::{Span, Volume};
use std::path::Path;

/// A station as the ledger of its tank's bath knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// The station.
    pub station: Station,
    /// What there is to say of its bath.
    pub said: Vec<Remark>,
}

/// The station as the ledger of its tank's bath knows it: when the brightener is due, and what is
/// left of the anode, and how far the level has fallen. A station whose tank names no bath is as
/// its file has it, and so is one whose bath was never written down as made, which is said.
///
/// # Errors
/// [`Refusal`] if the bath in the tank is not the job's, or the ledger cannot be read.
pub fn as_kept(
    station: &Station,
    bath: &BathProfile,
    ledger: &Path,
    shelf: &Shelf,
    now: Span,
) -> Result<Kept, Refusal> {
    let mut kept = Kept {
        station: station.clone(),
        said: Vec::new(),
    };
    let Some(name) = &station.tank.bath_ledger else {
        return Ok(kept);
    };
    let unreadable = |fault: crate::ledger::StoreFault| {
        Refusal::new(BAD_INPUT, "ledger-unreadable", fault.to_string())
            .remedy("look at the ledger's disk, or name another ledger")
    };
    let held = if ledger.exists() {
        Ledger::open_read(ledger)
            .and_then(|ledger| ledger.bath(name))
            .map_err(unreadable)?
    } else {
        None
    };
    let Some(row) = held.map(|row| row.by(now)) else {
        kept.said.push(never_made(name, bath));
        return Ok(kept);
    };
    let text = row.made.profile_text.as_deref();
    let (profile, _) = spec::bath::open_kept(&row.made.substance, text, shelf)?;
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
    take_over(&mut kept.station, &row, &state);
    Ok(kept)
}

fn never_made(name: &str, bath: &BathProfile) -> Remark {
    Remark {
        code: "bath-unknown",
        text: format!(
            "the station's tank holds {name:?}, and the ledger knows no such bath: brightener, \
             anode and level are not kept for it; when you have made it, `nightvat bath add \
             '{name}' --made {} --volume VOLUME`",
            bath.name
        ),
    }
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
    // A tank whose water is written down stood as high as stated when it was at its mark. Without
    // a surface no volume comes to a height, and each top-up counts as a whole one.
    let surface = kept.tank.surface.or(row.made.surface);
    let level = kept.tank.level.as_mut();
    if let Some(level) = level.filter(|_| !state.poured.is_empty()) {
        level.above -= match surface {
            Some(surface) => state.missing(level.falls_a_day * surface) / surface,
            None => level.falls_a_day * (state.dry_for() / Span::from_h(24.0)),
        };
    }
    if let (Some(anode), Some(found)) = (kept.tank.anode.as_mut(), state.anode) {
        anode.mass = Some(found.left());
    }
    if row.volume() > Volume::ZERO {
        kept.tank.volume = row.volume();
    }
}
