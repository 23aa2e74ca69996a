//! `unit`: the systemd unit of a station.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::daemon::{Place, STATE_VARIABLE};
use crate::spec::{self, Shelf};
use rustix::process::{getgid, getuid};
use serde_json::json;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

/// The systemd unit of a station: its text, to be put into a file
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    nightvat unit north-tank.toml | sudo tee /etc/systemd/system/nightvat.service\n  \
    sudo systemctl daemon-reload && sudo systemctl enable --now nightvat\n\n\
    The service runs as you, with your state folder, so that the other commands find it. However \
    it ends, `nightvat off` runs after it. Run `unit` from the account that is to own the bath.")]
pub(super) struct UnitArgs {
    /// The station: a file, or the name of a built-in one
    station: String,
}

/// Does it.
///
/// # Errors
/// [`Failure`] if the station cannot be read, or a path has no place in a unit.
pub(super) fn run(args: &UnitArgs, json: bool) -> Result<(), Failure> {
    let shelf = Shelf::disk();
    let station = spec::station::open(&args.station, &shelf)?;
    let exe = std::env::current_exe().map_err(|fault| {
        let text = format!("where is this program? {fault}");
        Failure::new(Exit::Failed, "no-program", text)
    })?;
    let path = Path::new(&args.station);
    let file = if path.exists() {
        std::path::absolute(path).map_or_else(|_| args.station.clone(), |it| shown(&it))
    } else {
        args.station.clone()
    };
    let place = Place::of_environment()?;
    let text = unit(&Words {
        name: &one_line(&station.name),
        exe: &quoted(&shown(&exe))?,
        station: &quoted(&file)?.replace('$', "$$"),
        state: &quoted(&format!("{STATE_VARIABLE}={}", shown(place.folder())))?,
        group: group_of(&station.port),
    });
    if json {
        print_json(&json!({ "station": station.name, "unit": text }));
    } else {
        print_text(&text);
    }
    Ok(())
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}

/// What differs from unit to unit, as it may stand in one. In a command's argument a dollar is
/// written twice.
struct Words<'a> {
    name: &'a str,
    exe: &'a str,
    station: &'a str,
    state: &'a str,
    group: Option<u32>,
}

/// The text. The daemon has 15 s to prove the output off and some more for its last words; the
/// ledger may take 15 s over a commit, so that the watchdog is slower than that. The keeper's lease
/// of 5 s is what protects the piece; the watchdog only brings a daemon back.
fn unit(words: &Words<'_>) -> String {
    let (exe, station, state) = (words.exe, words.station, words.state);
    let group = match words.group {
        Some(group) => format!("SupplementaryGroups={group}\n"),
        None => String::new(),
    };
    format!(
        "[Unit]\n\
         Description=nightvat: {name}\n\
         # A supply that is not there yet is tried again for ever.\n\
         StartLimitIntervalSec=0\n\
         \n\
         [Service]\n\
         Type=notify\n\
         NotifyAccess=main\n\
         User={user}\n\
         Group={own}\n\
         {group}\
         Environment={state}\n\
         ExecStart={exe} serve {station}\n\
         # However the daemon ended, the output is off afterwards, read back.\n\
         ExecStopPost={exe} off {station}\n\
         # Daemon and keeper are asked together; each turns the output off by itself.\n\
         KillMode=control-group\n\
         KillSignal=SIGTERM\n\
         TimeoutStartSec=60\n\
         TimeoutStopSec=45\n\
         # Fed by completed control periods only while current may flow.\n\
         WatchdogSec=30\n\
         WatchdogSignal=SIGTERM\n\
         OOMPolicy=continue\n\
         Restart=on-failure\n\
         RestartSec=10\n\
         # A station file that is wrong does not mend itself.\n\
         RestartPreventExitStatus=2\n\
         \n\
         [Install]\n\
         WantedBy=multi-user.target\n",
        name = words.name,
        user = getuid().as_raw(),
        own = getgid().as_raw(),
    )
}

/// The group that may use the port, where it is neither root's nor her own.
fn group_of(port: &str) -> Option<u32> {
    let group = std::fs::metadata(port).ok()?.gid();
    (group != 0 && group != getgid().as_raw()).then_some(group)
}

/// A name on one line, without what a unit would read something into.
fn one_line(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| if c.is_control() || c == '\\' { ' ' } else { c })
        .collect();
    plain.replace('%', "%%")
}

/// A word of a unit: quoted, and nothing in it means anything to systemd.
fn quoted(word: &str) -> Result<String, Failure> {
    if word.chars().any(char::is_control) {
        let text = "a path with a control character in it has no place in a unit";
        return Err(Failure::new(Exit::BadInput, "bad-value", text).at(word));
    }
    let word = word
        .replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('%', "%%");
    Ok(format!("\"{word}\""))
}
