//! Who is told what happens on a station, and how.

use crate::units::Span;
use std::path::PathBuf;

/// All that a station says to somebody outside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Notices {
    /// The ways by which somebody is told, in the order of the file.
    pub tell: Vec<Tell>,
    /// A sign of life, so that silence is noticed.
    pub heartbeat: Option<Heartbeat>,
    /// What is done again and again while a run is on, a photo say.
    pub hourly: Option<Hourly>,
}

/// One way by which somebody is told.
#[derive(Clone, Debug, PartialEq)]
pub struct Tell {
    /// What it is about.
    pub about: About,
    /// One try may take this long.
    pub within: Span,
    /// The way.
    pub way: Way,
}

/// How much a thing matters to somebody asleep.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Rank {
    /// It can wait until she is up.
    Morning,
    /// She must be woken.
    Wake,
}

impl Rank {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Morning => "morning",
            Self::Wake => "wake",
        }
    }
}

/// Which things one way tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// Only what must wake her.
    Wake,
    /// Only what can wait until the morning.
    Morning,
    /// Everything.
    All,
}

impl About {
    /// True if this way tells things of this rank.
    #[must_use]
    pub const fn covers(self, rank: Rank) -> bool {
        match (self, rank) {
            (Self::All, Rank::Wake | Rank::Morning)
            | (Self::Wake, Rank::Wake)
            | (Self::Morning, Rank::Morning) => true,
            (Self::Wake, Rank::Morning) | (Self::Morning, Rank::Wake) => false,
        }
    }
}

/// A way to tell.
#[derive(Clone, Debug, PartialEq)]
pub enum Way {
    /// A sound here, again and again until somebody acknowledges it.
    Sound(Sound),
    /// A program, with the notice as JSON on its standard input.
    Command(Command),
    /// The notice as JSON, posted to an address.
    Webhook(Url),
    /// A mail.
    Mail(Mail),
}

impl Way {
    /// Its word in a station file.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Sound(_) => "sound",
            Self::Command(_) => "command",
            Self::Webhook(_) => "webhook",
            Self::Mail(_) => "mail",
        }
    }
}

/// A sound: the terminal's bell, and a program that plays something where one is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// The program.
    pub run: Option<Command>,
    /// It sounds again after this.
    pub every: Span,
}

/// A program and its arguments, never a shell's line. Never empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Command {
    /// The program.
    pub program: String,
    /// Its arguments.
    pub arguments: Vec<String>,
}

/// An address on the web.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Url {
    /// As it stands in the file.
    pub text: String,
    /// True for https.
    pub secure: bool,
    /// The host, without brackets.
    pub host: String,
    /// The port.
    pub port: u16,
    /// Path and query, from the first `/`.
    pub target: String,
}

/// A mail and the server that takes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mail {
    /// The server's name.
    pub server: String,
    /// How the talk with it is kept secret.
    pub secrecy: Secrecy,
    /// Its port.
    pub port: u16,
    /// The name and the file with the password, if it wants them.
    pub login: Option<(String, PathBuf)>,
    /// Who it is from.
    pub from: String,
    /// Who gets it; never empty.
    pub to: Vec<String>,
}

/// How the talk with a mail server is kept secret.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Secrecy {
    /// TLS from the first byte.
    Tls,
    /// TLS from the word STARTTLS on; without it nothing is sent.
    StartTls,
    /// Not at all.
    Open,
}

/// A sign of life.
#[derive(Clone, Debug, PartialEq)]
pub struct Heartbeat {
    /// It is given this often.
    pub every: Span,
    /// One may take this long.
    pub within: Span,
    /// Where to.
    pub to: Outward,
}

/// Where a sign of life goes.
#[derive(Clone, Debug, PartialEq)]
pub enum Outward {
    /// The status as JSON, posted to an address.
    Webhook(Url),
    /// A program, with the status as JSON on its standard input.
    Command(Command),
}

/// What is done again and again while a run is on; what it prints is kept with the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Hourly {
    /// The program; the status is on its standard input as JSON.
    pub run: Command,
    /// It is run this often, on the station's clock.
    pub every: Span,
    /// It may take this long.
    pub within: Span,
}
