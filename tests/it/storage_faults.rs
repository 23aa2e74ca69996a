//! A disk that fails the real daemon: no space, an input or output error, read-only, half a write, a
//! stall of 30 s of the station's clock; at each of its calls to the disk, once and for ever, in a
//! night and in the recovery after a death. The tracer stands where the disk would be.

use super::crash_points::{charge, kind, night, reopens, sound};
use super::plant::{Plant, wait};
use super::tracer::{Call, Deed};
use nix::libc::{EIO, ENOSPC, EROFS};
use std::fs;
use std::time::Duration;

/// What the disk does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Trouble {
    pub(crate) what: What,
    pub(crate) for_ever: bool,
    /// It happens in the daemon that comes after a death.
    pub(crate) in_recovery: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum What {
    NoSpace,
    Broken,
    ReadOnly,
    Short,
    Stall,
}

pub(crate) const WHATS: [What; 5] = [
    What::NoSpace,
    What::Broken,
    What::ReadOnly,
    What::Short,
    What::Stall,
];

impl Trouble {
    /// Every one of them, in a night or in a recovery.
    pub(crate) fn all(in_recovery: bool) -> Vec<Self> {
        let both = |what| {
            [false, true].map(|for_ever| Self {
                what,
                for_ever,
                in_recovery,
            })
        };
        WHATS.into_iter().flat_map(both).collect()
    }

    fn deed(self, call: &Call, speed: u32) -> Deed {
        let writes = call.name.starts_with("write") || call.name.starts_with("pwrite");
        match self.what {
            What::NoSpace => Deed::Fail(ENOSPC),
            What::Broken => Deed::Fail(EIO),
            What::ReadOnly => Deed::Fail(EROFS),
            What::Short if writes => Deed::Short,
            What::Short => Deed::Nothing,
            What::Stall => Deed::Hold(Duration::from_secs(30) / speed),
        }
    }
}

/// What came of one.
#[derive(Clone, Debug)]
pub(crate) struct Outcome {
    /// What failed.
    pub(crate) at: String,
    /// How the night ended: a state, or that the daemon would not begin.
    pub(crate) end: String,
}

/// A call to the disk: on a file of the state folder, or one that names its file.
fn to_disk(call: &Call, plant: &Plant) -> bool {
    let named = ["rename", "unlink", "mkdir", "symlink", "chmod"];
    let named = named.iter().any(|name| call.name.starts_with(name));
    named || call.on.starts_with(plant.path(&plant.state))
}

/// Lives a night, or a recovery, in which trouble begins at the `nth` call to the disk; `None` if
/// there were fewer. Looks at everything that must hold then.
pub(crate) fn trouble(plant: &mut Plant, nth: u64, of: Trouble) -> Option<Outcome> {
    plant.state = format!(
        "state-{nth}-{:?}-{}-{}",
        of.what, of.for_ever, of.in_recovery
    );
    let before = charge(&plant.account());
    if of.in_recovery {
        broken_off(plant);
    }
    let (mut calls, mut first) = (0, None);
    let mut deed = |call: &Call| {
        if !to_disk(call, plant) {
            return Deed::Nothing;
        }
        calls += 1;
        if calls < nth || (calls > nth && !of.for_ever) {
            return Deed::Nothing;
        }
        first.get_or_insert_with(|| call.clone());
        of.deed(call, plant.speed)
    };
    let lived = night(plant, &mut deed);
    let call = first?;
    wait("a dead cell", || {
        (plant.account()["output_on"] == false).then_some(())
    });
    wait("no keeper that is still at it", || {
        plant.keeper().is_none().then_some(())
    });
    let flowed = charge(&plant.account()) - before;
    let path = plant.path(&plant.state).join("ledger.db");
    let known = sound(&path, nth);
    // Nothing rises before the run is in the ledger: what a proving takes is the most.
    assert!(
        known.is_some() || flowed < 1e-6,
        "{nth} {of:?}: {flowed} Ah of no run"
    );
    // The disk is mended, and the next daemon knows what can have flowed.
    reopens(plant, nth, flowed);
    let _ = fs::remove_dir_all(plant.path(&plant.state));
    Some(Outcome {
        at: format!("{} {}", call.name, kind(&call.on)),
        end: lived.over.unwrap_or_else(|| "did not begin".to_owned()),
    })
}

/// A night that is broken off while current flows.
fn broken_off(plant: &Plant) {
    plant.flowing().killed();
    wait("a dead cell", || {
        (plant.account()["output_on"] == false).then_some(())
    });
    wait("no keeper that is still at it", || {
        plant.keeper().is_none().then_some(())
    });
}

/// How many calls to the disk a whole night makes, or a recovery.
pub(crate) fn count(plant: &mut Plant, in_recovery: bool) -> u64 {
    plant.state = format!("state-count-{in_recovery}");
    if in_recovery {
        broken_off(plant);
    }
    let mut calls = 0;
    night(plant, &mut |call| {
        calls += u64::from(to_disk(call, plant));
        Deed::Nothing
    });
    calls
}
