//! The ellipsoid, through its support function.

use super::Law;
use std::f64::consts::PI;

/// Nodes of the quadrature in each of the two directions.
const NODES: usize = 96;

/// The law of an ellipsoid with these half axes, in metres.
///
/// A convex body's surface, carried over to the sphere of its normals n, has the area element ρ₁ρ₂
/// dω. For the ellipsoid ρ₁ρ₂ = (abc)²/h⁴ with the support function h(n) = √(a²n₁² + b²n₂² +
/// c²n₃²), and the mean over the sphere of ρ₁ + ρ₂ is that of 2h; the surface a distance d outside
/// has (ρ₁ + d)(ρ₂ + d).
pub(super) fn law(half_axes: [f64; 3]) -> Law {
    let [a, b, c] = half_axes;
    let product = (a * b * c).powi(2);
    let rule = gauss_legendre(NODES);
    let (mut bare, mut width) = (0.0, 0.0);
    // One octant: z from 0 to 1, the angle around it from 0 to π/2.
    for &(node, weight) in &rule {
        let z = f64::midpoint(node, 1.0);
        let flat = 1.0 - z * z;
        for &(turn, share) in &rule {
            let (sin, cos) = (PI / 4.0 * (turn + 1.0)).sin_cos();
            let h2 = flat * ((a * cos).powi(2) + (b * sin).powi(2)) + (c * z).powi(2);
            let element = weight / 2.0 * share * PI / 4.0;
            bare += 8.0 * element * product / (h2 * h2);
            width += 8.0 * element * 2.0 * h2.sqrt();
        }
    }
    Box::new(move |d| bare + width * d + 4.0 * PI * d * d)
}

/// Nodes and weights of Gauss's rule on −1 … 1 (roots of the Legendre polynomial by Newton's
/// method).
fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    let count = n as f64;
    (0..n)
        .map(|index| {
            let mut x = (PI * (index as f64 + 0.75) / (count + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..20 {
                let (mut below, mut here) = (1.0, x);
                for k in 2..=n {
                    let k = k as f64;
                    let next = ((2.0 * k - 1.0) * x * here - (k - 1.0) * below) / k;
                    below = here;
                    here = next;
                }
                slope = count * (x * here - below) / (x * x - 1.0);
                x -= here / slope;
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_match_the_exact_ones() {
        // scipy 1.17.1, 4π·elliprg(a²b², a²c², b²c²), confirmed by numerical integration.
        for (axes, exact) in [
            ([1.0, 1.0, 1.0], 12.566_370_614_4),
            ([3.0, 2.0, 1.0], 48.882_146_302_6),
            ([25.0, 15.0, 10.0], 3_369.379_418_12),
            ([40.0, 12.5, 12.5], 5_125.611_262_30),
            ([5.0, 5.0, 1.0], 171.780_421_922),
        ] {
            let area = law(axes)(0.0);
            assert!((area / exact - 1.0).abs() < 1e-10, "{axes:?}: {area}");
        }
    }

    #[test]
    fn a_round_one_grows_as_a_ball() {
        // 4π·1.25² = 19.634954.
        assert!((law([1.0, 1.0, 1.0])(0.25) - 19.634_954_085).abs() < 1e-8);
    }
}
