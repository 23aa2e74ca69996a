//! What it costs to move copper across an interface: Butler–Volmer at both electrodes, and the
//! layer that runs short of copper at the cathode.
//!
//! Two one-electron steps, the first slow: αc = 0.5, αa = 1.5 (Mattsson and Bockris, Trans. Faraday
//! Soc. 55 (1959) 1586, from memory). With x = exp(½·F·|η|/RT) both directions become a quartic in
//! x, so that the overpotential for a given density needs one logarithm and no exponential.

/// Faraday's constant, C/mol, exact since the 2019 SI.
pub const FARADAY: f64 = 96_485.332_123_310_01;
/// The gas constant, J/(mol·K), exact since the 2019 SI.
pub const GAS: f64 = 8.314_462_618_153_24;

/// Share of the limiting density up to which the layer follows its logarithm; beyond it goes on in
/// a straight line, some hundred volts steep, so that a supply at its ceiling stays within a few
/// per cent of the limit.
const EDGE: f64 = 0.9999;

/// RT/2F in volts.
#[must_use]
pub fn half_thermal_v(kelvin: f64) -> f64 {
    GAS * kelvin / (2.0 * FARADAY)
}

/// Density of the interface at an overpotential in volts, in A/m², anodic positive:
/// i₀[exp(1.5·Fη/RT) − exp(−0.5·Fη/RT)].
#[must_use]
pub fn density(i0_a_per_m2: f64, kelvin: f64, eta_v: f64) -> f64 {
    let f = FARADAY / (GAS * kelvin);
    i0_a_per_m2 * ((1.5 * f * eta_v).exp() - (-0.5 * f * eta_v).exp())
}

/// Concentration overpotential in volts at a share of the limiting density: (RT/2F)·ln(1 − share),
/// never positive.
#[must_use]
pub fn concentration_v(kelvin: f64, share: f64) -> f64 {
    half_thermal_v(kelvin) * (1.0 - share).ln()
}

/// Limiting density through a diffusion layer, in A/m²: zFDc/δ.
#[must_use]
pub fn limiting_a_per_m2(z: f64, diffusion_m2_per_s: f64, mol_per_m3: f64, layer_m: f64) -> f64 {
    z * FARADAY * diffusion_m2_per_s * mol_per_m3 / layer_m
}

/// A cathode's interface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cathode {
    /// Exchange density, A/m².
    pub i0: f64,
    /// Limiting density, A/m².
    pub limiting: f64,
    /// RT/2F, V.
    pub half_thermal: f64,
}

impl Cathode {
    /// How far below equilibrium it sits at a density of 0 or more, in volts (positive), and the
    /// slope in V·m²/A. `x` is where the last answer was, and keeps this one.
    pub fn drop_v(&self, density: f64, x: &mut f64) -> (f64, f64) {
        let root = cathode_root(density / self.i0, *x);
        *x = root;
        let fourth = root.powi(4);
        // d(4·ln x)/dq with q = x − x⁻³.
        let tafel = 4.0 * self.half_thermal * root.powi(3) / (fourth + 3.0) / self.i0;
        let share = density / self.limiting;
        if share < EDGE {
            let left = 1.0 - share;
            let slope = tafel + self.half_thermal / (left * self.limiting);
            return (self.half_thermal * (fourth / left).ln(), slope);
        }
        let edge_slope = self.half_thermal / (1.0 - EDGE);
        let beyond = edge_slope * (share - EDGE) - self.half_thermal * (1.0 - EDGE).ln();
        (
            self.half_thermal * fourth.ln() + beyond,
            tafel + edge_slope / self.limiting,
        )
    }
}

/// Solves x − x⁻³ = q for q ≥ 0, where x ≥ 1, by Newton's method; the curve is concave, so that
/// every step after the first comes from below.
fn cathode_root(q: f64, guess: f64) -> f64 {
    let mut x = guess.max(1.0);
    for _ in 0..60 {
        let cube = x * x * x;
        let step = (x - 1.0 / cube - q) * cube * x / (cube * x + 3.0);
        x = (x - step).max(1.0);
        if step.abs() <= 1e-15 * x {
            break;
        }
    }
    x
}

/// An anode's interface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Anode {
    /// Exchange density, A/m².
    pub i0: f64,
    /// RT/2F, V.
    pub half_thermal: f64,
}

impl Anode {
    /// How far above equilibrium it sits at a density of 0 or more, in volts, and the slope in
    /// V·m²/A. `y` is where the last answer was, and keeps this one.
    pub fn rise_v(&self, density: f64, y: &mut f64) -> (f64, f64) {
        let q = density / self.i0;
        let mut root = y.max(1.0);
        for _ in 0..60 {
            let square = root * root;
            let step = (square * root - 1.0 / root - q) / (3.0 * square + 1.0 / square);
            root = (root - step).max(1.0);
            if step.abs() <= 1e-15 * root {
                break;
            }
        }
        *y = root;
        let slope = 4.0 * self.half_thermal / (3.0 * root.powi(3) + 1.0 / root) / self.i0;
        (4.0 * self.half_thermal * root.ln(), slope)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KELVIN: f64 = 298.15;

    /// i₀, i in A/m²; η at the cathode and at the anode in mV (scipy 1.17.1, `brentq` on the
    /// equation, 298.15 K).
    const TABLE: [[f64; 4]; 8] = [
        [10.0, 100.0, -118.324, 40.205],
        [10.0, 200.0, -153.936, 51.623],
        [10.0, 300.0, -174.771, 58.439],
        [20.0, 100.0, -82.783, 29.399],
        [20.0, 200.0, -118.324, 40.205],
        [100.0, 100.0, -16.561, 10.249],
        [100.0, 200.0, -38.294, 17.118],
        [150.0, 300.0, -38.294, 17.118],
    ];

    #[test]
    fn overpotentials_match_the_table() {
        for [i0, i, at_cathode, at_anode] in TABLE {
            let half_thermal = half_thermal_v(KELVIN);
            let cathode = Cathode {
                i0,
                limiting: f64::INFINITY,
                half_thermal,
            };
            let drop = cathode.drop_v(i, &mut 1.0).0 * 1e3;
            assert!((drop + at_cathode).abs() < 6e-4, "{i0} {i}: {drop}");
            let rise = Anode { i0, half_thermal }.rise_v(i, &mut 1.0).0 * 1e3;
            assert!((rise - at_anode).abs() < 6e-4, "{i0} {i}: {rise}");
            assert!((density(i0, KELVIN, at_anode * 1e-3) / i - 1.0).abs() < 1e-4);
            assert!((density(i0, KELVIN, at_cathode * 1e-3) / -i - 1.0).abs() < 1e-4);
        }
    }

    #[test]
    fn slopes_are_those_of_the_curves() {
        let half_thermal = half_thermal_v(KELVIN);
        let cathode = Cathode {
            i0: 20.0,
            limiting: 800.0,
            half_thermal,
        };
        let anode = Anode {
            i0: 20.0,
            half_thermal,
        };
        for i in [0.5, 30.0, 150.0, 790.0, 805.0] {
            let h = 1e-4;
            let (_, slope) = cathode.drop_v(i, &mut 1.0);
            let rise = cathode.drop_v(i + h, &mut 1.0).0 - cathode.drop_v(i - h, &mut 1.0).0;
            assert!((rise / (2.0 * h) / slope - 1.0).abs() < 1e-5, "cathode {i}");
            let (_, slope) = anode.rise_v(i, &mut 1.0);
            let rise = anode.rise_v(i + h, &mut 1.0).0 - anode.rise_v(i - h, &mut 1.0).0;
            assert!((rise / (2.0 * h) / slope - 1.0).abs() < 1e-5, "anode {i}");
        }
    }

    #[test]
    fn any_guess_finds_the_same_root() {
        for guess in [1.0, 1.5, 40.0, 1e6] {
            let x = cathode_root(0.01, guess);
            assert!((x - x.powi(-3) - 0.01).abs() < 1e-14, "{guess}: {x}");
        }
    }

    #[test]
    fn the_concentration_term_matches() {
        // (RT/2F)·ln(1 − i/iL) at 25 °C: −8.904 mV at 50 %, −29.58 mV at 90 % (evaluated with scipy
        // 1.17.1).
        assert!((concentration_v(KELVIN, 0.5) * 1e3 + 8.904).abs() < 5e-4);
        assert!((concentration_v(KELVIN, 0.9) * 1e3 + 29.58).abs() < 5e-3);
        let half_thermal = half_thermal_v(KELVIN);
        let bare = Cathode {
            i0: 20.0,
            limiting: f64::INFINITY,
            half_thermal,
        };
        let starved = Cathode {
            limiting: 200.0,
            ..bare
        };
        let extra = starved.drop_v(180.0, &mut 1.0).0 - bare.drop_v(180.0, &mut 1.0).0;
        assert!((extra * 1e3 - 29.58).abs() < 5e-3);
    }

    #[test]
    fn limiting_densities_match() {
        // 0.801 M, D = 5e-10 m²/s: 50, 100, 200, 300 µm give 15.46, 7.73, 3.86, 2.58 A/dm² (scipy
        // 1.17.1).
        for (layer_um, expected) in [(50.0, 15.46), (100.0, 7.73), (200.0, 3.86), (300.0, 2.58)] {
            let limit = limiting_a_per_m2(2.0, 5e-10, 801.0, layer_um * 1e-6) / 100.0;
            assert!((limit - expected).abs() < 0.006, "{layer_um} µm: {limit}");
        }
    }
}
