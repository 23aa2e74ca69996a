//! Copper that spreads over paint: a thin skin that carries current along itself and gives it to
//! the bath all over.
//!
//! The skin is cut into rings outward from the contact. Each passes current on to the next through
//! its paint and the copper on it, and to the bath through an interface of so many ohm square
//! metres; what goes to the bath thickens its copper. Islands of copper conduct sideways only once
//! they have grown together, at a thickness that is the skin's own: that is what holds the front
//! back. Ahead of it the current dies away over the length √(interface/sheet resistance), so that a
//! straight front walks at (that length)·(growth at the front)/(that thickness).

use std::f64::consts::PI;

/// Conductivity of copper, S/m (IACS, 1913).
const COPPER_S_PER_M: f64 = 5.8e7;
/// Rings of a ball.
const RINGS: usize = 64;
/// The skin no longer matters once this share of the surface takes its full part.
const WHOLE: f64 = 0.999;

/// One ring.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Ring {
    area_m2: f64,
    /// Half of the way through it over its width, as squares: from its near edge to its middle, and
    /// from there to its far edge.
    squares: [f64; 2],
    /// Copper on it, m.
    copper_m: f64,
    /// Its voltage to the bath over that at the contact.
    volts: f64,
}

/// The skin of one piece.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Skin {
    /// The patch the contact holds, m².
    patch_m2: f64,
    rings: Vec<Ring>,
    /// All of it, m².
    whole_m2: f64,
    /// Paint, S per square.
    paint_s: f64,
    /// Copper, S/m.
    copper_s_per_m: f64,
    /// Interface to the bath, Ω·m².
    interface_ohm_m2: f64,
    /// Copper conducts sideways from this thickness on, m.
    coalescence_m: f64,
    /// Nothing is joined beyond this ring.
    torn_at: Option<usize>,
    /// So many rings are under copper that has grown together, and the next had so much copper when
    /// the last of them came to it, m.
    joined: usize,
    ahead_m: f64,
    /// Area that takes part, as much as if all of it had the contact's voltage, m².
    active_m2: f64,
}

/// What a skin is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Make {
    /// Sheet resistance of the paint, Ω per square.
    pub(super) sheet_ohm: f64,
    /// Interface to the bath, Ω·m².
    pub(super) interface_ohm_m2: f64,
    /// Copper conducts sideways from this thickness on, m.
    pub(super) coalescence_m: f64,
    /// The paint is torn all round where this share of the surface is on the contact's side.
    pub(super) torn_at: Option<f64>,
}

impl Skin {
    /// A painted ball of this area with the contact patch at its pole.
    pub(super) fn ball(area_m2: f64, patch_m2: f64, make: &Make) -> Self {
        let ball_m = (area_m2 / (4.0 * PI)).sqrt();
        let first = patch_angle(ball_m, patch_m2);
        let step = (PI - first) / RINGS as f64;
        let rings = (0..RINGS).map(|index| {
            let edge = |halves: f64| first + step * (index as f64 + halves / 2.0);
            let [near, middle, far] = [edge(0.0), edge(1.0), edge(2.0)];
            // From edge to middle along a meridian: ∫dθ/(2π·sin θ).
            let squares = |from: f64, to: f64| (ln_tan_half(to) - ln_tan_half(from)) / (2.0 * PI);
            Ring {
                area_m2: 2.0 * PI * ball_m * ball_m * (near.cos() - far.cos()),
                squares: [squares(near, middle), squares(middle, far.min(PI - 1e-9))],
                copper_m: 0.0,
                volts: 0.0,
            }
        });
        Self::of(patch_m2, rings.collect(), make)
    }

    fn of(patch_m2: f64, rings: Vec<Ring>, make: &Make) -> Self {
        let whole_m2 = patch_m2 + rings.iter().map(|ring| ring.area_m2).sum::<f64>();
        let mut within = patch_m2;
        let torn_at = make.torn_at.and_then(|share| {
            rings.iter().position(|ring| {
                within += ring.area_m2;
                within > share * whole_m2
            })
        });
        let mut skin = Self {
            patch_m2,
            rings,
            whole_m2,
            paint_s: make.sheet_ohm.recip(),
            copper_s_per_m: COPPER_S_PER_M,
            interface_ohm_m2: make.interface_ohm_m2,
            coalescence_m: make.coalescence_m,
            torn_at,
            joined: 0,
            ahead_m: 0.0,
            active_m2: 0.0,
        };
        skin.settle();
        skin
    }

    /// Lays the metal of a charge down where it goes, and finds where the next one will.
    pub(super) fn deposit(&mut self, charge_c: f64, m3_per_c: f64) {
        let at_contact_m = charge_c * m3_per_c / self.active_m2;
        for ring in &mut self.rings {
            ring.copper_m += at_contact_m * ring.volts;
        }
        while let Some(ring) = self.rings.get(self.joined)
            && ring.copper_m >= self.coalescence_m
        {
            self.joined += 1;
            self.ahead_m = self
                .rings
                .get(self.joined)
                .map_or(0.0, |next| next.copper_m);
        }
        self.settle();
    }

    /// Voltages along the skin: inward the admittance of all that lies beyond, outward the voltage
    /// that is left.
    fn settle(&mut self) {
        let interface_s = self.interface_ohm_m2.recip();
        let mut beyond = 0.0;
        // Ohms from a ring's middle to its far edge, on to the next one's middle.
        let mut next_ohm = 0.0;
        for index in (0..self.rings.len()).rev() {
            let sheet_ohm = self.sheet_ohm(&self.rings[index]);
            let is_torn = self.torn_at == Some(index);
            let ring = &mut self.rings[index];
            let (onward, left) = through(next_ohm + ring.squares[1] * sheet_ohm, beyond);
            // Kept until the way outward.
            ring.volts = left;
            next_ohm = ring.squares[0] * sheet_ohm;
            let own = ring.area_m2 * interface_s + onward;
            beyond = if is_torn { 0.0 } else { own };
        }
        let (first, mut volts) = through(next_ohm, beyond);
        self.active_m2 = self.patch_m2 + first * self.interface_ohm_m2;
        for ring in &mut self.rings {
            let left = ring.volts;
            ring.volts = volts;
            volts *= left;
        }
    }

    fn sheet_ohm(&self, ring: &Ring) -> f64 {
        let joined_m = (ring.copper_m - self.coalescence_m).max(0.0);
        (self.paint_s + self.copper_s_per_m * joined_m).recip()
    }

    /// Area that takes part, m²: with the contact's voltage all over it the same current would
    /// flow.
    pub(super) fn active_m2(&self) -> f64 {
        self.active_m2
    }

    /// Share of the surface that takes part.
    pub(super) fn active_fraction(&self) -> f64 {
        (self.active_m2 / self.whole_m2).min(1.0)
    }

    /// Share of the surface under copper that has grown together. Between the middles of two rings
    /// the edge goes on as the further one's copper grows.
    pub(super) fn covered_fraction(&self) -> f64 {
        let Some(ahead) = self.rings.get(self.joined) else {
            return 1.0;
        };
        let part = (ahead.copper_m - self.ahead_m) / (self.coalescence_m - self.ahead_m);
        let (within_m2, part_m2) = match self.rings[..self.joined].split_last() {
            None => (self.patch_m2, ahead.area_m2 / 2.0),
            Some((last, before)) => (
                self.patch_m2
                    + before.iter().map(|ring| ring.area_m2).sum::<f64>()
                    + last.area_m2 / 2.0,
                f64::midpoint(last.area_m2, ahead.area_m2),
            ),
        };
        (within_m2 + part_m2 * part) / self.whole_m2
    }

    /// Copper is everywhere, and carries the current everywhere.
    pub(super) fn is_whole(&self) -> bool {
        self.active_m2 >= WHOLE * self.whole_m2 && self.joined == self.rings.len()
    }
}

/// Siemens of a way of so many ohms to what lies beyond it, and the share of the voltage that is
/// left there; nothing where there is nothing beyond.
fn through(ohm: f64, beyond: f64) -> (f64, f64) {
    if beyond > 0.0 {
        let siemens = (ohm + 1.0 / beyond).recip();
        (siemens, siemens / beyond)
    } else {
        (0.0, 0.0)
    }
}

/// ln(tan(θ/2)).
fn ln_tan_half(angle: f64) -> f64 {
    (angle / 2.0).tan().ln()
}

/// Half the angle that a patch of this area takes on a ball, seen from the ball's middle.
fn patch_angle(ball_m: f64, patch_m2: f64) -> f64 {
    let share = patch_m2 / (2.0 * PI * ball_m * ball_m);
    (1.0 - share).clamp(-1.0, 1.0).acos()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As many even cells as asked for, each of this area, with a straight way of this many squares
    /// through each.
    fn strip(cells: usize, area_m2: f64, squares: f64) -> Vec<Ring> {
        let cell = Ring {
            area_m2,
            squares: [squares / 2.0; 2],
            copper_m: 0.0,
            volts: 0.0,
        };
        vec![cell; cells]
    }

    /// Bare paint with m² = R·L²/r: one ohm a square, a strip or disk one long.
    fn bare(m2: f64) -> Make {
        Make {
            sheet_ohm: 1.0,
            interface_ohm_m2: 1.0 / m2,
            coalescence_m: 1.0,
            torn_at: None,
        }
    }

    /// Densities at the contact, half-way and at the end over the mean, and m·coth m: linear
    /// interface, contact across one end. Exact: i/mean = m·cosh(m(1 − x/L))/sinh m (elementary;
    /// numpy). 2 000 cells of second order leave 2e-6.
    #[test]
    fn a_bare_strip_is_that_of_the_formula() {
        let table = [
            (0.01, 1.003_331_11, 0.999_583_45, 0.998_335_28),
            (0.1, 1.033_113_21, 0.995_845_45, 0.983_525_75),
            (1.0, 1.313_035_29, 0.959_517_38, 0.850_918_13),
            (4.0, 2.074_629_44, 0.850_918_13, 0.551_441_13),
            (10.0, 3.173_630_10, 0.679_366_13, 0.268_194_03),
            (25.0, 5.000_454_02, 0.413_209_17, 0.067_382_53),
        ];
        for (m2, contact, middle, end) in table {
            let cells = 2000;
            let skin = Skin::of(0.0, strip(cells, 1.0 / 2000.0, 1.0 / 2000.0), &bare(m2));
            let mean = skin.active_m2();
            let near = |got: f64, exact: f64| {
                assert!((got / exact - 1.0).abs() < 3e-6, "m² {m2}: {got} {exact}");
            };
            // The contact has the voltage one.
            near(1.0 / mean, contact);
            let half_way = f64::midpoint(skin.rings[cells / 2 - 1].volts, skin.rings[1000].volts);
            near(half_way / mean, middle);
            near(skin.rings[cells - 1].volts / mean, end);
            // Resistance from the contact in, times the area, over the interface's.
            near(skin.whole_m2 / mean, contact);
        }
    }

    /// Contact all round the rim: edge and centre over the mean; exact: (m/2)·I₀(m·r/a)/I₁(m)
    /// (Tobias and Wijsman 1953, from memory; scipy.special.iv).
    #[test]
    fn a_bare_disk_held_at_its_rim_is_that_of_the_formula() {
        let table = [
            (1.0, 0.884_706_62, 1.120_096_86),
            (4.0, 0.628_679_01, 1.433_127_43),
            (10.0, 0.345_530_05, 1.925_162_90),
            (25.0, 0.102_729_98, 2.798_351_45),
        ];
        let cells = 2000;
        for (m2, centre, edge) in table {
            let rings = (0..cells).map(|index| {
                let radius = |halves: f64| 1.0 - (index as f64 + halves / 2.0) / cells as f64;
                let [outer, middle, inner] = [radius(0.0), radius(1.0), radius(2.0)];
                let squares = |from: f64, to: f64| (from / to).ln() / (2.0 * PI);
                Ring {
                    area_m2: PI * (outer * outer - inner * inner),
                    squares: [squares(outer, middle), squares(middle, inner.max(1e-9))],
                    copper_m: 0.0,
                    volts: 0.0,
                }
            });
            let skin = Skin::of(0.0, rings.collect(), &bare(m2));
            let mean = skin.active_m2() / skin.whole_m2;
            let near = |got: f64, exact: f64| {
                assert!((got / exact - 1.0).abs() < 2e-5, "m² {m2}: {got} {exact}");
            };
            near(1.0 / mean, edge);
            near(skin.rings[cells - 1].volts / mean, centre);
        }
    }

    /// A long strip in units of its own: paint, interface, copper and metal a coulomb are one, and
    /// copper conducts from nothing on.
    fn unit_strip(long: f64, cells: usize) -> Skin {
        let make = Make {
            sheet_ohm: 1.0,
            interface_ohm_m2: 1.0,
            coalescence_m: 0.0,
            torn_at: None,
        };
        let step = long / cells as f64;
        let mut skin = Skin::of(0.0, strip(cells, step, step), &make);
        skin.copper_s_per_m = 1.0;
        skin
    }

    /// Where the voltage has fallen to half of the contact's.
    fn half_way(skin: &Skin, step: f64) -> f64 {
        let below = skin.rings.iter().position(|ring| ring.volts < 0.5).unwrap();
        let [before, after] = [skin.rings[below - 1].volts, skin.rings[below].volts];
        step * (below as f64 - 0.5 + (before - 0.5) / (before - after))
    }

    /// Held voltage: half of it is at √(2τ)/2 once copper outweighs the paint. At τ = 1000 that is
    /// 22.3607; a finite-volume solution with the paint in it (scipy, banded solver, 20 000 cells)
    /// has 22.3301.
    #[test]
    fn a_front_at_a_held_voltage_goes_as_the_root_of_time() {
        let (cells, long) = (1500, 75.0);
        let mut skin = unit_strip(long, cells);
        let mut time = 0.0;
        while time < 1000.0 - 1e-9 {
            let step = (0.002_f64 * time)
                .clamp(0.01, 1000.0 - time.min(999.99))
                .min(0.5);
            // One volt at the contact.
            skin.deposit(skin.active_m2() * step, 1.0);
            time += step;
        }
        let half = half_way(&skin, long / cells as f64);
        assert!((half / 22.330_1 - 1.0).abs() < 1e-3, "{half}");
        assert!((half / 22.360_7 - 1.0).abs() < 3e-3, "{half}");
    }

    /// Held current: half of the voltage is at (6τ)^⅓/2. At τ = 1e5 that is 42.1716; the same
    /// finite-volume solution has 42.1123.
    #[test]
    fn a_front_at_a_held_current_goes_as_the_cube_root_of_time() {
        let (cells, long) = (1500, 150.0);
        let mut skin = unit_strip(long, cells);
        let mut time = 0.0;
        while time < 1e5 - 1e-6 {
            let step = (0.001_f64 * time).max(0.01).min(1e5 - time);
            skin.deposit(step, 1.0);
            time += step;
        }
        let half = half_way(&skin, long / cells as f64);
        assert!((half / 42.112_3 - 1.0).abs() < 1e-3, "{half}");
        assert!((half / 42.171_6 - 1.0).abs() < 3e-3, "{half}");
    }

    /// A straight front walks at λ·(growth at it)/(thickness at which copper joins): the profile
    /// ahead dies away by e in each λ, and what is ahead of it has gathered just that much.
    #[test]
    fn a_front_that_copper_must_join_walks_at_its_pace() {
        let (sheet_ohm, interface_ohm_m2, coalescence_m) = (100.0, 1e-3, 0.5e-6);
        let make = Make {
            sheet_ohm,
            interface_ohm_m2,
            coalescence_m,
            torn_at: None,
        };
        // 60 mm of strip, one metre wide; 3.675 267e-11 m³/C for copper, 30 A/m² at the contact.
        let step = 0.1e-3;
        let mut skin = Skin::of(0.0, strip(600, step, step), &make);
        let fringe_m = (interface_ohm_m2 / sheet_ohm).sqrt();
        let pace = fringe_m * 30.0 * 3.675_267e-11 / coalescence_m;
        let mut covered = Vec::new();
        for second in 0..4800 {
            skin.deposit(30.0 * skin.active_m2(), 3.675_267e-11);
            if second % 1200 == 1199 {
                covered.push(skin.covered_fraction() * 0.060);
            }
        }
        for walked in covered.windows(2) {
            let seen = (walked[1] - walked[0]) / 1200.0;
            assert!((seen / pace - 1.0).abs() < 0.02, "{seen} {pace}");
        }
    }

    /// A ball of 22 mm: 1520.53 mm²; 4 mm² are 0.263 066 % of it. The copper begins there, never
    /// goes back, and ends with all of it.
    #[test]
    fn a_ball_is_covered_from_its_patch_to_the_far_pole() {
        let make = Make {
            sheet_ohm: 100.0,
            interface_ohm_m2: 1e-3,
            coalescence_m: 0.2e-6,
            torn_at: None,
        };
        let mut skin = Skin::ball(1_520.530_844e-6, 4e-6, &make);
        assert!((skin.whole_m2 / 1_520.530_844e-6 - 1.0).abs() < 1e-12);
        assert!((skin.covered_fraction() - 0.002_630_66).abs() < 1e-8);
        let (mut seconds, mut before) = (0, 0.0);
        while !skin.is_whole() {
            skin.deposit(30.0 * skin.active_m2(), 3.675_267e-11);
            let covered = skin.covered_fraction();
            assert!(covered >= before && covered <= 1.0, "{before} {covered}");
            // Young copper still resists a little.
            let active = skin.active_fraction();
            assert!(active > 0.9 * covered, "{active} {covered}");
            before = covered;
            seconds += 1;
            assert!(seconds < 20_000, "{covered}");
        }
        assert!((before - 1.0).abs() < 1e-12);
    }

    /// Torn at 40 % of the surface: the copper stops there, and no more than that takes part.
    #[test]
    fn torn_paint_stops_the_copper() {
        let make = Make {
            sheet_ohm: 100.0,
            interface_ohm_m2: 1e-3,
            coalescence_m: 0.2e-6,
            torn_at: Some(0.4),
        };
        let mut skin = Skin::ball(1_520.530_844e-6, 4e-6, &make);
        for _ in 0..20_000 {
            skin.deposit(30.0 * skin.active_m2(), 3.675_267e-11);
        }
        assert!(!skin.is_whole());
        let (covered, active) = (skin.covered_fraction(), skin.active_fraction());
        assert!(covered > 0.33 && covered <= 0.40, "{covered}");
        assert!(active > 0.33 && active <= 0.40, "{active}");
    }
}
