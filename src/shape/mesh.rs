//! Triangles from a file.

/// A mesh, in metres.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    /// Corners of each triangle, in metres, counter-clockwise seen from outside.
    pub triangles: Vec<[[f64; 3]; 3]>,
}
