//! Stands between the real program and its kernel: sees every call of a traced process, and kills
//! it at one, fails one, shortens one or holds one up. Nothing of this is in the program.
//!
//! A process that it begins is stopped before its first instruction. The processes it starts in
//! turn, the keeper first of all, are not traced.

use nix::libc::{self, user_regs_struct};
use nix::sys::ptrace::{self, Options};
use nix::sys::signal::Signal;
use nix::sys::wait::{WaitPidFlag, WaitStatus, waitpid};
use nix::unistd::Pid;
use std::collections::HashMap;
use std::fs;
use std::os::unix::process::CommandExt;
use std::path::PathBuf;
use std::process::{Child, Command};
use std::time::{Duration, Instant};

/// A call that changes something outside the process, about to be made.
#[derive(Clone, Debug)]
pub(crate) struct Call {
    pub(crate) name: &'static str,
    /// The file, pipe or socket it is about, where it names one by number.
    pub(crate) on: PathBuf,
    /// From 1, among all such calls of the process.
    pub(crate) number: u64,
}

/// What is done to a call.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Deed {
    Nothing,
    /// The process dies of SIGKILL before the call is made.
    Kill,
    /// The call is not made, and fails with this.
    Fail(i32),
    /// Half of what it was to write is written.
    Short,
    /// It is made so much later.
    Hold(Duration),
}

/// Calls that change something outside, and whether their first word is a descriptor.
const CHANGING: [(i64, &str, bool); 18] = [
    (libc::SYS_write, "write", true),
    (libc::SYS_writev, "writev", true),
    (libc::SYS_pwrite64, "pwrite64", true),
    (libc::SYS_pwritev, "pwritev", true),
    (libc::SYS_fsync, "fsync", true),
    (libc::SYS_fdatasync, "fdatasync", true),
    (libc::SYS_ftruncate, "ftruncate", true),
    (libc::SYS_fallocate, "fallocate", true),
    (libc::SYS_sendto, "sendto", true),
    (libc::SYS_sendmsg, "sendmsg", true),
    (libc::SYS_fchmod, "fchmod", true),
    (libc::SYS_rename, "rename", false),
    (libc::SYS_renameat, "renameat", false),
    (libc::SYS_unlink, "unlink", false),
    (libc::SYS_unlinkat, "unlinkat", false),
    (libc::SYS_mkdir, "mkdir", false),
    (libc::SYS_symlink, "symlink", false),
    (libc::SYS_chmod, "chmod", false),
];

/// A thread of the traced process.
#[derive(Clone, Copy, Debug, Default)]
struct Thread {
    inside: bool,
    after: Option<After>,
}

/// What is put right when a call comes back.
#[derive(Clone, Copy, Debug)]
enum After {
    Fail(i32),
    Count(u64),
}

/// A traced process.
pub(crate) struct Traced {
    pub(crate) child: Child,
    group: Pid,
    threads: HashMap<Pid, Thread>,
    held: Vec<(Instant, Pid)>,
    pub(crate) calls: u64,
    gone: bool,
}

impl Traced {
    /// Begins a command, stopped before its first instruction, in a process group of its own.
    pub(crate) fn begin(command: &Command) -> Self {
        let mut stopped = Command::new("sh");
        stopped.args(["-c", "kill -STOP $$; exec \"$0\" \"$@\""]);
        stopped.arg(command.get_program()).args(command.get_args());
        for (key, value) in command.get_envs() {
            stopped.env(key, value.unwrap());
        }
        if let Some(folder) = command.get_current_dir() {
            stopped.current_dir(folder);
        }
        stopped.stdin(std::process::Stdio::null()).process_group(0);
        Self::begin_stopped(stopped)
    }

    fn begin_stopped(mut stopped: Command) -> Self {
        let log = stopped.get_current_dir().map(|folder| {
            fs::File::options()
                .create(true)
                .append(true)
                .open(folder.join("log"))
        });
        if let Some(Ok(log)) = log {
            stopped.stdout(log.try_clone().unwrap()).stderr(log);
        }
        let child = stopped.spawn().unwrap();
        let pid = Pid::from_raw(i32::try_from(child.id()).unwrap());
        let stat = || fs::read_to_string(format!("/proc/{pid}/stat")).unwrap_or_default();
        let until = Instant::now() + Duration::from_secs(10);
        while !stat().contains(") T ") {
            assert!(Instant::now() < until, "it does not stop itself");
            std::thread::sleep(Duration::from_millis(1));
        }
        let options = Options::PTRACE_O_TRACESYSGOOD
            | Options::PTRACE_O_TRACECLONE
            | Options::PTRACE_O_TRACEEXEC;
        ptrace::seize(pid, options).unwrap();
        nix::sys::signal::kill(pid, Signal::SIGCONT).unwrap();
        Self {
            child,
            group: pid,
            threads: HashMap::from([(pid, Thread::default())]),
            held: Vec::new(),
            calls: 0,
            gone: false,
        }
    }

    /// Serves until the process is gone or `until` says so; `deed` judges every changing call.
    pub(crate) fn serve(
        &mut self,
        deed: &mut dyn FnMut(&Call) -> Deed,
        until: &mut dyn FnMut() -> bool,
    ) {
        let all = Pid::from_raw(-self.group.as_raw());
        while !self.gone && !until() {
            let flags = WaitPidFlag::__WALL | WaitPidFlag::WNOHANG;
            match waitpid(all, Some(flags)) {
                Ok(WaitStatus::StillAlive) => {
                    self.let_go();
                    std::thread::sleep(Duration::from_micros(20));
                }
                Ok(status) => self.take(status, deed),
                Err(_) => self.gone = true,
            }
        }
    }

    /// Kills it and waits for its end.
    pub(crate) fn kill(&mut self) {
        let _ = nix::sys::signal::kill(self.group, Signal::SIGKILL);
        let begun = Instant::now();
        self.serve(&mut |_| Deed::Nothing, &mut || {
            begun.elapsed() > Duration::from_secs(10)
        });
        // Its end was collected by the tracer.
        let _ = self.child.try_wait();
    }

    pub(crate) fn is_gone(&self) -> bool {
        self.gone
    }

    /// Lets go on what has been held long enough.
    fn let_go(&mut self) {
        let now = Instant::now();
        let (over, held) = std::mem::take(&mut self.held)
            .into_iter()
            .partition(|(at, _)| *at <= now);
        self.held = held;
        let over: Vec<(Instant, Pid)> = over;
        for (_, thread) in over {
            let _ = ptrace::syscall(thread, None);
        }
    }

    fn take(&mut self, status: WaitStatus, deed: &mut dyn FnMut(&Call) -> Deed) {
        // A thread may die of a signal at any moment: what is asked of it then fails.
        match status {
            WaitStatus::PtraceSyscall(thread) => self.stopped(thread, deed),
            WaitStatus::PtraceEvent(thread, signal, event) => {
                if event == libc::PTRACE_EVENT_STOP && signal == Signal::SIGSTOP {
                    let _ = ptrace::syscall(thread, None);
                    return;
                }
                if event == libc::PTRACE_EVENT_EXEC {
                    self.threads.entry(thread).or_default().inside = true;
                }
                let _ = ptrace::syscall(thread, None);
            }
            WaitStatus::Stopped(thread, signal) => {
                let _ = ptrace::syscall(thread, signal);
            }
            WaitStatus::Exited(thread, _) | WaitStatus::Signaled(thread, ..) => {
                self.threads.remove(&thread);
                self.gone |= thread == self.group;
            }
            WaitStatus::Continued(_) | WaitStatus::StillAlive => {}
        }
    }

    fn stopped(&mut self, thread: Pid, deed: &mut dyn FnMut(&Call) -> Deed) {
        let state = self.threads.entry(thread).or_default();
        state.inside = !state.inside;
        let (entering, after) = (state.inside, state.after.take());
        let Ok(mut regs) = ptrace::getregs(thread) else {
            return;
        };
        if !entering {
            match after {
                Some(After::Fail(code)) => regs.rax = i64::from(-code).cast_unsigned(),
                Some(After::Count(count)) => regs.rdx = count,
                None => {}
            }
            if after.is_some() {
                let _ = ptrace::setregs(thread, regs);
            }
        } else if let Some(call) = self.call(&regs) {
            match deed(&call) {
                Deed::Nothing => {}
                Deed::Kill => {
                    let _ = nix::sys::signal::kill(self.group, Signal::SIGKILL);
                    return;
                }
                Deed::Fail(code) => {
                    regs.orig_rax = u64::MAX;
                    self.change(thread, regs, After::Fail(code));
                }
                Deed::Short => {
                    let whole = regs.rdx;
                    regs.rdx /= 2;
                    self.change(thread, regs, After::Count(whole));
                }
                Deed::Hold(span) => {
                    self.held.push((Instant::now() + span, thread));
                    return;
                }
            }
        }
        let _ = ptrace::syscall(thread, None);
    }

    fn change(&mut self, thread: Pid, regs: user_regs_struct, after: After) {
        if ptrace::setregs(thread, regs).is_ok() {
            self.threads.entry(thread).or_default().after = Some(after);
        }
    }

    fn call(&mut self, regs: &user_regs_struct) -> Option<Call> {
        let number = regs.orig_rax.cast_signed();
        let (_, name, by_descriptor) = CHANGING.iter().find(|(call, ..)| *call == number)?;
        self.calls += 1;
        let link = format!("/proc/{}/fd/{}", self.group, regs.rdi);
        let on = by_descriptor
            .then(|| fs::read_link(link).ok())
            .flatten()
            .unwrap_or_default();
        Some(Call {
            name,
            on,
            number: self.calls,
        })
    }
}

impl Drop for Traced {
    fn drop(&mut self) {
        if !self.gone {
            self.kill();
        }
    }
}

/// Stops one thread of a process that runs, for ever: the others go on. The process's first thread
/// holds the daemon's loop. The tracer must be the thread that calls this.
pub(crate) fn freeze_loop(pid: u32) {
    let pid = Pid::from_raw(i32::try_from(pid).unwrap());
    ptrace::seize(pid, Options::empty()).unwrap();
    ptrace::interrupt(pid).unwrap();
    waitpid(pid, Some(WaitPidFlag::__WALL)).unwrap();
}
