//! An order under way on the link.

use super::Step;
use crate::exchange::{Answer, Ask, DeviceError, Identity, LinkFault, Order, Reading};
use crate::supply::codec::Garbled;
use crate::units::Moment;

/// How often an order is taken up again after a confusion.
const ROUNDS: u8 = 4;

/// Where an order stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// At its moves, one after the other.
    Moving,
    /// Silent, so that whatever is late comes now.
    Silence,
    /// Asking who is there.
    Hello,
    /// The supply refused; the rest of its error queue is read away.
    Draining(DeviceError),
}

/// An order under way.
#[derive(Clone, Debug)]
pub(super) struct Work {
    pub(super) order: Order,
    pub(super) at: usize,
    pub(super) stage: Stage,
    pub(super) rounds: u8,
    pub(super) hellos: u8,
    pub(super) entries: u8,
    pub(super) repeated: u8,
    pub(super) stranger: Option<String>,
    /// When the first message of the order itself left.
    pub(super) since: Option<Moment>,
    pub(super) identity: Option<String>,
    pub(super) reading: Reading,
    /// Off was refused once: the supply was taken over from its front panel.
    pub(super) insists: bool,
    /// The port was gone at one of the messages of an off.
    pub(super) lost: Option<String>,
}

impl Work {
    /// An order of which nothing is sent yet, and how often the supply may be asked who it is.
    pub(super) fn new(order: Order, stage: Stage, hellos: u8) -> Self {
        Self {
            order,
            at: 0,
            stage,
            rounds: ROUNDS,
            hellos,
            entries: 0,
            repeated: 0,
            stranger: None,
            since: None,
            identity: None,
            reading: Reading::default(),
            insists: false,
            lost: None,
        }
    }

    /// What it came to, its last reply having come at this moment.
    pub(super) fn answer(self, last: Moment) -> Answer {
        let sent = self.since.unwrap_or(last);
        match (self.order, self.identity) {
            (Order::Identify, Some(text)) => Answer::Identity(Identity(text)),
            (Order::Read(ask), _) => {
                let mut reading = self.reading;
                reading.repeated = self.repeated;
                if !ask.has(Ask::CURRENT) || reading.received == Moment::ZERO {
                    (reading.sent, reading.received) = (sent, last);
                }
                Answer::Reading(reading)
            }
            (
                Order::Identify
                | Order::Prepare
                | Order::SetCurrent(_)
                | Order::SetVoltage(_)
                | Order::SetOverVoltage(_)
                | Order::SetOverCurrent(_)
                | Order::On
                | Order::Off
                | Order::ClearTrip
                | Order::Release
                | Order::Watchdog(_),
                _,
            ) => Answer::Done {
                sent,
                received: last,
            },
        }
    }
}

pub(super) fn garbled(fault: Garbled) -> LinkFault {
    LinkFault::Garbled(fault.0)
}

/// The caller told something although no order is under way.
pub(super) fn idle() -> Step {
    Step::Answer(Err(LinkFault::Forbidden(
        "no order is under way".to_owned(),
    )))
}
