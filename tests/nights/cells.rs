//! Kinds of mishap against the states they can begin in: each pair is met in a large campaign, or
//! has its reason here.

/// States a mishap can begin in, in the order of a night.
pub(crate) const STATES: [&str; 13] = [
    "idle",
    "proving",
    "striking",
    "ramping",
    "building",
    "holding",
    "paused",
    "stopping",
    "finished",
    "stopped",
    "tripped",
    "interrupted",
    "unconfirmed",
];

/// So many faulted nights meet every pair that can be met; in fewer of them chance decides.
pub(crate) const ENOUGH: u64 = 10_000;

/// Why a mishap need not begin in a state, if it need not.
pub(crate) fn reason(state: &str) -> Option<&'static str> {
    match state {
        "idle" => Some("the run begins its proving in the instant in which it leaves idle"),
        "finished" | "stopped" | "tripped" | "interrupted" => Some(
            "the run is over and off is proved: nothing is decided any more, and the night ends \
             with the commit of its end; what a daemon at rest does is tried on the real programs",
        ),
        _ => None,
    }
}
