//! What may come over the socket of a real daemon: requests, well or ill, many on one connection.

use super::Tally;
use super::die::Die;
use super::plant::Plant;
use std::io::{Read, Write};
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::time::{Duration, Instant};

/// So many are sent before the answers are looked at.
const AT_ONCE: usize = 8;
const PATIENCE: Duration = Duration::from_secs(5);
/// What the daemon may have grown by, kB.
const GROWS_KB: u64 = 30_000;

/// Sends them over two connections at a time; then the daemon still answers, and is no larger.
pub(crate) fn many(count: u64) -> Tally {
    let plant = Plant::beside_others(50);
    let daemon = plant.serve();
    let socket = plant.path("state").join("nightvat.sock");
    one(&socket, 2000, 99);
    let before = resident_kb(daemon.child.id());
    let tally = std::thread::scope(|scope| {
        let each = count.div_ceil(super::THREADS);
        let threads: Vec<_> = (0..super::THREADS)
            .map(|thread| {
                scope.spawn({
                    let socket = socket.clone();
                    move || one(&socket, each, thread)
                })
            })
            .collect();
        let tallies = threads.into_iter().map(|it| it.join().expect("no panic"));
        tallies.fold(Tally::default(), Tally::with)
    });
    let after = resident_kb(daemon.child.id());
    println!("the daemon had {before} kB before and has {after} kB after");
    assert!(after < before + GROWS_KB, "the daemon grows");
    plant.run(&["stop", "--json"]);
    let status = plant.status();
    assert_eq!(status["output_on"], false, "{status}");
    tally
}

fn resident_kb(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.unwrap()
        .split_whitespace()
        .next()
        .unwrap()
        .parse()
        .unwrap()
}

fn good() -> Vec<Vec<u8>> {
    let job = super::plant::job_text("100 um");
    let start = serde_json::json!({ "job_text": job, "job_path": "job.toml" }).to_string();
    let post = |path: &str, body: &str| {
        format!(
            "POST {path} HTTP/1.1\r\nHost: nightvat\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\n\r\n{body}",
            body.len()
        )
        .into_bytes()
    };
    let get = |path: &str| format!("GET {path} HTTP/1.1\r\nHost: nightvat\r\n\r\n").into_bytes();
    vec![
        get("/status"),
        get("/screen"),
        get("/bedtime"),
        get("/nothing"),
        post("/start", &start),
        post("/start", "{}"),
        post("/clear", ""),
        post("/hush", ""),
        post("/pause", ""),
        b"GET /status HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nabcde\r\n0\r\n\r\n".to_vec(),
    ]
}

/// Whether any was answered well is what the status lines tell.
fn one(socket: &Path, count: u64, seed: u64) -> Tally {
    let good = good();
    let good: Vec<&[u8]> = good.iter().map(Vec::as_slice).collect();
    let mut die = Die::new(seed);
    let mut tally = Tally::default();
    let mut answers = vec![0_u8; 1 << 16];
    while tally.inputs < count {
        let begun = Instant::now();
        let mut stream = UnixStream::connect(socket).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream.set_write_timeout(Some(PATIENCE)).unwrap();
        let mut requests = Vec::new();
        for _ in 0..AT_ONCE {
            requests.extend(die.hurt(&good));
        }
        // It may well close before all of it is sent.
        let _ = stream.write_all(&requests);
        let _ = stream.shutdown(std::net::Shutdown::Write);
        // A request counts when it is answered: what follows a broken one on its connection is
        // never looked at.
        while let Ok(read @ 1..) = stream.read(&mut answers) {
            let seen = &answers[..read];
            let count = |words: &[u8]| {
                let found = seen.windows(words.len()).filter(|it| *it == words);
                found.count() as u64
            };
            tally.inputs += count(b"HTTP/1.1 ");
            tally.taken += count(b"HTTP/1.1 200");
        }
        tally.slowest = tally
            .slowest
            .max(begun.elapsed() / u32::try_from(AT_ONCE).unwrap());
    }
    tally
}
