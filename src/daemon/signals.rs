//! Signals become messages.

use super::inbox::Message;
use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM};
use signal_hook::iterator::{Handle, Signals};
use std::sync::mpsc::Sender;

/// Listens for signals until it is dropped.
#[derive(Debug)]
pub(super) struct Ears(Handle);

impl Ears {
    /// From now on SIGTERM, SIGINT and SIGQUIT are messages; SIGHUP is noted and changes nothing,
    /// so that a closed terminal does not end a night.
    pub(super) fn open(inbox: Sender<Message>) -> std::io::Result<Self> {
        let mut signals = Signals::new([SIGTERM, SIGINT, SIGQUIT, SIGHUP])?;
        let handle = signals.handle();
        std::thread::Builder::new()
            .name("signals".to_owned())
            .spawn(move || {
                for signal in signals.forever() {
                    if signal == SIGHUP {
                        tracing::info!("the terminal is gone; the night goes on");
                    } else if inbox.send(Message::Signal(signal)).is_err() {
                        return;
                    }
                }
            })?;
        Ok(Self(handle))
    }
}

impl Drop for Ears {
    fn drop(&mut self) {
        self.0.close();
    }
}
