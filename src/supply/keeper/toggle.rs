//! Toggles the relay's line while the grip allows it: a thread that does nothing else.

use super::grip::{Grip, late};
use crate::spec::{Relay, RelayLine};
use crate::supply::clock::Clock;
use crate::supply::port::{PortError, is_pseudo_terminal};
use crate::units::Span;
use serialport::{SerialPort, TTYPort};
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

/// The grip is looked at this often while it is open.
const GLANCE: Span = Span::from_ms(50.0);
/// Nothing on a relay's port takes longer.
const AT_MOST: Duration = Duration::from_millis(200);
/// A byte with as many edges as a byte can have.
const EDGES: [u8; 1] = [0x55];

/// Toggles for as long as the process lives. `lost` is told what the system says when an edge could
/// not be sent, or how late one is when the relay may have opened before it; the grip is open then,
/// until somebody wants it closed again.
pub(super) fn toggle(
    relay: Relay,
    clock: Clock,
    grip: Arc<Grip>,
    lost: impl Fn(String) + Send + 'static,
) {
    thread::spawn(move || {
        let mut line = Line {
            relay,
            clock,
            port: None,
            level: false,
        };
        let every = clock.real(line.relay.every);
        let late = late(clock.real(line.relay.opens_within));
        let mut last: Option<Instant> = None;
        let glance = clock.real(GLANCE).max(Duration::from_millis(2)).min(every);
        loop {
            if !grip.holds(Instant::now()) {
                last = None;
                thread::sleep(glance);
                continue;
            }
            // A computer that stood still for a while: the next edge would close the lead again,
            // and nobody would know how long it was open.
            let stood = last.map_or(Duration::ZERO, |last| last.elapsed());
            let sent = if stood > late {
                Err(format!(
                    "no edge for {:.1} s: the relay may have opened meanwhile",
                    stood.as_secs_f64()
                ))
            } else {
                line.edge()
            };
            match sent {
                Ok(()) => {
                    last = Some(Instant::now());
                    thread::sleep(every);
                }
                Err(text) => {
                    last = None;
                    line.port = None;
                    grip.want(false);
                    lost(text);
                }
            }
        }
    });
}

struct Line {
    relay: Relay,
    clock: Clock,
    port: Option<TTYPort>,
    level: bool,
}

impl Line {
    /// The port. It is not opened before it is needed: that is an edge by itself, and the supply
    /// may have been left on.
    fn opened(&mut self) -> Result<&mut TTYPort, String> {
        if self.port.is_none() {
            let path = Path::new(&self.relay.port);
            if self.clock.speed != 1.0 && !is_pseudo_terminal(path) {
                return Err(PortError::NotSimulated(path.to_owned()).to_string());
            }
            let port = serialport::new(self.relay.port.as_str(), 9600)
                .timeout(AT_MOST)
                .open_native()
                .map_err(|error| PortError::of(path, &error).to_string())?;
            self.port = Some(port);
        }
        self.port
            .as_mut()
            .ok_or_else(|| "the relay's port is not open".to_owned())
    }

    /// Sends one edge, or a byte of them.
    fn edge(&mut self) -> Result<(), String> {
        let level = !self.level;
        let line = self.relay.line;
        let port = self.opened()?;
        let sent = match line {
            RelayLine::Rts => port.write_request_to_send(level).map_err(io::Error::from),
            RelayLine::Dtr => port
                .write_data_terminal_ready(level)
                .map_err(io::Error::from),
            RelayLine::Tx => port.write_all(&EDGES),
        };
        self.level = level;
        sent.map_err(|error| format!("{}, line {}: {error}", self.relay.port, line.word()))
    }
}
