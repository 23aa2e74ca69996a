//! DOOR: the serial port. One owner, one handle, one exchange at a time.
//!
//! What the crate `serialport` must not be asked for, and why: a clone of the port gives up its
//! exclusive use when it is dropped; `read_exact` throws away what it had at a time-out; `flush`
//! may hang for ever on a dead device. So there is one handle, plain reads, and pacing by the
//! clock.

mod names;

pub use names::{PortError, PortName, is_pseudo_terminal, ports};

use super::clock::Clock;
use super::link::Link;
use super::off::{OffReport, turn_off};
use super::wire::{Exchange, Line, Outcome, ReplyEnd, WireFault};
use crate::spec::supply::{Flow, LineSettings, Parity, SupplyProfile};
use crate::units::{Moment, Span};
use serialport::{ClearBuffer, DataBits, FlowControl, SerialPort, StopBits, TTYPort};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Exclusive use is claimed anew so often: another program's failed attempt may have taken it away.
const RECLAIM: Duration = Duration::from_secs(5);
/// A simulated supply whose terminal has been away for so long does not come back.
const ABANDONED: Duration = Duration::from_secs(10);
/// A lost port is not looked for more often than this.
const REOPEN: Duration = Duration::from_millis(250);

/// An open port with the settings of a supply profile.
#[derive(Debug)]
pub struct Port {
    path: PathBuf,
    settings: LineSettings,
    longest_reply: usize,
    /// No reply as a whole takes longer than this.
    longest: Span,
    clock: Clock,
    port: Option<TTYPort>,
    /// Since when it has been away.
    lost: Option<Instant>,
    /// It is, or was, a pseudo-terminal.
    simulated: bool,
    /// Nothing is sent before this.
    quiet_until: Instant,
    /// It was lost and is open again: when the device behind it listens.
    back: Option<Instant>,
    claimed: Instant,
    tried: Instant,
}

impl Port {
    /// Opens a port for a supply.
    ///
    /// # Errors
    /// [`PortError`] says what is wrong with it, or that its clock may not be hurried since it is
    /// a real port.
    pub fn open(path: &Path, profile: &SupplyProfile, clock: Clock) -> Result<Self, PortError> {
        if clock.speed != 1.0 && !is_pseudo_terminal(path) {
            return Err(PortError::NotSimulated(path.to_owned()));
        }
        let now = Instant::now();
        let mut port = Self {
            path: path.to_owned(),
            settings: profile.line.clone(),
            longest_reply: profile.framing.longest_reply,
            longest: profile.timing.longest,
            clock,
            port: None,
            lost: None,
            simulated: is_pseudo_terminal(path),
            quiet_until: now,
            back: None,
            claimed: now,
            tried: now,
        };
        port.port = Some(port.try_open()?);
        Ok(port)
    }

    /// The port's path.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// True if the supply was a simulated one and its terminal is gone for good: nothing flows
    /// there. Its number may be another's by now, so it is looked for only under a name that was
    /// made for it.
    #[must_use]
    pub fn is_abandoned(&self) -> bool {
        let away = self.lost.map_or(Duration::ZERO, |lost| lost.elapsed());
        self.simulated && self.lost.is_some() && (self.is_bare_terminal() || away > ABANDONED)
    }

    /// The path is a terminal's own, not a link to one.
    fn is_bare_terminal(&self) -> bool {
        self.path.starts_with("/dev/pts") || self.path.to_string_lossy().starts_with("/dev/ttys")
    }

    fn try_open(&mut self) -> Result<TTYPort, PortError> {
        self.tried = Instant::now();
        let path = self.path.to_string_lossy();
        let mut builder = serialport::new(path, self.settings.baud)
            .data_bits(if self.settings.bits == 7 {
                DataBits::Seven
            } else {
                DataBits::Eight
            })
            .stop_bits(if self.settings.stop == 2 {
                StopBits::Two
            } else {
                StopBits::One
            })
            .parity(match self.settings.parity {
                Parity::None => serialport::Parity::None,
                Parity::Even => serialport::Parity::Even,
                Parity::Odd => serialport::Parity::Odd,
            })
            .flow_control(match self.settings.flow {
                Flow::None => FlowControl::None,
                Flow::Hardware => FlowControl::Hardware,
                Flow::Software => FlowControl::Software,
            })
            .timeout(Duration::from_millis(500));
        if let Some(level) = self.settings.dtr {
            builder = builder.dtr_on_open(level);
        }
        let port = builder
            .open_native()
            .map_err(|error| PortError::of(&self.path, &error))?;
        self.claimed = Instant::now();
        self.lost = None;
        self.quiet_until = self.claimed + self.clock.real(self.settings.wait_after_open);
        Ok(port)
    }

    /// The open port; one that was lost is looked for again, but not all the time.
    fn opened(&mut self) -> Result<TTYPort, WireFault> {
        if let Some(port) = self.port.take() {
            return self.given_time(port);
        }
        if self.tried.elapsed() < REOPEN {
            std::thread::sleep(REOPEN.saturating_sub(self.tried.elapsed()));
        }
        if self.simulated && self.is_bare_terminal() {
            self.tried = Instant::now();
            return Err(WireFault::PortLost(
                "the simulated supply is gone".to_owned(),
            ));
        }
        self.try_open()
            .map_err(|error| WireFault::PortLost(error.to_string()))
            .and_then(|port| {
                self.back = Some(self.quiet_until);
                self.given_time(port)
            })
    }

    /// A device that came back may need seconds before it listens. They are not waited out in one
    /// exchange: whoever asked goes on living meanwhile.
    fn given_time(&mut self, port: TTYPort) -> Result<TTYPort, WireFault> {
        let ready = self.back.is_none_or(|listens| {
            let left = listens.saturating_duration_since(Instant::now());
            left <= REOPEN
        });
        if ready {
            self.back = None;
            return Ok(port);
        }
        self.port = Some(port);
        std::thread::sleep(REOPEN);
        let text = "the supply has just come back and does not listen yet";
        Err(WireFault::PortLost(text.to_owned()))
    }

    /// Claims exclusive use anew, now and then.
    fn reclaim(&mut self, port: &mut TTYPort) -> io::Result<()> {
        if self.claimed.elapsed() >= RECLAIM {
            self.claimed = Instant::now();
            port.set_exclusive(true)?;
        }
        Ok(())
    }

    /// Sends, and says when the first byte left.
    fn send(&mut self, port: &mut TTYPort, exchange: &Exchange) -> io::Result<Moment> {
        self.reclaim(port)?;
        std::thread::sleep(self.quiet_until.saturating_duration_since(Instant::now()));
        // What came before the question answers nobody.
        port.clear(ClearBuffer::Input)?;
        port.set_timeout(
            self.clock
                .patience(exchange.first_byte)
                .max(Duration::from_millis(50)),
        )?;
        let sent = self.clock.now();
        port.write_all(&exchange.send)?;
        if exchange.end == ReplyEnd::None {
            // The bytes are in the kernel, not on the wire: the exchange is over when they have
            // left.
            std::thread::sleep(
                self.clock
                    .real(self.settings.wire_time(exchange.send.len())),
            );
        }
        Ok(sent)
    }

    /// Reads one reply to its end.
    fn reply(
        &self,
        port: &mut TTYPort,
        exchange: &Exchange,
    ) -> io::Result<Result<Vec<u8>, WireFault>> {
        let mut reply = Vec::with_capacity(32);
        let out = self.settings.wire_time(exchange.send.len());
        let last = Instant::now() + self.clock.patience(out + self.longest);
        let mut wait = self.clock.patience(out + exchange.first_byte);
        let mut chunk = [0_u8; 256];
        loop {
            let left = last.saturating_duration_since(Instant::now());
            port.set_timeout(wait.min(left))?;
            let read = match port.read(&mut chunk) {
                Ok(read) => read,
                Err(error) if error.kind() == io::ErrorKind::TimedOut => {
                    return Ok(timed_out(reply, &exchange.end));
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if read == 0 {
                return Err(io::ErrorKind::BrokenPipe.into());
            }
            for byte in &chunk[..read] {
                if take(&mut reply, *byte, &exchange.end) {
                    return Ok(Ok(reply));
                }
            }
            if reply.len() > self.longest_reply {
                return Ok(Err(WireFault::TooLong));
            }
            wait = match exchange.end {
                ReplyEnd::Quiet(ms) => self.clock.patience(Span::from_ms(f64::from(ms))),
                ReplyEnd::None | ReplyEnd::Byte(_) | ReplyEnd::Count(_) => {
                    self.clock.patience(exchange.between)
                }
            };
        }
    }

    fn carry(&mut self, exchange: &Exchange) -> Result<(Moment, Vec<u8>), (Moment, WireFault)> {
        let mut sent = self.clock.now();
        let mut port = self.opened().map_err(|fault| (sent, fault))?;
        let done = self.send(&mut port, exchange).and_then(|at| {
            sent = at;
            if exchange.end == ReplyEnd::None {
                return Ok(Ok(Vec::new()));
            }
            self.reply(&mut port, exchange)
        });
        match done {
            Ok(reply) => {
                self.port = Some(port);
                reply
                    .map(|reply| (sent, reply))
                    .map_err(|fault| (sent, fault))
            }
            // Closed at once: while it is held open, a device that comes back gets another name.
            Err(error) => {
                drop(port);
                self.tried = Instant::now();
                self.lost = Some(self.tried);
                let text = format!("{}: {error}", self.path.display());
                Err((sent, WireFault::PortLost(text)))
            }
        }
    }
}

/// Turns the output off over the port itself, with no keeper and no daemon, and proves it. A port
/// that another program holds is tried again for so long: a keeper may be about to let it go.
///
/// # Errors
/// [`PortError`] where the port cannot be used; nothing was sent then.
pub fn off_now(
    path: &Path,
    profile: &Arc<SupplyProfile>,
    clock: Clock,
    patience: Duration,
) -> Result<OffReport, PortError> {
    let until = Instant::now() + patience;
    loop {
        match Port::open(path, profile, clock) {
            Ok(mut port) => return Ok(turn_off(&mut Link::new(profile.clone()), &mut port)),
            Err(PortError::Busy(_)) if Instant::now() < until => std::thread::sleep(REOPEN),
            Err(error) => return Err(error),
        }
    }
}

/// Takes one byte of a reply; true if it was the last.
fn take(reply: &mut Vec<u8>, byte: u8, end: &ReplyEnd) -> bool {
    match end {
        ReplyEnd::Byte(ends) if ends.contains(&byte) => !reply.is_empty(),
        ReplyEnd::Count(count) => {
            reply.push(byte);
            reply.len() >= *count
        }
        ReplyEnd::Byte(_) | ReplyEnd::Quiet(_) | ReplyEnd::None => {
            reply.push(byte);
            false
        }
    }
}

/// Nothing more came in time.
fn timed_out(reply: Vec<u8>, end: &ReplyEnd) -> Result<Vec<u8>, WireFault> {
    if reply.is_empty() {
        return Err(WireFault::Silent);
    }
    match end {
        ReplyEnd::Quiet(_) => Ok(reply),
        ReplyEnd::Byte(_) | ReplyEnd::Count(_) | ReplyEnd::None => Err(WireFault::Partial(reply)),
    }
}

impl Line for Port {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        let (sent, reply) = match self.carry(exchange) {
            Ok((sent, reply)) => (sent, Ok(reply)),
            Err((sent, fault)) => (sent, Err(fault)),
        };
        self.quiet_until = self
            .quiet_until
            .max(Instant::now() + self.clock.real(exchange.gap));
        Outcome {
            sent,
            received: self.clock.now(),
            reply,
        }
    }

    fn now(&self) -> Moment {
        self.clock.now()
    }

    fn rest(&mut self, span: Span) {
        std::thread::sleep(self.clock.patience(span));
    }
}
