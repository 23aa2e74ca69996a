//! Triangles from a file, and the body they enclose.

use super::net::Net;
use super::vector::{Triangle, length};
use super::{Body, MeshError, Shells, formats, stl, uncertainty};
use crate::units::{Area, Length, Volume};
use std::f64::consts::TAU;
use std::sync::OnceLock;

/// A mesh, in metres.
#[derive(Clone, Debug)]
pub struct Mesh {
    net: Net,
    /// What was changed of it when it was read.
    changed: Changed,
    /// Measuring a million triangles takes a while: done when first asked for, and once.
    found: OnceLock<Result<Found, MeshError>>,
    shells: OnceLock<Shells>,
    /// Three times the size of the net: taken apart only for those who ask.
    triangles: OnceLock<Vec<Triangle>>,
}

/// What was changed of a mesh before it was measured.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Changed {
    /// Its triangles faced inwards, and were turned.
    pub turned: bool,
    /// Skins that lay within another and were left out, and their area.
    pub left_out: (usize, Area),
}

/// What joining the triangles shows.
#[derive(Clone, Debug)]
struct Found {
    survey: Survey,
    /// The skin of each triangle; empty where all are one.
    skins: Vec<u32>,
    skin_count: usize,
}

impl PartialEq for Mesh {
    fn eq(&self, other: &Self) -> bool {
        self.net == other.net
    }
}

/// What a mesh turned out to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Survey {
    /// Its body. Facets lie inside the surface they stand for, so that a rounded piece is a little
    /// larger.
    pub body: Body,
    /// Every edge joins exactly two triangles that agree which side is outside.
    pub watertight: bool,
    /// How many triangles there are, slivers included.
    pub triangles: usize,
    /// Edges that do not join two triangles which agree; zero when watertight.
    pub open_edges: usize,
    /// The triangles faced inwards; the body is reckoned as if they did not.
    pub inside_out: bool,
    /// Total length of edges that bend inwards by more than 30°: there the growth is overstated.
    pub sharp_inward: Length,
    /// Σ edge length · (2·tan(θ/2) − θ) over the edges that bend inwards by θ: times a thickness,
    /// it is by how much the growth is overstated there. θ counts as 170° at most.
    pub inward_excess: Length,
    /// The same sum over the ends of sharp inward edges where no other goes on: times the thickness
    /// squared.
    pub inward_ends: f64,
    /// Total length of edges that stand out by more than 60°.
    pub sharp_outward: Length,
    /// Its size along x, y and z: the quickest check of the unit.
    pub extent: [Length; 3],
}

/// The units a mesh may be in, as they are written.
pub const UNITS: &[&str] = &["mm", "cm", "m", "um", "in"];

/// Whether a body of that extent can hang in a tank: 0.05 mm to 2 m.
pub(super) fn fits(across: Length) -> bool {
    across >= Length::from_mm(0.05) && across <= Length::from_m(2.0)
}

/// The length that one unit of a mesh file may stand for, by its written name.
#[must_use]
pub fn unit(name: &str) -> Option<Length> {
    match name {
        "um" | "µm" => Some(Length::from_um(1.0)),
        "mm" => Some(Length::from_mm(1.0)),
        "cm" => Some(Length::from_cm(1.0)),
        "m" => Some(Length::from_m(1.0)),
        "in" => Some(Length::from_mm(25.4)),
        _ => None,
    }
}

impl Mesh {
    /// A mesh of triangles: their corners in metres, counter-clockwise seen from outside.
    #[must_use]
    pub fn new(triangles: Vec<[[f64; 3]; 3]>) -> Self {
        Self::of(Net::woven(triangles.into_iter()))
    }

    pub(super) fn of(net: Net) -> Self {
        Self {
            net,
            changed: Changed::default(),
            found: OnceLock::new(),
            shells: OnceLock::new(),
            triangles: OnceLock::new(),
        }
    }

    /// The same, with what was changed of it.
    pub(super) fn changed_by(self, changed: Changed) -> Self {
        Self { changed, ..self }
    }

    /// What was changed of it when it was read: nothing unless its triangles faced inwards, or
    /// skins were left out.
    #[must_use]
    pub fn changed(&self) -> Changed {
        self.changed
    }

    /// The skins it is made of. Comparing them takes a while: done when first asked for, and once.
    #[must_use]
    pub fn shells(&self) -> &Shells {
        self.shells.get_or_init(|| Shells::of(self))
    }

    /// Corners of each triangle, in metres, counter-clockwise seen from outside.
    #[must_use]
    pub fn triangles(&self) -> &[[[f64; 3]; 3]] {
        self.triangles.get_or_init(|| {
            let faces = self.net.faces.iter();
            faces.map(|face| self.net.triangle(*face)).collect()
        })
    }

    /// The triangles with their corners joined, in metres.
    pub(super) fn net(&self) -> &Net {
        &self.net
    }

    /// The skin each triangle is of, empty where all are of one, and how many there are.
    pub(super) fn skins(&self) -> (&[u32], usize) {
        match self.found() {
            Ok(found) => (&found.skins, found.skin_count),
            Err(_) => (&[], 0),
        }
    }

    /// Reads a binary or text STL, in which one unit is the length `unit`. Several solids in one
    /// file are all read. A closed mesh that faces inwards is turned, so that corners run
    /// counter-clockwise seen from outside.
    ///
    /// # Errors
    /// [`MeshError`] says what was found and what to do about it.
    pub fn from_stl(bytes: &[u8], unit: Length) -> Result<Self, MeshError> {
        Self::scaled(stl::read(bytes)?, unit)
    }

    /// Reads a binary or text STL, an OBJ, a PLY or a 3MF, told by how the bytes begin. A 3MF
    /// carries its unit; for the others `unit` is needed.
    ///
    /// # Errors
    /// As [`Self::from_stl`]; also [`MeshError::NoUnit`] or [`MeshError::OtherUnit`], and
    /// [`MeshError::Absurd`] if no tank could hold it.
    pub fn read(bytes: &[u8], unit: Option<Length>) -> Result<Self, MeshError> {
        let read = formats::read(bytes)?;
        let unit = match (read.unit, unit) {
            (None, None) => return Err(MeshError::NoUnit),
            (Some(stated), Some(given)) if (stated / given - 1.0).abs() > 1e-9 => {
                return Err(MeshError::OtherUnit { stated, given });
            }
            (Some(one), _) | (None, Some(one)) => one,
        };
        let mesh = Self::scaled(read.net, unit)?;
        let across = mesh.extent().into_iter().fold(Length::ZERO, Length::max);
        if !fits(across) {
            return Err(MeshError::Absurd { across, unit });
        }
        Ok(mesh)
    }

    /// Takes triangles in a unit, and turns them if they face inwards.
    fn scaled(mut net: Net, unit: Length) -> Result<Self, MeshError> {
        if !(unit > Length::ZERO && unit.is_finite()) {
            return Err(MeshError::Unit { unit });
        }
        net.scale(unit.m());
        let mesh = Self::of(net);
        if !mesh.survey()?.inside_out {
            return Ok(mesh);
        }
        let mut net = mesh.net;
        net.turn();
        Ok(Self::of(net).changed_by(Changed {
            turned: true,
            ..Changed::default()
        }))
    }

    /// The body the mesh encloses; [`Self::survey`] says more.
    ///
    /// # Errors
    /// As [`Self::survey`].
    pub fn body(&self) -> Result<Body, MeshError> {
        Ok(self.survey()?.body)
    }

    /// Measures the mesh, in time linear in its triangles.
    ///
    /// M is ½ · Σ edge length · exterior angle, negative where an edge bends inwards; G is 2πχ with
    /// χ = corners − edges + faces. Corners are the same only if their coordinates are the same to
    /// the bit, as exporters write them. Where the mesh is not watertight, M counts the sound
    /// edges, G is the angle missing at the corners that are sound all round (Gauss–Bonnet), and
    /// the interval is wider.
    ///
    /// # Errors
    /// [`MeshError`] if there are fewer than four triangles, one is not finite, or none has area.
    pub fn survey(&self) -> Result<Survey, MeshError> {
        match self.found() {
            Ok(found) => Ok(found.survey),
            Err(fault) => Err(fault.clone()),
        }
    }

    fn found(&self) -> &Result<Found, MeshError> {
        self.found.get_or_init(|| self.joined())
    }

    fn joined(&self) -> Result<Found, MeshError> {
        let net = &self.net;
        match net.faces.len() {
            0 => return Err(MeshError::Empty),
            found @ 1..4 => return Err(MeshError::TooFew { found }),
            _ => {}
        }
        if let Some(index) = net.not_finite() {
            return Err(MeshError::NotFinite {
                triangle: index + 1,
            });
        }
        let normals = net.normals();
        let area: f64 = normals.iter().map(|normal| 0.5 * length(*normal)).sum();
        if !(area > 0.0 && area.is_finite()) {
            return Err(MeshError::NoArea);
        }
        let volume = net.volume(&normals);
        let mut edges = net.edges(&normals, if volume < 0.0 { -1.0 } else { 1.0 });
        let watertight = edges.open == 0;
        let inside_out = watertight && volume < 0.0;
        if volume < 0.0 && !watertight {
            // Which side of an open mesh is outside its volume does not say.
            edges = net.edges(&normals, 1.0);
        }
        let gauss = if watertight {
            TAU * net.euler(edges.count)
        } else {
            net.missing_angle().0
        };
        let body = Body {
            area: Area::from_m2(area),
            mean_curvature: Length::from_m(edges.mean),
            gauss,
            volume: Volume::from_m3(if watertight { volume.abs() } else { 0.0 }),
            uncertainty: if watertight {
                uncertainty::MESH
            } else {
                uncertainty::OPEN_MESH
            },
        };
        let (skins, skin_count) = net.skins();
        Ok(Found {
            survey: Survey {
                body,
                watertight,
                triangles: net.faces.len(),
                open_edges: edges.open,
                inside_out,
                sharp_inward: Length::from_m(edges.sharp_inward),
                inward_excess: Length::from_m(edges.inward_excess),
                inward_ends: edges.inward_ends,
                sharp_outward: Length::from_m(edges.sharp_outward),
                extent: self.extent(),
            },
            skins: if skin_count > 1 { skins } else { Vec::new() },
            skin_count,
        })
    }

    /// The sharpest corner, as the angle missing there: π/2 at a cube's, 2π at a needle's point;
    /// nothing where every corner is at an open edge.
    #[must_use]
    pub fn sharpest(&self) -> f64 {
        self.net.missing_angle().1
    }

    /// Size along each axis.
    fn extent(&self) -> [Length; 3] {
        let [low, high] = self.net.bounds();
        std::array::from_fn(|axis| Length::from_m(high[axis] - low[axis]))
    }
}
