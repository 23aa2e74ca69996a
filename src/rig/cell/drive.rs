//! What is done to the cell: by the supply's power stage, and by mishap.

/// What the supply's power stage does to the cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Connected and on.
    pub on: bool,
    /// Current it holds, A.
    pub amps: f64,
    /// Voltage at its terminals it never exceeds, V.
    pub volts: f64,
    /// Its current changes no faster than this, A/s.
    pub slew_a_per_s: f64,
    /// Voltage above which it trips; infinite where that protection is not armed, V.
    pub trip_volts: f64,
    /// Current above which it trips; infinite where that protection is not armed, A.
    pub trip_amps: f64,
}

impl Drive {
    /// Not connected.
    pub const OFF: Self = Self {
        on: false,
        amps: 0.0,
        volts: 0.0,
        slew_a_per_s: f64::INFINITY,
        trip_volts: f64::INFINITY,
        trip_amps: f64::INFINITY,
    };
}

/// Which protection of the power stage has acted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trip {
    /// Over-voltage.
    Voltage,
    /// Over-current.
    Current,
}

/// A physical fault, or its repair.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CellFault {
    /// A lead has fallen off: nothing flows.
    LeadOpen,
    /// The lead is back.
    LeadBack,
    /// Something touches both electrodes: a path of this many ohms next to the bath.
    Short(f64),
    /// It is gone.
    ShortGone,
    /// The contact of the electrode with this index, or of the whole rack, has this many ohms more
    /// than at the start.
    Contact {
        /// Which; none is the rack's clip.
        electrode: Option<usize>,
        /// How many.
        ohm: f64,
    },
    /// A film on the anode.
    AnodeFilm {
        /// Share of the area it leaves free, above 0.
        free: f64,
        /// Resistance of what is left, times area, Ω·m².
        ohm_m2: f64,
    },
    /// The electrode with this index has fallen off the rack, or a person has lifted it.
    Fallen(usize),
    /// A person has hung the electrode with this index.
    Hung(usize),
    /// The rack's clip works loose: its resistance grows, and jumps from second to second.
    Loosens {
        /// So many ohms more a second.
        ohm_per_s: f64,
        /// It jumps by this on the mean, ohm.
        jumps_ohm: f64,
    },
    /// A film grows on the anode: Ω·m² more a second.
    Films(f64),
    /// Liquid is lost: the level falls by so many metres a second. A leak, or a warm dry room.
    Falls(f64),
    /// The stirrer stops: the layer at the cathode is that of a still bath.
    StirrerStops,
    /// The bath comes to this temperature, K: a heater that fails, or sticks.
    Bath(f64),
}
