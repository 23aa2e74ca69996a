//! The death of an owner, in every way an owner can die, on a supply of the keeper's tests and on
//! the simulated station of the rig in both dialects. Each ends by asking the supply's own account
//! whether current flows.

use super::keeper::{AGES, EXE, bench, dismiss, limits, quick, signal, wait_until};
use super::rig_studio::{clean, flat, job, piece};
use super::supply_codec::{STANDARD, TERSE, exchanges, load};
use nightvat::exchange::{Ask, Order};
use nightvat::rig::cell::Truth;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::lend::{LendSettings, Lent};
use nightvat::spec::Surface;
use nightvat::supply::clock::Clock;
use nightvat::supply::keeper::{Limits, Report, Request, Settings, Why, last_record};
use nightvat::supply::port::off_now;
use nightvat::units::{Current, Moment, Span, Voltage};
use rustix::process::{Pid, Signal, kill_process_group};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::CommandExt;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// An owner that can be killed or stopped: a process that passes requests on, and holds the only
/// end of the pipe.
struct Owner {
    relay: Child,
    keeper: Child,
    requests: ChildStdin,
    reports: Receiver<Report>,
}

impl Owner {
    /// Owner and keeper begin in one process group, as a shell or a service would start them; 0.3
    /// A are let flow.
    fn start(settings: &Settings, profile: &str, lease: Span) -> Self {
        let mut relay = Command::new("cat")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .process_group(0)
            .spawn()
            .unwrap();
        let mut keeper = Command::new(EXE)
            .arg("keeper")
            .stdin(relay.stdout.take().unwrap())
            .stdout(Stdio::piped())
            .process_group(i32::try_from(relay.id()).unwrap())
            .spawn()
            .unwrap();
        let (tell, reports) = channel();
        let voice = BufReader::new(keeper.stdout.take().unwrap());
        thread::spawn(move || {
            for line in voice.lines().map_while(Result::ok) {
                // Without a listener the pipe is neither read nor closed: it fills up.
                while tell.send(serde_json::from_str(&line).unwrap()).is_err() {
                    thread::park();
                }
            }
        });
        let requests = relay.stdin.take().unwrap();
        let mut owner = Self {
            relay,
            keeper,
            requests,
            reports,
        };
        owner.say(&serde_json::to_string(settings).unwrap());
        assert!(matches!(owner.hear(), Report::Ready { .. }));
        owner.ask(&Request::Arm(Limits { lease, ..limits() }));
        assert!(matches!(owner.hear(), Report::Armed(_)));
        let (volts, amps) = (Voltage::from_v(2.5), Current::from_a(0.3));
        let orders = [Order::SetVoltage(volts), Order::SetCurrent(amps), Order::On];
        for exchange in orders
            .into_iter()
            .flat_map(|order| exchanges(profile, order))
        {
            owner.ask(&Request::Exchange { id: 1, exchange });
            match owner.hear() {
                Report::Exchanged { outcome, .. } => {
                    let said = String::from_utf8(outcome.reply.unwrap()).unwrap();
                    assert!(said.is_empty() || said.starts_with("0,"), "{said}");
                }
                other => panic!("{other:?}"),
            }
        }
        owner
    }

    fn say(&mut self, line: &str) {
        writeln!(self.requests, "{line}").unwrap();
    }

    fn ask(&mut self, request: &Request) {
        self.say(&serde_json::to_string(request).unwrap());
    }

    fn hear(&self) -> Report {
        self.reports.recv_timeout(AGES).unwrap()
    }

    /// The keeper turned off for this reason, confirmed it, wrote it down and left.
    fn ends(mut self, settings: &Settings, reason: &Why) {
        match self.hear() {
            Report::Off { why, report } => {
                assert_eq!((&why, report.confirmed), (reason, true), "{report:?}");
            }
            other => panic!("{other:?}"),
        }
        let _killed = self.relay.kill();
        self.relay.wait().unwrap();
        assert!(self.keeper.wait().unwrap().success());
        assert!(last_record(&settings.state).unwrap().confirmed_off);
    }

    fn group(&self) -> Pid {
        Pid::from_raw(i32::try_from(self.relay.id()).unwrap()).unwrap()
    }
}

#[test]
fn killed_is_off_at_once() {
    let bench = bench(quick());
    let mut owner = Owner::start(&bench.settings, STANDARD, Span::from_s(30.0));
    assert_eq!(bench.fake.flows(), 0.3);
    owner.relay.kill().unwrap();
    let took = wait_until("no current flows", || bench.fake.flows() == 0.0);
    assert!(
        took < Duration::from_secs(5),
        "far less than the lease: {took:?}"
    );
    owner.ends(&bench.settings, &Why::OwnerGone);
}

#[test]
fn killed_with_its_whole_group_is_off() {
    let bench = bench(quick());
    let owner = Owner::start(&bench.settings, STANDARD, Span::from_s(30.0));
    assert_eq!(bench.fake.flows(), 0.3);
    kill_process_group(owner.group(), Signal::KILL).unwrap();
    owner.ends(&bench.settings, &Why::OwnerGone);
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn stopped_in_mid_run_is_off_after_the_lease() {
    let bench = bench(quick());
    let mut owner = Owner::start(&bench.settings, STANDARD, Span::from_s(1.0));
    for _ in 0..4 {
        thread::sleep(Duration::from_millis(400));
        owner.ask(&Request::Renew);
    }
    assert_eq!(bench.fake.flows(), 0.3, "renewed in time, it flows on");
    signal(owner.relay.id(), Signal::STOP);
    owner.ask(&Request::Renew);
    owner.ends(&bench.settings, &Why::LeaseLapsed);
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn killed_while_the_keeper_sleeps_is_off_when_it_wakes() {
    let bench = bench(quick());
    let mut owner = Owner::start(&bench.settings, STANDARD, Span::from_s(30.0));
    signal(owner.keeper.id(), Signal::STOP);
    owner.relay.kill().unwrap();
    thread::sleep(Duration::from_millis(200));
    assert_eq!(
        bench.fake.flows(),
        0.3,
        "nobody is awake: only the supply's own guards could act"
    );
    signal(owner.keeper.id(), Signal::CONT);
    owner.ends(&bench.settings, &Why::OwnerGone);
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn an_owner_who_does_not_read_cannot_hold_the_keeper_up() {
    let bench = bench(quick());
    let mut owner = Owner::start(&bench.settings, STANDARD, Span::from_s(1.0));
    // Nobody takes the reports, and there are more of them than a pipe holds (64 KiB on Linux).
    let (_, nobody) = channel();
    owner.reports = nobody;
    let query = exchanges(STANDARD, Order::Read(Ask::CURRENT)).remove(0);
    for id in 0..2000 {
        owner.ask(&Request::Exchange {
            id,
            exchange: query.clone(),
        });
    }
    wait_until("no current flows", || bench.fake.flows() == 0.0);
    let _killed = owner.relay.kill();
    owner.relay.wait().unwrap();
    assert!(owner.keeper.wait().unwrap().success());
}

// The same on the rig's station, in both dialects.

/// A simulated supply with a cell, lent on a pseudo-terminal.
struct Station {
    settings: Settings,
    truth: Arc<Mutex<Option<Truth>>>,
    stop: Arc<AtomicBool>,
    server: Option<JoinHandle<()>>,
    _state: tempfile::TempDir,
}

impl Station {
    fn lend(kind: Kind, profile: &str, speed: f64) -> Self {
        let world = clean(&job(vec![piece("plate", Surface::Metal, flat(50.0))]));
        // A quick supply: on a busy machine a late thread must not look like a gap that was too
        // short, after which a terse supply loses what was said to it.
        let quirks = Quirks {
            digest_s: 0.010,
            ..Quirks::of(kind)
        };
        let instrument = Instrument::new(kind, quirks, world, Moment::ZERO);
        let lent = Lent::open(LendSettings {
            link: None,
            speed,
            start: Moment::ZERO,
            relay_link: None,
            mishaps: Vec::new(),
        })
        .unwrap();
        let (state, truth) = (tempfile::tempdir().unwrap(), Arc::new(Mutex::new(None)));
        let settings = Settings {
            profile: (*load(profile)).clone(),
            port: lent.path().to_owned(),
            clock: Clock::start(speed),
            state: state.path().to_owned(),
            relay: None,
        };
        let stop = Arc::new(AtomicBool::new(false));
        let (account, halt) = (truth.clone(), stop.clone());
        let mut on_truth = move |truth: &Truth| *account.lock().unwrap() = Some(truth.clone());
        let server = thread::spawn(move || lent.serve(instrument, &mut on_truth, &halt).unwrap());
        Self {
            settings,
            truth,
            stop,
            server: Some(server),
            _state: state,
        }
    }

    /// The current that flows, by the cell's own account of a second that began after this call.
    fn flows(&self) -> f64 {
        *self.truth.lock().unwrap() = None;
        wait_until("the cell's account", || {
            self.truth.lock().unwrap().is_some()
        });
        *self.truth.lock().unwrap() = None;
        wait_until("the cell's next account", || {
            self.truth.lock().unwrap().is_some()
        });
        self.truth.lock().unwrap().as_ref().unwrap().current_a
    }
}

impl Drop for Station {
    fn drop(&mut self) {
        dismiss(&self.settings.state);
        self.stop.store(true, Ordering::SeqCst);
        if let Some(server) = self.server.take() {
            let _ended = server.join();
        }
    }
}

/// What is done to an owner, and why the keeper then turns off.
type Deed = (fn(&mut Owner), Why);

fn deeds() -> [Deed; 4] {
    [
        (|owner| owner.relay.kill().unwrap(), Why::OwnerGone),
        (
            |owner| kill_process_group(owner.group(), Signal::KILL).unwrap(),
            Why::OwnerGone,
        ),
        (
            |owner| signal(owner.relay.id(), Signal::STOP),
            Why::LeaseLapsed,
        ),
        (
            |owner| signal(owner.keeper.id(), Signal::TERM),
            Why::Signal("SIGTERM".into()),
        ),
    ]
}

fn dies_in_every_way(kind: Kind, profile: &str, speed: f64) {
    thread::scope(|scope| {
        for (deed, why) in deeds() {
            scope.spawn(move || dies(kind, profile, speed, deed, &why));
        }
    });
}

fn dies(kind: Kind, profile: &str, speed: f64, deed: fn(&mut Owner), why: &Why) {
    let station = Station::lend(kind, profile, speed);
    let mut owner = Owner::start(&station.settings, profile, Span::from_s(4.0));
    let flowing = station.flows();
    assert!((flowing - 0.3).abs() < 0.01, "{flowing} A before {why:?}");
    owner.ask(&Request::Renew);
    deed(&mut owner);
    owner.ends(&station.settings, why);
    assert_eq!(station.flows(), 0.0, "after {why:?}");
}

#[test]
fn the_standard_station_is_off_however_its_owner_dies() {
    dies_in_every_way(Kind::Standard, STANDARD, 4.0);
}

#[test]
fn the_terse_station_is_off_however_its_owner_dies() {
    dies_in_every_way(Kind::Terse, TERSE, 1.0);
}

#[test]
fn a_hurried_station_is_off_however_its_owner_dies() {
    dies_in_every_way(Kind::Standard, STANDARD, 20.0);
}

#[test]
fn a_station_left_flowing_is_turned_off_over_its_port() {
    for (kind, profile) in [(Kind::Standard, STANDARD), (Kind::Terse, TERSE)] {
        let station = Station::lend(kind, profile, 1.0);
        let mut owner = Owner::start(&station.settings, profile, Span::from_s(30.0));
        signal(owner.keeper.id(), Signal::KILL);
        owner.keeper.wait().unwrap();
        let flowing = station.flows();
        assert!(
            (flowing - 0.3).abs() < 0.01,
            "with its keeper dead it flows on: {flowing} A"
        );
        let profile = station.settings.profile.clone().into();
        let settings = &station.settings;
        let report = off_now(&settings.port, &profile, settings.clock, AGES).unwrap();
        assert!(report.confirmed, "{report:?}");
        assert_eq!(station.flows(), 0.0);
        let _killed = owner.relay.kill();
        owner.relay.wait().unwrap();
    }
}
