//! The keeper as the loop sees it: one process at a time, which carries out one exchange after the
//! other. It is hired on a thread of its own, since a new keeper may have to wait for the port.

use super::inbox::Message;
use crate::exchange::Contact;
use crate::run::Arming;
use crate::supply::keeper::{self, HireError, Hired, Limits, Mark, Report, Request, Settings};
use crate::supply::wire::{Exchange, Outcome};
use crate::units::Span;
use rustix::process::{Pid, Signal, kill_process};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender};
use std::time::Duration;

/// The keeper turns the output off when no period was completed and judged for so long.
pub(super) const LEASE: Duration = Duration::from_secs(5);

/// What a keeper says to the loop.
#[derive(Debug)]
pub(super) enum Heard {
    /// It was hired, or why not.
    Hired(Result<Hired, HireError>),
    /// It says something.
    Said(Report),
}

/// What became of an exchange that was to be carried out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sent {
    /// The keeper has it.
    Yes,
    /// It waits for the keeper that is being hired.
    Held,
    /// There is no keeper.
    Nobody,
}

/// Who holds the port.
#[derive(Debug)]
enum Post {
    Vacant,
    Hiring { held: Option<Exchange> },
    Filled(Hired),
}

/// The loop's hand at the supply.
#[derive(Debug)]
pub(super) struct Hand {
    exe: PathBuf,
    settings: Settings,
    inbox: Sender<Message>,
    which: u64,
    exchange: u64,
    post: Post,
}

impl Hand {
    /// A hand without a keeper yet. `exe` is the program that knows the command `keeper`.
    pub(super) fn new(exe: PathBuf, settings: Settings, inbox: Sender<Message>) -> Self {
        Self {
            exe,
            settings,
            inbox,
            which: 0,
            exchange: 0,
            post: Post::Vacant,
        }
    }

    /// True if this is the number of the keeper that counts.
    pub(super) fn is(&self, which: u64) -> bool {
        self.which == which
    }

    /// The keeper's process.
    pub(super) fn pid(&self) -> Option<u32> {
        match &self.post {
            Post::Filled(hired) => Some(hired.pid()),
            Post::Vacant | Post::Hiring { .. } => None,
        }
    }

    /// Begins to hire a keeper; [`Heard::Hired`] answers.
    pub(super) fn hire(&mut self) {
        self.which += 1;
        self.post = Post::Hiring { held: None };
        let (which, inbox) = (self.which, self.inbox.clone());
        let (exe, settings) = (self.program(), self.settings.clone());
        let spawned = std::thread::Builder::new()
            .name("keeper".to_owned())
            .spawn(move || {
                let told = match keeper::hire(&exe, &settings) {
                    Ok((hired, reports)) => inbox
                        .send(Message::Keeper(which, Box::new(Heard::Hired(Ok(hired)))))
                        .map(|()| pass_on(which, &reports, &inbox)),
                    Err(fault) => {
                        inbox.send(Message::Keeper(which, Box::new(Heard::Hired(Err(fault)))))
                    }
                };
                if told.is_err() {
                    tracing::debug!("nobody waits for this keeper any more");
                }
            });
        if let Err(fault) = spawned {
            let fault = HireError::NotStarted(fault);
            // The inbox is the loop's own: it is there.
            let _ = self
                .inbox
                .send(Message::Keeper(which, Box::new(Heard::Hired(Err(fault)))));
        }
    }

    /// The program of the keeper. If its file was replaced while this process runs, the one that
    /// runs.
    fn program(&self) -> PathBuf {
        let running = PathBuf::from("/proc/self/exe");
        if !self.exe.exists() && running.exists() {
            running
        } else {
            self.exe.clone()
        }
    }

    /// A keeper was hired. What waited for it comes back.
    pub(super) fn fill(&mut self, hired: Hired) -> Option<Exchange> {
        match std::mem::replace(&mut self.post, Post::Filled(hired)) {
            Post::Hiring { held } => held,
            Post::Vacant | Post::Filled(_) => None,
        }
    }

    /// A keeper was hired in place of another: its first act is off. What waited for it follows;
    /// true if something did.
    pub(super) fn welcome(&mut self, hired: Hired) -> bool {
        let held = self.fill(hired);
        self.off();
        held.is_some_and(|exchange| self.exchange(exchange) == Sent::Yes)
    }

    /// No keeper could be hired; true if an exchange waited for it.
    pub(super) fn vacate(&mut self) -> bool {
        matches!(
            std::mem::replace(&mut self.post, Post::Vacant),
            Post::Hiring { held: Some(_) }
        )
    }

    /// Has an exchange carried out; [`Report::Exchanged`] answers.
    pub(super) fn exchange(&mut self, exchange: Exchange) -> Sent {
        match &mut self.post {
            Post::Vacant => Sent::Nobody,
            Post::Hiring { held } => {
                *held = Some(exchange);
                Sent::Held
            }
            Post::Filled(_) => {
                self.exchange += 1;
                let id = self.exchange;
                self.ask(&Request::Exchange { id, exchange });
                Sent::Yes
            }
        }
    }

    /// The outcome, if it is that of the last exchange.
    pub(super) fn outcome(&self, id: u64, outcome: Outcome) -> Option<Outcome> {
        (id == self.exchange).then_some(outcome)
    }

    /// Gives the keeper the limits of a run.
    pub(super) fn arm(&mut self, arming: Arming) {
        let (at, before) = arming.origin.parts();
        self.ask(&Request::Arm(Limits {
            max_current: arming.current,
            max_voltage: arming.voltage,
            end_within: arming.within,
            lease: Span::from_s(LEASE.as_secs_f64()),
            mark: Some(Mark {
                run: arming.run,
                at,
                before,
            }),
        }));
    }

    /// A period is complete.
    pub(super) fn renew(&mut self) {
        self.ask(&Request::Renew);
    }

    /// Moves the relay in the output lead.
    pub(super) fn relay(&mut self, contact: Contact) {
        self.ask(&Request::Relay(contact));
    }

    /// The run is over.
    pub(super) fn disarm(&mut self) {
        self.ask(&Request::Disarm);
    }

    /// Output off, and proved; a report answers. False if nobody can do it now.
    pub(super) fn off(&mut self) -> bool {
        self.ask(&Request::Off)
    }

    /// Ends a keeper that does not answer: the next one can do what it does not. Its pipe is
    /// closed, and since a process that is stopped or hangs does not notice, it is killed.
    pub(super) fn discharge(&mut self) {
        if let Post::Filled(hired) = std::mem::replace(&mut self.post, Post::Vacant)
            && let Some(pid) = i32::try_from(hired.pid()).ok().and_then(Pid::from_raw)
            && let Err(fault) = kill_process(pid, Signal::KILL)
        {
            tracing::error!("the keeper that does not answer cannot be killed: {fault}");
        }
    }

    /// Asks; true if the keeper can have heard. One that is gone says so itself, over the inbox.
    fn ask(&mut self, request: &Request) -> bool {
        match &mut self.post {
            Post::Filled(hired) => hired.send(request).is_ok(),
            Post::Vacant | Post::Hiring { .. } => false,
        }
    }
}

/// Passes on what a keeper says, to its last word.
fn pass_on(which: u64, reports: &Receiver<Report>, inbox: &Sender<Message>) {
    for report in reports {
        if inbox
            .send(Message::Keeper(which, Box::new(Heard::Said(report))))
            .is_err()
        {
            return;
        }
    }
}
