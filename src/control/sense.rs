//! What control is told of the world beside the supply: the computer and the bath's sensors.

use crate::spec::Measures;
use crate::units::Span;

/// One thing that somebody who has a clock, a disk and sensors noticed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sense {
    /// The computer slept, or this program got no turn, for this long.
    Slept(Span),
    /// The time of day moved by this against the clock that only goes forward; negative is back.
    ClockJumped(Span),
    /// So many bytes are left on the ledger's disk.
    DiskFree(u64),
    /// The oldest commit that is not answered has waited this long; zero when none waits.
    LedgerWaits(Span),
    /// A sensor gives this number: degrees Celsius, millimetres above the highest piece, or
    /// whatever counts the stirring. `None` when it gave none.
    Sensor(Measures, Option<f64>),
}
