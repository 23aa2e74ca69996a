//! The studio that is built into the program: it needs no file.

/// The job and the station of a rehearsal that names none.
pub const DEMO_JOB: &str = "seed-heads";
/// The station of a rehearsal that names none.
pub const DEMO_STATION: &str = "demo";

/// Jobs by name.
pub(super) const JOBS: &[(&str, &str)] = &[
    (
        "seed-heads",
        include_str!("../../profiles/jobs/seed-heads.toml"),
    ),
    (
        "one-stem",
        include_str!("../../profiles/jobs/one-stem.toml"),
    ),
];

/// Stations by name.
pub(super) const STATIONS: &[(&str, &str)] =
    &[("demo", include_str!("../../profiles/stations/demo.toml"))];

/// Bath profiles by name.
pub(super) const BATHS: &[(&str, &str)] = &[
    (
        "acid-copper-bright",
        include_str!("../../profiles/baths/acid-copper-bright.toml"),
    ),
    (
        "acid-copper-plain",
        include_str!("../../profiles/baths/acid-copper-plain.toml"),
    ),
    (
        "acid-copper-high-throw",
        include_str!("../../profiles/baths/acid-copper-high-throw.toml"),
    ),
    (
        "nickel-sulfamate",
        include_str!("../../profiles/baths/nickel-sulfamate.toml"),
    ),
];

/// What may be behind how a deposit looks.
pub(super) const CAUSES: &str = include_str!("../../profiles/looks.toml");

/// Supply profiles by name.
pub(super) const SUPPLIES: &[(&str, &str)] = &[
    (
        "scpi-standard",
        include_str!("../../profiles/supplies/scpi-standard.toml"),
    ),
    (
        "scpi-standard-two-channel",
        include_str!("../../profiles/supplies/scpi-standard-two-channel.toml"),
    ),
    (
        "terse-fixed",
        include_str!("../../profiles/supplies/terse-fixed.toml"),
    ),
];

/// Mesh files by name.
pub(super) const MESHES: &[(&str, &[u8])] =
    &[("pod.stl", include_bytes!("../../profiles/jobs/pod.stl"))];
