//! Meshes, by size: `cargo bench --bench surface`. A million triangles read and measured in a process
//! of its own, beside the Python library `trimesh` on the same file if `python3` has it (or
//! the Python that NIGHTVAT_PYTHON names: `python3 -m venv /tmp/tm && /tmp/tm/bin/pip install
//! trimesh`); how the cost grows with the triangles; and the way over up to five million of them.
//! Nothing here asserts a time.

use nightvat::shape::mesh::Mesh;
use nightvat::shape::reach::{Reach, Side, Touch};
use nightvat::units::Length;
use std::f64::consts::{PI, TAU};
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const EXE: &str = env!("CARGO_BIN_EXE_nightvat");
const ROUNDS: usize = 5;
/// Has this program read and measure one file, and nothing else.
const MEASURE: &str = "--measure";
/// Has it find the way over one, and nothing else.
const WAY: &str = "--way";

/// What `trimesh` does for the same figures, its own start and imports left out, and its peak.
const PYTHON: &str = "
import json, resource, sys, time
try:
    import numpy, trimesh
except ImportError:
    sys.exit(3)
idle = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
begun = time.perf_counter()
mesh = trimesh.load(sys.argv[1])
figures = [mesh.area, mesh.volume, mesh.integral_mean_curvature, mesh.is_watertight]
took = time.perf_counter() - begun
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps([trimesh.__version__, took, peak, idle] + [float(x) for x in figures]))
";

fn main() {
    let words: Vec<String> = std::env::args().collect();
    if let [_, word, file, ..] = words.as_slice() {
        match word.as_str() {
            MEASURE => return measure(Path::new(file)),
            WAY => return way(Path::new(file)),
            _ => {}
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("million.stl");
    std::fs::write(&file, pod(500, 1001)).expect("a mesh");
    beside_trimesh(&file);
    growth();
    ways();
    let file = folder.path().join("millions.stl");
    std::fs::write(&file, pod(1581, 1582)).expect("a mesh");
    alone(&file);
}

fn read(file: &Path) -> Mesh {
    let bytes = std::fs::read(file).expect("a mesh");
    Mesh::read(&bytes, Some(Length::from_mm(1.0))).expect("a mesh")
}

/// The same figures as `trimesh` gives.
fn measure(file: &Path) {
    let mesh = read(file);
    let found = mesh.survey().expect("a body");
    let body = found.body;
    let figures = [body.area.mm2(), body.volume.mm3(), body.mean_curvature.mm()];
    println!("{}", serde_json::json!([found.triangles, figures]));
}

/// How far it is from the top.
fn way(file: &Path) {
    let mesh = read(file);
    let reach = Reach::over(&mesh, &[Touch::Side(Side::Top)]).expect("a way");
    println!("{}", reach.farthest().mm());
}

/// A closed pod with ribs, as a binary STL: `rows` from pole to pole, `columns` round.
fn pod(rows: u32, columns: u32) -> Vec<u8> {
    let at = |row: u32, column: u32| {
        let down = PI * f64::from(row) / f64::from(rows);
        let round = TAU * f64::from(column % columns) / f64::from(columns);
        let ribs = 1.0 + 0.08 * (8.0 * round).cos() * down.sin().powi(2);
        let wide = 9.0 * down.sin() * ribs;
        [wide * round.cos(), wide * round.sin(), 15.0 * down.cos()]
    };
    let mut body = Vec::new();
    let mut count: u32 = 0;
    let mut triangle = |corners: [[f64; 3]; 3]| {
        body.extend([0; 12]);
        for x in corners.iter().flatten() {
            #[allow(clippy::cast_possible_truncation)] // the format holds single precision
            body.extend((*x as f32).to_le_bytes());
        }
        body.extend([0; 2]);
        count += 1;
    };
    let poles = [[0.0, 0.0, 15.0], [0.0, 0.0, -15.0]];
    for row in 0..rows {
        for column in 0..columns {
            let [a, b] = [at(row, column), at(row, column + 1)];
            let [d, c] = [at(row + 1, column), at(row + 1, column + 1)];
            if row == 0 {
                triangle([poles[0], d, c]);
            } else if row + 1 == rows {
                triangle([a, poles[1], b]);
            } else {
                triangle([a, d, c]);
                triangle([a, c, b]);
            }
        }
    }
    let mut bytes = vec![b' '; 80];
    bytes.extend(count.to_le_bytes());
    bytes.extend(body);
    bytes
}

/// Runs a command to its end: what it printed, how long it took, and its peak memory in kB, looked
/// at every two milliseconds; zero where the system does not tell.
fn measured(command: &mut Command) -> (Vec<u8>, Duration, f64) {
    let begun = Instant::now();
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    let path = format!("/proc/{}/status", child.id());
    let mut peak: f64 = 0.0;
    while child.try_wait().expect("a child").is_none() {
        let status = std::fs::read_to_string(&path).unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let now = line.and_then(|rest| rest.trim().trim_end_matches(" kB").parse().ok());
        peak = peak.max(now.unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(2));
    }
    let took = begun.elapsed();
    let mut said = Vec::new();
    let mut out = child.stdout.take().expect("its output");
    out.read_to_end(&mut said).expect("it is read");
    (said, took, peak)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn beside_trimesh(file: &Path) {
    let python = std::env::var("NIGHTVAT_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let (mut ours, mut theirs, mut commands) = (Vec::new(), Vec::new(), Vec::new());
    let (mut our_peak, mut their_peak, mut command_peak) = (0.0_f64, 0.0_f64, 0.0_f64);
    for round in 0..=ROUNDS {
        let own = std::env::current_exe().expect("a name");
        let (said, took, peak) = measured(Command::new(own).arg(MEASURE).arg(file));
        let said: (u64, [f64; 3]) = serde_json::from_slice(&said).expect("its JSON");
        let mut command = Command::new(EXE);
        command.args(["area", "--unit", "mm", "--json", "--mesh"]);
        let (_, whole, at_most) = measured(command.arg(file));
        let mut command = Command::new(&python);
        let (their, _, _) = measured(command.args(["-c", PYTHON]).arg(file));
        let their: Option<Vec<serde_json::Value>> = serde_json::from_slice(&their).ok();
        if round == 0 {
            // The first round warms the file's pages.
            told(&said, their.as_deref());
            continue;
        }
        ours.push(took.as_secs_f64());
        our_peak = our_peak.max(peak);
        commands.push(whole.as_secs_f64());
        command_peak = command_peak.max(at_most);
        if let Some(their) = their {
            theirs.push(their[1].as_f64().expect("seconds"));
            their_peak = their_peak.max(their[2].as_f64().expect("kilobytes"));
        }
    }
    let ours = median(ours);
    println!(
        "  read and measured, the whole process: median {ours:.2} s, peak {:.0} MB",
        our_peak / 1e3
    );
    println!(
        "  nightvat area, which also looks for skins, crossings and gaps: {:.2} s, {:.0} MB",
        median(commands),
        command_peak / 1e3
    );
    if theirs.is_empty() {
        println!("  trimesh: `{python}` does not have it, so nothing is compared");
        return;
    }
    let theirs = median(theirs);
    println!(
        "  trimesh, without its start: median {theirs:.2} s, peak {:.0} MB",
        their_peak / 1e3
    );
    println!(
        "  {:.1} x faster (goal 10 x), memory {:.2} of it (goal 0.33)",
        theirs / ours,
        our_peak / their_peak
    );
}

/// That both measured the same.
fn told((triangles, ours): &(u64, [f64; 3]), theirs: Option<&[serde_json::Value]>) {
    let [area, volume, _] = ours;
    println!("{triangles} triangles, {area:.2} mm², {volume:.2} mm³:");
    let Some(theirs) = theirs else { return };
    for (ours, theirs) in ours.iter().zip(&theirs[4..7]) {
        let theirs = theirs.as_f64().expect("a figure");
        let off = ours / theirs - 1.0;
        assert!(off.abs() < 1e-4, "ours {ours}, trimesh {theirs}");
    }
    println!(
        "  area, volume and curvature agree with trimesh {}",
        theirs[0]
    );
}

/// How the time of reading and measuring grows with the triangles.
fn growth() {
    println!("reading and measuring in one process, median of {ROUNDS}:");
    let mut before: Option<(f64, f64)> = None;
    for (rows, columns) in [(88, 180), (177, 360), (354, 720), (707, 1440)] {
        let bytes = pod(rows, columns);
        let triangles = f64::from(2 * (rows - 1) * columns);
        let times = (0..ROUNDS).map(|_| {
            let begun = Instant::now();
            let mesh = Mesh::read(&bytes, Some(Length::from_mm(1.0))).expect("a mesh");
            let body = mesh.body().expect("a body");
            assert!(body.area.cm2() > 1.0);
            begun.elapsed().as_secs_f64()
        });
        let took = median(times.collect());
        let grows = before.map_or(String::new(), |(few, quick)| {
            let exponent = (took / quick).ln() / (triangles / few).ln();
            format!(", as the triangles to the {exponent:.2}")
        });
        println!("  {triangles:>9} triangles: {:.0} ms{grows}", took * 1e3);
        before = Some((triangles, took));
    }
}

/// The way over the surface from a contact at the top.
fn ways() {
    println!("the way over the surface from one contact, median of {ROUNDS}:");
    for (rows, columns) in [(112, 226), (317, 316), (633, 634)] {
        let mesh = Mesh::read(&pod(rows, columns), Some(Length::from_mm(1.0))).expect("a mesh");
        let triangles = 2 * (rows - 1) * columns;
        let times = (0..ROUNDS).map(|_| {
            let begun = Instant::now();
            let reach = Reach::over(&mesh, &[Touch::Side(Side::Top)]).expect("a way");
            assert!(reach.farthest().mm() > 30.0);
            begun.elapsed().as_secs_f64()
        });
        let took = median(times.collect());
        println!(
            "  {triangles:>9} triangles: {:.0} ms (goal for 200 000: 1000)",
            took * 1e3
        );
    }
}

/// A large file in processes of their own.
fn alone(file: &Path) {
    println!("five million triangles, each in a process of its own:");
    for (word, what) in [
        (MEASURE, "read and measured"),
        (WAY, "read, and the way over it"),
    ] {
        let own = std::env::current_exe().expect("a name");
        let (said, took, peak) = measured(Command::new(own).arg(word).arg(file));
        assert!(!said.is_empty(), "{what}: it failed");
        let (took, peak) = (took.as_secs_f64(), peak / 1e3);
        println!("  {what}: {took:.1} s, peak {peak:.0} MB");
    }
}
