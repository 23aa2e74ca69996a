//! One try by one way.

use super::ending::Ending;
use super::letter::Letter;
use super::{mail, program, webhook};
use crate::spec::notices::{Command, Outward, Sound, Tell, Url, Way};
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::time::Duration;

/// Tells it: done, or why not.
pub(super) fn tell(tell: &Tell, letter: &Letter, ending: &Ending) -> Result<(), String> {
    let within = real(tell.within);
    match &tell.way {
        Way::Sound(sound) => ring(sound, letter, within, ending),
        Way::Command(command) => {
            program::run(command, letter.json.as_bytes(), within, ending).map(|_| ())
        }
        Way::Webhook(url) => webhook::post(url, &letter.json, within),
        Way::Mail(to) => mail::send(to, letter, within),
    }
}

/// Gives a sign of life.
pub(super) fn beat(
    to: &Outward,
    json: &str,
    within: Duration,
    ending: &Ending,
) -> Result<(), String> {
    match to {
        Outward::Webhook(url) => webhook::post(url, json, within),
        Outward::Command(command) => {
            program::run(command, json.as_bytes(), within, ending).map(|_| ())
        }
    }
}

/// Rings the terminal's bell where there is a terminal, and runs what plays a sound.
fn ring(sound: &Sound, letter: &Letter, within: Duration, ending: &Ending) -> Result<(), String> {
    let mut terminal = std::io::stderr();
    let rung = terminal.is_terminal() && terminal.write_all(b"\x07").is_ok();
    match &sound.run {
        Some(command) => program::run(command, letter.json.as_bytes(), within, ending).map(|_| ()),
        None if rung => Ok(()),
        None => Err("there is no terminal to ring, and `run` names no program".to_owned()),
    }
}

/// A time of the station file in the machine's own.
pub(super) fn real(span: crate::units::Span) -> Duration {
    Duration::try_from_secs_f64(span.s()).unwrap_or(Duration::ZERO)
}

/// A way by its word and where it leads, without secrets.
pub(super) fn label(tell: &Tell) -> String {
    let word = tell.way.word();
    match &tell.way {
        Way::Sound(sound) => match &sound.run {
            Some(command) => format!("{word} {}", of_command(command)),
            None => format!("{word} (the terminal's bell)"),
        },
        Way::Command(command) => format!("{word} {}", of_command(command)),
        Way::Webhook(url) => format!("{word} {}", of_url(url)),
        Way::Mail(mail) => format!("{word} {}", mail.to.join(", ")),
    }
}

/// Where a sign of life goes.
pub(super) fn label_outward(to: &Outward) -> String {
    match to {
        Outward::Webhook(url) => of_url(url),
        Outward::Command(command) => of_command(command),
    }
}

/// The program without its folder.
pub(super) fn of_command(command: &Command) -> String {
    let name = Path::new(&command.program).file_name();
    name.map_or_else(
        || command.program.clone(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Host and port: the path of a webhook is often its password.
fn of_url(url: &Url) -> String {
    format!("{}:{}", url.host, url.port)
}
