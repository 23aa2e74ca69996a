//! Points and the sides between them.

pub(super) type Point = [f64; 3];
pub(super) type Triangle = [Point; 3];

pub(super) fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(super) fn cross(a: Point, b: Point) -> Point {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

pub(super) fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn length(a: Point) -> f64 {
    dot(a, a).sqrt()
}

/// Twice the area of a triangle, outwards.
pub(super) fn normal([a, b, c]: Triangle) -> Point {
    cross(minus(b, a), minus(c, a))
}
