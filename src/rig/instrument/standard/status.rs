//! Error queue and status registers, after IEEE 488.2 and SCPI-99 volume 2, chapters 20 and 21.

use crate::exchange::Mode;
use crate::rig::instrument::panel::Panel;
use std::collections::VecDeque;

/// What can go wrong with a message, with its standard number and text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slip {
    InvalidCharacter,
    Syntax,
    DataType,
    ParameterNotAllowed,
    MissingParameter,
    UndefinedHeader,
    SuffixOutOfRange,
    InvalidNumber,
    InvalidSuffix,
    InvalidInLocal,
    SettingsConflict,
    OutOfRange,
    IllegalValue,
    Hardware,
    QueueOverflow,
    InputOverrun,
    PowerOn,
}

impl Slip {
    /// Standard number and text.
    fn entry(self) -> (i32, &'static str) {
        match self {
            Self::InvalidCharacter => (-101, "Invalid character"),
            Self::Syntax => (-102, "Syntax error"),
            Self::DataType => (-104, "Data type error"),
            Self::ParameterNotAllowed => (-108, "Parameter not allowed"),
            Self::MissingParameter => (-109, "Missing parameter"),
            Self::UndefinedHeader => (-113, "Undefined header"),
            Self::SuffixOutOfRange => (-114, "Header suffix out of range"),
            Self::InvalidNumber => (-121, "Invalid character in number"),
            Self::InvalidSuffix => (-131, "Invalid suffix"),
            Self::InvalidInLocal => (-201, "Invalid while in local"),
            Self::SettingsConflict => (-221, "Settings conflict"),
            Self::OutOfRange => (-222, "Data out of range"),
            Self::IllegalValue => (-224, "Illegal parameter value"),
            Self::Hardware => (-240, "Hardware error"),
            Self::QueueOverflow => (-350, "Queue overflow"),
            Self::InputOverrun => (-363, "Input buffer overrun"),
            Self::PowerOn => (-500, "Power on"),
        }
    }

    /// The bit of the event status register its class sets.
    fn event_bit(self) -> u8 {
        match self.entry().0 {
            -199..=-100 => 1 << 5,
            -299..=-200 => 1 << 4,
            -499..=-400 => 1 << 2,
            -599..=-500 => 1 << 7,
            _ => 1 << 3,
        }
    }

    /// A command error: what follows in the message is not looked at.
    pub(super) fn ends_message(self) -> bool {
        self.event_bit() == 1 << 5
    }
}

/// One register set.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Register {
    pub(super) condition: u16,
    event: u16,
    pub(super) enable: u16,
}

impl Register {
    /// The latched events; reading clears them.
    pub(super) fn take_event(&mut self) -> u16 {
        std::mem::take(&mut self.event)
    }

    fn summary(self) -> bool {
        self.event & self.enable != 0
    }
}

/// All of it.
#[derive(Clone, Debug)]
pub(super) struct Status {
    errors: VecDeque<Slip>,
    depth: usize,
    events: u8,
    pub(super) event_enable: u8,
    request_enable: u8,
    pub(super) questionable: Register,
    pub(super) operation: Register,
}

impl Status {
    pub(super) fn new(depth: usize) -> Self {
        Self {
            errors: VecDeque::new(),
            depth: depth.max(2),
            events: 1 << 7,
            event_enable: 0,
            request_enable: 0,
            questionable: Register::default(),
            operation: Register::default(),
        }
    }

    /// Empty, but for the power-on event.
    pub(super) fn power_on(&mut self) {
        *self = Self::new(self.depth);
    }

    /// An error enters the queue; where it is full its last entry says so and newer ones are lost.
    pub(super) fn note(&mut self, slip: Slip) {
        self.events |= slip.event_bit();
        if self.errors.len() < self.depth {
            self.errors.push_back(slip);
        } else if let Some(last) = self.errors.back_mut() {
            *last = Slip::QueueOverflow;
        }
    }

    /// The oldest error, as it is answered; it leaves the queue.
    pub(super) fn next_error(&mut self) -> String {
        let (code, text) = self.errors.pop_front().map_or((0, "No error"), Slip::entry);
        format!("{code},\"{text}\"")
    }

    pub(super) fn error_count(&self) -> usize {
        self.errors.len()
    }

    /// Compares the supply with the conditions last seen, and latches what has come up.
    pub(super) fn watch(&mut self, panel: &Panel) {
        let regulation = match panel.mode() {
            Mode::ConstantCurrent => 1,
            Mode::ConstantVoltage => 1 << 1,
            Mode::Unregulated => 0,
        };
        let condition =
            regulation | u16::from(panel.tripped_volts) << 9 | u16::from(panel.tripped_amps) << 10;
        self.questionable.event |= condition & !self.questionable.condition;
        self.questionable.condition = condition;
    }

    /// `*CLS`: events and errors go, enables stay.
    pub(super) fn clear(&mut self) {
        self.errors.clear();
        self.events = 0;
        self.questionable.event = 0;
        self.operation.event = 0;
    }

    /// `STATus:PRESet`: the enables of both register sets go.
    pub(super) fn preset(&mut self) {
        self.questionable.enable = 0;
        self.operation.enable = 0;
    }

    /// `*OPC`: nothing here takes longer than its message.
    pub(super) fn complete(&mut self) {
        self.events |= 1;
    }

    /// The event status register; reading clears it.
    pub(super) fn take_events(&mut self) -> u8 {
        std::mem::take(&mut self.events)
    }

    pub(super) fn request_enable(&self) -> u8 {
        self.request_enable
    }

    /// Bit 6 is not to be enabled.
    pub(super) fn set_request_enable(&mut self, mask: u8) {
        self.request_enable = mask & !(1 << 6);
    }

    /// The status byte with the master summary in bit 6.
    pub(super) fn byte(&self) -> u8 {
        let bits = u8::from(!self.errors.is_empty()) << 2
            | u8::from(self.questionable.summary()) << 3
            | u8::from(self.events & self.event_enable != 0) << 5
            | u8::from(self.operation.summary()) << 7;
        bits | u8::from(bits & self.request_enable != 0) << 6
    }
}
