//! The shape of a piece as a person describes it.

use crate::shape::mesh::Mesh;
use crate::units::{Area, Length};
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
