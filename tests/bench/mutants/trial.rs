//! Runs single tests of the copy: what each reaches, and whether one fails with a mutant.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Tests of whole programs: their time is the clock's, and a mutant in the test's own process
/// is not what they try.
const LEFT_OUT: [&str; 18] = [
    "aftermath::",
    "commands::",
    "crash::",
    "crash_points::",
    "daemon::",
    "first_look::",
    "hang_lift::",
    "keeper::",
    "keeper_doubt::",
    "keeper_owner::",
    "keeper_watchdog::",
    "notices::",
    "plug_words::",
    "plugs::",
    "rig_lend::",
    "soak::",
    "storage_faults::",
    "tracer::",
];
/// A single test that takes longer is left out.
const SLOWEST: Duration = Duration::from_secs(4);
/// So many tests share a process as take this long together.
const TOGETHER: Duration = Duration::from_millis(400);
/// Memory a test may map, kB: a mutant that never ends may ask for all there is.
const MOST_KB: u64 = 6_000_000;

/// One test, with what it reaches.
#[derive(Clone, Debug)]
pub(crate) struct Test {
    pub(crate) program: PathBuf,
    pub(crate) name: String,
    pub(crate) took: Duration,
    pub(crate) reaches: BTreeSet<u32>,
}

impl Test {
    /// As a line that [`Test::parse`] reads.
    pub(crate) fn line(&self) -> String {
        let ids: Vec<String> = self.reaches.iter().map(u32::to_string).collect();
        let (program, took) = (self.program.display(), self.took.as_micros());
        format!("{program}\t{}\t{took}\t{}", self.name, ids.join(","))
    }

    /// `None` for a line that is no test.
    pub(crate) fn parse(line: &str) -> Option<Self> {
        let mut parts = line.split('\t');
        Some(Self {
            program: PathBuf::from(parts.next()?),
            name: parts.next()?.to_owned(),
            took: Duration::from_micros(parts.next()?.parse().ok()?),
            reaches: parts
                .next()?
                .split(',')
                .filter_map(|it| it.parse().ok())
                .collect(),
        })
    }
}

/// What became of a mutant.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Fate {
    /// These tests ran, and at least one failed.
    Caught(String),
    /// These tests ran out of time, far beyond what they take.
    Endless(String),
    Survived(usize),
    Unreached,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum End {
    Passed,
    Failed,
    OutOfTime,
}

fn run(program: &Path, names: &[&str], set: (&str, &str), limit: Duration, at: &Path) -> End {
    let mut child = Command::new("sh")
        .arg("-c")
        .arg(format!(
            "ulimit -v {MOST_KB}; ulimit -c 0; exec \"$0\" \"$@\""
        ))
        .arg(program)
        .args(["--exact", "--test-threads=1", "--quiet"])
        .args(names)
        .env_remove("NIGHTVAT_MUTANT")
        .env_remove("NIGHTVAT_REACHED")
        .env(set.0, set.1)
        .env("RUST_BACKTRACE", "0")
        .current_dir(at)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("a test");
    let begun = Instant::now();
    let mut pause = Duration::from_micros(500);
    loop {
        if let Some(status) = child.try_wait().expect("a child") {
            return match status.success() {
                true => End::Passed,
                false => End::Failed,
            };
        }
        if begun.elapsed() > limit {
            child.kill().expect("a child that can be ended");
            child.wait().expect("a child");
            return End::OutOfTime;
        }
        std::thread::sleep(pause);
        pause = (pause * 2).min(Duration::from_millis(10));
    }
}

/// Every test that counts, run once without a mutant: in order, the quickest first.
pub(crate) fn tests(programs: &[PathBuf], at: &Path) -> (Vec<Test>, Vec<String>) {
    let mut all = Vec::new();
    for program in programs {
        let out = Command::new(program)
            .args(["--list", "--format", "terse"])
            .output()
            .expect("the list of tests");
        let text = String::from_utf8_lossy(&out.stdout).into_owned();
        for name in text.lines().filter_map(|it| it.strip_suffix(": test")) {
            if !LEFT_OUT.iter().any(|it| name.starts_with(it)) {
                all.push((program.clone(), name.to_owned()));
            }
        }
    }
    let results = in_pairs(&all, |number, (program, name)| {
        let file = at.join(format!("../reached-{number}"));
        let _ = fs::remove_file(&file);
        let begun = Instant::now();
        let set = ("NIGHTVAT_REACHED", &*file.to_string_lossy());
        let end = run(program, &[name], set, SLOWEST, at);
        let took = begun.elapsed();
        let text = fs::read_to_string(&file).unwrap_or_default();
        let _ = fs::remove_file(&file);
        assert_ne!(end, End::Failed, "{name} fails without a mutant");
        let reaches = text.lines().filter_map(|it| it.parse().ok()).collect();
        (end == End::Passed).then(|| Test {
            program: program.clone(),
            name: name.clone(),
            took,
            reaches,
        })
    });
    let slow = all.iter().zip(&results).filter(|(_, test)| test.is_none());
    let slow = slow.map(|((_, name), _)| name.clone()).collect();
    let mut tests: Vec<Test> = results.into_iter().flatten().collect();
    tests.sort_by_key(|test| test.took);
    (tests, slow)
}

/// Runs the tests that reach a mutant until one fails.
pub(crate) fn fate(id: u32, tests: &[Test], at: &Path) -> Fate {
    let reaching: Vec<&Test> = tests.iter().filter(|it| it.reaches.contains(&id)).collect();
    if reaching.is_empty() {
        return Fate::Unreached;
    }
    let mut left = reaching.as_slice();
    while let Some(first) = left.first() {
        let mut together = first.took;
        let mut count = 1;
        while let Some(next) = left.get(count)
            && next.program == first.program
            && together + next.took < TOGETHER
        {
            together += next.took;
            count += 1;
        }
        let (now, later) = left.split_at(count);
        left = later;
        let names: Vec<&str> = now.iter().map(|it| it.name.as_str()).collect();
        let limit = together * 10 + Duration::from_secs(5);
        let set = ("NIGHTVAT_MUTANT", &*id.to_string());
        let said = || names.join(" ");
        match run(&first.program, &names, set, limit, at) {
            End::Passed => {}
            End::Failed => return Fate::Caught(said()),
            End::OutOfTime => return Fate::Endless(said()),
        }
    }
    Fate::Survived(reaching.len())
}

/// Works through a list on two threads.
pub(crate) fn in_pairs<T: Sync, R: Send>(
    list: &[T],
    work: impl Fn(usize, &T) -> R + Sync,
) -> Vec<R> {
    let next = std::sync::atomic::AtomicUsize::new(0);
    let one = || {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            let Some(item) = list.get(at) else {
                return done;
            };
            done.push((at, work(at, item)));
        }
    };
    let mut all = std::thread::scope(|scope| {
        let (a, b) = (scope.spawn(one), scope.spawn(one));
        let mut all = a.join().expect("a thread");
        all.extend(b.join().expect("a thread"));
        all
    });
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, result)| result).collect()
}
