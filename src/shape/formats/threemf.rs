//! 3MF: what its build lists, with every object placed as it says. The file carries its unit.

use super::{MOST, Triangle};
use crate::shape::MeshError;
use crate::units::Length;
use std::io::{Cursor, Read as _};
use threemf::model::{Model, Object, Unit};

/// Bytes that the packed files may unpack to, all together.
const UNPACKED: u64 = 512 << 20;
/// Files in the package.
const FILES: usize = 10_000;
/// Objects within objects.
const DEEPEST: usize = 16;
/// Objects placed, so that copies of copies end.
const PLACED: usize = 100_000;

type Placing = [f64; 12];

/// The triangles and the unit they are in.
pub(super) fn read(bytes: &[u8]) -> Result<(Vec<Triangle>, Length), MeshError> {
    unpacks(bytes)?;
    let models = threemf::read(Cursor::new(bytes)).map_err(|fault| bad(&fault.to_string()))?;
    let (mut triangles, mut stated) = (Vec::new(), None);
    for model in &models {
        let unit = unit(&model.unit);
        if stated.is_some_and(|other| other != unit) {
            return Err(bad("its parts have different units"));
        }
        stated = Some(unit);
        let mut placed = 0;
        for item in &model.build.item {
            let place: Vec<Placing> = item.transform.into_iter().collect();
            put(model, item.objectid, &place, &mut placed, &mut triangles)?;
        }
    }
    let unit = stated.ok_or(MeshError::Empty)?;
    Ok((triangles, unit))
}

fn bad(why: &str) -> MeshError {
    MeshError::Format {
        format: "3MF",
        why: why.to_owned(),
    }
}

/// Unpacks everything once without keeping it, and gives up when it is too much: what a package
/// says of its own size is not believed.
fn unpacks(bytes: &[u8]) -> Result<(), MeshError> {
    let mut zip =
        zip::ZipArchive::new(Cursor::new(bytes)).map_err(|fault| bad(&fault.to_string()))?;
    if zip.len() > FILES {
        return Err(bad(&format!("it packs more than {FILES} files")));
    }
    let mut left = UNPACKED;
    for index in 0..zip.len() {
        let file = zip
            .by_index(index)
            .map_err(|fault| bad(&fault.to_string()))?;
        let unpacked = std::io::copy(&mut file.take(left + 1), &mut std::io::sink())
            .map_err(|fault| bad(&fault.to_string()))?;
        left = left
            .checked_sub(unpacked)
            .ok_or_else(|| bad(&format!("it unpacks to more than {} MB", UNPACKED >> 20)))?;
    }
    Ok(())
}

const fn unit(unit: &Unit) -> Length {
    match unit {
        Unit::Micron => Length::from_um(1.0),
        Unit::Millimeter => Length::from_mm(1.0),
        Unit::Centimeter => Length::from_cm(1.0),
        Unit::Inch => Length::from_mm(25.4),
        Unit::Foot => Length::from_mm(304.8),
        Unit::Meter => Length::from_m(1.0),
    }
}

/// Puts an object where `place` says, innermost placing last.
fn put(
    model: &Model,
    id: usize,
    place: &[Placing],
    placed: &mut usize,
    triangles: &mut Vec<Triangle>,
) -> Result<(), MeshError> {
    *placed += 1;
    if place.len() > DEEPEST || *placed > PLACED {
        return Err(bad("its objects hold each other without end"));
    }
    let object: &Object = model
        .resources
        .object
        .iter()
        .find(|object| object.id == id)
        .ok_or_else(|| bad(&format!("object {id} is named and not there")))?;
    if let Some(mesh) = &object.mesh {
        for face in &mesh.triangles.triangle {
            let mut triangle = [[0.0; 3]; 3];
            for (corner, index) in triangle.iter_mut().zip([face.v1, face.v2, face.v3]) {
                let at = mesh.vertices.vertex.get(index).ok_or(MeshError::NoCorner {
                    number: index,
                    held: mesh.vertices.vertex.len(),
                })?;
                *corner = place.iter().rev().fold([at.x, at.y, at.z], moved);
            }
            triangles.push(triangle);
            if triangles.len() > MOST {
                return Err(MeshError::TooMany { most: MOST });
            }
        }
    }
    for part in object.components.iter().flat_map(|all| &all.component) {
        let mut place = place.to_vec();
        // Where it is not moved the depth still counts.
        place.push(part.transform.unwrap_or(STILL));
        put(model, part.objectid, &place, placed, triangles)?;
    }
    Ok(())
}

/// No placing.
const STILL: Placing = [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0];

/// A row times the format's 4 x 3 matrix.
fn moved([x, y, z]: [f64; 3], m: &Placing) -> [f64; 3] {
    std::array::from_fn(|axis| x * m[axis] + y * m[3 + axis] + z * m[6 + axis] + m[9 + axis])
}
