//! One thread for each way: whatever one of them waits for, the others do not.

use super::ending::Ending;
use super::letter::Letter;
use super::tray::{Item, Put, Tray};
use super::way;
use super::{Report, Told};
use crate::spec::notices::{Tell, Way};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

/// So many letters may wait for one way.
const ROOM: usize = 32;
/// A failed try is followed by another after these; then it is given up.
pub(super) const AGAIN: [Duration; 5] = [
    Duration::from_secs(1),
    Duration::from_secs(3),
    Duration::from_secs(15),
    Duration::from_secs(60),
    Duration::from_secs(300),
];

/// A way and the thread that goes it.
#[derive(Debug)]
pub(super) struct Clerk {
    tell: Tell,
    label: String,
    tray: Arc<Tray>,
    pub(super) thread: JoinHandle<()>,
}

impl Clerk {
    /// Starts the thread.
    pub(super) fn start(
        tell: &Tell,
        again: &'static [Duration],
        ending: Ending,
        report: Report,
    ) -> std::io::Result<Self> {
        let tray = Arc::new(Tray::new(ROOM));
        let label = way::label(tell);
        let desk = Desk {
            tell: tell.clone(),
            label: label.clone(),
            tray: Arc::clone(&tray),
            again,
            ending,
            report,
        };
        let thread = std::thread::Builder::new()
            .name(tell.way.word().to_owned())
            .spawn(move || desk.work())?;
        Ok(Self {
            tell: tell.clone(),
            label,
            tray,
            thread,
        })
    }

    /// Hands a letter over, if this way is for such letters. Never waits; the letter that found no
    /// room comes back as what is to be reported.
    pub(super) fn hand(&self, letter: &Arc<Letter>) -> Option<Told> {
        if !self.tell.about.covers(letter.event.rank()) {
            return None;
        }
        match self.tray.put(letter) {
            Put::In => None,
            Put::Dropped(dropped) => {
                let why = "too many notices wait for this way";
                Some(Told::not(&dropped, &self.label, why))
            }
        }
    }

    /// Somebody has heard: a sound stops. True if there was one.
    pub(super) fn hush(&self) -> bool {
        matches!(self.tell.way, Way::Sound(_)) && self.tray.hush()
    }

    /// What was never tried is tried once; then the thread ends.
    pub(super) fn close(&self) {
        self.tray.close();
    }
}

/// What the thread holds.
struct Desk {
    tell: Tell,
    label: String,
    tray: Arc<Tray>,
    again: &'static [Duration],
    ending: Ending,
    report: Report,
}

impl Desk {
    fn work(self) {
        while let Some(item) = self.tray.take() {
            let done = way::tell(&self.tell, &item.letter, &self.ending);
            match &self.tell.way {
                Way::Sound(sound) => self.sounded(item, done, way::real(sound.every)),
                Way::Command(_) | Way::Webhook(_) | Way::Mail(_) => self.tried(item, done),
            }
        }
    }

    fn tried(&self, item: Item, done: Result<(), String>) {
        let letter = Arc::clone(&item.letter);
        let event = letter.event.word();
        match (done, self.again.get(item.tried)) {
            (Ok(()), _) => (self.report)(Told::of(&letter, &self.label)),
            (Err(why), Some(after)) if !self.ending.is_begun() => {
                tracing::warn!(event, by = self.label, "not told, and tried again: {why}");
                self.tray.again(item, *after, false);
            }
            (Err(why), Some(_) | None) => {
                (self.report)(Told::not(&letter, &self.label, &why));
            }
        }
    }

    /// A sound sounds again until it is hushed; only the first one, or its failing, is reported.
    fn sounded(&self, item: Item, done: Result<(), String>, every: Duration) {
        if item.tried == 0 {
            (self.report)(match done {
                Ok(()) => Told::of(&item.letter, &self.label),
                Err(why) => Told::not(&item.letter, &self.label, &why),
            });
        }
        self.tray.again(item, every, true);
    }
}
