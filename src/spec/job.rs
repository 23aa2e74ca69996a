//! A job: what to deposit, on what, how thick.

pub use super::read_job::{open, read, read_pieces};

use super::Form;
use crate::shape::reach::Reach;
use crate::units::{Area, Charge, CurrentDensity, Fraction, Length, Mass, Span, Speed};
use std::sync::Arc;

/// A checked job.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its name, for people.
    pub name: String,
    /// The bath profile it needs: a name under `profiles/baths`, or a path.
    pub bath: String,
    /// When it is done.
    pub target: Target,
    /// Which piece ends it.
    pub until: Until,
    /// Full current density, over the area as it stands at that moment.
    pub density: CurrentDensity,
    /// The gentle start; painted pieces need one.
    pub strike: Option<Strike>,
    /// From the strike's density to the full one.
    pub ramp: Option<Ramp>,
    /// What follows the target; without it the output goes off.
    pub finish: Option<Finish>,
    /// The pieces, at least one.
    pub pieces: Vec<Piece>,
    /// Wires, clips and thieves below the surface: they take current and are no target.
    pub hangers: Vec<Hanger>,
    /// Planned pauses, thinnest first.
    pub looks: Vec<Look>,
}

/// When a job is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Target {
    /// Mean thickness over a piece.
    Thickness(Length),
    /// Mass of metal on a piece.
    Mass(Mass),
    /// Charge through a piece.
    Charge(Charge),
    /// Time with the output on.
    Hours(Span),
}

/// Which piece ends a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Until {
    /// The piece that is furthest behind.
    Thinnest,
    /// The mean of all pieces, weighted by area.
    RackMean,
    /// The named piece.
    Piece(String),
}

/// The gentle start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strike {
    /// Its density, over the covered area.
    pub density: CurrentDensity,
    /// How long it lasts at most; on paint, the time until the piece is covered.
    pub duration: Span,
    /// It ends as soon as all paint should be covered.
    pub until_covered: bool,
}

/// From the strike's density to the full one, in a straight line of density over time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    /// How long it takes.
    pub over: Span,
}

/// A small current that keeps a finished piece from dissolving.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finish {
    /// Its density.
    pub hold: CurrentDensity,
    /// It ends after this at the latest.
    pub at_most: Span,
}

/// What the surface of a piece is before the first copper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// Conductive paint or graphite: copper spreads over it from the contact.
    Paint,
    /// Metal: covered at once.
    Metal,
}

/// A piece: something that is to get thicker.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name, unique in the job.
    pub name: String,
    /// Paint or metal.
    pub surface: Surface,
    /// Its shape.
    pub form: Form,
    /// True area over smooth area, 1 or more; it multiplies the area at the start, not the growth.
    pub texture: f64,
    /// Half-width of the 95 % interval of the area, as she states it.
    pub uncertainty: Option<Fraction>,
    /// The highest density on it against its mean, as she states it; 1 or more.
    pub peak_to_mean: Option<f64>,
    /// How copper spreads over it, if it is painted.
    pub paint: Paint,
}

/// How copper spreads over a painted piece, as far as she says it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Paint {
    /// The patch the copper starts from.
    pub contact: Option<Area>,
    /// How fast its edge walks over the paint in the strike.
    pub front_speed: Option<Speed>,
    /// How far it is over its mesh from where the clips touch it.
    pub reach: Option<Arc<Reach>>,
}

/// A hanger: it takes current and is no target.
#[derive(Clone, Debug, PartialEq)]
pub struct Hanger {
    /// Its shape, below the surface.
    pub form: Form,
}

/// A planned pause to see, turn and trim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// The thickness at which it is due, of the piece that ends the job.
    pub at: Length,
}
