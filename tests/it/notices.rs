//! Somebody is told: the real program, with a supply lent on a pseudo-terminal, and with web
//! servers, programs and a service manager of this test's own on the other side.

use super::plant::job_of;
use super::rig_studio::{clean, flat, job, piece};
use nightvat::ledger::{Ledger, RunRecord};
use nightvat::rig::cell::Truth;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::lend::{LendSettings, Lent};
use nightvat::spec::Surface;
use nightvat::units::Moment;
use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::net::UnixDatagram;
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

const EXE: &str = env!("CARGO_BIN_EXE_nightvat");
/// Whatever a test waits for comes within this, or it has failed.
const PATIENCE: Duration = Duration::from_secs(40);

/// A state folder, a lent supply with a plate in its cell, a station that tells somebody, a job.
struct Atelier {
    speed: &'static str,
    folder: tempfile::TempDir,
    stop: Arc<AtomicBool>,
    /// While it is set the supply is there and says nothing.
    frozen: Arc<AtomicBool>,
    bench: Option<JoinHandle<()>>,
}

impl Atelier {
    /// With a plate of this area in the cell; the job says 50 cm².
    fn open(cm2: f64, speed: &'static str, notices: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let (stop, frozen) = (Arc::default(), Arc::<AtomicBool>::default());
        let settings = LendSettings {
            link: Some(folder.path().join("port")),
            speed: speed.parse().unwrap(),
            start: Moment::ZERO,
            relay_link: None,
            mishaps: Vec::new(),
        };
        let lent = Lent::open(settings).unwrap();
        let world = clean(&job(vec![piece("plate", Surface::Metal, flat(cm2))]));
        let kind = Kind::Standard;
        let instrument = Instrument::new(kind, Quirks::of(kind), world, Moment::ZERO);
        let (ends, froze) = (Arc::<AtomicBool>::clone(&stop), Arc::clone(&frozen));
        let bench = std::thread::spawn(move || {
            let mut said = |_: &Truth| {
                while froze.load(Ordering::Relaxed) && !ends.load(Ordering::Relaxed) {
                    std::thread::sleep(Duration::from_millis(5));
                }
            };
            lent.serve(instrument, &mut said, &ends).unwrap();
        });
        let atelier = Self {
            speed,
            folder,
            stop,
            frozen,
            bench: Some(bench),
        };
        let port = atelier.path("port");
        atelier.write(
            "station.toml",
            &format!(
                "name = \"north tank\"\nsupply = \"scpi-standard\"\nport = \"{}\"\n[limits]\n\
                 current = \"3 A\"\nvoltage = \"2.5 V\"\n[tank]\nvolume = \"6 L\"\nstirred = true\n\
                 {notices}",
                port.display()
            ),
        );
        atelier.write("job.toml", &job_text("100 um"));
        atelier
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.path(name), text).unwrap();
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_default()
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(EXE);
        command.args(words).current_dir(self.folder.path());
        command
            .env("NIGHTVAT_STATE", self.path("state"))
            .env_remove("NOTIFY_SOCKET")
            .stdin(Stdio::null());
        command
    }

    fn run(&self, words: &[&str]) -> Output {
        self.command(words).output().unwrap()
    }

    fn json(&self, words: &[&str]) -> Value {
        let done = self.run(&[words, &["--json"]].concat());
        let out = String::from_utf8_lossy(&done.stdout);
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {done:?}\n{}", self.read("log")))
    }

    /// Starts a daemon and waits until it answers.
    fn serve(&self, socket: Option<&PathBuf>) -> Daemon {
        let mut command = self.command(&[
            "serve",
            "station.toml",
            "--speed",
            self.speed,
            "--json",
            "-v",
        ]);
        if let Some(socket) = socket {
            command.env("NOTIFY_SOCKET", socket);
        }
        let log = fs::File::options()
            .create(true)
            .append(true)
            .open(self.path("log"))
            .unwrap();
        let mut child = command.stdout(Stdio::piped()).stderr(log).spawn().unwrap();
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        out.read_line(&mut line).unwrap();
        assert!(line.contains("north tank"), "{line} {}", self.read("log"));
        Daemon { child }
    }

    fn in_state(&self, state: &str) -> Value {
        wait(state, || {
            Some(self.json(&["status"])).filter(|status| status["state"] == state)
        })
    }

    fn record(&self, run: i64) -> RunRecord {
        let ledger = Ledger::open_read(&self.path("state/ledger.db")).unwrap();
        ledger.run(run).unwrap()
    }

    /// The texts of a run's events with this code.
    fn events(&self, run: i64, code: &str) -> Vec<String> {
        let events = self.record(run).events;
        let ours = events.into_iter().filter(|event| event.code == code);
        ours.map(|event| event.text).collect()
    }
}

impl Drop for Atelier {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let ended = self.bench.take().unwrap().join();
        assert!(ended.is_ok() || std::thread::panicking());
        if std::thread::panicking() {
            eprintln!("{}", self.read("log"));
        }
    }
}

/// 50 cm² at 1.5 A/dm2.
fn job_text(target: &str) -> String {
    job_of(&format!("thickness = \"{target}\""))
}

fn wait<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + PATIENCE;
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(Instant::now() < until, "no {what} within {PATIENCE:?}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// A daemon; dropped, it is killed.
struct Daemon {
    child: Child,
}

impl Daemon {
    fn term(&mut self) -> Option<i32> {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").arg(&pid).status().unwrap().success());
        wait("end of the daemon", || self.child.try_wait().unwrap()).code()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A web server that answers its first requests with these statuses, and all later ones with 204.
struct Web {
    port: u16,
    heard: Arc<Mutex<Vec<Value>>>,
}

impl Web {
    fn open(statuses: &'static [u16]) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let heard = Arc::<Mutex<Vec<Value>>>::default();
        let hears = Arc::clone(&heard);
        std::thread::spawn(move || {
            let mut statuses = statuses.iter();
            for stream in listener.incoming() {
                let status = statuses.next().copied().unwrap_or(204);
                if let Some(json) = hear(stream.unwrap(), status) {
                    hears.lock().unwrap().push(json);
                }
            }
        });
        Self { port, heard }
    }

    fn table(&self, about: &str) -> String {
        let port = self.port;
        format!(
            "[[tell]]\nby = \"webhook\"\nabout = \"{about}\"\n\
             url = \"http://127.0.0.1:{port}/hook\"\n"
        )
    }

    fn heard(&self) -> Vec<Value> {
        self.heard.lock().unwrap().clone()
    }

    fn words(&self) -> Vec<String> {
        let word = |json: &Value| json["event"].as_str().unwrap_or_default().to_owned();
        self.heard().iter().map(word).collect()
    }
}

/// One request: its JSON, if its head is as it should be.
fn hear(stream: impl Read + Write, status: u16) -> Option<Value> {
    let mut stream = BufReader::new(stream);
    let (mut length, mut json, mut line) = (0, false, String::new());
    stream.read_line(&mut line).ok()?;
    assert!(line.starts_with("POST /hook HTTP/1.1"), "{line}");
    while line.trim() != "" {
        line.clear();
        stream.read_line(&mut line).ok()?;
        let head = line.to_lowercase();
        if let Some(number) = head.strip_prefix("content-length:") {
            length = number.trim().parse().unwrap();
        }
        json |= head.trim() == "content-type: application/json";
    }
    assert!(json && length < 100_000);
    let mut body = vec![0; length];
    stream.read_exact(&mut body).ok()?;
    let answer = format!("HTTP/1.1 {status} So\r\ncontent-length: 0\r\nconnection: close\r\n\r\n");
    stream.get_mut().write_all(answer.as_bytes()).ok()?;
    Some(serde_json::from_slice(&body).unwrap())
}

#[test]
fn a_webhook_that_fails_twice_is_told_at_the_third_try_and_the_run_keeps_that() {
    let web = Web::open(&[500, 503]);
    let atelier = Atelier::open(50.0, "20", &web.table("all"));
    let _daemon = atelier.serve(None);
    atelier.write("short.toml", &job_text("1 um"));
    atelier.json(&["start", "short.toml"]);
    atelier.in_state("finished");
    wait("both notices", || (web.heard().len() >= 4).then_some(()));
    // Two of the four were refused; which, depends on how soon the second notice came.
    let words = web.words();
    assert_eq!(words.len(), 4, "{words:?}");
    assert!(words.contains(&"began".to_owned()) && words.contains(&"finished".to_owned()));
    let told = wait("both in the ledger", || {
        Some(atelier.events(1, "told")).filter(|told| told.len() == 2)
    });
    assert!(
        told.iter()
            .any(|text| text.starts_with("began told by webhook 127.0.0.1:"))
    );
    assert!(
        told.iter()
            .any(|text| text.starts_with("finished told by webhook"))
    );
    assert_eq!(atelier.events(1, "not-told"), Vec::<String>::new());
    let heard = web.heard();
    let last = heard
        .iter()
        .rfind(|json| json["event"] == "finished")
        .unwrap();
    assert_eq!(
        (&last["rank"], &last["run"], &last["station"], &last["job"]),
        (
            &"morning".into(),
            &1.into(),
            &"north tank".into(),
            &"one plate".into()
        )
    );
    assert_eq!(last["status"]["state"], "finished");
    assert!(last["status"]["thickness_um"].as_f64().unwrap() > 0.9);
}

#[test]
fn what_must_wake_her_sounds_until_it_is_hushed_and_the_rest_is_not_told_that_way() {
    let web = Web::open(&[]);
    let folder = tempfile::tempdir().unwrap();
    let rings = folder.path().join("rings");
    let sound = format!(
        "[[tell]]\nby = \"sound\"\nevery = \"2 s\"\nrun = [\"sh\", \"-c\", \
         \"cat >> {0}; echo >> {0}\"]\n",
        rings.display()
    );
    // A hundredth of the plate hangs in the cell: as if the piece had slipped out of the bath.
    let atelier = Atelier::open(0.5, "20", &format!("{sound}{}", web.table("wake")));
    let _daemon = atelier.serve(None);
    atelier.run(&["start", "job.toml", "--json"]);
    let status = atelier.in_state("tripped");
    let count = || {
        fs::read_to_string(&rings)
            .unwrap_or_default()
            .lines()
            .count()
    };
    wait("three sounds", || (count() >= 3).then_some(()));
    let first = fs::read_to_string(&rings).unwrap();
    let json: Value = serde_json::from_str(first.lines().next().unwrap()).unwrap();
    assert_eq!(
        (&json["event"], &json["rank"]),
        (&"tripped".into(), &"wake".into())
    );
    assert_eq!(json["code"], status["latch"]["code"]);
    assert_eq!(atelier.json(&["hush"])["hushed"], true);
    let after = count();
    std::thread::sleep(Duration::from_millis(4500));
    assert!(count() <= after + 1, "it sounds on");
    assert_eq!(atelier.json(&["hush"])["hushed"], false);
    // Hushed is not cleared.
    assert_eq!(
        atelier.json(&["start", "job.toml"])["error"]["code"],
        "not-cleared"
    );
    assert_eq!(web.words(), ["tripped"]);
    // The first sound is an event of the run, and no later one.
    let told = atelier.events(1, "told");
    assert_eq!(
        told.iter().filter(|text| text.contains("by sound")).count(),
        1,
        "{told:?}"
    );
}

#[test]
fn a_keeper_that_dies_while_nothing_runs_is_told_and_its_short_doubt_is_not() {
    let web = Web::open(&[]);
    let atelier = Atelier::open(50.0, "20", &web.table("all"));
    let _daemon = atelier.serve(None);
    let first = atelier.json(&["status"])["keeper"].as_u64().unwrap();
    let killed = Command::new("kill")
        .args(["-KILL", &first.to_string()])
        .status();
    assert!(killed.unwrap().success());
    wait("another keeper", || {
        let keeper = atelier.json(&["status"])["keeper"].as_u64();
        keeper.filter(|keeper| *keeper != first)
    });
    atelier.in_state("idle");
    // Longer than an off may stay unproved before that is told.
    std::thread::sleep(Duration::from_secs(4));
    assert_eq!(web.words(), ["keeper-lost"]);
    assert_eq!(web.heard()[0]["rank"], "wake");
}

#[test]
fn a_program_that_hangs_and_a_server_that_never_answers_hold_nothing_up() {
    // It takes connections and never says a word.
    let deaf = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = deaf.local_addr().unwrap().port();
    let notices = format!(
        "[[tell]]\nby = \"command\"\nrun = [\"sleep\", \"600\"]\nwithin = \"60 s\"\n\
         [[tell]]\nby = \"webhook\"\nurl = \"http://127.0.0.1:{port}/hook\"\nwithin = \"60 s\"\n\
         [heartbeat]\nrun = [\"sleep\", \"600\"]\nwithin = \"60 s\"\n\
         [hourly]\nrun = [\"sleep\", \"600\"]\n"
    );
    let atelier = Atelier::open(50.0, "20", &notices);
    let mut daemon = atelier.serve(None);
    atelier.json(&["start", "job.toml"]);
    for _ in 0..6 {
        std::thread::sleep(Duration::from_secs(1));
        let begun = Instant::now();
        let status = atelier.json(&["status"]);
        assert_eq!(status["state"], "building");
        assert!(
            status["supply"]["last_reply_s"].as_f64() < Some(4.0),
            "{status}"
        );
        assert!(
            begun.elapsed() < Duration::from_secs(1),
            "{:?}",
            begun.elapsed()
        );
    }
    let begun = Instant::now();
    assert_eq!(atelier.json(&["stop"])["confirmed"], true);
    assert!(
        begun.elapsed() < Duration::from_secs(3),
        "{:?}",
        begun.elapsed()
    );
    let begun = Instant::now();
    assert_eq!(daemon.term(), Some(0));
    // The last notices have 4 s, and what still runs then is killed.
    assert!(
        begun.elapsed() < Duration::from_secs(8),
        "{:?}",
        begun.elapsed()
    );
    drop(deaf);
}

#[test]
fn a_run_keeps_what_her_program_prints_and_she_gets_signs_of_life() {
    let web = Web::open(&[]);
    let notices = format!(
        "[heartbeat]\nurl = \"http://127.0.0.1:{}/hook\"\nevery = \"10 s\"\n\
         [hourly]\nrun = [\"sh\", \"-c\", \"cat > status.json; echo photos/1.jpg\"]\nevery = \"1 min\"\n",
        web.port
    );
    let atelier = Atelier::open(50.0, "20", &notices);
    let _daemon = atelier.serve(None);
    wait("a sign of life", || (!web.heard().is_empty()).then_some(()));
    assert_eq!(web.heard()[0]["state"], "idle");
    atelier.json(&["start", "job.toml"]);
    let kept = wait("three photos", || {
        Some(atelier.events(1, "kept")).filter(|kept| kept.len() >= 3)
    });
    assert_eq!(kept[0], "sh: photos/1.jpg");
    let status: Value = serde_json::from_str(&atelier.read("status.json")).unwrap();
    assert_eq!(status["run"], 1);
    let at: Vec<f64> = atelier
        .record(1)
        .events
        .iter()
        .filter(|event| event.code == "kept")
        .map(|event| event.at.s())
        .collect();
    // Every minute of the station's clock, looked at every 4 s of it.
    assert!((at[2] - at[1] - 60.0).abs() < 15.0, "{at:?}");
    atelier.json(&["stop"]);
    wait("a later sign of life", || {
        web.heard()
            .iter()
            .any(|json| json["state"] == "stopped")
            .then_some(())
    });
}

#[test]
fn the_service_manager_hears_that_it_is_ready_that_it_lives_and_that_it_ends() {
    let atelier = Atelier::open(50.0, "1", "");
    let path = atelier.path("notify");
    let socket = UnixDatagram::bind(&path).unwrap();
    socket
        .set_read_timeout(Some(Duration::from_millis(100)))
        .unwrap();
    let heard = Arc::<Mutex<Vec<(Instant, String)>>>::default();
    let (hears, ends) = (Arc::clone(&heard), Arc::clone(&atelier.stop));
    let manager = std::thread::spawn(move || {
        let mut buffer = [0; 4096];
        while !ends.load(Ordering::Relaxed) {
            if let Ok(length) = socket.recv(&mut buffer) {
                let text = String::from_utf8_lossy(&buffer[..length]).into_owned();
                hears.lock().unwrap().push((Instant::now(), text));
            }
        }
    });
    let fed = |from: Instant, to: Instant| {
        let heard = heard.lock().unwrap();
        let fed = heard
            .iter()
            .filter(|(at, text)| text == "WATCHDOG=1" && *at >= from && *at <= to);
        fed.count()
    };
    let mut daemon = atelier.serve(Some(&path));
    let at_rest = Instant::now();
    std::thread::sleep(Duration::from_millis(1500));
    assert!(heard.lock().unwrap()[0].1.starts_with("READY=1\n"));
    assert!(fed(at_rest, Instant::now()) >= 1, "the loop turns");
    atelier.json(&["start", "job.toml"]);
    let flowing = Instant::now();
    std::thread::sleep(Duration::from_secs(3));
    assert!(fed(flowing, Instant::now()) >= 2, "periods are completed");
    // No period is completed on a supply that is silent, though the loop turns as before.
    atelier.frozen.store(true, Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(2000));
    let silent = Instant::now();
    std::thread::sleep(Duration::from_millis(1500));
    assert_eq!(atelier.json(&["status"])["state"], "building");
    assert_eq!(fed(silent, Instant::now()), 0);
    // Once off is on its way the loop itself is the sign again: a daemon that fights for a proof
    // is not to be ended.
    atelier.in_state("unconfirmed");
    let fighting = Instant::now();
    std::thread::sleep(Duration::from_secs(2));
    assert!(fed(fighting, Instant::now()) >= 2);
    atelier.frozen.store(false, Ordering::Relaxed);
    atelier.in_state("tripped");
    daemon.term();
    let words: Vec<String> = heard
        .lock()
        .unwrap()
        .iter()
        .map(|(_, text)| text.clone())
        .collect();
    assert!(words.contains(&"STOPPING=1".to_owned()), "{words:?}");
    atelier.stop.store(true, Ordering::Relaxed);
    manager.join().unwrap();
}

#[test]
fn every_way_is_tried_and_each_says_what_came_of_it() {
    let web = Web::open(&[]);
    let notices = format!(
        "[[tell]]\nby = \"command\"\nrun = [\"sh\", \"-c\", \"cat > trial.json\"]\n\
         [[tell]]\nby = \"command\"\nrun = [\"sleep\", \"600\"]\nwithin = \"1 s\"\n\
         [[tell]]\nby = \"sound\"\n{}\
         [hourly]\nrun = [\"echo\", \"photos/1.jpg\"]\n",
        web.table("wake")
    );
    let atelier = Atelier::open(50.0, "20", &notices);
    let done = atelier.run(&["tell", "station.toml", "--json"]);
    assert_eq!(done.status.code(), Some(1), "{done:?}");
    let json: Value = serde_json::from_slice(&done.stdout).unwrap();
    let ok: Vec<bool> = json["ways"]
        .as_array()
        .unwrap()
        .iter()
        .map(|way| way["ok"].as_bool().unwrap())
        .collect();
    assert_eq!(ok, [true, false, false, true, true], "{json}");
    assert_eq!(json["ways"][1]["text"], "not done within 1 s: killed");
    assert_eq!(json["ways"][4]["text"], "photos/1.jpg");
    assert_eq!(web.words(), ["trial"]);
    let trial: Value = serde_json::from_str(&atelier.read("trial.json")).unwrap();
    assert_eq!(
        (&trial["event"], &trial["station"]),
        (&"trial".into(), &"north tank".into())
    );
    let text = atelier.run(&["tell", "station.toml"]);
    let lines = String::from_utf8_lossy(&text.stdout).into_owned();
    let words: Vec<&str> = lines
        .lines()
        .map(|line| line.split(' ').next().unwrap())
        .collect();
    assert_eq!(words, ["ok", "FAILED", "FAILED", "ok", "ok"], "{lines}");
    let nobody = atelier.run(&["tell", "demo", "--json"]);
    assert_eq!(nobody.status.code(), Some(2), "{nobody:?}");
}

#[test]
fn a_checklist_stands_before_the_run_and_a_card_after_it() {
    let atelier = Atelier::open(50.0, "20", "");
    let _daemon = atelier.serve(None);
    atelier.write("short.toml", &job_text("1 um"));
    let begun = atelier.run(&["start", "short.toml"]);
    let text = String::from_utf8_lossy(&begun.stdout).into_owned();
    let at = |what: &str| {
        text.find(what)
            .unwrap_or_else(|| panic!("no {what}: {text}"))
    };
    let steps = [
        "Before the current rises",
        "1.  Sealed.",
        "2.  Air out of hollows.",
        "3.  Sunk.",
        "4.  Contacts tugged.",
        "5.  Fuse in.",
        "run 1 is",
    ];
    let places = steps.map(at);
    assert!(places.is_sorted(), "{text}");
    atelier.in_state("finished");
    let status = String::from_utf8_lossy(&atelier.run(&["status"]).stdout).into_owned();
    let flat = status.split_whitespace().collect::<Vec<_>>().join(" ");
    let short = "To do 1. Gloves and goggles on, 2. Lift, 3. Rinse, 4. Neutralise, 5. Rinse, 6. Dry, \
                 7. Weigh when dry.";
    assert!(flat.contains(short), "{flat}");
    let watched = String::from_utf8_lossy(&atelier.run(&["watch"]).stdout).into_owned();
    let at = |what: &str| {
        watched
            .find(what)
            .unwrap_or_else(|| panic!("no {what}: {watched}"))
    };
    let steps = [
        "In the morning",
        "2.  Lift",
        "3.  Rinse",
        "4.  Neutralise",
        "5.  Rinse",
        "6.  Dry",
        "7.  Weigh when dry.",
    ];
    assert!(steps.map(at).is_sorted(), "{watched}");
    let again = atelier.json(&["start", "job.toml"]);
    assert_eq!(again["checklist"].as_array().unwrap().len(), 5, "{again}");
    assert_eq!(again["checklist"][2]["word"], "Sunk.");
    let refused = atelier.run(&["start", "short.toml"]);
    assert_eq!(refused.status.code(), Some(5), "busy");
    assert!(refused.stdout.is_empty(), "a checklist for no run");
}

#[test]
fn a_unit_file_ends_in_off_whatever_the_paths_are() {
    let atelier = Atelier::open(50.0, "20", "");
    fs::create_dir(atelier.path("50 % of it")).unwrap();
    fs::copy(
        atelier.path("station.toml"),
        atelier.path("50 % of it/a $b.toml"),
    )
    .unwrap();
    let done = atelier.run(&["unit", "50 % of it/a $b.toml"]);
    let text = String::from_utf8_lossy(&done.stdout).into_owned();
    // systemd.syntax(7) and systemd.service(5): a percent and a dollar are written twice.
    let station = format!(
        "\"{}/50 %% of it/a $$b.toml\"",
        atelier.folder.path().display()
    );
    for line in [
        "Type=notify".to_owned(),
        "KillMode=control-group".to_owned(),
        "WatchdogSec=30".to_owned(),
        "OOMPolicy=continue".to_owned(),
        format!(
            "Environment=\"NIGHTVAT_STATE={}\"",
            atelier.path("state").display()
        ),
        format!("ExecStart=\"{EXE}\" serve {station}"),
        format!("ExecStopPost=\"{EXE}\" off {station}"),
    ] {
        assert!(text.lines().any(|it| it == line), "no line {line}\n{text}");
    }
    assert_eq!(
        atelier.json(&["unit", "station.toml"])["station"],
        "north tank"
    );
    assert_eq!(
        atelier.run(&["unit", "no-such.toml"]).status.code(),
        Some(2)
    );
}

/// A web server with a certificate of its own making: a port, and that certificate.
fn secret_web(requests: usize) -> (u16, String) {
    use tokio_rustls::rustls::pki_types::PrivateKeyDer;
    use tokio_rustls::rustls::{ServerConfig, ServerConnection, StreamOwned, crypto::ring};
    let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
    let key = PrivateKeyDer::try_from(made.signing_key.serialize_der()).unwrap();
    let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![made.cert.der().clone()], key)
        .unwrap();
    let config = Arc::new(config);
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for stream in listener.incoming().take(requests) {
            let stream: TcpStream = stream.unwrap();
            let talk = ServerConnection::new(Arc::clone(&config)).unwrap();
            // A client that does not trust the certificate goes away.
            let _ = hear(StreamOwned::new(talk, stream), 200);
        }
    });
    (port, made.cert.pem())
}

#[test]
fn https_is_spoken_with_whom_this_computer_trusts_and_with_nobody_else() {
    let (port, certificate) = secret_web(2);
    let notices = format!("[[tell]]\nby = \"webhook\"\nurl = \"https://localhost:{port}/hook\"\n");
    let atelier = Atelier::open(50.0, "20", &notices);
    atelier.write("trusted.pem", &certificate);
    let tell = |trusted: &str| {
        let mut command = atelier.command(&["tell", "station.toml", "--json"]);
        command
            .env("SSL_CERT_FILE", atelier.path(trusted))
            .env_remove("SSL_CERT_DIR");
        let done = command.output().unwrap();
        serde_json::from_slice::<Value>(&done.stdout).unwrap()["ways"][0].clone()
    };
    let known = tell("trusted.pem");
    assert_eq!(known["ok"], true, "{known}");
    let other = rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
    atelier.write("other.pem", &other.cert.pem());
    let stranger = tell("other.pem");
    assert_eq!(stranger["ok"], false, "{stranger}");
    assert!(
        stranger["text"].as_str().unwrap().contains("certificate"),
        "{stranger}"
    );
}
