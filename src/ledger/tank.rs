//! What the ledger holds of one bath.

use crate::ledger::entry::RunId;
use crate::units::{Area, Charge, Concentration, Mass, Span, Volume};

/// What kind of thing was done to a bath.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TankDeed {
    /// It was made up.
    Made,
    /// An additive or a chemical went in.
    Added,
    /// Water went in.
    Water,
    /// Some was drawn off.
    Drawn,
    /// An anode was hung.
    Anode,
    /// It was analysed.
    Analysed,
}

impl TankDeed {
    /// Every one.
    pub const ALL: [Self; 6] = [
        Self::Made,
        Self::Added,
        Self::Water,
        Self::Drawn,
        Self::Anode,
        Self::Analysed,
    ];

    /// Its word, as the ledger writes it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Added => "added",
            Self::Water => "water",
            Self::Drawn => "drawn",
            Self::Anode => "anode",
            Self::Analysed => "analysed",
        }
    }

    /// From its word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|deed| deed.word() == word)
    }
}

/// One thing that was done to a bath.
#[derive(Clone, Debug, PartialEq)]
pub struct TankEntry {
    /// When, RFC 3339.
    pub at: String,
    /// The same as seconds since 1970, as the ledger reads it.
    pub when: Span,
    /// What kind of thing.
    pub kind: TankDeed,
    /// What went in; the profile's name where the bath was made.
    pub substance: String,
    /// How much by mass.
    pub mass: Option<Mass>,
    /// How much by volume; the bath's own where it was made.
    pub volume: Option<Volume>,
    /// Surface of the liquid, where the bath was made and it was said.
    pub surface: Option<Area>,
    /// What a litre held, where it was analysed.
    pub held: Option<Concentration>,
    /// The profile as it was read, where the bath was made by a person's own.
    pub profile_text: Option<String>,
}

/// A run that took place in a bath.
#[derive(Clone, Debug, PartialEq)]
pub struct TankRun {
    /// Its number.
    pub run: RunId,
    /// The job's name.
    pub job: String,
    /// When it began, RFC 3339.
    pub began: String,
    /// When it ended, or how far it is booked, as seconds since 1970.
    pub until: Span,
    /// Its charge.
    pub charge: Charge,
    /// Its pieces.
    pub pieces: u32,
    /// It is over.
    pub over: bool,
    /// Its supply and cell were simulated.
    pub simulated: bool,
}

/// A bath: all that was done to it since it was last made, and the runs since then, by their times.
#[derive(Clone, Debug, PartialEq)]
pub struct TankRow {
    /// Its name.
    pub name: String,
    /// How it was made.
    pub made: TankEntry,
    /// What was done to it since.
    pub entries: Vec<TankEntry>,
    /// The runs since, rehearsals left out.
    pub runs: Vec<TankRun>,
}

impl TankRow {
    /// Its volume.
    #[must_use]
    pub fn volume(&self) -> Volume {
        self.made.volume.unwrap_or(Volume::ZERO)
    }

    /// The same, with no run ending after a time: a simulated night runs ahead of the clock.
    #[must_use]
    pub fn by(mut self, now: Span) -> Self {
        for run in &mut self.runs {
            run.until = run.until.min(now);
        }
        self
    }
}
