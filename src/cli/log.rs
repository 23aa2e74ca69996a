//! The log on standard error. Nobody ever waits for it: a terminal that is stopped or gone loses
//! lines, and the night goes on.

use std::io::{self, Write};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::time::Duration;
use tracing_subscriber::EnvFilter;

/// So many lines wait for a slow reader; more are lost.
const WAITING: usize = 1024;
/// At the end the last lines get this long.
const LAST_WORDS: Duration = Duration::from_millis(200);

/// What the writing thread is told.
enum Word {
    Line(Vec<u8>),
    /// Say so when all before is written.
    Flush(Sender<()>),
}

/// The log's end in the hands of the program; dropped, it waits a moment for the last lines.
pub(super) struct Log(SyncSender<Word>);

/// Starts the log: as much as was asked for (0: errors, 1: what happens, 2 and 3: ever more), or as
/// `NIGHTVAT_LOG` says. `None` if the system gives no thread for it.
pub(super) fn start(verbose: u8) -> Option<Log> {
    let level = match verbose {
        0 => "error",
        1 => "info",
        2 => "debug",
        3.. => "trace",
    };
    let filter = EnvFilter::try_from_env("NIGHTVAT_LOG").unwrap_or_else(|_| EnvFilter::new(level));
    let (words, said) = sync_channel(WAITING);
    std::thread::Builder::new()
        .name("log".to_owned())
        .spawn(move || write(&said))
        .ok()?;
    let pen = words.clone();
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(false)
        // What cannot be written is not worth a word on the same standard error.
        .log_internal_errors(false)
        .with_writer(move || Pen(pen.clone()))
        .init();
    Some(Log(words))
}

fn write(said: &Receiver<Word>) {
    for word in said {
        match word {
            Word::Line(line) => {
                let _ = io::stderr().lock().write_all(&line);
            }
            Word::Flush(done) => {
                let _ = done.send(());
            }
        }
    }
}

/// Takes lines, and never waits.
struct Pen(SyncSender<Word>);

impl Write for Pen {
    fn write(&mut self, line: &[u8]) -> io::Result<usize> {
        let _ = self.0.try_send(Word::Line(line.to_vec()));
        Ok(line.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Drop for Log {
    fn drop(&mut self) {
        let (done, written) = channel();
        if self.0.try_send(Word::Flush(done)).is_ok() {
            let _ = written.recv_timeout(LAST_WORDS);
        }
    }
}
