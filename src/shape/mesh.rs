//! Triangles from a file.

/// A mesh, in metres.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    /// Corners of each triangle, in metres, counter-clockwise seen from outside.
    pub triangles: Vec<[[f64; 3]; 3]>,
}

/// Why a file is no mesh.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct MeshError(String);

impl Mesh {
    /// Reads an STL file whose numbers are in `unit`.
    ///
    /// # Errors
    /// [`MeshError`] says why the bytes are no mesh.
    pub fn from_stl(bytes: &[u8], unit: crate::units::Length) -> Result<Self, MeshError> {
        let triangles: Vec<[[f64; 3]; 3]> =
            stl_io::create_stl_reader(&mut std::io::Cursor::new(bytes))
                .map_err(|error| MeshError(error.to_string()))?
                .map(|triangle| {
                    let triangle = triangle.map_err(|error| MeshError(error.to_string()))?;
                    Ok(triangle
                        .vertices
                        .map(|v| std::array::from_fn(|i| f64::from(v[i]) * unit.m())))
                })
                .collect::<Result<_, MeshError>>()?;
        if triangles.is_empty() {
            return Err(MeshError("it has no triangles".to_owned()));
        }
        Ok(Self { triangles })
    }
}
