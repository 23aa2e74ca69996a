//! Why a shape or a mesh cannot be used.

use super::mesh;
use crate::units::{Area, Length, Mass, SurfaceMass};

/// Why a described shape is not a body.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ShapeError {
    /// A length that must be more than nothing is not.
    #[error("the {what} of the {shape} is {} mm; it must be more than nothing", .value.mm())]
    NotPositive {
        /// Which shape.
        shape: &'static str,
        /// Which of its lengths.
        what: &'static str,
        /// What was given.
        value: Length,
    },
    /// A length that may be nothing is less.
    #[error("the {what} of the {shape} is {} mm; it cannot be less than nothing", .value.mm())]
    Negative {
        /// Which shape.
        shape: &'static str,
        /// Which of its lengths.
        what: &'static str,
        /// What was given.
        value: Length,
    },
    /// An area that must be more than nothing is not.
    #[error("the area is {} cm2; it must be more than nothing", .value.cm2())]
    NoArea {
        /// What was given.
        value: Area,
    },
    /// A tube without a wall.
    #[error(
        "the inner diameter of the tube, {} mm, is not below its outer one, {} mm; \
         for a solid bar use a rod",
        .inner.mm(), .outer.mm()
    )]
    NoWall {
        /// Inner diameter.
        inner: Length,
        /// Outer diameter.
        outer: Length,
    },
    /// A ring without a hole.
    #[error(
        "the wire of the ring, {} mm, is not thinner than the ring is across, {} mm; `across` is \
         the diameter of the wire's centre line",
        .wire.mm(), .across.mm()
    )]
    NoHole {
        /// Diameter of the wire.
        wire: Length,
        /// Diameter of the centre line.
        across: Length,
    },
    /// A coil whose turns touch.
    #[error(
        "the turns of the coil touch: its pitch of {} mm does not clear its wire of {} mm; for a \
         close winding use a tube or rod",
        .pitch.mm(), .wire.mm()
    )]
    TurnsTouch {
        /// Diameter of the wire.
        wire: Length,
        /// From turn to turn.
        pitch: Length,
    },
    /// A coil without turns.
    #[error("a coil of {turns} turns does not exist; it has more than none")]
    Turns {
        /// What was given.
        turns: f64,
    },
    /// A perimeter too short for its area.
    #[error(
        "no outline of that area has a perimeter of {} mm: even a circle has {:.1} mm; look at \
         the units of `outline_area` and `perimeter`",
        .perimeter.mm(), .least.mm()
    )]
    ShortPerimeter {
        /// What was given.
        perimeter: Length,
        /// What a circle has.
        least: Length,
    },
    /// A foil that weighs nothing, or a square of it.
    #[error("a foil of {} g at {} mg/cm2 is no area; both must be more than nothing",
        .mass.g(), .per_area.mg_per_cm2())]
    Foil {
        /// What was given.
        mass: Mass,
        /// Of the known square.
        per_area: SurfaceMass,
    },
    /// A prism with fewer than three sides.
    #[error("a prism with {sides} sides does not exist; it has 3 or more")]
    TooFewSides {
        /// What was given.
        sides: u32,
    },
    /// None of something.
    #[error("a count of 0 leaves nothing to cover; it must be 1 or more")]
    NoneOfIt,
    /// A list without a part.
    #[error("the list of parts is empty; give at least one shape")]
    NoParts,
    /// A texture below one.
    #[error(
        "a texture of {value} is impossible: it is true area over smooth area, so it is 1 or more"
    )]
    Texture {
        /// What was given.
        value: f64,
    },
    /// An uncertainty that leaves no area, or none at all.
    #[error("an uncertainty of {} % is impossible: it must be at least 0 % and below 100 %",
        .value * 100.0)]
    Uncertainty {
        /// What was given, as a share of one.
        value: f64,
    },
    /// Larger than a number can hold.
    #[error("the {shape} is too large or too small to reckon with; check its units")]
    OutOfReach {
        /// Which shape.
        shape: &'static str,
    },
    /// A mesh that is no body.
    #[error(transparent)]
    Mesh(#[from] MeshError),
}

/// Why the bytes of a mesh, or its triangles, are not a body. What to do about it is
/// [`Self::remedy`].
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MeshError {
    /// No byte at all.
    #[error("the file is empty")]
    Blank,
    /// None of the formats.
    #[error("this is no mesh of a known kind (STL, OBJ, PLY, 3MF): it begins with `{begins}`")]
    NotStl {
        /// The first few characters.
        begins: String,
    },
    /// The header promises more than there is.
    #[error(
        "the file promises {claimed} triangles and holds {held}: it was cut short, or it is no STL"
    )]
    CutShort {
        /// Triangles the header promises.
        claimed: u32,
        /// Whole triangles in the file.
        held: usize,
    },
    /// A text file without its end.
    #[error("the file is cut short: it stops after {held} triangles without `endsolid`")]
    NoEnd {
        /// Whole triangles in the file.
        held: usize,
    },
    /// A file that its format does not allow.
    #[error("this {format} file cannot be read: {why}")]
    Format {
        /// Which format.
        format: &'static str,
        /// What its reader says.
        why: String,
    },
    /// A triangle on a corner that is not there.
    #[error("a triangle names corner {number}, and the file holds {held}")]
    NoCorner {
        /// As the file counts, from 0.
        number: usize,
        /// How many there are.
        held: usize,
    },
    /// More than can be measured.
    #[error("the mesh has more than the {most} triangles that are read")]
    TooMany {
        /// The most.
        most: usize,
    },
    /// A format without units, and none stated.
    #[error("the file does not say its unit, and you do not either")]
    NoUnit,
    /// A file that states another unit.
    #[error(
        "the file itself says that one unit is {} mm, and you say {} mm", .stated.mm(), .given.mm()
    )]
    OtherUnit {
        /// The file's own.
        stated: Length,
        /// What was given.
        given: Length,
    },
    /// A size that no tank holds.
    #[error(
        "the mesh is {} across at its widest; a piece in a tank is from 0.05 mm to 2 m",
        said(*.across)
    )]
    Absurd {
        /// Its largest extent.
        across: Length,
        /// The length that one of its units stands for.
        unit: Length,
    },
    /// A line that does not belong in a text STL.
    #[error("line {line} of the file has `{found}` where {wanted} should stand")]
    Text {
        /// Line, from 1.
        line: usize,
        /// The word found.
        found: String,
        /// What was wanted.
        wanted: &'static str,
    },
    /// A coordinate that is no number.
    #[error("triangle {triangle} has a corner that is not a finite number")]
    NotFinite {
        /// Which triangle, from 1.
        triangle: usize,
    },
    /// No triangle.
    #[error("the mesh holds no triangle")]
    Empty,
    /// Too few to enclose anything.
    #[error("the mesh holds {found} of the 4 triangles that a body needs at least")]
    TooFew {
        /// How many there are.
        found: usize,
    },
    /// Triangles without area.
    #[error("all triangles of the mesh are flat slivers without area")]
    NoArea,
    /// A unit that is no length.
    #[error("one unit of the file is {} mm; it must be more than nothing", .unit.mm())]
    Unit {
        /// What was given.
        unit: Length,
    },
}

impl MeshError {
    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        let plain = match self {
            Self::Absurd { across, unit } => return other_units(*across, *unit),
            Self::Blank | Self::CutShort { .. } | Self::NoEnd { .. } => {
                "copy or export it again, to its end"
            }
            Self::NotStl { .. } => "export the body as STL, OBJ, PLY or 3MF",
            Self::Format { .. } => "export it again, or as STL",
            Self::NoCorner { .. } | Self::Text { .. } => "export it again",
            Self::TooMany { .. } => "decimate it: 200 000 triangles are plenty",
            Self::NoUnit => "state its unit: most programs export mm",
            Self::OtherUnit { .. } => "leave the unit out, or export the mesh in yours",
            Self::NotFinite { .. } => "repair the mesh, and export it again",
            Self::Empty => "export the body itself, not an empty scene",
            Self::TooFew { .. } => "export the whole body, or describe a flat piece as a plate",
            Self::NoArea => "look at the export and at the unit",
            Self::Unit { .. } => "state a unit that is more than nothing",
        };
        plain.to_owned()
    }
}

/// How large a mesh would be in the units in which a tank could hold it.
fn other_units(across: Length, unit: Length) -> String {
    let read = |name: &&str| {
        let across = across * (mesh::unit(name)? / unit);
        mesh::fits(across).then(|| format!("{} in {name}", said(across)))
    };
    let others: Vec<String> = mesh::UNITS.iter().filter_map(read).collect();
    if others.is_empty() {
        return "look at the unit, and scale the mesh in the program that made it".to_owned();
    }
    format!("look at the unit: it would be {}", others.join(", "))
}

/// A length in the unit that suits its size, to three figures.
fn said(length: Length) -> String {
    let (value, unit) = match length.m() {
        m if m >= 1.0 => (m, "m"),
        m if m >= 1e-3 => (m * 1e3, "mm"),
        m => (m * 1e6, "um"),
    };
    let places = match value {
        value if value >= 100.0 => 0,
        value if value >= 10.0 => 1,
        _ => 2,
    };
    format!("{value:.places$} {unit}")
}
