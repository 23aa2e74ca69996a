//! What the computer and the tank's sensors say, told to the loop: sleep and jumps by comparing
//! clocks, room on the disk, and numbers from her files and programs. A thread for the computer and
//! one for each sensor; a sensor that hangs holds up nobody but itself.

use super::inbox::Message;
use super::notice::{Ending, run_program};
use super::standing::Standing;
use crate::control::Sense;
use crate::spec::station::{Sensor, Source};
use crate::units::Span;
use rustix::time::{ClockId, clock_gettime};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::mpsc::Sender;
use std::time::{Duration, Instant};

/// The clocks are compared this often.
const COMPARED: Duration = Duration::from_secs(1);
/// The disk is looked at every so many comparisons.
const DISK_EVERY: u32 = 30;
/// What is less than this is no sleep and no jump worth a word, s: the guards have limits of their
/// own above it.
const LEAST_S: f64 = 1.0;
/// A sensor is never read more often than this, however hurried the station's clock is.
const LEAST_PAUSE: Duration = Duration::from_millis(50);
/// A file's number stands in its first bytes.
const MOST_READ: u64 = 256;

/// The threads that notice; they end with the daemon.
#[derive(Clone, Debug, Default)]
pub(super) struct Senses(Ending);

impl Senses {
    /// Begins to notice.
    pub(super) fn open(standing: &Standing, inbox: &Sender<Message>) -> std::io::Result<Self> {
        let ending = Ending::default();
        let place = standing.ledger.clone();
        let (tell, end) = (inbox.clone(), ending.clone());
        std::thread::Builder::new()
            .name("host".to_owned())
            .spawn(move || host(&place, &tell, &end))?;
        for sensor in standing.station.sensors.clone() {
            let (tell, end) = (inbox.clone(), ending.clone());
            let pause = standing.clock.real(sensor.every).max(LEAST_PAUSE);
            std::thread::Builder::new()
                .name("sensor".to_owned())
                .spawn(move || watch(&sensor, pause, &tell, &end))?;
        }
        Ok(Self(ending))
    }

    /// Nothing more is noticed.
    pub(super) fn close(&self) {
        self.0.begin();
    }
}

/// The computer's clocks at one moment, s.
fn clock(which: ClockId) -> f64 {
    let time = clock_gettime(which);
    time.tv_sec as f64 + time.tv_nsec as f64 * 1e-9
}

/// The clock that goes on while the computer sleeps.
#[cfg(target_os = "linux")]
const EVER: ClockId = ClockId::Boottime;
/// Elsewhere the monotonic clock goes on in sleep, and a sleep shows as a gap of readings.
#[cfg(not(target_os = "linux"))]
const EVER: ClockId = ClockId::Monotonic;

/// Notices that the computer has slept. The loop asks before it judges anything: what is missing
/// or late after a sleep is the sleep's doing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slumber {
    /// How long it had slept in all when it was last asked, s.
    slept: f64,
    /// When it was last asked. It is asked twice a second at least, unless nothing ran here.
    asked: Instant,
}

impl Slumber {
    pub(super) fn new() -> Self {
        Self {
            slept: Self::in_all(),
            asked: Instant::now(),
        }
    }

    /// Between the two clocks this thread may have to wait for its turn: read again then.
    fn in_all() -> f64 {
        loop {
            let before = clock(ClockId::Monotonic);
            let ever = clock(EVER);
            if clock(ClockId::Monotonic) - before < LEAST_S / 10.0 {
                return ever - before;
            }
        }
    }

    /// The sleep since it was last asked. Where the keeper's lease has `lapsed` meanwhile, which
    /// turns the output off, also the time for which nothing ran here; a shorter one did no harm.
    pub(super) fn ended(&mut self, lapsed: bool) -> Option<Sense> {
        self.ended_at(Self::in_all(), Instant::now(), lapsed)
    }

    fn ended_at(&mut self, in_all: f64, now: Instant, lapsed: bool) -> Option<Sense> {
        let slept = in_all - self.slept;
        let stood = now.duration_since(self.asked).as_secs_f64();
        (self.slept, self.asked) = (in_all, now);
        let gone = if lapsed { slept.max(stood) } else { slept };
        (gone > LEAST_S).then(|| Sense::Slept(Span::from_s(gone)))
    }
}

/// How the time of day stands to the clock that never jumps.
#[derive(Clone, Copy, Debug)]
struct Clocks {
    /// Goes on while the computer sleeps.
    ever: f64,
    /// The time of day.
    day: f64,
}

impl Clocks {
    fn now() -> Self {
        Self {
            ever: clock(EVER),
            day: clock(ClockId::Realtime),
        }
    }

    /// How far the time of day has jumped since then.
    fn jumped(self, then: Self) -> Option<Sense> {
        let jumped = (self.day - then.day) - (self.ever - then.ever);
        (jumped.abs() > LEAST_S).then(|| Sense::ClockJumped(Span::from_s(jumped)))
    }
}

/// Compares the clocks and looks at the disk until the daemon ends.
fn host(ledger: &Path, tell: &Sender<Message>, ending: &Ending) {
    let mut last = Clocks::now();
    for turn in 0_u32.. {
        let now = Clocks::now();
        let disk = turn.is_multiple_of(DISK_EVERY).then(|| free(ledger));
        for sense in now.jumped(last).into_iter().chain(disk.flatten()) {
            if tell.send(Message::Sensed(sense)).is_err() {
                return;
            }
        }
        last = now;
        if ending.wait(COMPARED) {
            return;
        }
    }
}

/// What is left on the disk of a file.
fn free(file: &Path) -> Option<Sense> {
    let folder = file
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.map_or_else(|| PathBuf::from("."), Path::to_owned);
    match rustix::fs::statvfs(&folder) {
        Ok(disk) => Some(Sense::DiskFree(disk.f_bavail.saturating_mul(disk.f_frsize))),
        Err(fault) => {
            tracing::warn!("{} cannot be measured: {fault}", folder.display());
            None
        }
    }
}

/// Reads a sensor again and again until the daemon ends. What is wrong is said once, until it is
/// right again.
fn watch(sensor: &Sensor, pause: Duration, tell: &Sender<Message>, ending: &Ending) {
    let mut well = true;
    loop {
        let number = read(sensor, ending);
        match &number {
            Err(why) if well => tracing::warn!(sensor = sensor.measures.word(), "{why}"),
            Ok(_) if !well => tracing::info!(sensor = sensor.measures.word(), "it is back"),
            Ok(_) | Err(_) => {}
        }
        well = number.is_ok();
        let sense = Sense::Sensor(sensor.measures, number.ok());
        if tell.send(Message::Sensed(sense)).is_err() || ending.wait(pause) {
            return;
        }
    }
}

/// A sensor's figure, or why there is none.
fn read(sensor: &Sensor, ending: &Ending) -> Result<f64, String> {
    let text = match &sensor.from {
        Source::File(path) => begins(Path::new(path)).map_err(|e| format!("{path}: {e}"))?,
        Source::Command(command) => {
            let within = Duration::try_from_secs_f64(sensor.within.s()).unwrap_or_default();
            run_program(command, &[], within, ending)?
        }
    };
    let number = number(&text).ok_or_else(|| format!("no number in {text:?}"))?;
    Ok(number * sensor.scale)
}

fn begins(path: &Path) -> std::io::Result<String> {
    let mut bytes = Vec::new();
    File::open(path)?.take(MOST_READ).read_to_end(&mut bytes)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// The number a text begins with; nothing but blanks may follow on its line.
fn number(text: &str) -> Option<f64> {
    let first = text.trim_start().lines().next()?;
    first
        .trim()
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::Measures;
    use crate::spec::notices::Command;

    fn sensor(from: Source) -> Sensor {
        Sensor {
            measures: Measures::Temperature,
            from,
            scale: 0.001,
            every: Span::from_s(1.0),
            within: Span::from_s(0.5),
            window: None,
        }
    }

    fn program(words: &[&str]) -> Source {
        Source::Command(Command {
            program: words[0].to_owned(),
            arguments: words[1..].iter().map(|word| (*word).to_owned()).collect(),
        })
    }

    #[test]
    fn a_number_stands_first_and_alone() {
        assert_eq!(number("21375\n"), Some(21375.0));
        assert_eq!(number("  -3.5e1  \nmore"), Some(-35.0));
        for bad in ["", "\n", "warm", "21 C", "nan", "inf", "1,5"] {
            assert_eq!(number(bad), None, "{bad:?}");
        }
    }

    #[test]
    fn files_and_programs_give_numbers_within_their_time() {
        let ending = Ending::default();
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("temp1_input");
        std::fs::write(&path, "21375\n").expect("a file");
        let file = Source::File(path.to_string_lossy().into_owned());
        assert_eq!(read(&sensor(file), &ending), Ok(21.375));
        assert_eq!(
            read(&sensor(program(&["echo", "19000"])), &ending),
            Ok(19.0)
        );
        let began = std::time::Instant::now();
        let late = read(&sensor(program(&["sleep", "30"])), &ending);
        assert!(
            late.is_err() && began.elapsed() < Duration::from_secs(5),
            "{late:?}"
        );
        // No shell: the whole of it is one argument.
        let shell = read(&sensor(program(&["echo", "1; echo 2"])), &ending);
        assert!(shell.is_err(), "{shell:?}");
        let missing = Source::File("/nowhere/at/all".to_owned());
        assert!(read(&sensor(missing), &ending).is_err());
    }

    #[test]
    fn a_sleep_is_noticed_once_and_no_scheduling_is_one() {
        let asked = Instant::now();
        let mut slumber = Slumber { slept: 50.0, asked };
        assert_eq!(slumber.ended_at(50.2, asked, false), None);
        let slept = slumber.ended_at(650.2, asked, false);
        assert!(matches!(slept, Some(Sense::Slept(span)) if (span.s() - 600.0).abs() < 1e-9));
        assert_eq!(slumber.ended_at(650.2, asked, false), None);
        // Stopped for less than the lease, and for more: then the keeper has turned the output off.
        let after = |s: u64| asked + Duration::from_secs(s);
        assert_eq!(slumber.ended_at(650.2, after(4), false), None);
        let stood = slumber.ended_at(650.2, after(21), true);
        assert!(matches!(stood, Some(Sense::Slept(span)) if (span.s() - 17.0).abs() < 1e-9));
        // A lease that lapses while the loop runs is the link's doing.
        assert_eq!(slumber.ended_at(650.2, after(22), true), None);
        // The two clocks of this computer, which does not sleep while a test runs.
        assert_eq!(Slumber::new().ended(false), None);
    }

    #[test]
    fn a_sleep_is_no_jump_of_the_time_of_day() {
        let then = Clocks {
            ever: 100.0,
            day: 1e9,
        };
        let later = |ever: f64, day: f64| Clocks {
            ever: then.ever + ever,
            day: then.day + day,
        };
        assert_eq!(later(1.0, 1.0).jumped(then), None);
        assert_eq!(later(601.0, 601.0).jumped(then), None);
        let jumped = later(1.0, -3599.0).jumped(then);
        assert!(matches!(jumped, Some(Sense::ClockJumped(by)) if (by.s() + 3600.0).abs() < 1e-3));
    }

    #[test]
    fn a_disk_has_room_or_cannot_be_measured() {
        let folder = tempfile::tempdir().expect("a folder");
        let free_here = free(&folder.path().join("ledger.db"));
        assert!(matches!(free_here, Some(Sense::DiskFree(bytes)) if bytes > 0));
        assert_eq!(free(Path::new("/nowhere/at/all/ledger.db")), None);
    }
}
