//! The cell as a circuit: branches from a common cathode bar to the bath, the anode, the leads, and
//! perhaps a short.
//!
//! All branch currents and the bar's potential are found together by Newton's method. Its matrix is
//! an arrow: each branch meets the others only through the bar, so that one pass over the branches
//! is one step.

use crate::rig::kinetics::{Anode, Cathode};

/// Largest voltage a branch may be off at a solution, V.
const CLOSE_V: f64 = 1e-11;
/// Passes before the slow, certain way is taken.
const PASSES: usize = 40;

/// One electrode's way from the bath to the bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Branch {
    /// Area that takes current, m²; none for one that has fallen off.
    pub(super) area_m2: f64,
    /// Electrolyte and contact, Ω.
    pub(super) ohm: f64,
    /// What flows in it, A.
    pub(super) amps: f64,
    /// Where its interface was last.
    root: f64,
    /// Siemens and voltage of the pass in hand.
    siemens: f64,
    off_v: f64,
}

impl Default for Branch {
    fn default() -> Self {
        Self {
            area_m2: 0.0,
            ohm: 0.0,
            amps: 0.0,
            root: 1.0,
            siemens: 0.0,
            off_v: 0.0,
        }
    }
}

/// What is held at the supply's terminals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Source {
    /// This current, A.
    Amps(f64),
    /// This voltage, V.
    Volts(f64),
}

/// Where a circuit settles.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Solution {
    /// Current through the terminals, A.
    pub(super) amps: f64,
    /// Voltage at the terminals, V.
    pub(super) volts: f64,
    /// Slope of the voltage over the current, Ω.
    pub(super) ohm: f64,
    /// Share of the current that goes through the short.
    pub(super) short_share: f64,
}

/// The circuit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Network {
    pub(super) cathode: Cathode,
    pub(super) anode: Anode,
    /// Anode area that takes part, m².
    pub(super) anode_m2: f64,
    /// Film on the anode, Ω.
    pub(super) film_ohm: f64,
    /// Leads and the rack's clip, Ω.
    pub(super) lead_ohm: f64,
    /// A path next to the bath, behind the leads, Ω.
    pub(super) short_ohm: Option<f64>,
    pub(super) branches: Vec<Branch>,
    /// Where the anode's interface was last.
    pub(super) anode_root: f64,
}

impl Network {
    /// Solves for a source; every branch keeps its current.
    pub(super) fn solve(&mut self, source: Source) -> Solution {
        match self.short_ohm {
            None => self.bath(source, self.lead_ohm),
            Some(short) => self.with_short(source, short),
        }
    }

    /// The bath alone, in series with some ohms.
    fn bath(&mut self, source: Source, series_ohm: f64) -> Solution {
        let asked = match source {
            Source::Amps(value) | Source::Volts(value) => value,
        };
        let active_m2: f64 = self.branches.iter().map(|branch| branch.area_m2).sum();
        if asked <= 0.0 || active_m2 <= 0.0 {
            return self.dead(source, active_m2);
        }
        self.start(source, active_m2);
        let mut bar_v = None;
        for _ in 0..PASSES {
            if let Some(solution) = self.pass(source, series_ohm, &mut bar_v) {
                return solution;
            }
        }
        self.by_halving(source, series_ohm)
    }

    /// Nothing flows: the supply holds no current, or there is nothing to flow through.
    fn dead(&mut self, source: Source, active_m2: f64) -> Solution {
        self.branches
            .iter_mut()
            .for_each(|branch| branch.amps = 0.0);
        let volts = match source {
            Source::Volts(volts) => volts.max(0.0),
            Source::Amps(amps) if amps > 0.0 && active_m2 <= 0.0 => f64::INFINITY,
            Source::Amps(_) => 0.0,
        };
        Solution {
            volts,
            ..Solution::default()
        }
    }

    /// A first guess: the last currents scaled, or in proportion to the areas from cold.
    fn start(&mut self, source: Source, active_m2: f64) {
        let before: f64 = self.branches.iter().map(|branch| branch.amps).sum();
        let wanted = match source {
            Source::Amps(amps) => amps,
            // From cold, one ampere per square decimetre is near enough.
            Source::Volts(_) if before > 0.0 => before,
            Source::Volts(_) => 100.0 * active_m2,
        };
        for branch in &mut self.branches {
            let even = wanted * branch.area_m2 / active_m2;
            let scaled = if before > 0.0 {
                branch.amps * wanted / before
            } else {
                0.0
            };
            branch.amps = if branch.area_m2 <= 0.0 {
                0.0
            } else if scaled > 0.01 * even && scaled < 100.0 * even {
                scaled
            } else {
                even
            };
        }
    }

    /// One step of Newton's method for all branches together; the solution once nothing is off any
    /// more.
    fn pass(
        &mut self,
        source: Source,
        series_ohm: f64,
        bar_v: &mut Option<f64>,
    ) -> Option<Solution> {
        let (mut amps, mut siemens, mut weighted) = (0.0, 0.0, 0.0);
        for branch in self
            .branches
            .iter_mut()
            .filter(|branch| branch.area_m2 > 0.0)
        {
            let density = branch.amps / branch.area_m2;
            let (drop, slope) = self.cathode.drop_v(density, &mut branch.root);
            branch.siemens = 1.0 / (slope / branch.area_m2 + branch.ohm);
            branch.off_v = drop + branch.amps * branch.ohm;
            amps += branch.amps;
            siemens += branch.siemens;
            weighted += branch.off_v * branch.siemens;
        }
        let (series_v, series_slope) = self.series(amps, series_ohm);
        // New bar potential: branches answer with (bar − off)·siemens each.
        let new_bar = match source {
            Source::Amps(wanted) => (wanted - amps + weighted) / siemens,
            Source::Volts(volts) => {
                (volts - series_v + series_slope * weighted) / (1.0 + series_slope * siemens)
            }
        };
        let mut worst: f64 = bar_v.map_or(f64::INFINITY, |bar| (bar - new_bar).abs());
        for branch in self
            .branches
            .iter_mut()
            .filter(|branch| branch.area_m2 > 0.0)
        {
            let off = new_bar - branch.off_v;
            worst = worst.max(off.abs());
            let wanted = branch.amps + off * branch.siemens;
            branch.amps = wanted.max(branch.amps * 0.1);
        }
        *bar_v = Some(new_bar);
        (worst < CLOSE_V).then(|| self.finish(source, series_ohm, new_bar, siemens))
    }

    /// What the anode, its film and the leads take, V, and the slope, Ω.
    fn series(&mut self, amps: f64, series_ohm: f64) -> (f64, f64) {
        let (rise, slope) = self
            .anode
            .rise_v(amps / self.anode_m2, &mut self.anode_root);
        let ohm = series_ohm + self.film_ohm;
        (rise + amps * ohm, slope / self.anode_m2 + ohm)
    }

    /// Closes a solution: currents that sum to the total to the last digit.
    fn finish(&mut self, source: Source, series_ohm: f64, bar_v: f64, siemens: f64) -> Solution {
        let found: f64 = self.branches.iter().map(|branch| branch.amps).sum();
        let amps = match source {
            Source::Amps(amps) => amps,
            Source::Volts(_) => found,
        };
        for branch in &mut self.branches {
            branch.amps *= amps / found;
        }
        let (series_v, series_slope) = self.series(amps, series_ohm);
        Solution {
            amps,
            volts: match source {
                Source::Amps(_) => bar_v + series_v,
                Source::Volts(volts) => volts,
            },
            ohm: 1.0 / siemens + series_slope,
            short_share: 0.0,
        }
    }

    /// The certain way: halve the bar's potential, and every branch's current under it.
    fn by_halving(&mut self, source: Source, series_ohm: f64) -> Solution {
        let (mut low, mut high) = (0.0, 1000.0);
        for _ in 0..110 {
            let bar = f64::midpoint(low, high);
            let amps = self.under(bar);
            let excess = match source {
                Source::Amps(wanted) => amps - wanted,
                Source::Volts(volts) => bar + self.series(amps, series_ohm).0 - volts,
            };
            if excess > 0.0 { high = bar } else { low = bar }
        }
        let bar = f64::midpoint(low, high);
        self.under(bar);
        let siemens = self.branches.iter().map(|branch| branch.siemens).sum();
        self.finish(source, series_ohm, bar, siemens)
    }

    /// Total current with the bar at this potential, each branch by halving.
    fn under(&mut self, bar_v: f64) -> f64 {
        let mut total = 0.0;
        for branch in self
            .branches
            .iter_mut()
            .filter(|branch| branch.area_m2 > 0.0)
        {
            let (mut low, mut high) = (0.0, bar_v / branch.ohm);
            for _ in 0..110 {
                let amps = f64::midpoint(low, high);
                let (drop, slope) = self.cathode.drop_v(amps / branch.area_m2, &mut branch.root);
                branch.siemens = 1.0 / (slope / branch.area_m2 + branch.ohm);
                if drop + amps * branch.ohm > bar_v {
                    high = amps
                } else {
                    low = amps
                }
            }
            branch.amps = f64::midpoint(low, high);
            total += branch.amps;
        }
        total
    }

    /// A short next to the bath: the voltage across both is found by halving.
    fn with_short(&mut self, source: Source, short: f64) -> Solution {
        let lead = self.lead_ohm;
        let (mut low, mut high) = match source {
            Source::Amps(amps) => (0.0, amps.max(0.0) * short),
            Source::Volts(volts) => (0.0, volts.max(0.0)),
        };
        for _ in 0..100 {
            let across = f64::midpoint(low, high);
            let amps = self.bath(Source::Volts(across), 0.0).amps + across / short;
            let excess = match source {
                Source::Amps(wanted) => amps - wanted,
                Source::Volts(volts) => across + amps * lead - volts,
            };
            if excess > 0.0 {
                high = across
            } else {
                low = across
            }
        }
        let across = f64::midpoint(low, high);
        let bath = self.bath(Source::Volts(across), 0.0);
        let found = bath.amps + across / short;
        let amps = if let Source::Amps(amps) = source {
            amps
        } else {
            found
        };
        let siemens = 1.0 / short + if bath.ohm > 0.0 { 1.0 / bath.ohm } else { 0.0 };
        Solution {
            amps,
            volts: across + amps * lead,
            ohm: 1.0 / siemens + lead,
            short_share: if found > 0.0 {
                across / short / found
            } else {
                0.0
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::kinetics::half_thermal_v;
    use rand::{RngExt, SeedableRng};

    /// A rack of plate electrodes with 9 cm of gap and 20 S/m.
    fn rack(areas_cm2: &[f64]) -> Network {
        let half_thermal = half_thermal_v(298.15);
        let branches = areas_cm2
            .iter()
            .map(|cm2| Branch {
                area_m2: cm2 * 1e-4,
                ohm: 0.09 / (20.0 * cm2 * 1e-4),
                ..Branch::default()
            })
            .collect();
        Network {
            cathode: Cathode {
                i0: 20.0,
                limiting: 1500.0,
                half_thermal,
            },
            anode: Anode {
                i0: 20.0,
                half_thermal,
            },
            anode_m2: 0.018,
            film_ohm: 0.0,
            lead_ohm: 0.04,
            short_ohm: None,
            branches,
            anode_root: 1.0,
        }
    }

    #[test]
    fn one_plate_has_the_voltage_of_its_parts() {
        // 100 cm² at 2 A/dm²: η 118.324 mV at the cathode with i0 20 (scipy 1.17.1, `brentq`);
        // concentration −(RT/2F)·ln(1 − 200/1500) = 1.8382 mV; 2 A through 0.45 Ω and 0.04 Ω; anode
        // of the same size 40.205 mV.
        let mut network = rack(&[100.0]);
        network.anode_m2 = 0.01;
        let solution = network.solve(Source::Amps(2.0));
        let parts = 0.118_324 + 0.001_838_2 + 2.0 * 0.45 + 2.0 * 0.04 + 0.040_205;
        assert!((solution.volts - parts).abs() < 2e-6, "{}", solution.volts);
        let back = rack(&[100.0]);
        let mut back = Network {
            anode_m2: 0.01,
            ..back
        };
        assert!((back.solve(Source::Volts(solution.volts)).amps - 2.0).abs() < 1e-9);
    }

    #[test]
    fn the_fast_way_agrees_with_halving_wherever_it_starts() {
        let mut rng = rand_xoshiro::Xoshiro256PlusPlus::seed_from_u64(7);
        for round in 0..100 {
            let areas: Vec<f64> = (0..8)
                .map(|_| 10f64.powf(rng.random_range(-2.0..2.0)))
                .collect();
            let mut fast = rack(&areas);
            for branch in &mut fast.branches {
                branch.ohm *= rng.random_range(0.3..3.0);
            }
            let mut slow = fast.clone();
            let amps = 10f64.powf(rng.random_range(-4.0..0.7));
            fast.solve(Source::Amps(10f64.powf(rng.random_range(-4.0..0.7))));
            let source = if round % 2 == 0 {
                Source::Amps(amps)
            } else {
                Source::Volts(amps)
            };
            let (a, b) = (fast.solve(source), slow.by_halving(source, 0.04));
            assert!(
                (a.volts / b.volts - 1.0).abs() < 1e-9,
                "{round}: {a:?} {b:?}"
            );
            assert!((a.amps / b.amps - 1.0).abs() < 1e-9, "{round}: {a:?} {b:?}");
            for (f, s) in fast.branches.iter().zip(&slow.branches) {
                assert!((f.amps / s.amps - 1.0).abs() < 1e-7, "{round}: {f:?} {s:?}");
            }
        }
    }

    #[test]
    fn no_more_than_a_few_per_cent_above_the_limit_at_a_high_ceiling() {
        let mut network = rack(&[100.0]);
        network.branches[0].ohm = 0.05;
        let amps = network.solve(Source::Volts(5.0)).amps;
        assert!(amps > 14.0 && amps < 15.0 * 1.05, "{amps}");
    }

    #[test]
    fn a_short_takes_nearly_all_and_the_voltage_collapses() {
        let mut network = rack(&[20.0]);
        network.short_ohm = Some(5e-3);
        let solution = network.solve(Source::Amps(0.013));
        assert!(solution.short_share > 0.99, "{solution:?}");
        // 13 mA through 5 mΩ and 40 mΩ of leads: 0.585 mV.
        assert!((solution.volts * 1e3 - 0.585).abs() < 0.01, "{solution:?}");
        let held = network.solve(Source::Volts(1.0));
        // 1 V over 45 mΩ: 22.2 A, a little more through the bath.
        assert!((held.amps - 22.22).abs() < 0.05, "{held:?}");
    }

    #[test]
    fn nothing_in_the_bath_carries_nothing() {
        let mut network = rack(&[]);
        assert_eq!(network.solve(Source::Volts(2.5)).amps, 0.0);
        assert_eq!(network.solve(Source::Amps(0.1)).volts, f64::INFINITY);
    }
}
