//! Runs a program of hers: by its list of arguments, never through a shell, with a text on its
//! standard input. It is killed with all its children when its time is over, and what it prints is
//! kept only up to a limit.

use super::ending::Ending;
use crate::spec::notices::Command;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use rustix::process::{Pid, Signal, kill_process_group};
use std::io::{ErrorKind, Read, Write};
use std::os::fd::AsFd;
use std::os::unix::process::CommandExt;
use std::process::{Child, ChildStdin, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// So much of what it prints is kept, on each of its two outputs, in bytes.
pub(super) const MOST_KEPT: usize = 2000;
/// It is looked at this often though it says nothing.
const LOOK: Duration = Duration::from_millis(20);
/// A killed process is gone within this, or it is left to the system.
const KILLED_WITHIN: Duration = Duration::from_secs(1);
/// What would make her program believe that it is the service itself.
const OURS: [&str; 3] = ["NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"];

/// Runs it: what it printed, or why it failed.
pub(in crate::daemon) fn run(
    command: &Command,
    input: &[u8],
    within: Duration,
    ending: &Ending,
) -> Result<String, String> {
    let until = Instant::now() + within;
    let mut spawning = std::process::Command::new(&command.program);
    spawning
        .args(&command.arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .process_group(0);
    for name in OURS {
        spawning.env_remove(name);
    }
    let mut child = spawning
        .spawn()
        .map_err(|fault| format!("{} cannot be started: {fault}", command.program))?;
    let mut talk = match Talk::open(&mut child, input) {
        Ok(talk) => talk,
        Err(fault) => {
            kill(&mut child);
            return Err(format!("{} cannot be talked to: {fault}", command.program));
        }
    };
    loop {
        talk.go_on();
        match child.try_wait() {
            Ok(Some(status)) => {
                talk.go_on();
                return judge(status, &talk);
            }
            Ok(None) => {}
            Err(fault) => return Err(format!("{} is lost: {fault}", command.program)),
        }
        if ending.is_begun() || Instant::now() >= until {
            kill(&mut child);
            return Err(if ending.is_begun() {
                "killed, since the daemon ends".to_owned()
            } else {
                format!("not done within {} s: killed", within.as_secs_f64())
            });
        }
        talk.rest();
    }
}

fn judge(status: ExitStatus, talk: &Talk<'_>) -> Result<String, String> {
    if status.success() {
        return Ok(talk.out.text());
    }
    let said = talk.err.text();
    let last = said
        .lines()
        .last()
        .map(|line| format!(": {line}"))
        .unwrap_or_default();
    Err(format!("it ended with {status}{last}"))
}

/// Kills it and its children.
fn kill(child: &mut Child) {
    let killed = kill_process_group(Pid::from_child(child), Signal::KILL);
    if let Err(fault) = killed {
        tracing::warn!("a program that should end cannot be killed: {fault}");
    }
    let until = Instant::now() + KILLED_WITHIN;
    while matches!(child.try_wait(), Ok(None)) && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// The three pipes; nothing here ever waits for the other end.
struct Talk<'a> {
    input: Option<(ChildStdin, &'a [u8])>,
    out: Heard<std::process::ChildStdout>,
    err: Heard<std::process::ChildStderr>,
}

impl<'a> Talk<'a> {
    fn open(child: &mut Child, input: &'a [u8]) -> std::io::Result<Self> {
        let missing = || std::io::Error::from(ErrorKind::BrokenPipe);
        let stdin = child.stdin.take().ok_or_else(missing)?;
        let out = child.stdout.take().ok_or_else(missing)?;
        let err = child.stderr.take().ok_or_else(missing)?;
        unblock(&stdin)?;
        unblock(&out)?;
        unblock(&err)?;
        Ok(Self {
            input: Some((stdin, input)),
            out: Heard::new(out),
            err: Heard::new(err),
        })
    }

    /// Writes and reads what can be written and read now.
    fn go_on(&mut self) {
        while let Some((stdin, left)) = &mut self.input {
            match stdin.write(left) {
                Ok(written) => *left = &left[written..],
                Err(fault) if fault.kind() == ErrorKind::WouldBlock => break,
                Err(fault) if fault.kind() == ErrorKind::Interrupted => {}
                // It does not want to know: that is its own affair.
                Err(_) => *left = &[],
            }
            if left.is_empty() {
                self.input = None;
            }
        }
        self.out.go_on();
        self.err.go_on();
    }

    /// Waits until something can be said or heard, but not long.
    fn rest(&self) {
        let mut ends = Vec::with_capacity(3);
        if let Some((stdin, _)) = &self.input {
            ends.push(PollFd::from_borrowed_fd(stdin.as_fd(), PollFlags::OUT));
        }
        if let Some(pipe) = &self.out.pipe {
            ends.push(PollFd::from_borrowed_fd(pipe.as_fd(), PollFlags::IN));
        }
        if let Some(pipe) = &self.err.pipe {
            ends.push(PollFd::from_borrowed_fd(pipe.as_fd(), PollFlags::IN));
        }
        let wait = Timespec {
            tv_sec: 0,
            tv_nsec: i64::from(LOOK.subsec_nanos()),
        };
        if ends.is_empty() || poll(&mut ends, Some(&wait)).is_err() {
            std::thread::sleep(LOOK);
        }
    }
}

fn unblock(pipe: &impl AsFd) -> std::io::Result<()> {
    let flags = fcntl_getfl(pipe)?;
    Ok(fcntl_setfl(pipe, flags | OFlags::NONBLOCK)?)
}

/// What a pipe has said, up to the limit.
struct Heard<P> {
    pipe: Option<P>,
    kept: Vec<u8>,
    more: bool,
}

impl<P: Read> Heard<P> {
    const fn new(pipe: P) -> Self {
        Self {
            pipe: Some(pipe),
            kept: Vec::new(),
            more: false,
        }
    }

    fn go_on(&mut self) {
        let mut buffer = [0; 4096];
        // Whoever never stops talking is listened to so long, and then looked at again.
        for _ in 0..64 {
            let Some(pipe) = &mut self.pipe else { return };
            match pipe.read(&mut buffer) {
                Ok(0) => self.pipe = None,
                Ok(read) => {
                    let room = MOST_KEPT.saturating_sub(self.kept.len()).min(read);
                    self.kept.extend_from_slice(&buffer[..room]);
                    self.more |= room < read;
                }
                Err(fault) if fault.kind() == ErrorKind::WouldBlock => return,
                Err(fault) if fault.kind() == ErrorKind::Interrupted => {}
                Err(_) => self.pipe = None,
            }
        }
    }

    /// As a text on few lines, without what would disturb a terminal.
    fn text(&self) -> String {
        let text = String::from_utf8_lossy(&self.kept);
        let plain = |c: char| if c.is_control() && c != '\n' { ' ' } else { c };
        let mut text: String = text.trim().chars().map(plain).collect();
        if self.more {
            text.push_str(" … (more was printed than is kept)");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sh(script: &str) -> Command {
        Command {
            program: "sh".to_owned(),
            arguments: vec!["-c".to_owned(), script.to_owned()],
        }
    }

    const LONG: Duration = Duration::from_secs(10);

    #[test]
    fn the_input_arrives_whole_and_what_is_printed_comes_back() {
        // More than any pipe holds at once.
        let input = vec![b'x'; 300_000];
        let printed = run(&sh("wc -c"), &input, LONG, &Ending::default());
        assert_eq!(printed.as_deref().map(str::trim), Ok("300000"));
        let deaf = run(
            &sh("exec 0<&-; sleep 0.1; echo done"),
            &input,
            LONG,
            &Ending::default(),
        );
        assert_eq!(deaf.as_deref(), Ok("done"));
    }

    #[test]
    fn a_program_that_hangs_is_killed_at_its_limit_with_its_children() {
        let folder = tempfile::tempdir().expect("a folder");
        let mark = folder.path().join("alive");
        let script = format!("(sleep 1; touch {}) & sleep 60", mark.display());
        let begun = Instant::now();
        let ran = run(
            &sh(&script),
            b"{}",
            Duration::from_millis(300),
            &Ending::default(),
        );
        assert_eq!(ran, Err("not done within 0.3 s: killed".to_owned()));
        assert!(
            begun.elapsed() < Duration::from_secs(1),
            "{:?}",
            begun.elapsed()
        );
        std::thread::sleep(Duration::from_millis(1300));
        assert!(!mark.exists(), "its child lives");
    }

    #[test]
    fn a_child_that_keeps_the_pipes_open_is_not_waited_for() {
        let begun = Instant::now();
        let ran = run(&sh("sleep 3 & echo here"), b"", LONG, &Ending::default());
        assert_eq!(ran.as_deref(), Ok("here"));
        assert!(
            begun.elapsed() < Duration::from_secs(2),
            "{:?}",
            begun.elapsed()
        );
    }

    #[test]
    fn what_is_printed_is_kept_up_to_a_limit() {
        let ran = run(&sh("yes | head -c 5000000"), b"", LONG, &Ending::default());
        let text = ran.expect("a text");
        assert!(
            text.starts_with("y\ny\n") && text.ends_with("than is kept)"),
            "{text}"
        );
        assert!(text.len() < MOST_KEPT + 50, "{}", text.len());
    }

    #[test]
    fn why_it_failed_is_said() {
        let ran = run(
            &sh("echo no such lamp >&2; exit 3"),
            b"",
            LONG,
            &Ending::default(),
        );
        assert_eq!(
            ran,
            Err("it ended with exit status: 3: no such lamp".to_owned())
        );
        let nowhere = Command {
            program: "/no/such/program".to_owned(),
            arguments: Vec::new(),
        };
        let ran = run(&nowhere, b"", LONG, &Ending::default());
        assert!(
            ran.expect_err("no program")
                .starts_with("/no/such/program cannot be started")
        );
    }

    #[test]
    fn it_is_killed_when_the_daemon_ends() {
        let ending = Ending::default();
        let ends = ending.clone();
        let end = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(200));
            ends.begin();
        });
        let ran = run(&sh("sleep 60"), b"", LONG, &ending);
        assert_eq!(ran, Err("killed, since the daemon ends".to_owned()));
        assert!(end.join().is_ok());
    }
}
