//! How much surface there is. This room knows closed forms and meshes, and gives each body its
//! area, its integrated mean curvature, its Gauss term and its volume. It must never know metals,
//! currents or files: meshes come in as bytes. Everyone below may come in.

mod body;
mod fault;
mod formats;
mod leaf;
mod march;
pub mod mesh;
mod narrow;
mod net;
pub mod outline;
pub mod reach;
mod shells;
mod solids;
mod stl;
mod tree;
mod vector;

pub use body::Body;
pub use fault::{MeshError, ShapeError};
pub use leaf::{Outline, leaf};
pub use narrow::Narrow;
pub use shells::Shells;
pub use solids::{
    coil, coil_gap, cone, disc, ellipsoid, foil, plain, plate, prism, ring, rod, sphere, tube,
    uncertainty, wire,
};
