//! Every figure a guard compares against, in one place.

/// A current may miss its setpoint by the stated limits of both meters, times this, and 1 % more.
pub const SETPOINT_MARGIN: f64 = 1.5;
/// The extra share of the setpoint.
pub const SETPOINT_SHARE: f64 = 0.01;
/// In constant voltage the current falls short when it is under this share of the setpoint.
pub const SHORTFALL: f64 = 0.9;
/// The cell's resistance has risen when it is over this multiple of its slow mean.
pub const RISE: f64 = 1.5;
/// The cell's resistance has collapsed when it is under this share of its slow mean.
pub const COLLAPSE: f64 = 0.4;
/// No cell with its leads has less resistance at the supply's terminals, ohm (`common practice,
/// no source`).
pub const LEAST_OHM: f64 = 0.010;
/// The slow mean follows a rise with this time constant, s.
pub const SLOW_MEAN_S: f64 = 300.0;
/// And a fall with this one: copper that is still spreading over paint lets the resistance fall by
/// half within a minute, and a short in an instant.
pub const FALL_S: f64 = 30.0;
/// A figure this many times what the meter can tell from nothing (its fixed error and a step) can
/// be judged as a ratio.
pub const JUDGED: f64 = 4.0;
/// And by this many times the share by which the setpoint moved.
pub const GOES_ALONG: f64 = 4.0;
/// The slow mean is not compared with before it has followed a state for this long, s.
pub const LEARNED_S: f64 = 30.0;
/// A current beyond this multiple of the supply's rating cannot be true.
pub const BEYOND_RATING: f64 = 1.1;
/// A voltage counts as at the ceiling from this share of it.
pub const AT_CEILING: f64 = 0.98;
/// Without a usable reading for this long, s, the output goes off, though replies come: five times
/// the way back from a confusion on the line.
pub const STALE_S: f64 = 10.0;
/// In a pause the output is read this often, s.
pub const PAUSE_LOOKS_S: f64 = 10.0;
/// In a pause a reading older than this, s, is worth a word: three looks have come to nothing.
pub const PAUSE_STALE_S: f64 = 3.5 * PAUSE_LOOKS_S;
/// An alarm falls silent when its cause has been gone for this long, s.
pub const SILENT_AFTER_S: f64 = 60.0;
/// The resistance climbs when a minute's mean is over this multiple of that ten minutes before.
pub const CLIMB: f64 = 1.10;
/// And the voltage with it by at least this, V.
pub const CLIMB_V: f64 = 0.020;
/// The anode has filmed over when a minute's mean is over this multiple of the lowest.
pub const FILM: f64 = 1.30;
/// And the voltage with it by at least this, V.
pub const FILM_V: f64 = 0.050;
/// The voltage jumps when it goes up and down between readings at one setpoint by this on the
/// mean, V.
pub const NOISE_V: f64 = 0.010;
/// Or by this share of the voltage, whichever is more.
pub const NOISE_SHARE: f64 = 0.01;
/// Or by this many steps of the meter, whichever is more.
pub const NOISE_STEPS: f64 = 3.0;
/// That mean follows with this time constant, s.
pub const NOISE_S: f64 = 60.0;
/// The covered share is judged once this share of the surface should be covered.
pub const COVER_JUDGED: f64 = 0.85;
/// And compared with the first step at which a share between these two should be.
pub const COVER_BASE: f64 = 0.25;
/// The upper one of the two.
pub const COVER_BASE_MOST: f64 = 0.60;
/// It has not grown as planned when less than this share of the surface can take part ...
pub const COVER_SEEN: f64 = 0.8;
/// (at the voltage ceiling, where no step can be told: when less than this share of the current
/// flows)
pub const COVER_LEAST: f64 = 0.6;
/// ... and its conductance has not risen by this share of the planned rise since.
pub const COVER_GROWTH: f64 = 0.4;
/// No bath that works well conducts less, S/m (`common practice, no source`; 17 to 25 is
/// usual).
pub const LEAST_S_PER_M: f64 = 15.0;
/// Slope of voltage over density of both interfaces at a gentle density, ohm m2, at most
/// (`common practice, no source`).
pub const INTERFACE_OHM_M2: f64 = 2.5e-3;
/// Leads, clips and contacts together resist no more than this, Ω (`common practice, no source`).
pub const LEAD_OHM: f64 = 0.1;
/// A meter that follows a step shows at least this share of it.
pub const FOLLOWS: f64 = 0.25;
/// No step is deeper than this share of the setpoint.
pub const DEEPEST_STEP: f64 = 0.35;
/// So many steps in a row that do not show are a meter that stands still.
pub const FROZEN_STEPS: u32 = 2;
/// The link is bad when more replies than this were asked for again ...
pub const REPEATS: u32 = 10;
/// ... within this, s.
pub const REPEATS_S: f64 = 300.0;
/// An order that came to nothing counts as so many repeats.
pub const FAILED_COUNTS: u32 = 3;
/// The computer slept when it did for longer than this, s.
pub const SLEPT_S: f64 = 2.0;
/// The time of day jumped when it moved by more than this, s.
pub const JUMPED_S: f64 = 10.0;
/// The ledger is slow when a commit waits longer than this, s.
pub const LEDGER_S: f64 = 5.0;
/// The disk is nearly full with less than this left, bytes.
pub const DISK_BYTES: u64 = 100_000_000;
/// A sensor is silent when it gave no number for longer than this, s; its last number counts as
/// long.
pub const SENSOR_S: f64 = 300.0;
