//! A disk that fails at every call of a night and of a recovery: `cargo bench --bench storage`, or
//! `-- 200` for so many cases of each, evenly spread, and `-- 200 3` for three at a time;
//! `-- night` or `-- recovery` for one of the two.

#![allow(dead_code, clippy::unwrap_used)] // it takes in modules of the tests and uses a part of them
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/crash_points.rs"]
mod crash_points;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/plant.rs"]
mod plant;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/storage_faults.rs"]
mod storage_faults;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/tracer.rs"]
mod tracer;

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
fn main() {
    cases::all();
}

#[cfg(not(all(target_os = "linux", target_arch = "x86_64")))]
fn main() {
    println!("the tracer knows Linux on x86-64 only");
}

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod cases {
    use super::plant::{Plant, job_of};
    use super::storage_faults::{Trouble, count, trouble};
    use std::collections::BTreeMap;
    use std::fs;
    use std::sync::Mutex;
    use std::sync::atomic::{AtomicU64, Ordering};
    use std::time::Instant;

    fn open() -> Plant {
        let plant = Plant::beside_others(40);
        fs::write(plant.path("job.toml"), job_of("charge = \"10 mAh\"")).expect("a job");
        plant
    }

    pub(crate) fn all() {
        let numbers: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
        let most = numbers.first().copied().unwrap_or(u64::MAX);
        let workers = numbers.get(1).copied().unwrap_or(3);
        let words: Vec<String> = std::env::args().collect();
        let alone = |word: &str| words.iter().any(|it| it == word);
        for in_recovery in [false, true] {
            if alone(if in_recovery { "night" } else { "recovery" }) {
                continue;
            }
            let begun = Instant::now();
            let calls = count(&mut open(), in_recovery);
            let troubles = Trouble::all(in_recovery);
            let kinds = troubles.len() as u64;
            let cases = (calls * kinds).min(most);
            let name = if in_recovery { "a recovery" } else { "a night" };
            println!("{name} makes {calls} calls to its disk; {kinds} troubles; {cases} cases");
            let (next, ends) = (AtomicU64::new(0), Mutex::new(BTreeMap::new()));
            std::thread::scope(|scope| {
                for _ in 0..workers {
                    scope.spawn(|| {
                        let mut plant = open();
                        loop {
                            let at = next.fetch_add(1, Ordering::Relaxed);
                            if at >= cases {
                                return;
                            }
                            // Spread over calls and troubles alike.
                            let case = at * (calls * kinds) / cases;
                            let nth = 1 + case / kinds;
                            let which = usize::try_from((case + at) % kinds).expect("few");
                            let of = troubles[which];
                            let end = trouble(&mut plant, nth, of)
                                .map_or("made fewer calls".to_owned(), |outcome| outcome.end);
                            let key = format!("{:?}{}: {end}", of.what, once(of.for_ever));
                            *ends.lock().expect("the list").entry(key).or_insert(0_u64) += 1;
                            if at % 100 == 99 {
                                println!(
                                    "{} cases, {:.0} s",
                                    at + 1,
                                    begun.elapsed().as_secs_f64()
                                );
                            }
                        }
                    });
                }
            });
            for (end, count) in ends.into_inner().expect("the list") {
                println!("  {count:5}  {end}");
            }
            println!(
                "{cases} cases in {name} held, {:.0} s",
                begun.elapsed().as_secs_f64()
            );
        }
    }

    fn once(for_ever: bool) -> &'static str {
        if for_ever { " for ever" } else { " once" }
    }
}
