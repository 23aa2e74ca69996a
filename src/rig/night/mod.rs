//! Whole nights from one seed. This sub-room knows what can go wrong in a night and when, and what
//! must hold all the same. Its mishaps, its wire and its oracle must never know how the house
//! decides; only `driver`, which carries the house's own run through the night, does. Tests come
//! in.

/// What is drawn by chance.
pub mod die;
/// Carries a run through a night.
pub mod driver;
/// What can go wrong, and when.
pub mod mishap;
/// What must hold, whatever happens.
pub mod oracle;
/// A job, a station and a supply.
pub mod studio;
/// The line with its troubles, and a tap on it.
pub mod wire;

use die::Die;
use mishap::Mishap;
use studio::Studio;

/// Told apart from the seed's other uses.
const RELAY: u64 = 0x0c07_0ff5;
/// The same.
const AIMED: u64 = 0xa1_3ed0;
/// In one night of so many, what goes wrong is aimed at a short or a rare state.
const EVERY_AIMED: u64 = 12;
/// The same as the relay's.
const HANDS: u64 = 0x11f7_ed00;
/// In so many nights a person lifts or hangs a piece.
const WITH_HANDS: f64 = 0.15;
/// So many studios have a relay in the output lead.
const WITH_RELAY: f64 = 0.25;

/// How bad a night is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Nothing goes wrong.
    Clean,
    /// What happens in any night: a few lost replies, a plug that wobbles, a busy computer.
    Rough,
    /// Anything may fail.
    Faulted,
}

impl Kind {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Rough => "rough",
            Self::Faulted => "faulted",
        }
    }

    /// The kind with this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Clean, Self::Rough, Self::Faulted]
            .into_iter()
            .find(|kind| kind.word() == word)
    }
}

/// A whole night as one seed draws it.
#[derive(Clone, Debug)]
pub struct Night {
    /// The seed.
    pub seed: u64,
    /// How bad it is.
    pub kind: Kind,
    /// What stands before it.
    pub studio: Studio,
    /// What goes wrong in it.
    pub mishaps: Vec<Mishap>,
    /// Every exchange is kept in words, for whoever looks into one night.
    pub tells_wire: bool,
}

impl Night {
    /// Draws a night that would take about so many hours. The same arguments give the same night.
    ///
    /// # Errors
    /// What the plan of every job that was tried says against it.
    pub fn draw(seed: u64, kind: Kind, hours: f64) -> Result<Self, String> {
        let mut die = Die::new(seed);
        let (studio, length) = driver::prepare::studio(&mut die, seed, hours)?;
        let mut mishaps = match kind {
            Kind::Clean => Vec::new(),
            Kind::Rough => mishap::rough(&mut die, length),
            Kind::Faulted => mishap::faulted(&mut die, length),
        };
        // Of dice of their own, so that everything else in the night is as without them.
        let mut needs_relay = false;
        if kind == Kind::Faulted && seed.is_multiple_of(EVERY_AIMED) {
            let number = usize::try_from(seed / EVERY_AIMED).unwrap_or(0);
            let aimed = mishap::aimed(&mut Die::new(seed ^ AIMED), number, length);
            needs_relay = aimed.needs_relay;
            mishaps = aimed.mishaps;
        }
        let mut of_relay = Die::new(seed ^ RELAY);
        let studio = if of_relay.chance(WITH_RELAY) || needs_relay {
            if kind == Kind::Faulted {
                mishaps.extend(mishap::of_relay(&mut of_relay, length));
            }
            studio.with_relay(&mut of_relay)
        } else {
            studio
        };
        let mut of_hands = Die::new(seed ^ HANDS);
        if kind != Kind::Clean && of_hands.chance(WITH_HANDS) {
            mishaps.extend(mishap::of_hands(&mut of_hands, length));
        }
        Ok(Self {
            seed,
            kind,
            studio,
            mishaps,
            tells_wire: false,
        })
    }
}
