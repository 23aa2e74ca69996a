//! Writes the ledger on a thread of its own, behind a bounded queue: a disk that stalls never
//! stalls the loop.

use super::inbox::Message;
use crate::ledger::{Entry, RunHead, RunId, Store, Ticket};
use std::sync::mpsc::{Receiver, Sender, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// So many entries may wait for the disk: over an hour of readings.
const QUEUE: usize = 8192;

/// What the scribe is told.
#[derive(Debug)]
enum Task {
    Begin(Box<RunHead>),
    Append(RunId, Entry),
    Commit(Ticket),
    Thin(RunId),
}

/// What the scribe says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Written {
    /// A run has its number, or none.
    Began(Result<RunId, String>),
    /// Everything before this ticket is durable.
    Committed(Ticket),
    /// Something was not taken.
    Failed(String),
}

/// The ledger does not keep up: nothing more fits into the queue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Full;

/// A ledger that can thin a run which is over.
pub(super) trait Thins: Store {
    /// Thins the readings of a run; what goes wrong is only logged.
    fn thin_run(&mut self, run: RunId);
}

/// The loop's end of the queue.
#[derive(Debug)]
pub(super) struct Scribe {
    tasks: SyncSender<Task>,
    thread: JoinHandle<()>,
}

impl Scribe {
    /// Starts the thread.
    pub(super) fn start<S: Thins + Send + 'static>(
        mut store: S,
        inbox: Sender<Message>,
    ) -> std::io::Result<Self> {
        let (tasks, waiting) = sync_channel(QUEUE);
        let thread = std::thread::Builder::new()
            .name("ledger".to_owned())
            .spawn(move || keep(&mut store, &waiting, &inbox))?;
        Ok(Self { tasks, thread })
    }

    /// Opens a run; [`Written::Began`] answers.
    pub(super) fn begin(&self, head: RunHead) -> Result<(), Full> {
        self.put(Task::Begin(Box::new(head)))
    }

    /// Takes an entry down.
    pub(super) fn append(&self, run: RunId, entry: Entry) -> Result<(), Full> {
        self.put(Task::Append(run, entry))
    }

    /// Makes durable what was taken down; [`Written::Committed`] answers.
    pub(super) fn commit(&self, ticket: Ticket) -> Result<(), Full> {
        self.put(Task::Commit(ticket))
    }

    /// Thins a run that is over, when there is time.
    pub(super) fn thin(&self, run: RunId) -> Result<(), Full> {
        self.put(Task::Thin(run))
    }

    /// Waits until all is written, but not longer than this. True if all is.
    pub(super) fn close(self, at_most: Duration) -> bool {
        let Self { tasks, thread } = self;
        drop(tasks);
        let until = Instant::now() + at_most;
        while !thread.is_finished() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(5));
        }
        thread.is_finished() && thread.join().is_ok()
    }

    fn put(&self, task: Task) -> Result<(), Full> {
        // A thread that is gone takes nothing either.
        self.tasks.try_send(task).map_err(|_| Full)
    }
}

/// Writes until the loop lets go of the queue.
fn keep<S: Thins>(store: &mut S, waiting: &Receiver<Task>, inbox: &Sender<Message>) {
    let mut lost = None;
    while let Ok(first) = waiting.recv() {
        let mut tasks = vec![first];
        tasks.extend(waiting.try_iter());
        for (task, tickets) in together(tasks) {
            let Some(written) = carry_out(store, task, &mut lost) else {
                continue;
            };
            for ticket in tickets {
                let written = match &written {
                    Written::Committed(_) => Written::Committed(ticket),
                    Written::Failed(_) | Written::Began(_) => written.clone(),
                };
                let _ = inbox.send(Message::Ledger(written));
            }
            // At the end nobody listens any more, and the rest is written all the same.
            let _ = inbox.send(Message::Ledger(written));
        }
    }
}

/// Of several commits that wait only the last is carried out, with the tickets of those before it:
/// a slow disk is then slow once.
fn together(tasks: Vec<Task>) -> Vec<(Task, Vec<Ticket>)> {
    let is_commit = |task: &Task| matches!(task, Task::Commit(_));
    let mut commits = tasks.iter().filter(|task| is_commit(task)).count();
    let mut waiting = Vec::new();
    let mut kept = Vec::with_capacity(tasks.len());
    for task in tasks {
        match task {
            Task::Commit(ticket) if commits > 1 => {
                commits -= 1;
                waiting.push(ticket);
            }
            Task::Commit(_) => kept.push((task, std::mem::take(&mut waiting))),
            Task::Begin(_) | Task::Append(..) | Task::Thin(_) => kept.push((task, Vec::new())),
        }
    }
    kept
}

/// Carries one task out. `lost` is what an entry was refused for: the next commit must not promise
/// it.
fn carry_out<S: Thins>(store: &mut S, task: Task, lost: &mut Option<String>) -> Option<Written> {
    match task {
        Task::Begin(head) => Some(Written::Began(
            store.begin(&head).map_err(|refused| refused.to_string()),
        )),
        Task::Append(run, entry) => {
            if let Err(refused) = store.append(run, &entry) {
                *lost = Some(refused.to_string());
            }
            None
        }
        Task::Commit(ticket) => Some(match (store.commit(), lost.take()) {
            (Ok(()), None) => Written::Committed(ticket),
            (Err(refused), _) => Written::Failed(refused.to_string()),
            (Ok(()), Some(refused)) => Written::Failed(refused),
        }),
        Task::Thin(run) => {
            store.thin_run(run);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::StoreFault;
    use crate::units::Span;
    use std::sync::mpsc::channel;

    /// A ledger that takes `room` entries and refuses those after.
    struct Small {
        room: usize,
    }

    impl Store for Small {
        fn begin(&mut self, _: &RunHead) -> Result<RunId, StoreFault> {
            Ok(7)
        }
        fn append(&mut self, _: RunId, _: &Entry) -> Result<(), StoreFault> {
            let left = self.room.checked_sub(1);
            self.room = left.unwrap_or(0);
            left.map(|_| ()).ok_or(StoreFault {
                place: "shelf".into(),
                what: "is full".into(),
            })
        }
        fn commit(&mut self) -> Result<(), StoreFault> {
            Ok(())
        }
    }

    impl Thins for Small {
        fn thin_run(&mut self, _: RunId) {}
    }

    fn event() -> Entry {
        Entry::Event {
            at: Span::ZERO,
            code: "reached",
            text: String::new(),
        }
    }

    #[test]
    fn a_commit_after_a_refused_entry_does_not_promise_it() {
        let mut store = Small { room: 1 };
        let mut lost = None;
        assert_eq!(
            carry_out(&mut store, Task::Append(7, event()), &mut lost),
            None
        );
        let first = carry_out(&mut store, Task::Commit(Ticket(1)), &mut lost);
        assert_eq!(first, Some(Written::Committed(Ticket(1))));
        assert_eq!(
            carry_out(&mut store, Task::Append(7, event()), &mut lost),
            None
        );
        let second = carry_out(&mut store, Task::Commit(Ticket(2)), &mut lost);
        assert_eq!(
            second,
            Some(Written::Failed("the ledger shelf is full".into()))
        );
    }

    #[test]
    fn commits_that_wait_are_one_and_each_is_answered() {
        let tasks = vec![
            Task::Append(7, event()),
            Task::Commit(Ticket(1)),
            Task::Append(7, event()),
            Task::Commit(Ticket(2)),
            Task::Commit(Ticket(3)),
            Task::Append(7, event()),
        ];
        let kept: Vec<_> = together(tasks)
            .into_iter()
            .map(|(task, tickets)| (matches!(task, Task::Commit(Ticket(3))), tickets))
            .collect();
        // Two entries, the last commit with the tickets before it, the entry that came after it.
        let none = Vec::new;
        assert_eq!(
            kept,
            [
                (false, none()),
                (false, none()),
                (true, vec![Ticket(1), Ticket(2)]),
                (false, none())
            ]
        );
    }

    #[test]
    fn answers_come_in_the_order_of_the_tasks_and_closing_writes_all() {
        let (inbox, said) = channel();
        let scribe = Scribe::start(Small { room: 100 }, inbox).expect("a thread");
        scribe.begin(RunHead::default()).expect("room");
        for ticket in 1..=3 {
            scribe.append(7, event()).expect("room");
            scribe.commit(Ticket(ticket)).expect("room");
        }
        assert!(scribe.close(Duration::from_secs(5)));
        let said: Vec<Written> = said
            .iter()
            .map(|message| match message {
                Message::Ledger(written) => written,
                other => panic!("{other:?}"),
            })
            .collect();
        let expected = [
            Written::Began(Ok(7)),
            Written::Committed(Ticket(1)),
            Written::Committed(Ticket(2)),
            Written::Committed(Ticket(3)),
        ];
        assert_eq!(said, expected);
    }
}
