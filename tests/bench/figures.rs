//! The figures of DEVELOPERS.md: `cargo bench --bench figures`. Nothing here asserts a time; each
//! figure is a ratio, or stands beside what it is to be compared with.

use nightvat::exchange::{Ask, Order};
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::world::{BathFacts, World};
use nightvat::spec::{self, DEMO_JOB, DEMO_STATION, Shelf};
use nightvat::supply::link::Link;
use nightvat::supply::wire::Line;
use nightvat::units::{Current, Moment, Span, Voltage};
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

const EXE: &str = env!("CARGO_BIN_EXE_nightvat");

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    rehearsal_speed(folder.path());
    integration(folder.path());
    bounds(folder.path());
    lateness(folder.path());
    let bench = RealTime::open(folder.path());
    stopping(&bench);
    memory(&bench);
}

/// Runs the program and reads its JSON.
fn ask(state: &Path, words: &[&str]) -> Value {
    let done = Command::new(EXE)
        .args(words)
        .arg("--json")
        .env("NIGHTVAT_STATE", state)
        .current_dir(state)
        .output()
        .expect("the program runs");
    let text = String::from_utf8_lossy(&done.stdout);
    serde_json::from_str(&text).unwrap_or_else(|fault| {
        panic!(
            "{words:?}: {fault}\n{text}\n{}",
            String::from_utf8_lossy(&done.stderr)
        )
    })
}

fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("no number {key} in {value}"))
}

fn spread(mut values: Vec<f64>) -> (f64, f64, f64) {
    values.sort_by(f64::total_cmp);
    (
        values[0],
        values[values.len() / 2],
        values[values.len() - 1],
    )
}

/// Simulated time over wall time, the ledger in it: the demo night, one reading a second.
fn rehearsal_speed(folder: &Path) {
    let mut ratios = Vec::new();
    for round in 0..8 {
        let ledger = format!("speed-{round}.db");
        let night = ask(folder, &["rehearse", "--ledger", &ledger]);
        if round > 0 {
            ratios.push(number(&night, "simulated_s") / number(&night, "wall_s"));
        }
    }
    let (low, median, high) = spread(ratios);
    println!("rehearsal, simulated over wall time, ledger included, 7 nights after 1 warm-up:");
    println!("  min {low:.0} x, median {median:.0} x, max {high:.0} x (goal 100000 x)");
}

/// The controller's charge against the cell's own account with a perfect meter, and what a plain
/// script gets that multiplies each readback by the nominal second.
fn integration(folder: &Path) {
    println!("integration against the cell's own account, perfect meter:");
    let mut worst: f64 = 0.0;
    for seed in 1..=10 {
        let night = ask(
            folder,
            &["rehearse", "--clean", "--seed", &seed.to_string()],
        );
        let off = number(&night, "charge_ah") / number(&night, "charge_true_ah") - 1.0;
        worst = worst.max(off.abs());
    }
    println!("  worst of 10 nights {:.3} ppm (goal 50 ppm)", worst * 1e6);
    let script = plain_script();
    println!(
        "  a plain script on the same bench, readback x 1 s a reading: {:+.2} %, {:.0} times as far off",
        script * 100.0,
        script.abs() / worst.max(1e-12)
    );
}

/// What a loop gets that sets 1 A, then reads current and voltage and sleeps a second for 12 hours.
fn plain_script() -> f64 {
    let shelf = Shelf::embedded();
    let job = spec::job::open(DEMO_JOB, &shelf).expect("the demo job");
    let station = spec::station::open(DEMO_STATION, &shelf).expect("the demo station");
    let bath = spec::bath::open(&job.bath, &shelf).expect("its bath");
    let profile = Arc::new(spec::open_supply(&station.supply, &shelf).expect("its supply"));
    let facts = BathFacts {
        z: bath.metal.valence,
        molar_mass_kg_per_mol: bath.metal.molar_mass,
        density_kg_per_m3: bath.deposit_density.kg_per_m3(),
        efficiency: bath.efficiency,
    };
    let world = World::draw(&job, &station, &facts, 1, true);
    let quirks = Quirks::of(Kind::Standard).perfect();
    let instrument = Instrument::new(Kind::Standard, quirks, world, Moment::ZERO);
    let mut line = Bench::new(instrument, Moment::ZERO);
    let mut link = Link::new(profile);
    let orders = [
        Order::SetVoltage(Voltage::from_v(2.5)),
        Order::SetCurrent(Current::from_a(0.2)),
        Order::On,
    ];
    for order in orders {
        link.carry(order, &mut line).expect("the supply obeys");
    }
    let mut sum = 0.0;
    while line.now() < Moment::from_s(12.0 * 3600.0) {
        let reading = link
            .read(Ask::MEASURED, &mut line)
            .expect("the supply reads");
        sum += reading.current.expect("a current").a();
        line.rest(Span::from_s(1.0));
    }
    sum / 3600.0 / line.truth().charge_ah - 1.0
}

/// With a realistic meter the hard bounds hold the truth.
fn bounds(folder: &Path) {
    let (mut held, mut widest, nights): (u32, f64, u32) = (0, 0.0, 40);
    for seed in 1..=nights {
        let night = ask(folder, &["rehearse", "--seed", &seed.to_string()]);
        let (low, high) = (
            number(&night, "charge_low_ah"),
            number(&night, "charge_high_ah"),
        );
        let truth = number(&night, "charge_true_ah");
        held += u32::from(low <= truth && truth <= high);
        widest = widest.max((high - low) / 2.0 / number(&night, "charge_ah"));
    }
    println!("hard bounds of the charge, realistic meter, {nights} worlds:");
    println!(
        "  held the truth in {held}; widest ±{:.2} % of the charge",
        widest * 100.0
    );
}

/// How long after the controller's own charge crossed the target the step down or off went out.
fn lateness(folder: &Path) {
    let mut late = Vec::new();
    for seed in 1..=20 {
        let night = ask(folder, &["rehearse", "--seed", &seed.to_string()]);
        let over = number(&night, "overshoot_fraction");
        // A fraction of a 11.5 h night whose current hardly changes at its end.
        late.push(over * number(&night, "simulated_s"));
    }
    let (low, median, high) = spread(late);
    println!("the step at the target against the controller's own crossing, 20 nights:");
    println!(
        "  min {:+.0} ms, median {:+.0} ms, max {:+.0} ms (goal: within one exchange, here 50 ms)",
        low * 1e3,
        median * 1e3,
        high * 1e3
    );
}

/// A daemon on a lent supply at 9600 baud, in real time.
struct RealTime {
    state: std::path::PathBuf,
    bench: Child,
    daemon: Child,
    _lines: BufReader<ChildStdout>,
}

impl RealTime {
    fn open(folder: &Path) -> Self {
        let state = folder.join("state");
        std::fs::create_dir(&state).expect("a folder");
        let port = state.join("port");
        let bench = Command::new(EXE)
            .args(["supply", "emulate", "--port-link"])
            .arg(&port)
            .stderr(Stdio::null())
            .spawn()
            .expect("the bench");
        let until = Instant::now() + Duration::from_secs(5);
        while !port.exists() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(20));
        }
        let demo = Shelf::embedded()
            .find(spec::shelf::Sort::Station, DEMO_STATION, None)
            .expect("the demo station")
            .text;
        let text: Vec<String> = demo
            .lines()
            .map(|line| match line.starts_with("port") {
                true => format!("port = \"{}\"", port.display()),
                false => line.to_owned(),
            })
            .collect();
        std::fs::write(state.join("station.toml"), text.join("\n")).expect("a station");
        let mut daemon = Command::new(EXE)
            .args(["serve", "station.toml", "--json"])
            .env("NIGHTVAT_STATE", &state)
            .current_dir(&state)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the daemon");
        let mut lines = BufReader::new(daemon.stdout.take().expect("its output"));
        let mut first = String::new();
        lines.read_line(&mut first).expect("its first line");
        Self {
            state,
            bench,
            daemon,
            _lines: lines,
        }
    }
}

impl Drop for RealTime {
    fn drop(&mut self) {
        for child in [&mut self.daemon, &mut self.bench] {
            let pid = rustix::process::Pid::from_child(child);
            let _ = rustix::process::kill_process(pid, rustix::process::Signal::TERM);
            let _ = child.wait();
        }
    }
}

/// `stop` until confirmed off, against the least the line allows.
fn stopping(bench: &RealTime) {
    let mut took = Vec::new();
    for _ in 0..11 {
        ask(&bench.state, &["start", DEMO_JOB]);
        std::thread::sleep(Duration::from_millis(1500 + 37 * took.len() as u64));
        took.push(number(&ask(&bench.state, &["stop"]), "took_s"));
    }
    // OUTP OFF, then the error queue that acknowledges it, the output state and the current, with
    // their replies, at ten bits a byte; and the supply's own 8 to 25 ms before each of three.
    let bytes = "OUTP OFF\nSYST:ERR?\n0,\"No error\"\nOUTP?\n0\nMEAS:CURR?\n0.0000\n".len();
    let least = bytes as f64 * 10.0 / 9600.0 + 3.0 * 0.0165;
    let (low, median, high) = spread(took);
    println!("`stop` to confirmed off over a pseudo-terminal at 9600 baud, 11 times:");
    println!(
        "  min {:.0} ms, median {:.0} ms, max {:.0} ms; the line's least is {:.0} ms: {:.2} x at the \
         median (goal 1.5 x)",
        low * 1e3,
        median * 1e3,
        high * 1e3,
        least * 1e3,
        median / least
    );
}

/// Resident memory of the daemon.
fn memory(bench: &RealTime) {
    ask(&bench.state, &["start", DEMO_JOB]);
    std::thread::sleep(Duration::from_secs(20));
    let path = format!("/proc/{}/status", bench.daemon.id());
    let status = std::fs::read_to_string(path).unwrap_or_default();
    let resident = status
        .lines()
        .find_map(|line| line.strip_prefix("VmRSS:"))
        .and_then(|rest| rest.trim().trim_end_matches(" kB").parse::<f64>().ok());
    ask(&bench.state, &["stop"]);
    match resident {
        Some(kb) => println!(
            "daemon in a run, resident: {:.1} MB (goal 20 MB)",
            kb / 1024.0
        ),
        None => println!("daemon in a run, resident: not to be read on this system"),
    }
}
