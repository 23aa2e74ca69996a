//! A sign of life outward, so that silence is noticed; and what is done again and again while a
//! run is on, a photo say. Both look at the board, and never reach the loop.

use super::ending::Ending;
use super::{Report, Told, program, way};
use crate::control::State;
use crate::daemon::board::{Board, Posted};
use crate::daemon::standing::Standing;
use crate::daemon::told;
use crate::ledger::RunId;
use crate::spec::notices::{Heartbeat, Hourly};
use crate::units::{Moment, Span};
use std::sync::Arc;
use std::time::Duration;

/// A loop that has posted nothing for so long hangs, and no sign of life is given for it.
const LOOP_HANGS: Duration = Duration::from_secs(10);
/// Whether something is due is looked at this often.
const LOOK: Duration = Duration::from_millis(200);

/// What both need.
#[derive(Clone)]
pub(super) struct Window {
    pub(super) board: Board,
    pub(super) standing: Arc<Standing>,
    pub(super) ending: Ending,
    pub(super) report: Report,
}

impl Window {
    fn status(&self, posted: &Posted) -> String {
        told::status(posted, &self.standing).to_string()
    }
}

/// Gives signs of life until the daemon ends.
pub(super) fn beat(heartbeat: &Heartbeat, window: &Window) {
    let label = format!("heartbeat {}", way::label_outward(&heartbeat.to));
    let mut well = true;
    loop {
        let posted = window.board.look();
        if posted.at.elapsed() < LOOP_HANGS {
            let within = way::real(heartbeat.within);
            let json = window.status(&posted);
            let done = way::beat(&heartbeat.to, &json, within, &window.ending);
            // Said when it changes, however often it fails.
            match (&done, well) {
                (Err(why), true) => (window.report)(Told {
                    about: on(&posted),
                    code: super::NOT_TOLD,
                    text: format!("no sign of life by {label}: {why}"),
                }),
                (Ok(()), false) => (window.report)(Told {
                    about: on(&posted),
                    code: super::TOLD,
                    text: format!("signs of life again by {label}"),
                }),
                (Ok(()), true) | (Err(_), false) => {}
            }
            well = done.is_ok();
        } else {
            tracing::error!("the loop hangs: no sign of life is given");
        }
        if window.ending.wait(way::real(heartbeat.every)) {
            return;
        }
    }
}

/// Runs what is due while a run is on, until the daemon ends. The first is due when the current of
/// the job flows.
pub(super) fn hourly(hourly: &Hourly, window: &Window) {
    let mut due: Option<(RunId, Moment)> = None;
    while !window.ending.wait(LOOK) {
        let posted = window.board.look();
        let Some((run, at)) = on(&posted) else {
            continue;
        };
        let now = window.standing.clock.now();
        let first = due.is_none_or(|(of, _)| of != run);
        if first && !posted.snapshot.state.is_live() {
            continue;
        }
        if !first && due.is_some_and(|(_, due)| due > now) {
            continue;
        }
        due = Some((run, now + hourly.every));
        let within = way::real(hourly.within);
        let json = window.status(&posted);
        let done = program::run(&hourly.run, json.as_bytes(), within, &window.ending);
        let name = way::of_command(&hourly.run);
        let (code, text) = match done {
            Ok(printed) if printed.is_empty() => (super::KEPT, format!("{name} printed nothing")),
            Ok(printed) => (super::KEPT, format!("{name}: {printed}")),
            Err(why) => (super::NOT_KEPT, format!("{name}: {why}")),
        };
        (window.report)(Told {
            about: Some((run, at)),
            code,
            text,
        });
    }
}

/// The run that is on, and how long it has gone on.
fn on(posted: &Posted) -> Option<(RunId, Span)> {
    let snapshot = &posted.snapshot;
    let state = snapshot.state;
    let is_on = matches!(state, State::Proving | State::Paused) || state.is_live();
    snapshot
        .run
        .filter(|_| is_on)
        .map(|run| (run, snapshot.elapsed))
}
