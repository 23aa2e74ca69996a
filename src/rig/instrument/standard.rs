//! The `Standard` personality: SCPI-99 headers in IEEE 488.2 messages over a serial line.
//!
//! A message is a line ended by NL (a CR before it is white space). It holds units parted by `;`; a
//! unit's header goes on from the path of the unit before, unless it begins with `:` or `*`. The
//! replies of one message come in one line, parted by `;`. A command error ends the message, an
//! execution error only its unit.
//!
//! `STATus:QUEStionable`: bit 0 voltage questionable, which is constant current; bit 1 current
//! questionable, which is constant voltage; bit 9 over-voltage and bit 10 over-current protection
//! tripped.

mod commands;
mod status;
mod tree;
mod value;

use super::panel::Panel;
use super::quirks::Quirks;
use crate::units::{Moment, Span};
use status::{Slip, Status};
use tree::Tree;

/// Longest line it keeps, bytes.
const LONGEST_LINE: usize = 255;

/// The dialect's memory.
#[derive(Clone, Debug)]
pub(super) struct Standard {
    tree: Tree,
    status: Status,
    line: Vec<u8>,
    overrun: bool,
    busy_until: Moment,
}

impl Standard {
    /// As after power-on.
    pub(super) fn new(quirks: &Quirks) -> Self {
        Self {
            tree: Tree::new(),
            status: Status::new(quirks.error_depth),
            line: Vec::with_capacity(LONGEST_LINE),
            overrun: false,
            busy_until: Moment::ZERO,
        }
    }

    /// Power came back while somebody may have been talking.
    pub(super) fn power_on(&mut self) {
        self.status.power_on();
        self.line.clear();
        self.overrun = false;
        self.status.note(Slip::PowerOn);
    }

    /// Its self-test has found a fault.
    pub(super) fn fails_its_test(&mut self) {
        self.status.note(Slip::Hardware);
    }

    /// The byte ends a line.
    pub(super) fn takes_whole_line(&self, byte: u8) -> bool {
        byte == b'\n'
    }

    /// When it takes a byte that has arrived at `at`: a line waits while the one before is
    /// digested.
    pub(super) fn takes_at(&self, at: Moment, byte: u8) -> Moment {
        if self.takes_whole_line(byte) {
            at.max(self.busy_until)
        } else {
            at
        }
    }

    /// Takes one byte; the reply line, its end included, if the byte ends a message with queries in
    /// it.
    pub(super) fn take(&mut self, panel: &mut Panel, at: Moment, byte: u8) -> Option<String> {
        if !self.takes_whole_line(byte) {
            if self.line.len() < LONGEST_LINE {
                self.line.push(byte);
            } else {
                self.overrun = true;
            }
            return None;
        }
        self.busy_until = at + Span::from_s(panel.quirks.digest_s);
        let line = std::mem::take(&mut self.line);
        let reply = if std::mem::take(&mut self.overrun) {
            self.status.note(Slip::InputOverrun);
            None
        } else {
            self.message(panel, &line)
        };
        self.line = line;
        self.line.clear();
        reply
    }

    /// Carries a whole message out.
    fn message(&mut self, panel: &mut Panel, line: &[u8]) -> Option<String> {
        self.status.watch(panel);
        let mut reply = String::new();
        let mut path: Vec<&[u8]> = Vec::new();
        for unit in parted(line, b';') {
            match self.unit(panel, unit, &mut path, &mut reply) {
                Ok(()) => {}
                Err(slip) => {
                    self.status.note(slip);
                    if slip.ends_message() {
                        break;
                    }
                }
            }
        }
        self.status.watch(panel);
        if reply.is_empty() {
            return None;
        }
        reply.push_str(panel.quirks.reply_end);
        Some(reply)
    }

    /// Carries one unit out and adds its answer to the reply.
    fn unit<'a>(
        &mut self,
        panel: &mut Panel,
        unit: &'a [u8],
        path: &mut Vec<&'a [u8]>,
        reply: &mut String,
    ) -> Result<(), Slip> {
        let unit = unit.trim_ascii();
        if unit.is_empty() {
            return Ok(());
        }
        if unit.iter().any(|byte| !matches!(byte, b'\t' | b' '..=b'~')) {
            return Err(Slip::InvalidCharacter);
        }
        let (header, rest) = split_header(unit);
        let (header, is_query) = match header.strip_suffix(b"?") {
            Some(bare) => (bare, true),
            None => (header, false),
        };
        let command = self.tree.find(header, is_query, path)?;
        let rest = rest.trim_ascii();
        let data: Vec<&[u8]> = if rest.is_empty() {
            Vec::new()
        } else {
            parted(rest, b',').map(<[u8]>::trim_ascii).collect()
        };
        if is_query {
            let answer = commands::query(&mut self.status, panel, command, &data)?;
            if !reply.is_empty() {
                reply.push(';');
            }
            reply.push_str(&answer);
            Ok(())
        } else {
            commands::set(&mut self.status, panel, command, &data)
        }
    }
}

/// Where a unit's header ends: at a blank, or behind its question mark.
fn split_header(unit: &[u8]) -> (&[u8], &[u8]) {
    let end = unit
        .iter()
        .position(|byte| matches!(byte, b' ' | b'\t' | b'?'))
        .map_or(unit.len(), |at| if unit[at] == b'?' { at + 1 } else { at });
    unit.split_at(end)
}

/// The pieces between separators, quoted text left whole.
fn parted(text: &[u8], separator: u8) -> impl Iterator<Item = &[u8]> {
    let mut quote = None;
    text.split(move |&byte| match quote {
        Some(open) => {
            if byte == open {
                quote = None;
            }
            false
        }
        None => {
            if matches!(byte, b'"' | b'\'') {
                quote = Some(byte);
            }
            byte == separator
        }
    })
}
