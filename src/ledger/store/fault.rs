//! Why SQLite did not do it, in words that say what to do.

use crate::ledger::StoreFault;
use rusqlite::{Error, ErrorCode};
use std::path::Path;

/// A fault of this file in our own words.
pub(in crate::ledger) fn refused(path: &Path, what: &str) -> StoreFault {
    StoreFault {
        place: path.display().to_string(),
        what: what.to_owned(),
    }
}

/// A fault of this file from an error of SQLite.
pub(in crate::ledger) fn fault(path: &Path, error: &Error) -> StoreFault {
    refused(path, &words(error))
}

/// A fault of this file from an error of the file system.
pub(super) fn file_fault(path: &Path, error: &std::io::Error) -> StoreFault {
    refused(
        path,
        &format!("cannot be made: {error}; look at the folder and at who owns it"),
    )
}

fn words(error: &Error) -> String {
    let known = error.sqlite_error_code().and_then(known_words);
    known.map_or_else(|| format!("does not take it: {error}"), str::to_owned)
}

/// What a person can do something about has words of its own.
fn known_words(code: ErrorCode) -> Option<&'static str> {
    Some(match code {
        ErrorCode::DiskFull => {
            "cannot be written, the disk is full: free some space on it, then try again"
        }
        ErrorCode::ReadOnly => {
            "is read-only: look at who owns the file and its folder, and let its owner write \
             (chmod u+rw)"
        }
        ErrorCode::PermissionDenied | ErrorCode::CannotOpen => {
            "cannot be opened: look at whether its folder is there and who may read and write it"
        }
        ErrorCode::NotADatabase => {
            "is not a ledger, not even an SQLite file: name another file with --ledger, or move it \
             away"
        }
        ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => {
            "is held by another program: close what has it open, then try again"
        }
        ErrorCode::DatabaseCorrupt => {
            "is damaged: copy it away as it is, then put back a copy of it or name another file"
        }
        ErrorCode::SystemIoFailure => {
            "cannot be read or written, the disk gives errors: save what is on it"
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rusqlite::ffi;

    #[test]
    fn what_a_person_can_mend_has_words_that_say_how() {
        // Result codes: https://www.sqlite.org/rescode.html.
        for (code, what) in [
            (13, "disk is full"),
            (8, "read-only"),
            (14, "cannot be opened"),
            (26, "not a ledger"),
            (5, "held by another"),
            (11, "damaged"),
            (10, "gives errors"),
        ] {
            let error = Error::SqliteFailure(ffi::Error::new(code), None);
            let said = fault(Path::new("/x/ledger.db"), &error).to_string();
            assert!(
                said.starts_with("the ledger /x/ledger.db ") && said.contains(what),
                "{said}"
            );
            assert!(said.contains(": "), "no remedy in: {said}");
        }
    }

    #[test]
    fn any_other_error_is_quoted() {
        let error = Error::SqliteFailure(ffi::Error::new(19), Some("NOT NULL failed".to_owned()));
        assert!(
            fault(Path::new("x"), &error)
                .what
                .contains("NOT NULL failed")
        );
    }
}
