//! The exit code of [`nightvat::cli::run`]. Nothing else.

fn main() -> std::process::ExitCode {
    nightvat::cli::run()
}
