//! The room's door: lends a simulated supply on a pseudo-terminal, and the relay in its output
//! lead on another, its clock the computer's,
//! perhaps faster.

use super::cell::{RelayAil, RelayDeed, Truth};
use super::instrument::{Ail, Instrument};
use crate::units::{Moment, Span};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::io::{Errno, FdFlags, fcntl_setfd, read, write};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::ffi::OsStr;
use std::fs;
use std::io;
use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;

/// The stop flag is looked at this often at the latest, s.
const GLANCE_S: f64 = 0.05;

/// How a supply is lent.
#[derive(Clone, Debug, PartialEq)]
pub struct LendSettings {
    /// Where a link to the terminal is kept while it is lent.
    pub link: Option<PathBuf>,
    /// How many simulated seconds pass in a second.
    pub speed: f64,
    /// The simulated moment at which it begins.
    pub start: Moment,
    /// Where a link to the terminal of the relay is kept, if the relay is lent as well.
    pub relay_link: Option<PathBuf>,
    /// What goes wrong, and when, the earliest first.
    pub mishaps: Vec<(Moment, Mishap)>,
}

/// What can go wrong with what is lent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mishap {
    /// Inside the supply.
    Supply(Ail),
    /// With the relay.
    Relay(RelayAil),
    /// The relay's port is pulled out.
    RelayPulled,
}

/// A pseudo-terminal with the instrument's end in our hands.
#[derive(Debug)]
struct Terminal {
    /// The instrument's end.
    master: OwnedFd,
    /// The user's end, kept open so that the line lives on between two users.
    _user_end: OwnedFd,
    path: PathBuf,
    link: Option<PathBuf>,
}

/// A supply that is lent, with the relay in its output lead if there is one.
#[derive(Debug)]
pub struct Lent {
    supply: Terminal,
    relay: Mutex<Option<Terminal>>,
    settings: LendSettings,
}

impl Terminal {
    /// Makes a terminal, raw, and the link to it.
    fn open(link: Option<&Path>) -> io::Result<Self> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        fcntl_setfd(&master, FdFlags::CLOEXEC)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?;
        let path = PathBuf::from(OsStr::from_bytes(name.to_bytes()));
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let user_end = open(&path, flags, Mode::empty())?;
        let mut raw = tcgetattr(&user_end)?;
        raw.make_raw();
        tcsetattr(&user_end, OptionalActions::Now, &raw)?;
        fcntl_setfl(&master, fcntl_getfl(&master)? | OFlags::NONBLOCK)?;
        if let Some(link) = link {
            place_link(&path, link)?;
        }
        Ok(Self {
            master,
            _user_end: user_end,
            path,
            link: link.map(Path::to_owned),
        })
    }

    /// Takes what the user has sent.
    fn take(&self, mut each: impl FnMut(&[u8])) -> io::Result<()> {
        let mut buffer = [0; 512];
        loop {
            match read(&self.master, &mut buffer) {
                Ok(0) | Err(Errno::AGAIN) => return Ok(()),
                Ok(count) => each(&buffer[..count]),
                Err(Errno::INTR) => {}
                Err(fault) => return Err(fault.into()),
            }
        }
    }
}

impl Lent {
    /// Makes the terminals, raw, and the links to them, each of which replaces an older link at
    /// once.
    ///
    /// # Errors What the system says where no terminal is to be had or a link cannot be made;
    /// something at a link's place that is not a link is left alone.
    pub fn open(settings: LendSettings) -> io::Result<Self> {
        let relay_link = settings.relay_link.as_deref();
        Ok(Self {
            supply: Terminal::open(settings.link.as_deref())?,
            relay: Mutex::new(
                relay_link
                    .map(|link| Terminal::open(Some(link)))
                    .transpose()?,
            ),
            settings,
        })
    }

    /// The terminal to open.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.supply.path
    }

    /// Serves until the flag is set. `on_truth` gets the cell's account once every simulated
    /// second, whether anybody talks or not.
    ///
    /// # Errors
    /// What the system says where the terminal cannot be read, written or waited for.
    pub fn serve(
        &self,
        mut instrument: Instrument,
        on_truth: &mut dyn FnMut(&Truth),
        stop: &AtomicBool,
    ) -> io::Result<()> {
        let began = Instant::now();
        let mut next_second = self.settings.start + Span::from_s(1.0);
        let mut mishaps = self.settings.mishaps.iter().peekable();
        while !stop.load(Ordering::Relaxed) {
            let now = self.simulated(began);
            while next_second <= now {
                self.answer(&mut instrument, next_second)?;
                on_truth(&instrument.truth(next_second));
                next_second = next_second + Span::from_s(1.0);
            }
            while let Some((_, mishap)) = mishaps.next_if(|(at, _)| *at <= now) {
                self.happens(&mut instrument, now, *mishap);
            }
            self.answer(&mut instrument, now)?;
            let due = instrument
                .next_due()
                .map_or(next_second, |due| due.min(next_second));
            self.wait(due.since(now).s() / self.settings.speed)?;
            self.listen(&mut instrument, began)?;
        }
        Ok(())
    }

    fn relay(&self) -> MutexGuard<'_, Option<Terminal>> {
        self.relay.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn happens(&self, instrument: &mut Instrument, now: Moment, mishap: Mishap) {
        match mishap {
            Mishap::Supply(ail) => instrument.ail(now, ail),
            Mishap::Relay(ail) => instrument.relay(now, RelayDeed::Ails(Some(ail))),
            Mishap::RelayPulled => {
                let _pulled = self.relay().take();
            }
        }
    }

    /// The simulated moment it is now.
    fn simulated(&self, began: Instant) -> Moment {
        self.settings.start + Span::from_s(began.elapsed().as_secs_f64() * self.settings.speed)
    }

    /// Hands over what the supply has sent by then. What nobody takes is lost, as on a wire.
    fn answer(&self, instrument: &mut Instrument, until: Moment) -> io::Result<()> {
        let mut bytes = Vec::new();
        while let Some((_, byte)) = instrument.next_output(until) {
            bytes.push(byte);
        }
        let mut rest = bytes.as_slice();
        while !rest.is_empty() {
            match write(&self.supply.master, rest) {
                Ok(count) => rest = &rest[count..],
                Err(Errno::INTR) => {}
                Err(Errno::AGAIN) => break,
                Err(fault) => return Err(fault.into()),
            }
        }
        Ok(())
    }

    /// Takes what the user has sent to the supply, and the edges on the relay's line.
    fn listen(&self, instrument: &mut Instrument, began: Instant) -> io::Result<()> {
        if let Some(relay) = &*self.relay() {
            relay.take(|_| instrument.relay(self.simulated(began), RelayDeed::Edge))?;
        }
        self.supply
            .take(|bytes| instrument.receive(self.simulated(began), bytes))
    }

    /// Waits for bytes from the user, no longer than this.
    fn wait(&self, seconds: f64) -> io::Result<()> {
        #[allow(clippy::cast_possible_truncation)] // at most a glance
        let nanoseconds = (seconds.clamp(0.0, GLANCE_S) * 1e9) as i64;
        let timeout = Timespec {
            tv_sec: 0,
            tv_nsec: nanoseconds,
        };
        let relay = self.relay();
        let mut ends: Vec<PollFd<'_>> = [Some(&self.supply), relay.as_ref()]
            .into_iter()
            .flatten()
            .map(|terminal| PollFd::new(&terminal.master, PollFlags::IN))
            .collect();
        match poll(&mut ends, Some(&timeout)) {
            Ok(_) | Err(Errno::INTR) => Ok(()),
            Err(fault) => Err(fault.into()),
        }
    }
}

impl Drop for Terminal {
    /// Takes the link away if it is still ours.
    fn drop(&mut self) {
        let Some(link) = &self.link else {
            return;
        };
        if fs::read_link(link).is_ok_and(|target| target == self.path) {
            // A link that cannot be removed points to a terminal that is gone; nothing else is
            // lost.
            let _ = fs::remove_file(link);
        }
    }
}

/// Makes a link under a name of its own and moves it into place.
fn place_link(target: &Path, link: &Path) -> io::Result<()> {
    if fs::symlink_metadata(link).is_ok_and(|there| !there.is_symlink()) {
        let text = format!("{} is there and is not a link", link.display());
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, text));
    }
    let mut aside = link.as_os_str().to_owned();
    aside.push(format!(".{}", std::process::id()));
    let aside = PathBuf::from(aside);
    symlink(target, &aside)?;
    fs::rename(&aside, link).inspect_err(|_| {
        // The link aside is of no use without its place.
        let _ = fs::remove_file(&aside);
    })
}
