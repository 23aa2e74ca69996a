//! Generated inputs into every parser: `cargo bench --bench inputs` gives ten million to each,
//! `-- 100000` so many, `-- 100000 mesh` to one alone. A panic ends it; so does an input that takes
//! too long, or memory that grows.

#![allow(dead_code, clippy::unwrap_used)] // it takes in modules of the tests and uses a part of them
#[path = "inputs/api.rs"]
mod api;
#[path = "inputs/die.rs"]
mod die;
#[path = "inputs/files.rs"]
mod files;
#[path = "../it/plant.rs"]
mod plant;
#[path = "inputs/replies.rs"]
mod replies;

use die::Die;
use std::time::{Duration, Instant};

/// Nothing that is this small may take longer, on a machine that is busy besides.
const SLOWEST: Duration = Duration::from_secs(2);
/// No parser of small inputs needs more than this, kB.
const MOST_KB: u64 = 400_000;
const THREADS: u64 = 2;

/// What one parser made of its inputs.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    inputs: u64,
    taken: u64,
    slowest: Duration,
}

/// A parser: takes one generated input, true if it was a good one.
type Parser = fn() -> Box<dyn FnMut(&mut Die) -> bool>;

const PARSERS: [(&str, Parser); 7] = [
    ("replies", replies::parser),
    ("job", files::job),
    ("bath", files::bath),
    ("station", files::station),
    ("supply", files::supply),
    ("mesh", files::mesh),
    ("keeper", files::keeper),
];

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|it| !it.starts_with('-'))
        .collect();
    let count = words.iter().find_map(|word| word.parse().ok());
    let count: u64 = count.unwrap_or(10_000_000);
    let only = words.iter().find(|word| word.parse::<u64>().is_err());
    for (name, parser) in PARSERS {
        if only.is_none_or(|only| only == name) {
            let begun = Instant::now();
            say(name, many(count, parser), begun);
        }
    }
    if only.is_none_or(|only| only == "api") {
        let begun = Instant::now();
        say("api", api::many(count), begun);
    }
}

fn say(name: &str, tally: Tally, begun: Instant) {
    let peak = peak_kb();
    println!(
        "{name}: {} inputs, {} of them good, in {:.0} s; the slowest {:.1} ms; peak memory {} MB",
        tally.inputs,
        tally.taken,
        begun.elapsed().as_secs_f64(),
        tally.slowest.as_secs_f64() * 1e3,
        peak / 1000
    );
    assert!(tally.slowest < SLOWEST, "{name}: an input took too long");
    assert!(peak < MOST_KB, "{name}: memory grows");
    // A generator that makes only rubbish, or only good inputs, tries nothing.
    assert!(tally.taken > 0 && tally.taken < tally.inputs, "{name}");
}

fn many(count: u64, parser: Parser) -> Tally {
    let one = |thread: u64| {
        let mut die = Die::new(thread);
        let mut parse = parser();
        let mut tally = Tally::default();
        for _ in 0..count.div_ceil(THREADS) {
            let begun = Instant::now();
            let good = parse(&mut die);
            tally.slowest = tally.slowest.max(begun.elapsed());
            tally.inputs += 1;
            tally.taken += u64::from(good);
        }
        tally
    };
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..THREADS)
            .map(|thread| scope.spawn(move || one(thread)))
            .collect();
        let tallies = threads.into_iter().map(|it| it.join().expect("no panic"));
        tallies.fold(Tally::default(), Tally::with)
    })
}

impl Tally {
    fn with(self, other: Self) -> Self {
        Self {
            inputs: self.inputs + other.inputs,
            taken: self.taken + other.taken,
            slowest: self.slowest.max(other.slowest),
        }
    }
}

/// The most memory this process ever had, kB.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
    number.unwrap_or(0)
}
