//! How a deposit looks, and what may be behind it.

/// What the ledger may know that speaks for or against a cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clue {
    /// The additive was below its limit.
    AdditiveLow,
    /// The additive was above what spoils.
    AdditiveHigh,
    /// Edges and tips were above the window's density.
    DensityHigh,
    /// The mean was below the window's density.
    DensityLow,
    /// The bath was outside its window of temperature.
    Temperature,
    /// The stirring was out.
    StirringLost,
    /// The anode's voltage climbed.
    AnodeStrained,
    /// Copper did not come to cover the piece.
    Uncovered,
    /// The ledger cannot know.
    None,
}

impl Clue {
    /// Every one.
    pub const ALL: [Self; 9] = [
        Self::AdditiveLow,
        Self::AdditiveHigh,
        Self::DensityHigh,
        Self::DensityLow,
        Self::Temperature,
        Self::StirringLost,
        Self::AnodeStrained,
        Self::Uncovered,
        Self::None,
    ];

    /// Its word in the table.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::AdditiveLow => "additive-low",
            Self::AdditiveHigh => "additive-high",
            Self::DensityHigh => "density-high",
            Self::DensityLow => "density-low",
            Self::Temperature => "temperature",
            Self::StirringLost => "stirring-lost",
            Self::AnodeStrained => "anode-strained",
            Self::Uncovered => "uncovered",
            Self::None => "none",
        }
    }
}

/// How a deposit may look.
pub const LOOKS: [&str; 10] = [
    "bright",
    "dull",
    "pink",
    "burnt",
    "rough",
    "nodules",
    "pitted",
    "stripes",
    "bare patches",
    "brittle",
];

/// One cause in the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The looks it may be behind.
    pub looks: Vec<String>,
    /// What it is.
    pub name: String,
    /// How common it is before anything is known.
    pub weight: f64,
    /// What the ledger may know of it.
    pub clue: Clue,
    /// The one thing to change first.
    pub change: String,
    /// What tells it from the others.
    pub apart: String,
    /// Where it comes from.
    pub source: String,
}

/// What the ledger says of one clue.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Which.
    pub clue: Clue,
    /// For it, or against it.
    pub speaks_for: bool,
    /// In a sentence, with its figures.
    pub text: String,
}

/// A cause with what speaks for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked<'t> {
    /// The cause.
    pub cause: &'t Cause,
    /// Its weight after the evidence.
    pub score: f64,
    /// What the ledger says.
    pub evidence: Option<&'t Evidence>,
}

/// How much evidence for a cause raises it.
const FOR: f64 = 5.0;
/// How much evidence against it lowers it.
const AGAINST: f64 = 0.2;

/// The causes of these looks, the likeliest first. A cause of two of the looks counts twice.
#[must_use]
pub fn rank<'t>(table: &'t [Cause], looks: &[String], evidence: &'t [Evidence]) -> Vec<Ranked<'t>> {
    let mut ranked: Vec<Ranked<'t>> = table
        .iter()
        .filter_map(|cause| {
            let met = looks.iter().filter(|look| cause.looks.contains(look));
            let found = evidence.iter().find(|one| one.clue == cause.clue);
            let factor = match found.map(|one| one.speaks_for) {
                Some(true) => FOR,
                Some(false) => AGAINST,
                None => 1.0,
            };
            let met = u32::try_from(met.count()).unwrap_or(u32::MAX);
            (met > 0).then(|| Ranked {
                cause,
                score: cause.weight * f64::from(met) * factor,
                evidence: found,
            })
        })
        .collect();
    ranked.sort_by(|a, b| b.score.total_cmp(&a.score));
    ranked
}
