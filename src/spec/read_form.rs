//! Reads a shape: an inline table, or a list of them that add up.

use super::Form;
use super::problem::Problems;
use super::sheet::Sheet;
use super::shelf::Shelf;
use super::table::Table;
use crate::shape::mesh::{self, Mesh};
use crate::shape::outline::{self, Scale};
use crate::shape::{MeshError, Outline, ShapeError, coil_gap};
use crate::units::{Area, Length, Mass, SurfaceMass};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

/// How a shape is written, for messages.
const EXAMPLE: &str = "{ kind = \"sphere\", diameter = \"22 mm\" }";

/// The least and the most a length of a piece may be.
const SMALL: [Length; 2] = [Length::from_mm(0.05), Length::from_m(2.0)];
/// The same for a sheet's thickness.
const THIN: [Length; 2] = [Length::from_um(5.0), Length::from_m(2.0)];
/// The same for the length of a wire, which may be wound up.
const LONG: [Length; 2] = [Length::from_mm(0.05), Length::from_m(20.0)];
/// The same for the top of a cone, which may be a point.
const POINTED: [Length; 2] = [Length::ZERO, Length::from_m(2.0)];

/// Every kind of shape there is.
pub const KINDS: &[&str] = &[
    "sphere",
    "ellipsoid",
    "wire",
    "rod",
    "tube",
    "ring",
    "plate",
    "disc",
    "cone",
    "prism",
    "coil",
    "leaf",
    "foil",
    "area",
    "mesh",
];

/// The name of a mesh's file and its unit, as they are written, and whether all of it is wetted.
type Named = (String, Option<&'static str>, bool);

/// Where the meshes and pictures of one file come from. A mesh that several pieces name is read
/// once.
#[derive(Debug)]
pub(super) struct Meshes<'a> {
    shelf: &'a Shelf,
    beside: Option<&'a str>,
    read: RefCell<BTreeMap<Named, Arc<Mesh>>>,
}

impl<'a> Meshes<'a> {
    /// The meshes that the file `beside` may name.
    pub(super) fn new(shelf: &'a Shelf, beside: Option<&'a str>) -> Self {
        let read = RefCell::default();
        Self {
            shelf,
            beside,
            read,
        }
    }
}

/// Reads the text of a shape as it stands in a job file: `{ kind = "sphere", diameter = "22 mm" }`,
/// or a list of such. Files are found from the working folder.
///
/// # Errors
/// Every problem of the text; places are within it.
pub fn read_text(text: &str, shelf: &Shelf) -> Result<Form, Problems> {
    let sheet = Sheet::parse_value("SHAPE", "shape", text, EXAMPLE);
    let root = sheet.root();
    let form = required(&root, "shape", &Meshes::new(shelf, None));
    root.end();
    sheet.finish(form)
}

/// Reads the shape under a key that must be there.
pub(super) fn required(table: &Table<'_>, key: &str, meshes: &Meshes<'_>) -> Option<Form> {
    table.need(key, "a shape", &format!("{key} = {EXAMPLE}"));
    optional(table, key, meshes)
}

/// Reads the shape under a key, if it is there.
fn optional(table: &Table<'_>, key: &str, meshes: &Meshes<'_>) -> Option<Form> {
    let mut forms = Vec::new();
    let mut all = true;
    for part in table.table_or_tables(key, EXAMPLE) {
        match one(part, meshes) {
            Some(form) => forms.push(form),
            None => all = false,
        }
    }
    if !all || forms.is_empty() {
        return None;
    }
    if forms.len() == 1 {
        forms.pop()
    } else {
        Some(Form::Together(forms))
    }
}

/// Reads one shape.
fn one(table: Table<'_>, meshes: &Meshes<'_>) -> Option<Form> {
    let Some(kind) = table.required_one_of("kind", KINDS) else {
        // Which keys are valid depends on the kind; only its absence is worth saying.
        if table.has("kind") {
            table.leave();
        } else {
            table.only_missing();
        }
        return None;
    };
    let form = of_kind(kind, &table, meshes);
    let count = count(&table)?;
    let each = form?;
    if count == 1 {
        return Some(each);
    }
    Some(Form::Many {
        count,
        each: Box::new(each),
    })
}

fn count(table: &Table<'_>) -> Option<u32> {
    if !table.has("count") {
        return Some(1);
    }
    table
        .whole("count", 1, 10_000)
        .and_then(|count| u32::try_from(count).ok())
}

/// Reads the keys that go with a kind. Every key is asked for before any of them is missed, so that
/// all problems of a shape are told at once.
fn of_kind(kind: &str, table: &Table<'_>, meshes: &Meshes<'_>) -> Option<Form> {
    let one = |key| length(table, key, SMALL);
    let two = |first, second| one(first).zip(one(second));
    match kind {
        "sphere" => one("diameter").map(|diameter| Form::Sphere { diameter }),
        "ellipsoid" => {
            let (ab, c) = (two("a", "b"), one("c"));
            ab.zip(c).map(|((a, b), c)| Form::Ellipsoid { a, b, c })
        }
        "wire" => one("diameter")
            .zip(length(table, "length", LONG))
            .map(|(diameter, length)| Form::Wire { diameter, length }),
        "rod" => two("diameter", "length").map(|(diameter, length)| Form::Rod { diameter, length }),
        "plate" => two("length", "width")
            .zip(length(table, "thickness", THIN))
            .map(|((length, width), thickness)| Form::Plate {
                length,
                width,
                thickness,
            }),
        "disc" => {
            one("diameter")
                .zip(length(table, "thickness", THIN))
                .map(|(diameter, thickness)| Form::Disc {
                    diameter,
                    thickness,
                })
        }
        "cone" => two("bottom", "height")
            .zip(length(table, "top", POINTED))
            .map(|((bottom, height), top)| Form::Cone {
                bottom,
                top,
                height,
            }),
        "tube" => tube(table),
        "ring" => ring(table),
        "prism" => prism(table),
        "coil" => coil(table),
        "leaf" if table.has("file") => pictured_leaf(table, meshes),
        "leaf" => leaf(table),
        "foil" => foil(table, meshes),
        "area" => area(table, meshes),
        _ => a_mesh(table, meshes),
    }
}

/// A length that a piece in a tank can have.
fn length(table: &Table<'_>, key: &str, [low, high]: [Length; 2]) -> Option<Length> {
    let length = table.required_quantity::<Length>(key)?;
    table.in_range(key, length, low, high, "a length of a piece in a tank,")
}

fn prism(table: &Table<'_>) -> Option<Form> {
    let sides = table.required_whole("sides", 3, 100);
    let (edge, height) = (length(table, "edge", SMALL), length(table, "height", SMALL));
    let sides = u32::try_from(sides?).ok()?;
    Some(Form::Prism {
        sides,
        edge: edge?,
        height: height?,
    })
}

fn tube(table: &Table<'_>) -> Option<Form> {
    let (outer, inner) = (length(table, "outer", SMALL), length(table, "inner", SMALL));
    let length = length(table, "length", SMALL);
    let (outer, inner, length) = (outer?, inner?, length?);
    if inner >= outer {
        let allowed = "an inner diameter that is smaller than the outer one";
        table.problem_at(
            "inner",
            "a tube without a wall",
            allowed,
            "look at `outer` and `inner`",
        );
        return None;
    }
    Some(Form::Tube {
        outer,
        inner,
        length,
    })
}

fn ring(table: &Table<'_>) -> Option<Form> {
    let (across, wire) = (length(table, "across", SMALL), length(table, "wire", SMALL));
    let (across, wire) = (across?, wire?);
    if wire >= across {
        let allowed =
            "a wire thinner than the ring is wide; `across` goes from centre line to centre line";
        table.problem_at(
            "wire",
            "a ring without a hole",
            allowed,
            "look at `across` and `wire`",
        );
        return None;
    }
    Some(Form::Ring { across, wire })
}

fn area(table: &Table<'_>, meshes: &Meshes<'_>) -> Option<Form> {
    let area = table.required_quantity::<Area>("area").and_then(|area| {
        let (low, high) = (Area::from_mm2(0.1), Area::from_m2(4.0));
        table.in_range("area", area, low, high, "an area of a piece in a tank,")
    });
    let like = like(table, meshes)?;
    Some(Form::Plain { area: area?, like })
}

/// What it is like, if it is said; None where that is wrong.
#[allow(clippy::option_option)] // wrong, not said, said
fn like(table: &Table<'_>, meshes: &Meshes<'_>) -> Option<Option<Box<Form>>> {
    if !table.has("like") {
        return Some(None);
    }
    let like = optional(table, "like", meshes)?;
    if like.is_area() {
        let allowed = "a shape with a curvature: any kind but \"area\" and \"foil\"";
        table.problem_at(
            "like",
            "an area that is like an area",
            allowed,
            "give the kind it is like",
        );
        return None;
    }
    Some(Some(Box::new(like)))
}

fn foil(table: &Table<'_>, meshes: &Meshes<'_>) -> Option<Form> {
    let mass = table.required_quantity::<Mass>("mass").and_then(|mass| {
        let (low, high) = (Mass::from_mg(1.0), Mass::from_g(500.0));
        table.in_range("mass", mass, low, high, "the mass of a wrapped foil")
    });
    let per_area = table
        .required_quantity::<SurfaceMass>("per_area")
        .and_then(|per_area| {
            let (low, high) = (
                SurfaceMass::from_mg_per_cm2(0.1),
                SurfaceMass::from_mg_per_cm2(200.0),
            );
            let what = "the mass of a known square of the foil over its area,";
            table.in_range("per_area", per_area, low, high, what)
        });
    let like = like(table, meshes);
    Some(Form::Foil {
        mass: mass?,
        per_area: per_area?,
        like: like?,
    })
}

fn coil(table: &Table<'_>) -> Option<Form> {
    let [across, wire, pitch] = ["across", "wire", "pitch"].map(|key| length(table, key, SMALL));
    table.need("turns", "how many turns it has", "turns = 12");
    let turns = table
        .number("turns")
        .and_then(|turns| table.in_range("turns", turns, 0.25, 10_000.0, "turns"));
    let (across, wire, pitch) = (across?, wire?, pitch?);
    if wire >= across {
        let allowed = "a wire thinner than the coil is wide; `across` goes from centre line to \
                       centre line";
        let remedy = "look at `across` and `wire`";
        table.problem_at("wire", "a coil without a bore", allowed, remedy);
        return None;
    }
    if coil_gap(across, wire, pitch) <= Length::ZERO {
        let allowed = "a pitch that clears the wire: turns that touch hide their surface";
        let remedy = "measure from turn to turn; for a close winding write a tube or a rod";
        table.problem_at("pitch", "a coil whose turns touch", allowed, remedy);
        return None;
    }
    Some(Form::Coil {
        across,
        wire,
        pitch,
        turns: turns?,
    })
}

fn leaf(table: &Table<'_>) -> Option<Form> {
    let thickness = length(table, "thickness", THIN);
    let area = table
        .required_quantity::<Area>("outline_area")
        .and_then(|area| {
            let (low, high) = (Area::from_mm2(0.1), Area::from_m2(1.0));
            table.in_range("outline_area", area, low, high, "the area of one face,")
        });
    let perimeter = length(table, "perimeter", LONG);
    let form = Form::Leaf {
        outline: Outline::stated(area?, perimeter?),
        thickness: thickness?,
        seen: None,
    };
    if let Err(fault @ ShapeError::ShortPerimeter { .. }) = form.body() {
        let allowed = "a perimeter that can go round that area";
        table.problem_at(
            "perimeter",
            &fault.to_string(),
            allowed,
            "measure both again",
        );
        return None;
    }
    Some(form)
}

/// A leaf from a photo, a scan or a drawing.
fn pictured_leaf(table: &Table<'_>, meshes: &Meshes<'_>) -> Option<Form> {
    let thickness = length(table, "thickness", THIN);
    let file = table.required_text("file");
    let dpi = table
        .number("dpi")
        .and_then(|dpi| table.in_range("dpi", dpi, 20.0, 20_000.0, "dots in an inch,"));
    let bar = table
        .quantity::<Length>("scale_bar")
        .and_then(|bar| table.in_range("scale_bar", bar, SMALL[0], SMALL[1], "a scale bar"));
    if table.has("dpi") && table.has("scale_bar") {
        let allowed = "one of `dpi` and `scale_bar`";
        table.problem_at(
            "scale_bar",
            "`scale_bar` beside `dpi`",
            allowed,
            "take one out",
        );
        return None;
    }
    let wrong = (table.has("dpi") && dpi.is_none()) || (table.has("scale_bar") && bar.is_none());
    let (file, thickness) = (file?, thickness?);
    if wrong {
        return None;
    }
    let scale = match (dpi, bar) {
        (Some(dpi), _) => Scale::Dpi(dpi),
        (None, Some(bar)) => Scale::Bar(bar),
        (None, None) => Scale::Own,
    };
    let read = meshes.shelf.mesh(&file, meshes.beside);
    let found = read.and_then(|bytes| {
        outline::recognise(&bytes, scale).map_err(|fault| format!("`{file}`: {fault}"))
    });
    match found {
        Ok(seen) => Some(Form::Leaf {
            outline: seen.outline,
            thickness,
            seen: Some(seen),
        }),
        Err(found) => {
            let allowed = "a PNG or JPEG of one leaf on even ground with `dpi` or `scale_bar`, or \
                           an SVG";
            let remedy = "see `nightvat explain bad-picture`";
            table.problem_of("bad-picture", "file", &found, allowed, remedy);
            None
        }
    }
}

fn a_mesh(table: &Table<'_>, meshes: &Meshes<'_>) -> Option<Form> {
    let file = table.required_text("file");
    let unit = match table.has("unit") {
        true => Some(table.required_one_of("unit", mesh::UNITS)?),
        false => None,
    };
    let all = table.has("wet") && table.one_of("wet", &["outside", "all"])? == "all";
    let file = file?;
    let key = (file.clone(), unit, all);
    if let Some(mesh) = meshes.read.borrow().get(&key) {
        return Some(Form::Mesh(Arc::clone(mesh)));
    }
    let path = "look at the path, or export the mesh again".to_owned();
    let read = meshes.shelf.mesh(&file, meshes.beside);
    let mesh = read.map_err(|found| (found, path)).and_then(|bytes| {
        Mesh::read(&bytes, unit.and_then(mesh::unit)).map_err(|error| match error {
            MeshError::NoUnit => {
                let example = "unit = \"mm\"";
                table.need("unit", "the unit of the mesh's numbers", example);
                (String::new(), String::new())
            }
            other => (format!("`{file}` is no mesh: {other}"), other.remedy()),
        })
    });
    match mesh {
        Ok(mesh) => {
            let mesh = Arc::new(if all { mesh } else { mesh.outside() });
            meshes.read.borrow_mut().insert(key, Arc::clone(&mesh));
            Some(Form::Mesh(mesh))
        }
        // The key that is missing is told when the table ends.
        Err((found, _)) if found.is_empty() => None,
        Err((found, remedy)) => {
            let allowed = "an STL (binary or text), OBJ, PLY or 3MF file of one piece; a relative \
                           path begins at this file's folder";
            table.problem_of("bad-mesh", "file", &found, allowed, &remedy);
            None
        }
    }
}
