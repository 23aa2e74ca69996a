//! `keeper`: the process that holds the port. The daemon starts it; people need not.

use std::process::ExitCode;

/// The process that holds the port; it is told what to do on standard input.
#[derive(Debug, clap::Args)]
pub(super) struct KeeperArgs {}

/// Does it.
pub(super) fn run(_: &KeeperArgs) -> ExitCode {
    crate::supply::keeper::main()
}
