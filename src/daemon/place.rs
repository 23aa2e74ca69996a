//! Where a daemon's state lies: the folder, its lock, its socket, its ledger.

use rustix::fs::{FlockOperation, flock};
use rustix::process::getuid;
use std::fs::{DirBuilder, File, OpenOptions};
use std::io::{ErrorKind, Read, Seek, Write};
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt};
use std::os::unix::net::UnixListener;
use std::path::{Path, PathBuf};

/// The name of the variable that names the state folder.
pub const STATE_VARIABLE: &str = "NIGHTVAT_STATE";
/// A socket's address holds 108 bytes on Linux and 104 on macOS, with a zero at its end.
const LONGEST_ADDRESS: usize = 103;
const SOCKET: &str = "nightvat.sock";

/// Why a state folder cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlaceFault {
    /// Neither the variable nor a home folder says where state lies.
    #[error("no state folder: neither {STATE_VARIABLE} nor HOME is set")]
    Nowhere,
    /// A folder or file in it cannot be made or read.
    #[error("{path}: {what}")]
    Unusable {
        /// The folder or file.
        path: String,
        /// What went wrong, in words.
        what: String,
    },
    /// Another daemon works in it.
    #[error("another daemon works in {folder}{by}")]
    Taken {
        /// The folder.
        folder: String,
        /// Its process, ` (process 4711)`, or nothing if it does not say.
        by: String,
    },
}

impl PlaceFault {
    fn at(path: &Path, what: &impl ToString) -> Self {
        Self::Unusable {
            path: path.display().to_string(),
            what: what.to_string(),
        }
    }
}

/// A state folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    folder: PathBuf,
}

/// The right to work in a state folder; it ends with the value, or with the process.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

impl Place {
    /// The folder that the environment names: `NIGHTVAT_STATE`, else the platform's.
    ///
    /// # Errors
    /// [`PlaceFault`] if it names none.
    pub fn of_environment() -> Result<Self, PlaceFault> {
        let variable = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty());
        if let Some(folder) = variable(STATE_VARIABLE) {
            return Self::at(Path::new(&folder));
        }
        if let Some(folder) = variable("XDG_STATE_HOME") {
            return Self::at(&Path::new(&folder).join("nightvat"));
        }
        let home = variable("HOME").ok_or(PlaceFault::Nowhere)?;
        let below = if cfg!(target_os = "macos") {
            "Library/Application Support/nightvat"
        } else {
            ".local/state/nightvat"
        };
        Self::at(&Path::new(&home).join(below))
    }

    /// This folder; it need not be there yet.
    ///
    /// # Errors
    /// [`PlaceFault`] if the working folder it is relative to is gone.
    pub fn at(folder: &Path) -> Result<Self, PlaceFault> {
        let folder = std::path::absolute(folder).map_err(|e| PlaceFault::at(folder, &e))?;
        Ok(Self { folder })
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The ledger in it.
    #[must_use]
    pub fn ledger(&self) -> PathBuf {
        self.folder.join("ledger.db")
    }

    /// The socket of its daemon. Where the folder's path is too long for a socket's address it has
    /// a short path elsewhere, the same for every process of this user.
    #[must_use]
    pub fn socket(&self) -> PathBuf {
        let plain = self.folder.join(SOCKET);
        if plain.as_os_str().len() <= LONGEST_ADDRESS {
            return plain;
        }
        let name = format!(
            "{:016x}.sock",
            short_name(self.folder.as_os_str().as_encoded_bytes())
        );
        let runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from);
        let short = runtime
            .filter(|folder| folder.is_dir())
            .map(|folder| folder.join("nightvat").join(&name))
            .filter(|path| path.as_os_str().len() <= LONGEST_ADDRESS);
        short.unwrap_or_else(|| {
            PathBuf::from(format!("/tmp/nightvat-{}", getuid().as_raw())).join(name)
        })
    }

    /// Makes the folder, for its owner alone, unless it is there.
    ///
    /// # Errors
    /// [`PlaceFault`] if it cannot be made, or belongs to somebody else.
    pub fn make(&self) -> Result<(), PlaceFault> {
        private_folder(&self.folder)
    }

    /// Takes the folder for this process.
    ///
    /// # Errors
    /// [`PlaceFault::Taken`] if a daemon works in it.
    pub fn lock(&self) -> Result<Lock, PlaceFault> {
        let path = self.folder.join("daemon.lock");
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .mode(0o600)
            .open(&path)
            .map_err(|e| PlaceFault::at(&path, &e))?;
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => {}
            Err(rustix::io::Errno::WOULDBLOCK) => {
                let mut said = String::new();
                // What it says is only for the message.
                let _ = file.read_to_string(&mut said);
                let by = said
                    .trim()
                    .parse::<u32>()
                    .map(|pid| format!(" (process {pid})"));
                return Err(PlaceFault::Taken {
                    folder: self.folder.display().to_string(),
                    by: by.unwrap_or_default(),
                });
            }
            Err(e) => return Err(PlaceFault::at(&path, &e)),
        }
        // Only for a message, and a full disk is no reason not to look after the output.
        let _ = file
            .rewind()
            .and_then(|()| writeln!(file, "{:>10}", std::process::id()));
        Ok(Lock { _file: file })
    }

    /// Listens on the socket, for its owner alone. A socket that a dead daemon left is replaced:
    /// the lock says that it is dead.
    ///
    /// # Errors
    /// [`PlaceFault`] if it cannot be made.
    pub fn listen(&self, _lock: &Lock) -> Result<UnixListener, PlaceFault> {
        let path = self.socket();
        if let Some(folder) = path.parent() {
            private_folder(folder)?;
        }
        match std::fs::remove_file(&path) {
            Ok(()) => {}
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            Err(e) => return Err(PlaceFault::at(&path, &e)),
        }
        // Between these two lines the folder's mode is what keeps others out.
        let listener = UnixListener::bind(&path).map_err(|e| PlaceFault::at(&path, &e))?;
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o600))
            .and_then(|()| listener.set_nonblocking(true))
            .map_err(|e| PlaceFault::at(&path, &e))?;
        Ok(listener)
    }
}

/// Makes a folder of mode 0700 with all above it, or checks that the one that is there is ours.
fn private_folder(folder: &Path) -> Result<(), PlaceFault> {
    DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(folder)
        .map_err(|e| PlaceFault::at(folder, &e))?;
    let about = std::fs::metadata(folder).map_err(|e| PlaceFault::at(folder, &e))?;
    let linked = std::fs::symlink_metadata(folder).is_ok_and(|it| it.file_type().is_symlink());
    if about.uid() != getuid().as_raw() || (linked && folder.starts_with("/tmp")) {
        return Err(PlaceFault::at(
            folder,
            &"the folder belongs to somebody else",
        ));
    }
    if about.permissions().mode() & 0o002 != 0 {
        return Err(PlaceFault::at(
            folder,
            &"everybody may write in this folder: take that right away with chmod 700",
        ));
    }
    Ok(())
}

/// A number for a path: FNV-1a, 64 bits (Fowler, Noll, Vo), the same in every build.
fn short_name(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_short_name_is_the_published_one() {
        // FNV-1a 64-bit test vectors of its authors' draft (draft-eastlake-fnv): "" and "a"; from
        // memory.
        assert_eq!(short_name(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(short_name(b"a"), 0xaf63_dc4c_8601_ec8c);
    }

    #[test]
    fn a_second_daemon_is_refused_and_told_which_process_is_there() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = Place::at(&folder.path().join("state")).expect("a place");
        place.make().expect("made");
        let lock = place.lock().expect("free");
        let refused = place.lock().expect_err("taken");
        assert!(
            refused
                .to_string()
                .contains(&std::process::id().to_string()),
            "{refused}"
        );
        drop(lock);
        assert!(place.lock().is_ok(), "free again");
    }

    #[test]
    fn folder_and_socket_are_for_their_owner_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = Place::at(&folder.path().join("state")).expect("a place");
        place.make().expect("made");
        let lock = place.lock().expect("free");
        let _listener = place.listen(&lock).expect("listens");
        let mode = |path: &Path| std::fs::metadata(path).expect("there").mode() & 0o777;
        assert_eq!(mode(place.folder()), 0o700);
        assert_eq!(mode(&place.socket()), 0o600);
    }

    #[test]
    fn a_socket_that_was_left_behind_is_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = Place::at(folder.path()).expect("a place");
        let lock = place.lock().expect("free");
        drop(place.listen(&lock).expect("first"));
        assert!(
            place.socket().exists(),
            "a dropped listener leaves its file"
        );
        let second = place.listen(&lock).expect("second");
        std::os::unix::net::UnixStream::connect(place.socket()).expect("somebody answers");
        drop(second);
    }

    #[test]
    fn a_long_folder_has_a_short_socket() {
        let folder = tempfile::tempdir().expect("a folder");
        let deep = folder.path().join("x".repeat(60)).join("y".repeat(60));
        let place = Place::at(&deep).expect("a place");
        place.make().expect("made");
        assert!(place.socket().as_os_str().len() <= LONGEST_ADDRESS);
        let lock = place.lock().expect("free");
        let _listener = place.listen(&lock).expect("listens");
        std::os::unix::net::UnixStream::connect(place.socket()).expect("somebody answers");
        std::fs::remove_file(place.socket()).expect("cleaned");
    }
}
