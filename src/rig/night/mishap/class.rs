//! The kinds of mishap.

/// The kinds of mishap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)] // each has its sentence in `Class::word`
pub enum Class {
    LeadOff,
    LeadFlickers,
    Shorted,
    RackContact,
    PieceContact,
    AnodeFilm,
    PieceFalls,
    CurrentKnob,
    VoltageKnob,
    OutputButton,
    PowerCycle,
    PowerLost,
    GuardTurned,
    MeterFrozen,
    MeterDrifts,
    CurrentDrifts,
    ErrorEntry,
    IgnoresOff,
    RelayWelded,
    RepliesLost,
    CommandsLost,
    RepliesGarbled,
    CommandsGarbled,
    RepliesLate,
    Echo,
    Silence,
    Unplugged,
    EntriesRefused,
    CommitsRefused,
    LedgerSlow,
    HostStalls,
    HostSleeps,
    KeeperDies,
    DaemonDies,
    Stop,
    Pause,
    IdleWords,
    CutOffStuck,
    CutOffPortLost,
    Rehung,
}

impl Class {
    /// All of them.
    pub const ALL: [Self; 40] = [
        Self::LeadOff,
        Self::LeadFlickers,
        Self::Shorted,
        Self::RackContact,
        Self::PieceContact,
        Self::AnodeFilm,
        Self::PieceFalls,
        Self::CurrentKnob,
        Self::VoltageKnob,
        Self::OutputButton,
        Self::PowerCycle,
        Self::PowerLost,
        Self::GuardTurned,
        Self::MeterFrozen,
        Self::MeterDrifts,
        Self::CurrentDrifts,
        Self::ErrorEntry,
        Self::IgnoresOff,
        Self::RelayWelded,
        Self::RepliesLost,
        Self::CommandsLost,
        Self::RepliesGarbled,
        Self::CommandsGarbled,
        Self::RepliesLate,
        Self::Echo,
        Self::Silence,
        Self::Unplugged,
        Self::EntriesRefused,
        Self::CommitsRefused,
        Self::LedgerSlow,
        Self::HostStalls,
        Self::HostSleeps,
        Self::KeeperDies,
        Self::DaemonDies,
        Self::Stop,
        Self::Pause,
        Self::IdleWords,
        Self::CutOffStuck,
        Self::CutOffPortLost,
        Self::Rehung,
    ];

    /// So many of them are drawn in any studio. Two more need a relay in the output lead, which is
    /// not the supply's own output relay; the last has a draw of its own.
    pub(super) const ANYWHERE: usize = 37;

    /// It spoils a share of what passes, or only takes time: even a proving gets over it.
    #[must_use]
    pub const fn is_a_share(self) -> bool {
        matches!(
            self,
            Self::RepliesLost
                | Self::CommandsLost
                | Self::RepliesGarbled
                | Self::RepliesLate
                | Self::LedgerSlow
                | Self::MeterDrifts
        )
    }

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::LeadOff => "lead-off",
            Self::LeadFlickers => "lead-flickers",
            Self::Shorted => "shorted",
            Self::RackContact => "rack-contact",
            Self::PieceContact => "piece-contact",
            Self::AnodeFilm => "anode-film",
            Self::PieceFalls => "piece-falls",
            Self::CurrentKnob => "current-knob",
            Self::VoltageKnob => "voltage-knob",
            Self::OutputButton => "output-button",
            Self::PowerCycle => "power-cycle",
            Self::PowerLost => "power-lost",
            Self::GuardTurned => "protection-turned",
            Self::MeterFrozen => "meter-frozen",
            Self::MeterDrifts => "meter-drifts",
            Self::CurrentDrifts => "current-drifts",
            Self::ErrorEntry => "error-entry",
            Self::IgnoresOff => "ignores-off",
            Self::RelayWelded => "relay-welded",
            Self::RepliesLost => "replies-lost",
            Self::CommandsLost => "commands-lost",
            Self::RepliesGarbled => "replies-garbled",
            Self::CommandsGarbled => "commands-garbled",
            Self::RepliesLate => "replies-late",
            Self::Echo => "echo",
            Self::Silence => "silence",
            Self::Unplugged => "unplugged",
            Self::EntriesRefused => "entries-refused",
            Self::CommitsRefused => "commits-refused",
            Self::LedgerSlow => "ledger-slow",
            Self::HostStalls => "host-stalls",
            Self::HostSleeps => "host-sleeps",
            Self::KeeperDies => "keeper-dies",
            Self::DaemonDies => "daemon-dies",
            Self::Stop => "stop",
            Self::Pause => "pause",
            Self::IdleWords => "idle-words",
            Self::CutOffStuck => "cut-off-relay-stuck",
            Self::CutOffPortLost => "cut-off-relay-port-lost",
            Self::Rehung => "rehung",
        }
    }
}
