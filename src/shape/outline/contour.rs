//! Area and rim of a bright shape in a grid of brightness, finer than its dots: the level is
//! followed in straight lines through every cell of four dots (marching squares).

/// A grid of brightness, rows after one another.
pub(super) struct Grid {
    pub(super) width: usize,
    pub(super) values: Vec<f32>,
}

/// What is above a level in a grid whose rim is below it: area and length of rim, in dots.
pub(super) fn measure(grid: &Grid, level: f64) -> (f64, f64) {
    let height = grid.values.len() / grid.width;
    let (mut area, mut rim) = (0.0, 0.0);
    for y in 1..height {
        for x in 1..grid.width {
            let at = |dx: usize, dy: usize| {
                f64::from(grid.values[(y - 1 + dy) * grid.width + x - 1 + dx]) - level
            };
            let (inside, edge) = cell([at(0, 0), at(1, 0), at(1, 1), at(0, 1)]);
            area += inside;
            rim += edge;
        }
    }
    (area, rim)
}

/// The part of a unit cell that is above nothing, and the length of its edge; corners go round.
fn cell(values: [f64; 4]) -> (f64, f64) {
    let above = values.map(|value| value > 0.0);
    match above.iter().filter(|above| **above).count() {
        0 => return (0.0, 0.0),
        4 => return (1.0, 0.0),
        _ => {}
    }
    if above[0] == above[2] && above[1] == above[3] {
        // Two corners opposite each other: their middle says whether they are joined.
        let joined = values.iter().sum::<f64>() > 0.0;
        let corners = (0..4).filter(|corner| above[*corner] != joined);
        let (cut, edge) = corners.fold((0.0, 0.0), |(cut, edge), corner| {
            let (a, b) = legs(values, corner);
            (cut + a * b / 2.0, edge + a.hypot(b))
        });
        return (if joined { 1.0 - cut } else { cut }, edge);
    }
    let polygon = polygon(values);
    let (mut twice, mut edge) = (0.0, 0.0);
    for (index, (here, on_level)) in polygon.iter().enumerate() {
        let (next, next_on) = polygon[(index + 1) % polygon.len()];
        twice += here[0] * next[1] - next[0] * here[1];
        if *on_level && next_on {
            edge += (next[0] - here[0]).hypot(next[1] - here[1]);
        }
    }
    (twice.abs() / 2.0, edge)
}

/// How far the level is from a corner along the two sides at it.
fn legs(values: [f64; 4], corner: usize) -> (f64, f64) {
    let here = values[corner];
    let along = |other: f64| here / (here - other);
    (
        along(values[(corner + 1) % 4]),
        along(values[(corner + 3) % 4]),
    )
}

/// The part above nothing, going round: each point, and whether the level goes through it.
fn polygon(values: [f64; 4]) -> Vec<([f64; 2], bool)> {
    const CORNERS: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
    let mut points = Vec::with_capacity(6);
    for corner in 0..4 {
        let next = (corner + 1) % 4;
        let (here, there) = (values[corner], values[next]);
        if here > 0.0 {
            points.push((CORNERS[corner], false));
        }
        if (here > 0.0) != (there > 0.0) {
            let t = here / (here - there);
            let [from, to] = [CORNERS[corner], CORNERS[next]];
            let at = [0, 1].map(|axis| from[axis] + t * (to[axis] - from[axis]));
            points.push((at, true));
        }
    }
    points
}
