//! The shape of a piece as a person describes it.

use crate::shape::mesh::Mesh;
use crate::shape::outline::Recognised;
use crate::shape::{self, Body, Outline, ShapeError};
use crate::units::{Area, Length, Mass, SurfaceMass};
use std::sync::Arc;

/// A described shape. Lengths are full widths (diameters, whole axes), never radii.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// A ball.
    Sphere {
        /// Across.
        diameter: Length,
    },
    /// An ellipsoid with three full axes.
    Ellipsoid {
        /// First axis.
        a: Length,
        /// Second axis.
        b: Length,
        /// Third axis.
        c: Length,
    },
    /// A wire, straight or bent; its ends are ignored.
    Wire {
        /// Across.
        diameter: Length,
        /// Along the centre line.
        length: Length,
    },
    /// A closed cylinder.
    Rod {
        /// Across.
        diameter: Length,
        /// End to end.
        length: Length,
    },
    /// An open tube whose inside is wetted.
    Tube {
        /// Outer diameter.
        outer: Length,
        /// Inner diameter.
        inner: Length,
        /// End to end.
        length: Length,
    },
    /// A torus: a wire bent to a closed ring.
    Ring {
        /// Diameter of the centre line.
        across: Length,
        /// Diameter of the wire.
        wire: Length,
    },
    /// A box.
    Plate {
        /// First edge.
        length: Length,
        /// Second edge.
        width: Length,
        /// Third edge.
        thickness: Length,
    },
    /// A flat closed cylinder.
    Disc {
        /// Across.
        diameter: Length,
        /// Face to face.
        thickness: Length,
    },
    /// A cone or the stump of one, closed.
    Cone {
        /// Diameter at the bottom.
        bottom: Length,
        /// Diameter at the top; may be zero.
        top: Length,
        /// Bottom to top, along the axis.
        height: Length,
    },
    /// A closed prism on a regular polygon.
    Prism {
        /// Number of sides, 3 or more.
        sides: u32,
        /// Edge of the polygon.
        edge: Length,
        /// Face to face.
        height: Length,
    },
    /// A wire wound to a helix; its ends are ignored.
    Coil {
        /// Diameter of the centre line.
        across: Length,
        /// Diameter of the wire.
        wire: Length,
        /// From turn to turn.
        pitch: Length,
        /// How many turns; need not be whole.
        turns: f64,
    },
    /// A flat piece with any outline.
    Leaf {
        /// As seen from above.
        outline: Outline,
        /// Face to face.
        thickness: Length,
        /// What was recognised, where it came from a picture.
        seen: Option<Recognised>,
    },
    /// What a foil that was wrapped round it weighs.
    Foil {
        /// Mass of the foil that covered it.
        mass: Mass,
        /// Mass of the same foil over a known area.
        per_area: SurfaceMass,
        /// A shape of the same proportions, from which the curvature is taken.
        like: Option<Box<Form>>,
    },
    /// Only an area, without curvature unless it is like a body.
    Plain {
        /// The area.
        area: Area,
        /// A shape of the same proportions, from which the curvature is taken.
        like: Option<Box<Form>>,
    },
    /// A mesh read from a file.
    Mesh(Arc<Mesh>),
    /// Several equal ones.
    Many {
        /// How many, 1 or more.
        count: u32,
        /// Each of them.
        each: Box<Form>,
    },
    /// Several parts that add up.
    Together(Vec<Form>),
}

impl Form {
    /// The body this describes, with the uncertainty its kind has by default.
    ///
    /// # Errors
    /// [`ShapeError`] names the length that cannot be, or what is wrong with the mesh.
    pub fn body(&self) -> Result<Body, ShapeError> {
        match self {
            Self::Sphere { diameter } => shape::sphere(*diameter),
            Self::Ellipsoid { a, b, c } => shape::ellipsoid(*a, *b, *c),
            Self::Wire { diameter, length } => shape::wire(*diameter, *length),
            Self::Rod { diameter, length } => shape::rod(*diameter, *length),
            Self::Tube {
                outer,
                inner,
                length,
            } => shape::tube(*outer, *inner, *length),
            Self::Ring { across, wire } => shape::ring(*across, *wire),
            Self::Plate {
                length,
                width,
                thickness,
            } => shape::plate(*length, *width, *thickness),
            Self::Disc {
                diameter,
                thickness,
            } => shape::disc(*diameter, *thickness),
            Self::Cone {
                bottom,
                top,
                height,
            } => shape::cone(*bottom, *top, *height),
            Self::Prism {
                sides,
                edge,
                height,
            } => shape::prism(*sides, *edge, *height),
            Self::Plain { area, like: None } => shape::plain(*area, None),
            Self::Plain {
                area,
                like: Some(like),
            } => shape::plain(*area, Some(&like.body()?)),
            Self::Coil {
                across,
                wire,
                pitch,
                turns,
            } => shape::coil(*across, *wire, *pitch, *turns),
            Self::Leaf {
                outline, thickness, ..
            } => shape::leaf(outline, *thickness),
            Self::Foil {
                mass,
                per_area,
                like,
            } => {
                let like = like.as_ref().map(|like| like.body()).transpose()?;
                shape::foil(*mass, *per_area, like.as_ref())
            }
            Self::Mesh(mesh) => Ok(mesh.doubted()?),
            Self::Many { count, each } => each.body()?.times(*count),
            Self::Together(parts) => {
                let bodies: Vec<Body> = parts.iter().map(Self::body).collect::<Result<_, _>>()?;
                let whole = bodies.into_iter().reduce(|sum, part| sum.plus(&part));
                whole.ok_or(ShapeError::NoParts)
            }
        }
    }

    /// The thickness at which a bore or a hole of it fills up, so that [`Body`]'s growth no longer
    /// holds. Known for tubes and rings; a mesh may have narrow places this does not see.
    #[must_use]
    pub fn clear_until(&self) -> Option<Length> {
        match self {
            Self::Tube { inner, .. } => Some(*inner / 2.0),
            Self::Ring { across, wire } => Some((*across - *wire) / 2.0),
            Self::Coil {
                across,
                wire,
                pitch,
                ..
            } => {
                let bore = *across - *wire;
                Some(shape::coil_gap(*across, *wire, *pitch).min(bore) / 2.0)
            }
            Self::Plain { like, .. } | Self::Foil { like, .. } => {
                let like = like.as_ref()?;
                let scale = (self.body().ok()?.area / like.body().ok()?.area).sqrt();
                Some(like.clear_until()? * scale)
            }
            Self::Many { each, .. } => each.clear_until(),
            Self::Together(parts) => parts
                .iter()
                .filter_map(Self::clear_until)
                .reduce(Length::min),
            Self::Sphere { .. }
            | Self::Ellipsoid { .. }
            | Self::Wire { .. }
            | Self::Rod { .. }
            | Self::Plate { .. }
            | Self::Disc { .. }
            | Self::Cone { .. }
            | Self::Prism { .. }
            | Self::Leaf { .. }
            | Self::Mesh(_) => None,
        }
    }

    /// How many separate things it is, each counted.
    #[must_use]
    pub fn parts(&self) -> u32 {
        match self {
            Self::Many { each, count } => each.parts().saturating_mul(*count),
            Self::Together(parts) => parts.iter().map(Self::parts).sum(),
            _ => 1,
        }
    }

    /// True if only an area is known somewhere in it, so that its growth is left out.
    #[must_use]
    pub fn is_flat(&self) -> bool {
        match self {
            Self::Plain { like, .. } | Self::Foil { like, .. } => like.is_none(),
            Self::Many { each, .. } => each.is_flat(),
            Self::Together(parts) => parts.iter().any(Self::is_flat),
            Self::Sphere { .. }
            | Self::Ellipsoid { .. }
            | Self::Wire { .. }
            | Self::Rod { .. }
            | Self::Tube { .. }
            | Self::Ring { .. }
            | Self::Plate { .. }
            | Self::Disc { .. }
            | Self::Cone { .. }
            | Self::Prism { .. }
            | Self::Coil { .. }
            | Self::Leaf { .. }
            | Self::Mesh(_) => false,
        }
    }

    /// True if there is an area in it that was not reckoned from a shape.
    #[must_use]
    pub fn is_area(&self) -> bool {
        match self {
            Self::Many { each, .. } => each.is_area(),
            Self::Together(parts) => parts.iter().any(Self::is_area),
            one => matches!(one, Self::Plain { .. } | Self::Foil { .. }),
        }
    }

    /// What was recognised in pictures, in the order of the parts.
    #[must_use]
    pub fn recognised(&self) -> Vec<&Recognised> {
        match self {
            Self::Leaf { seen, .. } => seen.iter().collect(),
            Self::Many { each, .. } => each.recognised(),
            Self::Plain { like, .. } | Self::Foil { like, .. } => like
                .as_ref()
                .map_or_else(Vec::new, |like| like.recognised()),
            Self::Together(parts) => parts.iter().flat_map(Self::recognised).collect(),
            Self::Sphere { .. }
            | Self::Ellipsoid { .. }
            | Self::Wire { .. }
            | Self::Rod { .. }
            | Self::Tube { .. }
            | Self::Ring { .. }
            | Self::Plate { .. }
            | Self::Disc { .. }
            | Self::Cone { .. }
            | Self::Prism { .. }
            | Self::Coil { .. }
            | Self::Mesh(_) => Vec::new(),
        }
    }

    /// The meshes in it, with those of what it is like.
    #[must_use]
    pub fn meshes(&self) -> Vec<&Mesh> {
        match self {
            Self::Mesh(mesh) => vec![mesh],
            Self::Many { each, .. } => each.meshes(),
            Self::Plain { like, .. } | Self::Foil { like, .. } => {
                like.as_ref().map_or_else(Vec::new, |like| like.meshes())
            }
            Self::Together(parts) => parts.iter().flat_map(Self::meshes).collect(),
            Self::Sphere { .. }
            | Self::Ellipsoid { .. }
            | Self::Wire { .. }
            | Self::Rod { .. }
            | Self::Tube { .. }
            | Self::Ring { .. }
            | Self::Plate { .. }
            | Self::Disc { .. }
            | Self::Cone { .. }
            | Self::Prism { .. }
            | Self::Coil { .. }
            | Self::Leaf { .. } => Vec::new(),
        }
    }
}
