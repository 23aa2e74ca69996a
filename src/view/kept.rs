//! How it stands with a bath, as facts to show.

use crate::bath::{BathProfile, Note};
use crate::ledger::TankRow;
use crate::run::{Gone, TankState};
use crate::units::{Length, Span, Volume};

/// Less liquid than this above the highest piece is too little (common practice, no source).
const LEAST_ABOVE: Length = Length::from_mm(5.0);

/// Every code that is said of a bath in a ledger.
pub const BATH_NOTES: [&str; 5] = [
    "additive-due",
    "overdose",
    "anode-light",
    "level-low",
    "profile-gone",
];

/// What `bath due` shows.
#[derive(Clone, Copy, Debug)]
pub struct BathDue<'a> {
    /// What the ledger holds of it.
    pub row: &'a TankRow,
    /// Its profile.
    pub profile: &'a BathProfile,
    /// How it stands.
    pub state: &'a TankState,
    /// Water that has gone, where a surface is known.
    pub gone: Option<Gone>,
    /// The file of its profile is gone: its figures are those of when it was made.
    pub profile_gone: bool,
    /// Liquid above the highest piece when it last stood at its mark.
    pub above: Option<Length>,
}

/// What there is to say of a bath by its account.
#[must_use]
pub fn bath_notes(state: &TankState) -> Vec<Note> {
    let mut notes = Vec::new();
    for one in &state.additives {
        let (level, name) = (&one.level, &one.additive.name);
        if level.due() {
            notes.push(Note {
                code: "additive-due",
                text: format!(
                    "{name}: {:.2} mL are left of {:.2}: add {:.2} mL now; more than {:.2} mL \
                     would be too much",
                    level.held.cm3(),
                    level.full.cm3(),
                    level.add().cm3(),
                    level.room().cm3()
                ),
            });
        }
        if level.too_much() {
            let last: Vec<String> = one
                .last
                .iter()
                .map(|(at, volume)| format!("{:.2} mL {at}", volume.cm3()))
                .collect();
            notes.push(Note {
                code: "overdose",
                text: format!(
                    "{name}: by the account {:.2} mL are in it, and above {:.2} mL it spoils: add \
                     none; runs use it up, or draw off {:.0} % of the bath and make it good; the \
                     last additions: {}",
                    level.held.cm3(),
                    level.most.cm3(),
                    (1.0 - level.most / level.held) * 100.0,
                    last.join(", ")
                ),
            });
        }
    }
    if let Some(anode) = state.anode.filter(|anode| anode.left() < anode.hung * 0.25) {
        notes.push(Note {
            code: "anode-light",
            text: format!(
                "the anode has {:.0} g left of {:.0} g: hang a new one before it falls apart",
                anode.left().g(),
                anode.hung.g()
            ),
        });
    }
    notes
}

impl BathDue<'_> {
    /// Everything there is to say.
    #[must_use]
    pub fn notes(&self) -> Vec<Note> {
        let mut notes = bath_notes(self.state);
        if let Some((gone, above)) = self.gone.zip(self.above) {
            let left = above - gone.fallen;
            if left < LEAST_ABOVE {
                let what = if left < Length::ZERO {
                    format!(
                        "{:.0} mm of the highest piece or the anode's top would emerge",
                        -left.mm()
                    )
                } else {
                    format!(
                        "{:.0} mm of liquid are left above the highest piece",
                        left.mm()
                    )
                };
                notes.push(Note {
                    code: "level-low",
                    text: format!(
                        "{what}: top up with {:.0} mL of distilled water",
                        gone.water.cm3()
                    ),
                });
            }
        }
        if self.profile_gone {
            notes.push(Note {
                code: "profile-gone",
                text: format!(
                    "{} is not there any more: its figures are taken as they were when the bath \
                     was made",
                    self.row.made.substance
                ),
            });
        }
        notes
    }
}

/// A span in days, or hours where it is short.
pub(super) fn days(span: Span) -> String {
    if span.h() < 48.0 {
        format!("{:.0} h", span.h())
    } else {
        format!("{:.0} days", span.h() / 24.0)
    }
}

/// Millilitres of a volume.
pub(super) fn ml(volume: Volume) -> String {
    format!("{:.2} mL", volume.cm3())
}
