//! Boxes within boxes over the triangles of a mesh: what a ray meets first, and which triangles
//! cross. Building takes n·log n; a look-up goes into the boxes it meets.

use super::net::Net;
use super::vector::{Point, Triangle, cross, dot, minus};

/// Triangles in a box that is not divided further.
const LEAF: usize = 8;
/// Pairs of boxes or triangles compared for crossings, for each triangle: a hostile mesh, all of
/// whose triangles lie on one another, ends there.
const PAIRS: usize = 60;

/// Walls face each other if they are within 45° of it; what is less opposite is a fold, whose loss
/// is reckoned at its edge.
const OPPOSITE: f64 = -std::f64::consts::FRAC_1_SQRT_2;

/// The lowest and the highest corner of a box.
type Span = [Point; 2];

/// A box, and what is in it: a stretch of the faces, and two halves unless it is small.
struct Node {
    span: Span,
    from: usize,
    to: usize,
    halves: Option<[usize; 2]>,
}

/// A face while the boxes are made: three times its middle, and its number.
struct Placed {
    middle: Point,
    face: u32,
}

/// The boxes over some faces of a net.
pub(super) struct Tree<'a> {
    net: &'a Net,
    /// The corners of the faces, those of one box side by side.
    faces: Vec<[u32; 3]>,
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
    /// The boxes over the faces of these numbers.
    pub(super) fn over(net: &'a Net, faces: impl Iterator<Item = u32>) -> Self {
        let mut placed: Vec<Placed> = faces
            .map(|face| {
                let [a, b, c] = net.triangle(net.faces[face as usize]);
                let middle = [0, 1, 2].map(|axis| a[axis] + b[axis] + c[axis]);
                Placed { middle, face }
            })
            .collect();
        let mut nodes = Vec::with_capacity(placed.len() / 3 + 1);
        node(net, &mut nodes, &mut placed, 0);
        let faces = placed.iter().map(|one| net.faces[one.face as usize]);
        Self {
            net,
            faces: faces.collect(),
            nodes,
        }
    }

    fn held(&self, node: &Node) -> &[[u32; 3]] {
        &self.faces[node.from..node.to]
    }

    /// True if the stretch from `from`, a vector `along` long, meets a triangle that faces it, past
    /// the first `skip` of it (a share).
    pub(super) fn meets(&self, from: Point, along: Point, skip: f64) -> bool {
        let mut open = vec![0];
        while let Some(index) = open.pop() {
            let node = &self.nodes[index];
            if !reaches(&node.span, from, along) {
                continue;
            }
            match node.halves {
                Some(halves) => open.extend(halves),
                None => {
                    let met = |face: &[u32; 3]| {
                        pierced(&self.net.triangle(*face), from, along)
                            .is_some_and(|(at, facing)| at > skip && facing < OPPOSITE)
                    };
                    if self.held(node).iter().any(met) {
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
            .saturating_mul(self.faces.len())
            .saturating_add(10_000);
        let mut open = vec![(0_usize, 0_usize)];
        let mut pairs = 0;
        let mut near = [Vec::with_capacity(LEAF), Vec::with_capacity(LEAF)];
        while let Some((one, other)) = open.pop() {
            if left == 0 {
                return Crossings {
                    pairs,
                    given_up: true,
                };
            }
            left -= 1;
            let (a, b) = (&self.nodes[one], &self.nodes[other]);
            if one != other && !meet(&a.span, &b.span) {
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
                    pairs += self.crossed([a, b], one == other, &mut near);
                    left = left.saturating_sub(1);
                }
            }
        }
        Crossings {
            pairs,
            given_up: false,
        }
    }

    /// Pairs across two boxes, or within one; `near` is room to work in.
    fn crossed(&self, nodes: [&Node; 2], same: bool, near: &mut [Vec<Near>; 2]) -> usize {
        let [ours, theirs] = near;
        self.reaching(nodes[0], &nodes[1].span, ours);
        self.reaching(nodes[1], &nodes[0].span, theirs);
        let mut pairs = 0;
        for (at, (first, around)) in ours.iter().enumerate() {
            let after = if same { at + 1 } else { 0 };
            for (second, span) in &theirs[after..] {
                let cut = meet(around, span)
                    // Neighbours.
                    && !first.iter().any(|corner| second.contains(corner))
                    && cut_through(&self.net.triangle(*first), &self.net.triangle(*second));
                pairs += usize::from(cut);
            }
        }
        pairs
    }

    /// The faces of a box that reach into another, with their own boxes.
    fn reaching(&self, node: &Node, other: &Span, near: &mut Vec<Near>) {
        near.clear();
        for face in self.held(node) {
            let own = span(self.net.triangle(*face).into_iter());
            if meet(&own, other) {
                near.push((*face, own));
            }
        }
    }
}

/// A face and its box.
type Near = ([u32; 3], Span);

/// Makes the boxes over some of the faces, which begin at `from` of all, and returns the number of
/// the outermost. Divides at the middle one along the side on which their middles are farthest
/// apart, so that the depth is log₂ n.
fn node(net: &Net, nodes: &mut Vec<Node>, placed: &mut [Placed], from: usize) -> usize {
    let index = nodes.len();
    nodes.push(Node {
        span: NOTHING,
        from,
        to: from + placed.len(),
        halves: None,
    });
    if placed.len() > LEAF {
        let [low, high] = span(placed.iter().map(|one| one.middle));
        let side = |axis: usize| high[axis] - low[axis];
        let longer = |best, axis| if side(axis) > side(best) { axis } else { best };
        let longest = (1..3).fold(0, longer);
        let half = placed.len() / 2;
        placed.select_nth_unstable_by(half, |one, other| {
            one.middle[longest].total_cmp(&other.middle[longest])
        });
        let (first, second) = placed.split_at_mut(half);
        let first = node(net, nodes, first, from);
        let second = node(net, nodes, second, from + half);
        nodes[index].halves = Some([first, second]);
        let both = [nodes[first].span, nodes[second].span];
        nodes[index].span = span(both.into_iter().flatten());
    } else {
        let triangles = placed.iter().map(|one| net.faces[one.face as usize]);
        nodes[index].span = span(triangles.flat_map(|face| net.triangle(face)));
    }
    index
}

/// The box around no point.
const NOTHING: Span = [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]];

/// The box around some points.
pub(super) fn span(points: impl Iterator<Item = Point>) -> Span {
    points.fold(NOTHING, |[mut low, mut high], point| {
        for axis in 0..3 {
            low[axis] = low[axis].min(point[axis]);
            high[axis] = high[axis].max(point[axis]);
        }
        [low, high]
    })
}

/// Whether two boxes have a point in common.
pub(super) fn meet([low, high]: &Span, [other_low, other_high]: &Span) -> bool {
    (0..3).all(|axis| low[axis] <= other_high[axis] && other_low[axis] <= high[axis])
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
fn reaches([low, high]: &Span, from: Point, along: Point) -> bool {
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    for axis in 0..3 {
        let (low, high) = (low[axis] - from[axis], high[axis] - from[axis]);
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
