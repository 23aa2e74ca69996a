//! Writes the keeper's records on a thread of its own, so that a disk that stalls holds up no off.

use super::post::say;
use super::record::Record;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;
use std::time::Duration;

/// A record, and who is told when it is written.
struct Item(Record, Sender<()>);

/// The thread that writes.
pub(super) struct Secretary {
    /// `None` where the system gave no thread; then whoever asks writes.
    items: Option<Sender<Item>>,
    state: PathBuf,
    /// Disconnected when the thread is through.
    done: Receiver<()>,
}

impl Secretary {
    /// Begins; records go to this state folder.
    pub(super) fn start(state: &Path) -> Self {
        let (give, items) = channel();
        let (end, done) = channel();
        let folder = state.to_owned();
        let spawned = thread::Builder::new()
            .name("record".to_owned())
            .spawn(move || {
                write_all(&items, &folder);
                drop(end);
            });
        Self {
            items: spawned.ok().map(|_| give),
            state: state.to_owned(),
            done,
        }
    }

    /// Has a record written; the receiver tells when it is.
    pub(super) fn write(&self, record: Record) -> Receiver<()> {
        let (tell, told) = channel();
        match &self.items {
            // The thread lives as long as this sender.
            Some(items) => drop(items.send(Item(record, tell))),
            None => {
                write(&record, &self.state);
                let _ = tell.send(());
            }
        }
        told
    }

    /// Waits so long for the last record.
    pub(super) fn close(self, patience: Duration) {
        drop(self.items);
        // Nothing is ever sent: it ends when the thread does.
        let _ = self.done.recv_timeout(patience);
    }
}

/// Writes until nobody can give more. Of several that wait only the last is of use.
fn write_all(items: &Receiver<Item>, state: &Path) {
    while let Ok(first) = items.recv() {
        let mut waiting = vec![first];
        waiting.extend(items.try_iter());
        if let Some(Item(record, _)) = waiting.last() {
            write(record, state);
        }
        for Item(_, tell) in waiting {
            // Most do not wait for it.
            let _ = tell.send(());
        }
    }
}

fn write(record: &Record, state: &Path) {
    if let Err(error) = record.write(state) {
        say(&format!("no record could be written: {error}"));
    }
}
