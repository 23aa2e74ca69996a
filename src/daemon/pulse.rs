//! The service manager's side: that the daemon is ready, that it lives, that it ends. Datagrams to
//! the socket that `NOTIFY_SOCKET` names; without one nothing is said.

use crate::units::Moment;
use std::os::unix::net::{SocketAddr, UnixDatagram};
use std::time::{Duration, Instant};

/// More often is of no use to anybody.
const LEAST: Duration = Duration::from_millis(500);

/// Where it is said.
#[derive(Debug)]
pub(super) struct Pulse {
    socket: Option<(UnixDatagram, SocketAddr)>,
    fed: Option<Instant>,
    /// The reply that the last period was completed with.
    reply: Option<Moment>,
}

impl Pulse {
    /// The one that the environment names.
    pub(super) fn of_environment() -> Self {
        let socket = std::env::var("NOTIFY_SOCKET").ok().and_then(|name| {
            let address = address(&name)?;
            let socket = UnixDatagram::unbound().ok()?;
            // A manager that does not read must not hold the night up.
            socket.set_nonblocking(true).ok()?;
            Some((socket, address))
        });
        Self {
            socket,
            fed: None,
            reply: None,
        }
    }

    /// The daemon answers people.
    pub(super) fn ready(&mut self, station: &str) {
        self.say(&format!("READY=1\nSTATUS=serves {station}"));
    }

    /// A period is complete, or the loop has turned while nothing may flow.
    pub(super) fn feed(&mut self) {
        let now = Instant::now();
        if self.socket.is_some() && self.fed.is_none_or(|fed| now.duration_since(fed) >= LEAST) {
            self.fed = Some(now);
            self.say("WATCHDOG=1");
        }
    }

    /// A period was judged. It is complete only if the supply has replied in it: while a lost link
    /// is waited out the keeper is told that somebody judges, and the service manager is not.
    pub(super) fn judged(&mut self, last_reply: Option<Moment>) {
        if last_reply != self.reply {
            self.reply = last_reply;
            self.feed();
        }
    }

    /// It ends.
    pub(super) fn ending(&mut self) {
        self.say("STOPPING=1");
    }

    fn say(&mut self, words: &str) {
        if let Some((socket, address)) = &self.socket
            && let Err(fault) = socket.send_to_addr(words.as_bytes(), address)
        {
            tracing::debug!("the service manager does not hear: {fault}");
        }
    }
}

/// A path, or after `@` a name of Linux's own.
fn address(name: &str) -> Option<SocketAddr> {
    match name.strip_prefix('@') {
        Some(name) => of_name(name),
        None => SocketAddr::from_pathname(name).ok(),
    }
}

#[cfg(target_os = "linux")]
fn of_name(name: &str) -> Option<SocketAddr> {
    use std::os::linux::net::SocketAddrExt;
    SocketAddr::from_abstract_name(name).ok()
}

#[cfg(not(target_os = "linux"))]
fn of_name(_: &str) -> Option<SocketAddr> {
    None
}
