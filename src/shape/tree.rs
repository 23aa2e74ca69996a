//! Boxes within boxes over the triangles of a mesh: what a ray meets first, and which triangles
//! cross. Building takes n·log n; a look-up goes into the boxes it meets.

use super::vector::{Point, Triangle, cross, dot, minus};

/// Triangles in a box that is not divided further.
const LEAF: usize = 8;
/// Pairs of boxes or triangles compared for crossings, for each triangle: a hostile mesh, all of
/// whose triangles lie on one another, ends there.
const PAIRS: usize = 60;

/// Walls face each other if they are within 45° of it; what is less opposite is a fold, whose loss
/// is reckoned at its edge.
const OPPOSITE: f64 = -std::f64::consts::FRAC_1_SQRT_2;

/// A box, and what is in it: a stretch of `order`, and two halves unless it is small.
struct Node {
    low: Point,
    high: Point,
    from: usize,
    to: usize,
    halves: Option<[usize; 2]>,
}

/// The boxes over some triangles.
pub(super) struct Tree<'a> {
    triangles: &'a [Triangle],
    order: Vec<u32>,
    nodes: Vec<Node>,
}

/// How far the search for crossings came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Crossings {
    /// Pairs of triangles that cut through each other without a common corner.
    pub(super) pairs: usize,
    /// It was given up before all were compared.
    pub(super) given_up: bool,
}

impl<'a> Tree<'a> {
    /// None for more triangles than a `u32` counts.
    pub(super) fn over(triangles: &'a [Triangle]) -> Option<Self> {
        let count = u32::try_from(triangles.len()).ok()?;
        let mut tree = Self {
            triangles,
            order: (0..count).collect(),
            nodes: Vec::new(),
        };
        tree.node(0, triangles.len());
        Some(tree)
    }

    /// Divides at the middle triangle along the longest side, so that the depth is log₂ n.
    fn node(&mut self, from: usize, to: usize) -> usize {
        let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for corner in self.order[from..to]
            .iter()
            .flat_map(|at| self.triangles[*at as usize])
        {
            for axis in 0..3 {
                low[axis] = low[axis].min(corner[axis]);
                high[axis] = high[axis].max(corner[axis]);
            }
        }
        let index = self.nodes.len();
        self.nodes.push(Node {
            low,
            high,
            from,
            to,
            halves: None,
        });
        if to - from > LEAF {
            let side = |axis: usize| high[axis] - low[axis];
            let longest = (1..3).fold(
                0,
                |best, axis| {
                    if side(axis) > side(best) { axis } else { best }
                },
            );
            let triangles = self.triangles;
            let middle = |at: &u32| {
                let [a, b, c] = triangles[*at as usize];
                a[longest] + b[longest] + c[longest]
            };
            let half = (to - from) / 2;
            self.order[from..to]
                .select_nth_unstable_by(half, |a, b| middle(a).total_cmp(&middle(b)));
            let first = self.node(from, from + half);
            let second = self.node(from + half, to);
            self.nodes[index].halves = Some([first, second]);
        }
        index
    }

    fn held(&self, node: &Node) -> impl Iterator<Item = &Triangle> + '_ {
        self.order[node.from..node.to]
            .iter()
            .map(|at| &self.triangles[*at as usize])
    }

    /// True if the stretch from `from`, a vector `along` long, meets a triangle that faces it, past
    /// the first `skip` of it (a share).
    pub(super) fn meets(&self, from: Point, along: Point, skip: f64) -> bool {
        let mut open = vec![0];
        while let Some(index) = open.pop() {
            let node = &self.nodes[index];
            if !reaches(node, from, along) {
                continue;
            }
            match node.halves {
                Some(halves) => open.extend(halves),
                None => {
                    let met = |triangle: &Triangle| {
                        pierced(triangle, from, along)
                            .is_some_and(|(at, facing)| at > skip && facing < OPPOSITE)
                    };
                    if self.held(node).any(met) {
                        return true;
                    }
                }
            }
        }
        false
    }

    /// Counts pairs of triangles that cut through each other. Those with a common corner are
    /// neighbours and not looked at.
    pub(super) fn crossings(&self) -> Crossings {
        let mut left = PAIRS
            .saturating_mul(self.triangles.len())
            .saturating_add(10_000);
        let mut open = vec![(0_usize, 0_usize)];
        let mut pairs = 0;
        while let Some((one, other)) = open.pop() {
            if left == 0 {
                return Crossings {
                    pairs,
                    given_up: true,
                };
            }
            left -= 1;
            let (a, b) = (&self.nodes[one], &self.nodes[other]);
            if one != other && !boxes_meet((a.low, a.high), (b.low, b.high)) {
                continue;
            }
            match (a.halves, b.halves) {
                (Some([l, r]), Some(_)) if one == other => open.extend([(l, l), (r, r), (l, r)]),
                (Some(halves), Some([l, r])) => {
                    open.extend(halves.iter().flat_map(|half| [(*half, l), (*half, r)]));
                }
                (Some(halves), None) => open.extend(halves.map(|half| (half, other))),
                (None, Some(halves)) => open.extend(halves.map(|half| (one, half))),
                (None, None) => {
                    pairs += self.crossed(a, b, one == other);
                    left = left.saturating_sub(1);
                }
            }
        }
        Crossings {
            pairs,
            given_up: false,
        }
    }

    fn crossed(&self, one: &Node, other: &Node, same: bool) -> usize {
        let mut pairs = 0;
        for (at, first) in self.held(one).enumerate() {
            let after = if same { at + 1 } else { 0 };
            let around = span(first);
            for second in self.held(other).skip(after) {
                let cut = boxes_meet(around, span(second))
                    && !neighbours(first, second)
                    && cut_through(first, second);
                pairs += usize::from(cut);
            }
        }
        pairs
    }
}

fn span(triangle: &Triangle) -> (Point, Point) {
    let [a, b, c] = *triangle;
    let of = |pick: fn(f64, f64) -> f64| std::array::from_fn(|k| pick(pick(a[k], b[k]), c[k]));
    (of(f64::min), of(f64::max))
}

fn boxes_meet(one: (Point, Point), other: (Point, Point)) -> bool {
    (0..3).all(|axis| one.0[axis] <= other.1[axis] && other.0[axis] <= one.1[axis])
}

/// Corners of one mesh are the same only to the bit.
fn neighbours(one: &Triangle, other: &Triangle) -> bool {
    one.iter().any(|corner| other.contains(corner))
}

/// Two triangles cut through each other if an edge of one pierces the other. Triangles in one plane
/// do not.
fn cut_through(one: &Triangle, other: &Triangle) -> bool {
    let pierces = |edges: &Triangle, face: &Triangle| {
        (0..3).any(|k| {
            let along = minus(edges[(k + 1) % 3], edges[k]);
            pierced(face, edges[k], along).is_some()
        })
    };
    pierces(one, other) || pierces(other, one)
}

/// Whether a stretch enters a box: it is cut by the planes of each axis in turn.
fn reaches(node: &Node, from: Point, along: Point) -> bool {
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    for axis in 0..3 {
        let (low, high) = (node.low[axis] - from[axis], node.high[axis] - from[axis]);
        if along[axis] == 0.0 {
            if low > 0.0 || high < 0.0 {
                return false;
            }
            continue;
        }
        let (one, other) = (low / along[axis], high / along[axis]);
        enters = enters.max(one.min(other));
        leaves = leaves.min(one.max(other));
    }
    enters <= leaves
}

/// Where a stretch pierces a triangle, as a share of it, and the cosine between it and the outer
/// normal: −1 where it meets a wall head on. None if it does not, or lies in its plane.
fn pierced([a, b, c]: &Triangle, from: Point, along: Point) -> Option<(f64, f64)> {
    let (u, v) = (minus(*b, *a), minus(*c, *a));
    let normal = cross(u, v);
    let facing = dot(normal, along);
    if facing == 0.0 {
        return None;
    }
    let to = minus(*a, from);
    let at = dot(normal, to) / facing;
    if !(0.0..=1.0).contains(&at) {
        return None;
    }
    // Shares of the corners at the point in the plane.
    let point = std::array::from_fn(|k| from[k] + at * along[k] - a[k]);
    let whole = dot(normal, normal);
    let third = dot(cross(u, point), normal) / whole;
    let second = dot(cross(point, v), normal) / whole;
    let inside = second >= 0.0 && third >= 0.0 && second + third <= 1.0;
    inside.then(|| (at, facing / (whole * dot(along, along)).sqrt()))
}
