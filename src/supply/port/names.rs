//! Which ports there are, and what is wrong with one that cannot be opened.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// A serial port of this machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PortName {
    /// The name to write into a station file: the one that stays, if there is one.
    pub path: PathBuf,
    /// The device behind it.
    pub device: PathBuf,
    /// What it says about itself.
    pub about: Option<String>,
}

/// Every serial port of this machine: those with a name that stays first.
#[must_use]
pub fn ports() -> Vec<PortName> {
    let mut all = by_id();
    let known = serialport::available_ports().unwrap_or_default();
    for info in known {
        let device = PathBuf::from(&info.port_name);
        let about = about(&info.port_type);
        match all.iter_mut().find(|port| port.device == device) {
            Some(port) => port.about = about,
            None => all.push(PortName {
                path: device.clone(),
                device,
                about,
            }),
        }
    }
    all
}

/// The names that udev gives by maker, product and serial number; they survive a replug, `ttyUSB0`
/// does not.
fn by_id() -> Vec<PortName> {
    let Ok(folder) = fs::read_dir("/dev/serial/by-id") else {
        return Vec::new();
    };
    let mut all: Vec<PortName> = folder
        .flatten()
        .map(|entry| entry.path())
        .filter_map(|path| {
            let device = fs::canonicalize(&path).ok()?;
            Some(PortName {
                path,
                device,
                about: None,
            })
        })
        .collect();
    all.sort_by(|a, b| a.path.cmp(&b.path));
    all
}

fn about(kind: &serialport::SerialPortType) -> Option<String> {
    match kind {
        serialport::SerialPortType::UsbPort(usb) => {
            let parts = [&usb.manufacturer, &usb.product, &usb.serial_number];
            let text: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
            Some(
                format!("USB {:04x}:{:04x} {}", usb.vid, usb.pid, text.join(" "))
                    .trim()
                    .to_owned(),
            )
        }
        serialport::SerialPortType::PciPort => Some("on board".to_owned()),
        serialport::SerialPortType::BluetoothPort => Some("Bluetooth".to_owned()),
        serialport::SerialPortType::Unknown => None,
    }
}

/// True if the path leads to a pseudo-terminal, as a simulated supply has one.
#[must_use]
pub fn is_pseudo_terminal(path: &Path) -> bool {
    let Ok(real) = fs::canonicalize(path) else {
        return false;
    };
    // Linux: /dev/pts/7; macOS: /dev/ttys007, while its serial ports are /dev/tty.name and
    // /dev/cu.name.
    let name = real.to_string_lossy();
    name.starts_with("/dev/pts/") || name.starts_with("/dev/ttys")
}

/// Why a port cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PortError {
    /// There is no such path.
    NotThere {
        /// The path.
        path: PathBuf,
        /// The ports there are.
        known: Vec<PathBuf>,
    },
    /// This user may not open it.
    NotPermitted {
        /// The path.
        path: PathBuf,
        /// The group that may, where it has a name.
        group: Option<String>,
    },
    /// Another program holds it.
    Busy(PathBuf),
    /// It is no serial port, or it would not take the settings.
    Unusable {
        /// The path.
        path: PathBuf,
        /// The system's words.
        text: String,
    },
    /// A faster clock was asked for on a real port.
    NotSimulated(PathBuf),
}

impl PortError {
    /// Says what an error of opening means.
    pub(in crate::supply) fn of(path: &Path, error: &serialport::Error) -> Self {
        use std::io::ErrorKind;
        let path = path.to_owned();
        match error.kind() {
            serialport::ErrorKind::Io(ErrorKind::NotFound) => {
                let known = ports().into_iter().map(|port| port.path).collect();
                Self::NotThere { path, known }
            }
            serialport::ErrorKind::Io(ErrorKind::PermissionDenied) => {
                let group = group_of(&path);
                Self::NotPermitted { path, group }
            }
            serialport::ErrorKind::NoDevice => Self::Busy(path),
            serialport::ErrorKind::Io(_)
            | serialport::ErrorKind::InvalidInput
            | serialport::ErrorKind::Unknown => {
                let text = no_device(&path).unwrap_or_else(|| error.to_string());
                Self::Unusable { path, text }
            }
        }
    }

    /// A word for it.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NotThere { .. } => "port-not-there",
            Self::NotPermitted { .. } => "port-not-permitted",
            Self::Busy(_) => "port-busy",
            Self::Unusable { .. } => "port-unusable",
            Self::NotSimulated(_) => "port-not-simulated",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::NotThere { known, .. } if known.is_empty() => {
                "plug the supply in; this machine has no serial port now".to_owned()
            }
            Self::NotThere { known, .. } => {
                let known: Vec<String> = known.iter().map(|p| p.display().to_string()).collect();
                format!(
                    "name one of these in the station file: {}",
                    known.join(", ")
                )
            }
            Self::NotPermitted {
                group: Some(group), ..
            } => {
                format!("sudo usermod -aG {group} $USER, then log in again")
            }
            Self::NotPermitted { group: None, .. } => {
                "ask whoever looks after this machine for the right to use it".to_owned()
            }
            Self::Busy(_) => {
                "end the other program, or `nightvat stop` the run that uses it".to_owned()
            }
            Self::Unusable { .. } => "see `nightvat supply ports` for the serial ports".to_owned(),
            Self::NotSimulated(_) => {
                "leave --speed out, or use `nightvat supply emulate`".to_owned()
            }
        }
    }
}

impl fmt::Display for PortError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotThere { path, .. } => write!(f, "there is no port {}", path.display()),
            Self::NotPermitted { path, group } => {
                write!(f, "no permission to open {}", path.display())?;
                let of_group = |group: &String| write!(f, ", which belongs to the group {group}");
                group.as_ref().map_or(Ok(()), of_group)
            }
            Self::Busy(path) => write!(f, "another program holds {}", path.display()),
            Self::Unusable { path, text } => {
                write!(
                    f,
                    "{} cannot be used as a serial port: {text}",
                    path.display()
                )
            }
            Self::NotSimulated(path) => {
                write!(
                    f,
                    "{} is a real port: its clock cannot be hurried",
                    path.display()
                )
            }
        }
    }
}

impl std::error::Error for PortError {}

/// What it is instead, if it is no device at all.
fn no_device(path: &Path) -> Option<String> {
    let kind = fs::metadata(path).ok()?.file_type();
    let what = if kind.is_dir() {
        "a folder"
    } else if kind.is_file() {
        "a file"
    } else {
        return None;
    };
    Some(format!("it is {what}, not a serial port"))
}

/// The name of the group a file belongs to, if its members may use the file. Nobody is sent into
/// root's own group.
fn group_of(path: &Path) -> Option<String> {
    let about = fs::metadata(path).ok()?;
    if about.gid() == 0 || about.mode() & 0o060 != 0o060 {
        return None;
    }
    let gid = about.gid().to_string();
    let groups = fs::read_to_string("/etc/group").ok()?;
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)? == gid).then(|| name.to_owned())
    })
}
