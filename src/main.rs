//! The one binary. Until the command line comes, only the keeper's hidden command is wired.

use std::process::ExitCode;

fn main() -> ExitCode {
    match std::env::args().nth(1).as_deref() {
        Some("keeper") => nightvat::supply::keeper::main(),
        Some(_) | None => ExitCode::from(2),
    }
}
