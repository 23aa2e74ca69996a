//! How far it is over the surface of a mesh from where a clip touches it: the way the copper goes.

use super::march::Paths;
use super::mesh::Mesh;
use super::vector::Point;
use crate::units::Length;

/// Steps in which the way from the contact to the farthest place is told, its ends included.
pub const WAY: usize = 33;
/// A mesh of fewer triangles is cut finer, so that the way across a large one is a straight line.
const FINE: usize = 20_000;
/// Levels at which the covered share is summed.
const LEVELS: usize = 2048;
/// A contact may lie this far off the surface, as a share of the mesh's size.
const OFF: f64 = 0.05;

/// Where a clip or a wire touches a mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Touch {
    /// Near this point, in metres, in the mesh's own frame.
    At(Point),
    /// At its outermost place on one side.
    Side(Side),
}

/// A side of a mesh; z stands up, and front is where y is least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Least x.
    Left,
    /// Most x.
    Right,
    /// Least y.
    Front,
    /// Most y.
    Back,
    /// Least z.
    Bottom,
    /// Most z.
    Top,
}

impl Side {
    /// All of them, with their words.
    pub const ALL: [(&'static str, Self); 6] = [
        ("top", Self::Top),
        ("bottom", Self::Bottom),
        ("left", Self::Left),
        ("right", Self::Right),
        ("front", Self::Front),
        ("back", Self::Back),
    ];

    /// How far out a point is on this side.
    fn out(self, point: Point) -> f64 {
        match self {
            Self::Left => -point[0],
            Self::Right => point[0],
            Self::Front => -point[1],
            Self::Back => point[1],
            Self::Bottom => -point[2],
            Self::Top => point[2],
        }
    }
}

/// Why there is no way over a mesh.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ReachError {
    /// No contact was named.
    #[error("no contact is named")]
    NoContact,
    /// A contact that is not on the mesh.
    #[error("contact {number} is {:.1} mm off the surface of the mesh", off.mm())]
    OffTheMesh {
        /// Which one, from 1.
        number: usize,
        /// How far off.
        off: Length,
    },
    /// Some of the mesh hangs together with no contact.
    #[error("{:.1} % of the surface hangs together with no contact", share * 100.0)]
    Apart {
        /// Its share of the area.
        share: f64,
    },
}

/// The surface of a mesh by its distance from the contacts.
#[derive(Clone, Debug, PartialEq)]
pub struct Reach {
    /// The triangles it was reckoned on, by their corners.
    faces: Vec<[u32; 3]>,
    corners: Vec<Point>,
    /// The distance of each corner, in metres.
    far: Vec<f64>,
    contacts: Vec<Point>,
    farthest: f64,
    /// The share of the area that is no farther, at even steps of the distance.
    shares: Vec<f64>,
}

impl Reach {
    /// The distances over a mesh from one or more contacts, each the corner nearest to it after
    /// cutting a coarse mesh finer. The time grows as n·log n with its triangles.
    ///
    /// # Errors
    /// [`ReachError`] without a contact, with one that is farther off than a twentieth of the
    /// mesh's size, or if a part of the surface cannot be reached.
    pub fn over(mesh: &Mesh, touches: &[Touch]) -> Result<Self, ReachError> {
        if touches.is_empty() {
            return Err(ReachError::NoContact);
        }
        let mut paths = Paths::over(mesh.net());
        while !paths.faces.is_empty() && paths.faces.len() < FINE {
            paths = paths.cut();
        }
        let mut sources = Vec::with_capacity(touches.len());
        for (number, touch) in (1..).zip(touches) {
            sources.push(source(&paths, *touch, number)?);
        }
        let far = paths.march(&sources);
        Self::sorted(paths, far, &sources)
    }

    fn sorted(mut paths: Paths, far: Vec<f64>, sources: &[u32]) -> Result<Self, ReachError> {
        let ends = |face: &[u32; 3]| face.map(|corner| far[corner as usize]);
        let reached = |face: &[u32; 3]| ends(face).iter().all(|end| end.is_finite());
        let (mut whole, mut apart, mut farthest) = (0.0, 0.0, 0.0_f64);
        for face in &paths.faces {
            let area = paths.area(*face);
            whole += area;
            if reached(face) {
                farthest = ends(face).into_iter().fold(farthest, f64::max);
            } else {
                apart += area;
            }
        }
        paths.faces.retain(reached);
        if apart > 1e-6 * whole || paths.faces.is_empty() {
            let share = if whole > 0.0 { apart / whole } else { 1.0 };
            return Err(ReachError::Apart { share });
        }
        let parts = paths.faces.iter();
        let shares = levels(parts.map(|face| (ends(face), paths.area(*face))), farthest);
        let contacts = sources.iter().map(|corner| paths.corners[*corner as usize]);
        Ok(Self {
            contacts: contacts.collect(),
            faces: paths.faces,
            corners: paths.corners,
            far,
            farthest,
            shares,
        })
    }

    /// The distance of the farthest place.
    #[must_use]
    pub fn farthest(&self) -> Length {
        Length::from_m(self.farthest)
    }

    /// Share of the area that is no farther than this, 0 to 1.
    #[must_use]
    pub fn share(&self, distance: Length) -> f64 {
        interpolated(&self.shares, distance.m() / self.farthest)
    }

    /// The distance within which this share of the area lies.
    #[must_use]
    pub fn distance(&self, share: f64) -> Length {
        let share = share.clamp(0.0, 1.0);
        let after = self.shares.partition_point(|one| *one < share);
        let Some(before) = after.checked_sub(1) else {
            return Length::ZERO;
        };
        let last = self.shares.len() - 1;
        let (low, high) = (self.shares[before], self.shares[after.min(last)]);
        let within = if high > low {
            ((share - low) / (high - low)).min(1.0)
        } else {
            0.0
        };
        Length::from_m(self.farthest * (before as f64 + within) / last as f64)
    }

    /// The covered share at even steps of the way, from a patch of this share of the area, whose
    /// edge lies wherever so much is enclosed, to the farthest place.
    #[must_use]
    pub fn way(&self, patch: f64) -> [f64; WAY] {
        let from = self.distance(patch).m();
        std::array::from_fn(|step| {
            let along = step as f64 / (WAY - 1) as f64;
            self.share(Length::from_m(from + (self.farthest - from) * along))
                .max(patch.min(1.0))
        })
    }

    /// The corners that the contacts touch, in metres.
    #[must_use]
    pub fn contacts(&self) -> &[Point] {
        &self.contacts
    }

    /// The triangles it was reckoned on, and the distance of each of their corners, in metres.
    #[must_use]
    pub fn parts(&self) -> impl ExactSizeIterator<Item = ([Point; 3], [f64; 3])> {
        self.faces.iter().map(|face| {
            let face = face.map(|corner| corner as usize);
            (face.map(|at| self.corners[at]), face.map(|at| self.far[at]))
        })
    }
}

/// The corner at which a contact touches.
fn source(paths: &Paths, touch: Touch, number: usize) -> Result<u32, ReachError> {
    let nothing = ReachError::Apart { share: 1.0 };
    match touch {
        Touch::Side(side) => outermost(paths, side).ok_or(nothing),
        Touch::At(point) => {
            let (corner, off) = paths.nearest(point).ok_or(nothing)?;
            let size = Side::ALL.map(|(_, side)| {
                let outs = paths.corners.iter().map(|corner| side.out(*corner));
                outs.fold(f64::NEG_INFINITY, f64::max)
            });
            let [z, x, y] = [0, 2, 4].map(|pair| size[pair] + size[pair + 1]);
            // A point that is no number is nowhere.
            if off.is_nan() || off > OFF * x.hypot(y).hypot(z) {
                let off = Length::from_m(off);
                return Err(ReachError::OffTheMesh { number, off });
            }
            Ok(corner)
        }
    }
}

/// The outermost corner on a side; of several, the one nearest to their middle.
fn outermost(paths: &Paths, side: Side) -> Option<u32> {
    let outs = paths.corners.iter().map(|corner| side.out(*corner));
    let most = outs.fold(f64::NEG_INFINITY, f64::max);
    let inner = Side::ALL.map(|(_, side)| {
        let outs = paths.corners.iter().map(|corner| side.out(*corner));
        outs.fold(f64::INFINITY, f64::min)
    });
    let size = inner.iter().fold(0.0_f64, |size, one| size.max(one.abs()));
    let outer: Vec<Point> = paths
        .corners
        .iter()
        .copied()
        .filter(|corner| side.out(*corner) >= most - 1e-9 * size)
        .collect();
    let count = outer.len() as f64;
    let middle = [0, 1, 2].map(|k| outer.iter().map(|point| point[k]).sum::<f64>() / count);
    let near = outer.iter().min_by(|one, other| {
        let apart = |point: &Point| {
            let d: f64 = (0..3).map(|k| (point[k] - middle[k]).powi(2)).sum();
            d
        };
        apart(one).total_cmp(&apart(other))
    })?;
    paths.nearest(*near).map(|(corner, _)| corner)
}

/// The share of the area below each level of distance, inside a triangle as if the distance rose
/// in a plane over it.
fn levels(parts: impl Iterator<Item = ([f64; 3], f64)>, farthest: f64) -> Vec<f64> {
    let mut partly = vec![0.0; LEVELS + 1];
    let mut wholly = vec![0.0; LEVELS + 2];
    let step = farthest / LEVELS as f64;
    for (mut ends, area) in parts {
        ends.sort_by(f64::total_cmp);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let level = |distance: f64| ((distance / step).ceil() as usize).min(LEVELS);
        let (first, last) = (level(ends[0]), level(ends[2]));
        for (level, partly) in partly.iter_mut().enumerate().take(last).skip(first) {
            *partly += area * below(ends, level as f64 * step);
        }
        wholly[last] += area;
    }
    let mut sum = 0.0;
    let shares: Vec<f64> = partly
        .iter()
        .zip(wholly)
        .map(|(partly, wholly)| {
            sum += wholly;
            sum + partly
        })
        .collect();
    shares.iter().map(|share| share / sum).collect()
}

/// The share of a triangle below a level, its corners' distances in order.
fn below([a, b, c]: [f64; 3], level: f64) -> f64 {
    if level <= a {
        0.0
    } else if level >= c {
        1.0
    } else if level < b {
        (level - a).powi(2) / ((b - a) * (c - a))
    } else {
        1.0 - (c - level).powi(2) / ((c - a) * (c - b))
    }
}

/// A table at even steps of 0 to 1, read between its steps.
fn interpolated(table: &[f64], at: f64) -> f64 {
    let steps = (table.len() - 1) as f64;
    let at = at.clamp(0.0, 1.0) * steps;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let before = (at.floor() as usize).min(table.len() - 2);
    let within = at - before as f64;
    table[before] + (table[before + 1] - table[before]) * within
}
