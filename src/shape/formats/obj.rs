//! OBJ: every object and group of the file; materials are not looked for.

use super::{Triangle, fanned};
use crate::shape::MeshError;

pub(super) fn read(bytes: &[u8]) -> Result<Vec<Triangle>, MeshError> {
    let options = tobj::LoadOptions {
        triangulate: true,
        ignore_points: true,
        ignore_lines: true,
        ..tobj::LoadOptions::default()
    };
    let no_materials = |_: &std::path::Path| Ok((Vec::new(), Default::default()));
    let (models, _) =
        tobj::load_obj_buf(&mut &*bytes, &options, no_materials).map_err(|fault| {
            MeshError::Format {
                format: "OBJ",
                why: fault.to_string(),
            }
        })?;
    let mut triangles = Vec::new();
    for model in models {
        let corners: Vec<[f64; 3]> = model
            .mesh
            .positions
            .chunks_exact(3)
            .map(|at| [at[0], at[1], at[2]])
            .collect();
        let faces: Vec<Vec<usize>> = model
            .mesh
            .indices
            .chunks_exact(3)
            .map(|face| face.iter().map(|index| *index as usize).collect())
            .collect();
        triangles.extend(fanned(&corners, &faces)?);
    }
    Ok(triangles)
}
