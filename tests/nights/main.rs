//! Seeded nights: `cargo test --release --test nights -- --nights 10000 --calm 3000`.
//!
//! Without arguments a small sample of short nights runs, as part of the ordinary tests. Past
//! failing seeds, in `tests/seeds.txt`, run first; then the canaries, each of which must be found;
//! then the nights. Any rule that does not hold is printed with its seed and makes the end fail.

mod cells;
mod tally;

use nightvat::rig::night::driver::{Plant, Spent, spend};
use nightvat::rig::night::{Kind, Night};
use std::num::NonZero;
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;
use tally::Tally;

/// What is asked for.
#[derive(Clone, Debug)]
struct Asked {
    /// Faulted nights.
    nights: u64,
    /// Clean and rough nights, half of each.
    calm: u64,
    /// Nights that are run twice.
    twice: u64,
    /// The first seed.
    from: u64,
    /// How long a night is to take.
    hours: f64,
    /// One night alone, told whole.
    one: Option<(Kind, u64)>,
    threads: usize,
}

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    // What a test runner asks of a binary that runs its tests itself.
    if words.iter().any(|word| word == "--list") {
        if !words.iter().any(|word| word == "--ignored") {
            println!("sample: test");
        }
        return ExitCode::SUCCESS;
    }
    let asked = match asked(&words) {
        Ok(asked) => asked,
        Err(why) => {
            eprintln!("{why}");
            return ExitCode::from(2);
        }
    };
    if let Some((kind, seed)) = asked.one {
        return alone(kind, seed, asked.hours);
    }
    let mut good = past_seeds();
    good &= canaries();
    if asked.twice > 0 {
        good &= twice(&asked);
    }
    good &= many(&asked, Kind::Faulted, asked.nights);
    good &= many(&asked, Kind::Clean, asked.calm / 2);
    good &= many(&asked, Kind::Rough, asked.calm - asked.calm / 2);
    if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

fn asked(words: &[String]) -> Result<Asked, String> {
    let mut asked = Asked {
        nights: 200,
        calm: 40,
        twice: 10,
        from: 1,
        hours: 0.5,
        one: None,
        threads: std::thread::available_parallelism().map_or(1, NonZero::get),
    };
    let mut words = words.iter();
    let mut hours = None;
    while let Some(word) = words.next() {
        let mut number = || {
            let next = words.next().ok_or(format!("{word} wants a number"))?;
            next.parse::<u64>()
                .map_err(|_| format!("{word} wants a number, not {next:?}"))
        };
        match word.as_str() {
            "--nights" => {
                asked.nights = number()?;
                (asked.calm, asked.twice) = (0, 0);
                hours.get_or_insert(12.0);
            }
            "--calm" => {
                asked.calm = number()?;
                hours.get_or_insert(12.0);
            }
            "--twice" => asked.twice = number()?,
            "--from" => asked.from = number()?,
            "--threads" => asked.threads = usize::try_from(number()?).unwrap_or(1).max(1),
            "--hours" => {
                let next = words.next().map(|text| text.parse::<f64>());
                hours = Some(
                    next.ok_or("--hours wants a number")?
                        .map_err(|no| no.to_string())?,
                );
            }
            "--seed" => {
                let (kind, seed) = (words.next(), words.next());
                let kind = kind.and_then(|word| Kind::from_word(word));
                let seed = seed.and_then(|text| text.parse().ok());
                let both = kind.zip(seed);
                asked.one = Some(both.ok_or("--seed wants clean, rough or faulted, and a number")?);
                hours.get_or_insert(12.0);
            }
            // A test runner's own words.
            _ => {}
        }
    }
    asked.hours = hours.unwrap_or(asked.hours);
    Ok(asked)
}

/// One night, and everything there is to say about it.
fn alone(kind: Kind, seed: u64, hours: f64) -> ExitCode {
    let mut night = match Night::draw(seed, kind, hours) {
        Ok(night) => night,
        Err(why) => {
            eprintln!("no night from seed {seed}: {why}");
            return ExitCode::FAILURE;
        }
    };
    println!("{} on {}", night.studio.job.name, night.studio.profile.name);
    for piece in &night.studio.job.pieces {
        println!("  {:?} {:?}", piece.surface, piece.form);
    }
    for mishap in &night.mishaps {
        println!(
            "  {:?} {:?} tolerable {}",
            mishap.class, mishap.when, mishap.tolerable
        );
        println!("    {:?}", mishap.deeds);
    }
    night.tells_wire = true;
    let mut spent = spend(&night, Instant::now(), Plant::Nothing);
    let wire = std::mem::take(&mut spent.wire);
    println!("{spent:#?}");
    wire.iter().for_each(|line| println!("{line}"));
    if spent.broken.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// Seeds that once failed.
fn past_seeds() -> bool {
    let text = include_str!("../seeds.txt");
    let mut good = true;
    let mut count = 0;
    let began = Instant::now();
    for line in text
        .lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
    {
        let words: Vec<&str> = line.split_whitespace().collect();
        let kind = words.first().and_then(|word| Kind::from_word(word));
        let seed = words.get(1).and_then(|word| word.parse::<u64>().ok());
        let hours = words.get(2).and_then(|word| word.parse::<f64>().ok());
        let (Some(kind), Some(seed), Some(hours)) = (kind, seed, hours) else {
            println!("tests/seeds.txt: `{line}` is no seed");
            return false;
        };
        count += 1;
        good &= tell_broken(kind, seed, hours, &run(kind, seed, hours, Plant::Nothing));
    }
    let took = began.elapsed().as_secs_f64();
    println!("past failing seeds: {count}, in {took:.1} s");
    good
}

fn run(kind: Kind, seed: u64, hours: f64, plant: Plant) -> Result<Spent, String> {
    let night = Night::draw(seed, kind, hours)?;
    Ok(spend(&night, Instant::now(), plant))
}

fn tell_broken(kind: Kind, seed: u64, hours: f64, spent: &Result<Spent, String>) -> bool {
    match spent {
        Ok(spent) => {
            for broken in &spent.broken {
                println!(
                    "BROKEN {} {seed} {hours} {} at {:.3} s: {} [{:?}]",
                    kind.word(),
                    broken.rule,
                    broken.at.s(),
                    broken.text,
                    spent.onsets
                );
            }
            spent.broken.is_empty()
        }
        Err(why) => {
            println!("BROKEN {} {seed} {hours}: no night: {why}", kind.word());
            false
        }
    }
}

/// Planted flaws must be found, each by its rule.
fn canaries() -> bool {
    let plants = [
        (Plant::OffIsSwallowed, "ended-while-on"),
        (Plant::LedgerPromises, "raised-before-recorded"),
        (Plant::ReadingsAreLost, "silent-gap"),
    ];
    let mut good = true;
    for (plant, rule) in plants {
        let found = match run(Kind::Clean, 1, 0.2, plant) {
            Ok(spent) => spent.broken.iter().any(|broken| broken.rule == rule),
            Err(_) => false,
        };
        println!(
            "canary {plant:?}: {}",
            if found { "found" } else { "NOT FOUND" }
        );
        good &= found;
    }
    good
}

/// The same seed is the same night, byte for byte.
fn twice(asked: &Asked) -> bool {
    let mut all = 0_u64;
    let mut good = true;
    for seed in asked.from..asked.from + asked.twice {
        let digest = || run(Kind::Faulted, seed, asked.hours, Plant::Nothing).map(|s| s.digest);
        let (first, second) = (digest(), digest());
        if first != second {
            println!(
                "BROKEN faulted {seed} {}: twice is not the same",
                asked.hours
            );
            good = false;
        }
        all = all.rotate_left(1) ^ first.unwrap_or_default();
    }
    println!(
        "same seed, same bytes: {} seeds twice, all together {all:016x}",
        asked.twice
    );
    good
}

/// Many nights on all cores; told in the order of their seeds.
fn many(asked: &Asked, kind: Kind, count: u64) -> bool {
    if count == 0 {
        return true;
    }
    let next = AtomicU64::new(asked.from);
    let began = Instant::now();
    let parts: Vec<Tally> = std::thread::scope(|scope| {
        let work = || {
            let mut tally = Tally::default();
            loop {
                let seed = next.fetch_add(1, Ordering::Relaxed);
                if seed >= asked.from + count {
                    return tally;
                }
                let spent = run(kind, seed, asked.hours, Plant::Nothing);
                let good = tell_broken(kind, seed, asked.hours, &spent);
                tally.add(seed, spent.as_ref().ok(), good);
            }
        };
        let hands: Vec<_> = (0..asked.threads).map(|_| scope.spawn(work)).collect();
        hands
            .into_iter()
            .map(|hand| hand.join().expect("a night does not panic"))
            .collect()
    });
    let wall = began.elapsed().as_secs_f64();
    let mut whole = Tally::default();
    parts.into_iter().for_each(|part| whole.merge(part));
    whole.print(kind, asked.hours, wall, asked.threads)
}
