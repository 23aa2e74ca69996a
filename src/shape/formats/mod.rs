//! Meshes in other formats than STL, each by a well-kept crate, as triangles in the file's own
//! unit. What a file claims is bounded before memory is taken.

mod obj;
mod ply;
mod threemf;

use super::net::Net;
use super::{MeshError, stl};
use crate::units::Length;

/// Triangles a mesh may have: about 1.5 GB while it is measured.
pub(super) const MOST: usize = 8_000_000;

/// Triangles joined at their corners, and the unit the file states, if its format has one.
pub(super) struct Read {
    pub(super) net: Net,
    pub(super) unit: Option<Length>,
}

type Triangle = [[f64; 3]; 3];

/// Reads any of the formats, told by how the file begins.
pub(super) fn read(bytes: &[u8]) -> Result<Read, MeshError> {
    let (triangles, unit) = if bytes.starts_with(b"PK") {
        let (triangles, unit) = threemf::read(bytes)?;
        (triangles, Some(unit))
    } else if bytes.starts_with(b"ply\n") || bytes.starts_with(b"ply\r") {
        (ply::read(bytes)?, None)
    } else if is_obj(bytes) {
        (obj::read(bytes)?, None)
    } else {
        let net = stl::read(bytes)?;
        return Ok(Read { net, unit: None });
    };
    if triangles.is_empty() {
        return Err(MeshError::Empty);
    }
    let net = Net::woven(triangles.into_iter());
    Ok(Read { net, unit })
}

/// Whether it is an OBJ: text whose first line that is no comment begins with a word of that
/// format.
fn is_obj(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(64 << 10)];
    if head.contains(&0) {
        return false;
    }
    let text = String::from_utf8_lossy(head);
    let first = text
        .lines()
        .map(str::trim)
        .find(|line| !line.is_empty() && !line.starts_with('#'));
    let word = first.and_then(|line| line.split_whitespace().next());
    word.is_some_and(|word| ["v", "o", "g", "mtllib", "usemtl", "vn", "vt", "s"].contains(&word))
}

/// The triangles of polygons on numbered corners, fanned from the first corner of each.
fn fanned(corners: &[[f64; 3]], polygons: &[Vec<usize>]) -> Result<Vec<Triangle>, MeshError> {
    let mut triangles = Vec::new();
    for polygon in polygons {
        let at = |index: usize| {
            corners.get(index).copied().ok_or(MeshError::NoCorner {
                number: index,
                held: corners.len(),
            })
        };
        for pair in polygon.windows(2).skip(1) {
            triangles.push([at(polygon[0])?, at(pair[0])?, at(pair[1])?]);
            if triangles.len() > MOST {
                return Err(MeshError::TooMany { most: MOST });
            }
        }
    }
    Ok(triangles)
}
