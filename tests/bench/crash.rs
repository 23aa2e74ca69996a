//! SIGKILL at every call of a scripted night: `cargo bench --bench crash`, or `-- 200` for so many
//! of them, evenly spread, and `-- 200 3` for three nights at a time.

#![allow(dead_code, clippy::unwrap_used)] // it takes in modules of the tests and uses a part of them
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/crash_points.rs"]
mod crash_points;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/plant.rs"]
mod plant;
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[path = "../it/tracer.rs"]
mod tracer;

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
fn main() {
    points::all();
}

#[cfg(not(all(target_os = "linux", target_arch = "x86_64")))]
fn main() {
    println!("the tracer knows Linux on x86-64 only");
}

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod points {
    use super::crash_points::{Death, by_call, count, death};
    use super::plant::{Plant, job_of};
    use std::fs;
    use std::sync::Mutex;
    use std::sync::atomic::{AtomicU64, Ordering};
    use std::time::Instant;

    const SPEED: u32 = 40;

    fn open() -> Plant {
        let plant = Plant::beside_others(SPEED);
        fs::write(plant.path("job.toml"), job_of("charge = \"32 mAh\"")).expect("a job");
        plant
    }

    pub(crate) fn all() {
        let numbers: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
        let begun = Instant::now();
        let calls = count(&mut open());
        let points = numbers.first().map_or(calls, |most| calls.min(*most));
        let workers = numbers.get(1).copied().unwrap_or(3);
        println!("a whole night makes {calls} calls that change anything; {points} deaths");
        let (next, deaths) = (AtomicU64::new(0), Mutex::new(Vec::new()));
        std::thread::scope(|scope| {
            for _ in 0..workers {
                scope.spawn(|| {
                    let mut plant = open();
                    loop {
                        let at = next.fetch_add(1, Ordering::Relaxed);
                        if at >= points {
                            return;
                        }
                        // Evenly spread where not all are asked for.
                        let found = death(&mut plant, 1 + at * calls / points);
                        let mut deaths = deaths.lock().expect("the list");
                        deaths.extend(found);
                        if deaths.len() % 50 == 0 {
                            println!(
                                "{} deaths, {:.0} s",
                                deaths.len(),
                                begun.elapsed().as_secs_f64()
                            );
                        }
                    }
                });
            }
        });
        let deaths = deaths.into_inner().expect("the list");
        report(&deaths, points, begun);
    }

    fn report(deaths: &[Death], points: u64, begun: Instant) {
        let mut off: Vec<f64> = deaths.iter().map(|death| death.off_s).collect();
        let mut lost: Vec<f64> = deaths.iter().map(|death| death.lost_s).collect();
        off.sort_by(f64::total_cmp);
        lost.sort_by(f64::total_cmp);
        let middle = deaths.len() / 2;
        let broken = deaths.iter().filter(|death| death.interrupted).count();
        println!(
            "{} deaths of {points} ({} in a night that had made fewer calls), {broken} within a run",
            deaths.len(),
            points - deaths.len() as u64
        );
        println!(
            "all reopened clean; off in median {:.3} s, at most {:.3} s",
            off[middle],
            off[off.len() - 1]
        );
        println!(
            "not in the ledger: median {:.1} s, at most {:.1} s of the station's clock at {SPEED} x",
            lost[middle],
            lost[lost.len() - 1]
        );
        for (call, count) in by_call(deaths) {
            println!("  {count:5}  {call}");
        }
        println!("{:.0} s", begun.elapsed().as_secs_f64());
    }
}
