//! One line, a column of pixels at a time.

use std::fmt::Write;

/// What falls into one column of pixels.
#[derive(Clone, Copy, Debug)]
struct Column {
    x: f64,
    first: f64,
    last: f64,
    least: f64,
    most: f64,
}

/// The path of a line through points of hours and figures. It breaks where nothing was measured for
/// longer than `gap` hours. `place` turns a point into pixels.
pub(super) fn path(
    points: &[(f64, f64)],
    gap: f64,
    place: &dyn Fn((f64, f64)) -> (f64, f64),
) -> String {
    let mut out = String::new();
    let mut column: Option<Column> = None;
    let mut pen_up = true;
    let mut before = f64::NEG_INFINITY;
    for point in points
        .iter()
        .filter(|point| point.0.is_finite() && point.1.is_finite())
    {
        let (x, y) = place(*point);
        let broken = point.0 - before > gap;
        before = point.0;
        match &mut column {
            Some(open) if !broken && open.x.floor() >= x.floor() => open.take(y),
            _ => {
                if let Some(done) = column.replace(Column::new(x, y)) {
                    done.draw(&mut out, pen_up);
                    pen_up = broken;
                }
            }
        }
    }
    if let Some(done) = column {
        done.draw(&mut out, pen_up);
    }
    out
}

impl Column {
    const fn new(x: f64, y: f64) -> Self {
        Self {
            x,
            first: y,
            last: y,
            least: y,
            most: y,
        }
    }

    const fn take(&mut self, y: f64) {
        self.last = y;
        self.least = self.least.min(y);
        self.most = self.most.max(y);
    }

    /// In, to both extremes, and out; a column that is flat is one point.
    fn draw(&self, out: &mut String, pen_up: bool) {
        let letter = if pen_up { 'M' } else { 'L' };
        let _ = write!(out, "{letter}{:.1} {:.1}", self.x, self.first);
        if self.most - self.least > 0.05 {
            for y in [self.least, self.most, self.last] {
                let _ = write!(out, "V{y:.1}");
            }
        } else if pen_up {
            // A lone point shows as a dot, since its line has round ends.
            out.push_str("h0");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_keeps_its_extremes_and_a_gap_breaks_the_line() {
        let as_is = |point: (f64, f64)| point;
        let points = [
            (0.0, 5.0),
            (0.2, 9.0),
            (0.4, 1.0),
            (1.5, 5.0),
            (9.0, 6.0),
            (9.1, f64::NAN),
        ];
        assert_eq!(
            path(&points, 2.0, &as_is),
            "M0.0 5.0V1.0V9.0V1.0L1.5 5.0M9.0 6.0h0"
        );
        assert_eq!(path(&[], 2.0, &as_is), "");
    }

    #[test]
    fn a_long_night_makes_no_more_than_a_few_points_a_column() {
        let points: Vec<(f64, f64)> = (0..43_200)
            .map(|s| (f64::from(s) / 3600.0, f64::from(s % 7)))
            .collect();
        let path = path(&points, 1.0, &|(h, y)| (h * 50.0, y));
        assert!(path.len() < 600 * 40, "{}", path.len());
    }
}
