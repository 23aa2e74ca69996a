//! From what is posted to what is news: each thing once.

use super::event::Event;
use crate::control::{Fault, Response, Severity, State};
use crate::daemon::board::Posted;
use crate::ledger::RunId;
use std::time::{Duration, Instant};

/// An off that is proved within this is no news: the keeper was only slow.
const DOUBT: Duration = Duration::from_secs(3);
/// The same guard is told of again after this.
const SAME_ALARM: Duration = Duration::from_secs(3600);

/// Something that somebody should be told.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct News {
    pub(super) event: Event,
    /// A word code with a page, where it has one.
    pub(super) code: Option<String>,
    /// The evidence, in words.
    pub(super) text: String,
}

impl News {
    fn plain(event: Event) -> Self {
        Self {
            event,
            code: None,
            text: event.sentence().to_owned(),
        }
    }
}

/// What has been told already.
#[derive(Debug, Default)]
pub(super) struct Watch {
    last: Option<(State, Option<RunId>)>,
    /// The run whose beginning was told.
    begun: Option<RunId>,
    look_due: bool,
    doubt: Option<Instant>,
    doubt_told: bool,
    alarms: Vec<(Fault, Instant)>,
    keeper: Option<u32>,
    /// Nothing ran when the state last said so.
    rested: bool,
}

impl Watch {
    /// The next pause is a planned look.
    pub(super) fn look_due(&mut self) {
        self.look_due = true;
    }

    /// What is new on the board.
    pub(super) fn look(&mut self, posted: &Posted, now: Instant) -> Vec<News> {
        let mut news = Vec::new();
        let shown = (posted.snapshot.state, posted.snapshot.run);
        if self.last.is_some_and(|(_, run)| run != shown.1) {
            self.look_due = false;
            self.alarms.clear();
        }
        if self.last != Some(shown) {
            news.extend(self.entered(posted));
            self.last = Some(shown);
        }
        self.doubt(shown.0, now, &mut news);
        self.alarms(posted, now, &mut news);
        self.keeper(posted, &mut news);
        news
    }

    /// The state has changed.
    fn entered(&mut self, posted: &Posted) -> Option<News> {
        let snapshot = &posted.snapshot;
        match snapshot.state {
            State::Tripped => Some(latched(Event::Tripped, posted)),
            State::Interrupted => Some(latched(Event::Interrupted, posted)),
            State::Finished => Some(News::plain(Event::Finished)),
            State::Stopped => Some(News::plain(Event::Stopped)),
            State::Paused => std::mem::take(&mut self.look_due).then(|| News {
                code: Some("look-due".to_owned()),
                ..News::plain(Event::LookDue)
            }),
            State::Striking | State::Ramping | State::Building | State::Holding => {
                let first = self.begun != snapshot.run;
                self.begun = snapshot.run;
                first.then(|| News::plain(Event::Began))
            }
            State::Idle | State::Proving | State::Stopping | State::Unconfirmed => None,
        }
    }

    fn doubt(&mut self, state: State, now: Instant, news: &mut Vec<News>) {
        if state != State::Unconfirmed {
            self.doubt = None;
            self.doubt_told = false;
            return;
        }
        let since = *self.doubt.get_or_insert(now);
        if !self.doubt_told && now.saturating_duration_since(since) >= DOUBT {
            self.doubt_told = true;
            news.push(News {
                code: Some("unconfirmed".to_owned()),
                ..News::plain(Event::Unconfirmed)
            });
        }
    }

    /// Guards that only say something. What ends the run is told with the run's end.
    fn alarms(&mut self, posted: &Posted, now: Instant, news: &mut Vec<News>) {
        for alarm in &posted.snapshot.alarms {
            let fault = alarm.fault;
            if fault.guard().response != Response::Alarm {
                continue;
            }
            let told = self.alarms.iter_mut().find(|(known, _)| *known == fault);
            match told {
                Some((_, at)) if now.saturating_duration_since(*at) < SAME_ALARM => continue,
                Some((_, at)) => *at = now,
                None => self.alarms.push((fault, now)),
            }
            news.push(News {
                event: match fault.guard().severity {
                    Severity::Notice => Event::Alarm,
                    Severity::Warning | Severity::Danger => Event::Warning,
                },
                code: Some(fault.code().to_owned()),
                text: alarm.text.clone(),
            });
        }
    }

    /// A keeper that died in a run ends the run; that is told with the end.
    fn keeper(&mut self, posted: &Posted, news: &mut Vec<News>) {
        let another = posted.keeper.is_some_and(|pid| {
            let before = self.keeper.replace(pid);
            before.is_some_and(|before| before != pid)
        });
        if another && self.rested {
            news.push(News {
                code: Some("keeper-lost".to_owned()),
                ..News::plain(Event::KeeperLost)
            });
        }
        self.rested = match posted.snapshot.state {
            State::Idle
            | State::Finished
            | State::Stopped
            | State::Tripped
            | State::Interrupted => true,
            State::Proving
            | State::Striking
            | State::Ramping
            | State::Building
            | State::Holding
            | State::Paused => false,
            // Either way: it was resting before, or it was not.
            State::Stopping | State::Unconfirmed => self.rested,
        };
    }
}

/// What a person must read is the reason.
fn latched(event: Event, posted: &Posted) -> News {
    match &posted.latch {
        Some(latch) => News {
            event,
            code: Some(latch.code.clone()),
            text: format!("{}. {}: {}", event.sentence(), latch.code, latch.text),
        },
        None => News::plain(event),
    }
}
