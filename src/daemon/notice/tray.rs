//! A bounded queue of letters for one way. Putting one in never waits; what must wake her goes
//! first; and when there is no room, what can wait until the morning gives way.

use super::letter::Letter;
use crate::spec::notices::Rank;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A letter on its way.
#[derive(Clone, Debug)]
pub(super) struct Item {
    pub(super) letter: Arc<Letter>,
    /// So many tries have failed, or so often it has sounded.
    pub(super) tried: usize,
    due: Instant,
    /// What was hushed when it was taken out.
    hushed: u64,
}

/// What came of putting a letter in.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Put {
    /// It waits.
    In,
    /// There was no room, and this one was let go.
    Dropped(Arc<Letter>),
}

#[derive(Debug, Default)]
struct Inner {
    items: Vec<Item>,
    hushed: u64,
    closing: bool,
    /// A letter has been taken out and not been put back.
    out: bool,
}

/// The queue.
#[derive(Debug)]
pub(super) struct Tray {
    room: usize,
    inner: Mutex<Inner>,
    changed: Condvar,
}

impl Tray {
    pub(super) fn new(room: usize) -> Self {
        Self {
            room,
            inner: Mutex::default(),
            changed: Condvar::new(),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        // Nothing in here panics half way.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts a letter in.
    pub(super) fn put(&self, letter: &Arc<Letter>) -> Put {
        let mut inner = self.lock();
        let mut dropped = None;
        if inner.items.len() >= self.room {
            let rank = letter.event.rank();
            let gives_way = |item: &Item| item.letter.event.rank() == Rank::Morning;
            match inner.items.iter().position(gives_way) {
                Some(at) if rank == Rank::Wake => dropped = Some(inner.items.remove(at).letter),
                Some(_) | None => return Put::Dropped(Arc::clone(letter)),
            }
        }
        let hushed = inner.hushed;
        inner.items.push(Item {
            letter: Arc::clone(letter),
            tried: 0,
            due: Instant::now(),
            hushed,
        });
        self.changed.notify_all();
        dropped.map_or(Put::In, Put::Dropped)
    }

    /// The next letter that is due, when one is; `None` when the tray closes and all that is left
    /// has been tried already.
    pub(super) fn take(&self) -> Option<Item> {
        let mut inner = self.lock();
        inner.out = false;
        loop {
            let now = Instant::now();
            if inner.closing {
                inner.items.retain(|item| item.tried == 0);
            }
            let due = inner.items.iter().enumerate();
            let next = due
                .filter(|(_, item)| item.due <= now)
                .min_by_key(|(at, item)| (std::cmp::Reverse(item.letter.event.rank()), *at));
            if let Some((at, _)) = next {
                let mut item = inner.items.remove(at);
                item.hushed = inner.hushed;
                inner.out = true;
                return Some(item);
            }
            if inner.closing {
                return None;
            }
            let soonest = inner.items.iter().map(|item| item.due).min();
            let wait = soonest.map_or(Duration::from_secs(3600), |due| {
                due.saturating_duration_since(now)
            });
            let woken = self.changed.wait_timeout(inner, wait);
            inner = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// Puts an item back, to be tried again after this long; not if it was hushed meanwhile, and
    /// not where only the `newest` counts and a newer one is there.
    pub(super) fn again(&self, mut item: Item, after: Duration, newest: bool) {
        let mut inner = self.lock();
        let overtaken = newest && !inner.items.is_empty();
        if item.hushed == inner.hushed && !overtaken {
            item.tried += 1;
            item.due = Instant::now() + after;
            inner.items.push(item);
            self.changed.notify_all();
        }
    }

    /// Empties the tray: somebody has heard. True if something was in it, or under way.
    pub(super) fn hush(&self) -> bool {
        let mut inner = self.lock();
        inner.hushed += 1;
        let any = inner.out || !inner.items.is_empty();
        inner.items.clear();
        any
    }

    /// From now on nothing is tried twice.
    pub(super) fn close(&self) {
        self.lock().closing = true;
        self.changed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::super::event::Event;
    use super::*;

    fn letter(event: Event, subject: &str) -> Arc<Letter> {
        Arc::new(Letter {
            event,
            run: None,
            subject: subject.to_owned(),
            text: String::new(),
            json: String::new(),
        })
    }

    fn taken(tray: &Tray) -> String {
        tray.take().expect("a letter").letter.subject.clone()
    }

    #[test]
    fn what_wakes_her_goes_first_and_the_rest_in_its_order() {
        let tray = Tray::new(8);
        for (event, subject) in [
            (Event::Began, "one"),
            (Event::Finished, "two"),
            (Event::Tripped, "loud"),
        ] {
            assert_eq!(tray.put(&letter(event, subject)), Put::In);
        }
        assert_eq!(
            [taken(&tray), taken(&tray), taken(&tray)],
            ["loud", "one", "two"]
        );
    }

    #[test]
    fn a_full_tray_lets_go_of_what_can_wait_and_never_of_what_wakes_her() {
        let tray = Tray::new(2);
        let (one, two) = (letter(Event::Began, "one"), letter(Event::Tripped, "two"));
        tray.put(&one);
        tray.put(&two);
        let late = letter(Event::Finished, "late");
        assert_eq!(tray.put(&late), Put::Dropped(Arc::clone(&late)));
        let loud = letter(Event::Unconfirmed, "loud");
        assert_eq!(tray.put(&loud), Put::Dropped(one));
        let more = letter(Event::Interrupted, "more");
        assert_eq!(tray.put(&more), Put::Dropped(Arc::clone(&more)));
        assert_eq!([taken(&tray), taken(&tray)], ["two", "loud"]);
    }

    #[test]
    fn a_hushed_letter_does_not_come_back() {
        let tray = Tray::new(2);
        tray.put(&letter(Event::Tripped, "loud"));
        let item = tray.take().expect("a letter");
        assert!(tray.hush(), "it is under way");
        tray.again(item, Duration::ZERO, true);
        tray.put(&letter(Event::Tripped, "next"));
        assert_eq!(taken(&tray), "next");
        tray.close();
        assert!(tray.take().is_none());
        assert!(!tray.hush());
    }

    #[test]
    fn a_sound_gives_way_to_a_newer_one() {
        let tray = Tray::new(2);
        tray.put(&letter(Event::Tripped, "old"));
        let old = tray.take().expect("a letter");
        tray.put(&letter(Event::Unconfirmed, "new"));
        tray.again(old, Duration::ZERO, true);
        assert_eq!(taken(&tray), "new");
        tray.put(&letter(Event::Unconfirmed, "last"));
        assert_eq!(taken(&tray), "last");
    }
}
