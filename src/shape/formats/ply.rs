//! PLY, text or binary: its vertices and faces; colours and what else it holds are passed over.

use super::{Triangle, fanned};
use crate::shape::MeshError;
use ply_rs_bw::parser::{ParseError, Parser, Reader};
use ply_rs_bw::ply::{DefaultElement, Property, PropertyAccess, PropertyAccessResult};

/// A vertex; single or double precision.
struct Corner([f64; 3]);

impl PropertyAccess for Corner {
    fn new() -> Self {
        Self([f64::NAN; 3])
    }

    fn set_property(&mut self, key: &str, value: Property) -> PropertyAccessResult {
        let axis = match key {
            "x" => 0,
            "y" => 1,
            "z" => 2,
            _ => return PropertyAccessResult::Ignored,
        };
        self.0[axis] = match value {
            Property::Float(number) => f64::from(number),
            Property::Double(number) => number,
            Property::Int(number) => f64::from(number),
            Property::Short(number) => f64::from(number),
            _ => return PropertyAccessResult::UnsupportedType,
        };
        PropertyAccessResult::Set
    }
}

/// A face: the numbers of its corners.
struct Face(Vec<usize>);

impl PropertyAccess for Face {
    fn new() -> Self {
        Self(Vec::new())
    }

    fn set_property(&mut self, key: &str, value: Property) -> PropertyAccessResult {
        if key != "vertex_indices" && key != "vertex_index" {
            return PropertyAccessResult::Ignored;
        }
        // A negative number is no corner: it becomes one that is not there.
        let whole = |number: i64| usize::try_from(number).unwrap_or(usize::MAX);
        self.0 = match value {
            Property::ListInt(list) => list.into_iter().map(|n| whole(i64::from(n))).collect(),
            Property::ListUInt(list) => list.into_iter().map(|n| whole(i64::from(n))).collect(),
            Property::ListShort(list) => list.into_iter().map(|n| whole(i64::from(n))).collect(),
            Property::ListUShort(list) => list.into_iter().map(usize::from).collect(),
            Property::ListUChar(list) => list.into_iter().map(usize::from).collect(),
            _ => return PropertyAccessResult::UnsupportedType,
        };
        PropertyAccessResult::Set
    }
}

pub(super) fn read(bytes: &[u8]) -> Result<Vec<Triangle>, MeshError> {
    let bad = |fault: ParseError| MeshError::Format {
        format: "PLY",
        why: fault.to_string(),
    };
    let mut reader = Reader::new(bytes);
    let header = Parser::<DefaultElement>::new()
        .read_header(&mut reader)
        .map_err(bad)?;
    let (mut corners, mut faces) = (Vec::new(), Vec::new());
    for (name, element) in &header.elements {
        match name.as_str() {
            "vertex" => {
                let read = Parser::<Corner>::new()
                    .read_payload_for_element(&mut reader, element, &header)
                    .map_err(bad)?;
                corners = read.into_iter().map(|corner| corner.0).collect();
            }
            "face" => {
                let read = Parser::<Face>::new()
                    .read_payload_for_element(&mut reader, element, &header)
                    .map_err(bad)?;
                faces = read.into_iter().map(|face| face.0).collect();
            }
            _ => {
                Parser::<DefaultElement>::new()
                    .read_payload_for_element(&mut reader, element, &header)
                    .map_err(bad)?;
            }
        }
    }
    fanned(&corners, &faces)
}
