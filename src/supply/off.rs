//! Off, and the proof of it. Off is a state that was read, never a command that was sent.

use super::link::{Link, Step};
use super::wire::{Line, WireFault};
use crate::exchange::{Answer, Ask, LinkFault, Order, Reading};
use crate::units::{Moment, Span};
use serde::{Deserialize, Serialize};

/// How often the off step is sent and the proof tried before this function returns; whoever must
/// not give up calls it again.
const ROUNDS: u8 = 3;

/// What came of turning off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OffReport {
    /// The supply says that its output is off, and no current flows, so often in a row as the
    /// profile wants.
    pub confirmed: bool,
    /// The last reading, whether it confirms or not.
    pub reading: Option<Reading>,
    /// When the first off step was begun.
    pub begun: Moment,
    /// From there to the proof, or to giving up.
    pub took: Span,
    /// How often the off step was sent.
    pub rounds: u8,
    /// What stood in the way last.
    pub fault: Option<LinkFault>,
}

impl OffReport {
    /// What it says in one line.
    #[must_use]
    pub fn text(&self) -> String {
        if self.confirmed {
            return "output off, confirmed by reading".to_owned();
        }
        let why = match (&self.fault, &self.reading) {
            (Some(fault), _) => fault.to_string(),
            (None, Some(reading)) => reading.of_output(),
            (None, None) => "nothing was read".to_owned(),
        };
        format!("OUTPUT NOT CONFIRMED OFF: {why}")
    }
}

/// Turns the output off and proves it. The off step goes out first, whatever the doubt, and again
/// whenever the way back to a sound link begins with a silence; the proof is read only from a
/// sound link. Bounded: three rounds, of which one on a dead line takes the identity question's
/// tries, each with its silence.
pub fn turn_off(link: &mut Link, line: &mut dyn Line) -> OffReport {
    let begun = line.now();
    let mut report = OffReport {
        confirmed: false,
        reading: None,
        begun,
        took: Span::ZERO,
        rounds: 0,
        fault: None,
    };
    link.abandon();
    while report.rounds < ROUNDS && !report.confirmed {
        report.rounds += 1;
        // It answers and is on all the same: its front panel may have the say.
        let insists = report.reading.is_some() && report.fault.is_none();
        let lost = send_off(link, line, insists);
        line.rest(link.profile().off.settle);
        if let Some(text) = lost {
            // Off is the first thing on a port that comes back.
            report.fault = Some(LinkFault::PortLost(text));
            continue;
        }
        match prove(link, line, true) {
            Ok((confirmed, reading)) => {
                report.confirmed = confirmed;
                report.reading = Some(reading);
                report.fault = None;
            }
            Err(fault) => report.fault = Some(fault),
        }
    }
    report.took = line.now().since(begun);
    report
}

/// Sends the off step, whatever comes of it: only a reading proves it. The error queue is not
/// asked; that would cost time and prove nothing. It gives what is told of a port that is gone.
pub(super) fn send_off(link: &mut Link, line: &mut dyn Line, insists: bool) -> Option<String> {
    let mut lost = None;
    for exchange in link.off_step(insists) {
        match line.exchange(&exchange).reply {
            Ok(_) => {}
            Err(fault) => {
                link.mistrust();
                if let WireFault::PortLost(text) = fault {
                    lost = Some(text);
                }
            }
        }
    }
    lost
}

/// Reads whether the output is off, without sending any command: true if the supply says so and no
/// current flows, so often in a row as the profile wants. The last reading comes with it.
///
/// # Errors
/// Why nothing could be read.
pub fn prove_off(link: &mut Link, line: &mut dyn Line) -> Result<(bool, Reading), LinkFault> {
    prove(link, line, false)
}

fn prove(link: &mut Link, line: &mut dyn Line, insist: bool) -> Result<(bool, Reading), LinkFault> {
    let rule = link.profile().off;
    let mut last = read(link, line, insist)?;
    let mut agreed = 1;
    while is_off(&last, link) && agreed < rule.repeats {
        last = read(link, line, insist)?;
        agreed += 1;
    }
    Ok((is_off(&last, link), last))
}

/// Reads state and current, and whose they are; where it insists, the off step goes out again
/// before every silence.
fn read(link: &mut Link, line: &mut dyn Line, insist: bool) -> Result<Reading, LinkFault> {
    let ask = (Ask::CURRENT | Ask::OUTPUT | Ask::CHANNEL).and(link.profile().reads());
    let mut step = link.begin(Order::Read(ask));
    loop {
        step = match step {
            Step::Wire(exchange) => link.heard(line.exchange(&exchange)),
            Step::Rest(span) => {
                if insist && let Some(text) = send_off(link, line, false) {
                    link.abandon();
                    return Err(LinkFault::PortLost(text));
                }
                line.rest(span);
                link.rested()
            }
            Step::Answer(Ok(Answer::Reading(reading))) => return Ok(reading),
            Step::Answer(Ok(Answer::Done { .. } | Answer::Identity(_))) => {
                return Err(LinkFault::Garbled("an answer to another order".to_owned()));
            }
            Step::Answer(Err(fault)) => return Err(fault),
        }
    }
}

fn is_off(reading: &Reading, link: &Link) -> bool {
    let below = link.profile().off.below;
    let quiet = reading
        .current
        .is_some_and(|current| current.abs() <= below);
    // Another output's silence says nothing of ours.
    reading.output == Some(false) && quiet && reading.channel != Some(false)
}
