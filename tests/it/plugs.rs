//! Any plug pulled at any moment: the daemon, its loop, its disk, its memory, its keeper, both.
//! Each ends by asking the emulator's own account whether current flows.

use super::plant::{EXE, Plant, is_alive, signal, wait};
use nightvat::exchange::Order;
use nightvat::spec::{Shelf, open_supply};
use nightvat::supply::clock::Clock;
use nightvat::supply::keeper::{KeptLine, Limits, Settings, hire};
use nightvat::supply::link::Link;
use nightvat::units::{Current, Span, Voltage};
use std::fs;
use std::io::Write;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::sync::Arc;
use std::time::{Duration, Instant};

const SPEED: u32 = 10;
/// Off and its proof: at 10 × an exchange may take 50 ms, and a machine may be busy.
const AT_ONCE: Duration = Duration::from_secs(2);
/// The lease, and off with its proof.
const LEASE: Duration = Duration::from_secs(6);

#[test]
fn a_killed_daemon_is_off_at_once_by_the_emulators_own_account() {
    let plant = Plant::open(SPEED);
    plant.flowing().killed();
    plant.dead_within(AT_ONCE);
    plant.proved("owner-gone");
}

#[test]
fn a_stopped_daemon_is_off_within_lease_and_a_second() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    daemon.signal("STOP");
    plant.dead_within(LEASE);
    plant.proved("lease-lapsed");
    // Off over the command line, past a daemon that does not answer.
    let off = plant.run(&["off", "station.toml", "--json"]).json(0);
    assert_eq!(
        (&off["output_on"], &off["confirmed"]),
        (&false.into(), &true.into())
    );
    assert_eq!(plant.amps(), 0.0);
}

#[test]
fn a_supply_left_on_by_both_is_turned_off_by_the_command_alone() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    plant.power_cut(daemon);
    assert!(plant.amps() > 0.1, "both are dead: nothing turned it off");
    let off = plant.run(&["off", "station.toml", "--json"]).json(0);
    assert_eq!(off["confirmed"], true);
    plant.dead_within(AT_ONCE);
}

#[test]
fn a_supply_left_on_by_both_is_turned_off_by_the_next_daemon_before_anything_else() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    plant.power_cut(daemon);
    assert!(plant.amps() > 0.1, "both are dead: nothing turned it off");
    let next = plant.serve();
    assert_eq!(next.said["confirmed_off"], true, "{}", next.said);
    plant.dead_within(AT_ONCE);
    plant.in_state("interrupted");
}

#[test]
fn a_killed_keeper_is_off_at_once_by_the_emulators_own_account() {
    let plant = Plant::open(SPEED);
    let _daemon = plant.flowing();
    signal(plant.keeper().unwrap(), "KILL");
    plant.dead_within(AT_ONCE);
    plant.in_state("interrupted");
    assert_eq!(plant.amps(), 0.0);
}

#[test]
fn a_daemon_without_memory_does_not_leave_current_behind() {
    let plant = Plant::open(SPEED);
    let mut daemon = plant.flowing();
    // No byte more than it has: what it asks for now is refused, and a program that is refused
    // memory aborts.
    let pid = rustix::process::Pid::from_raw(i32::try_from(daemon.child.id()).unwrap());
    let none = rustix::process::Rlimit {
        current: Some(1),
        maximum: Some(1),
    };
    rustix::process::prlimit(pid, rustix::process::Resource::As, none).unwrap();
    // Each of these may send a megabyte, and is waited for until it has.
    let mut held = Vec::new();
    let begun = Instant::now();
    while daemon.child.try_wait().unwrap().is_none() && begun.elapsed() < Duration::from_secs(20) {
        let Ok(mut asker) = UnixStream::connect(plant.path("state/nightvat.sock")) else {
            continue;
        };
        asker
            .set_write_timeout(Some(Duration::from_millis(200)))
            .unwrap();
        let head = b"POST /start HTTP/1.1\r\nhost: n\r\ncontent-length: 1000000\r\n\r\n";
        let sent = asker.write_all(head);
        // It may die at any byte.
        let _ = sent.and_then(|()| asker.write_all(&vec![b' '; 900_000]));
        held.push(asker);
    }
    assert!(
        daemon.child.try_wait().unwrap().is_some(),
        "it lives on a byte: {}",
        plant.log()
    );
    plant.dead_within(AT_ONCE);
    plant.proved("owner-gone");
}

#[test]
fn off_works_past_a_stopped_daemon_and_a_broken_profile() {
    let plant = Plant::open(SPEED);
    let station = fs::read_to_string(plant.path("station.toml")).unwrap();
    let profile = include_str!("../../profiles/supplies/scpi-standard.toml");
    fs::write(plant.path("mine.toml"), profile).unwrap();
    let own = station.replace("\"scpi-standard\"", "\"mine.toml\"");
    fs::write(plant.path("station.toml"), own).unwrap();
    let daemon = plant.flowing();
    daemon.signal("STOP");
    fs::write(plant.path("mine.toml"), "name = ").unwrap();
    let off = plant.run(&["off", "station.toml", "--json"]).json(0);
    assert_eq!(off["confirmed"], true);
    plant.dead_within(AT_ONCE);
    daemon.killed();
    // With nobody left who knows the profile: the one that last worked on this port.
    let mut port = fs::File::options()
        .write(true)
        .open(plant.path("port"))
        .unwrap();
    port.write_all(b"VOLT 2.5\nCURR 0.5\nOUTP ON\n").unwrap();
    drop(port);
    plant.flows();
    let off = plant.run(&["off", "station.toml", "--json"]).json(0);
    assert_eq!(off["confirmed"], true);
    plant.dead_within(AT_ONCE);
    // And with a station file that is broken too.
    fs::write(plant.path("station.toml"), "name = ").unwrap();
    let mut port = fs::File::options()
        .write(true)
        .open(plant.path("port"))
        .unwrap();
    port.write_all(b"OUTP ON\n").unwrap();
    drop(port);
    plant.flows();
    let off = plant.run(&["off", "station.toml", "--json"]);
    assert!(off.err.contains("the port of the last keeper"), "{off:?}");
    assert_eq!(off.json(0)["confirmed"], true);
    plant.dead_within(AT_ONCE);
}

#[test]
fn off_is_proved_over_the_port_where_the_keeper_could_not_write_what_it_did() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    // The draft of the keeper's record cannot be made any more.
    fs::create_dir(plant.path("state/keeper.json.new")).unwrap();
    daemon.signal("STOP");
    let off = plant.run(&["off", "station.toml", "--json"]).json(0);
    assert_eq!(off["confirmed"], true);
    plant.dead_within(AT_ONCE);
}

#[test]
fn a_keeper_whose_disk_takes_no_byte_is_hired_and_still_turns_off() {
    let plant = Plant::open(SPEED);
    // A program of which every write to a file fails: its log, its lock, its record.
    let text = format!("#!/bin/sh\ntrap '' XFSZ\nulimit -f 0\nexec {EXE} \"$@\"\n");
    let program = plant.path("full.sh");
    fs::write(&program, text).unwrap();
    fs::set_permissions(&program, fs::Permissions::from_mode(0o700)).unwrap();
    let profile = open_supply("scpi-standard", &Shelf::disk()).unwrap();
    let settings = Settings {
        profile: profile.clone(),
        port: plant.path("port"),
        clock: Clock::start(f64::from(SPEED)),
        state: plant.path("state"),
        relay: None,
    };
    let (hired, reports) = hire(&program, &settings).unwrap();
    let pid = hired.pid();
    let mut line = KeptLine::new(hired, reports, &settings);
    let mut link = Link::new(Arc::new(profile));
    assert!(line.arm(Limits {
        max_current: Current::from_a(1.0),
        max_voltage: Voltage::from_v(2.5),
        end_within: Span::from_h(1.0),
        lease: Span::from_s(30.0),
        mark: None,
    }));
    let (volts, amps) = (Voltage::from_v(2.5), Current::from_a(0.3));
    for order in [Order::SetVoltage(volts), Order::SetCurrent(amps), Order::On] {
        assert!(link.carry(order, &mut line).is_ok(), "{order:?}");
    }
    plant.flows();
    drop(line);
    plant.dead_within(AT_ONCE);
    wait("a keeper that has left", || (!is_alive(pid)).then_some(()));
    assert!(!plant.path("state/keeper.json").exists());
}

#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
mod traced {
    use super::{AT_ONCE, LEASE, Plant, SPEED, is_alive};
    use crate::plant::wait;
    use crate::tracer::{Call, Deed, Traced, freeze_loop};
    use nix::libc::ENOSPC;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::time::Instant;

    #[test]
    fn a_hung_loop_in_a_living_daemon_is_off_within_lease_and_a_second() {
        let plant = Plant::open(SPEED);
        let mut daemon = plant.flowing();
        freeze_loop(daemon.child.id());
        // Its other threads live: the API answers what was posted last, and says how old it is.
        let status = plant.status();
        assert_eq!(status["state"], "building", "{status}");
        plant.dead_within(LEASE);
        plant.proved("lease-lapsed");
        assert!(
            is_alive(daemon.child.id()),
            "the process itself never ended"
        );
        let off = plant.run(&["off", "station.toml", "--json"]).json(0);
        assert_eq!(off["confirmed"], true);
        assert_eq!(plant.amps(), 0.0);
        daemon.child.kill().unwrap();
    }

    #[test]
    fn a_daemon_that_cannot_begin_on_a_full_disk_turns_off_what_it_finds_on() {
        let plant = Plant::open(SPEED);
        let daemon = plant.flowing();
        plant.power_cut(daemon);
        assert!(plant.amps() > 0.1, "nobody turned it off");
        let words = plant.serve_words();
        let mut traced = Traced::begin(&plant.command(&words.each_ref().map(String::as_str)));
        let mut deed = |call: &Call| match call.on.starts_with(plant.path("state")) {
            true => Deed::Fail(ENOSPC),
            false => Deed::Nothing,
        };
        let begun = Instant::now();
        traced.serve(&mut deed, &mut || begun.elapsed().as_secs() > 30);
        assert!(traced.is_gone(), "it does not end: {}", plant.log());
        assert!(plant.log().contains("ledger"), "{}", plant.log());
        plant.dead_within(AT_ONCE);
    }

    /// Every write into the state folder fails as on a disk without space, from a moment on.
    #[test]
    fn a_full_disk_trips_the_run_with_its_reason_and_off_still_works() {
        let plant = Plant::open(SPEED);
        let words = plant.serve_words();
        let command = plant.command(&words.each_ref().map(String::as_str));
        let (full, over) = (AtomicBool::new(false), AtomicBool::new(false));
        std::thread::scope(|scope| {
            let disk = scope.spawn(|| {
                let mut traced = Traced::begin(&command);
                let state = plant.path("state");
                let mut deed = |call: &Call| match call.on.starts_with(&state) {
                    true if full.load(Ordering::SeqCst) => Deed::Fail(ENOSPC),
                    true | false => Deed::Nothing,
                };
                traced.serve(&mut deed, &mut || over.load(Ordering::SeqCst));
                traced.kill();
            });
            wait("a daemon", || {
                (plant.run(&["status", "--json"]).code == Some(0)).then_some(())
            });
            plant.run(&["start", "job.toml", "--json"]).json(0);
            plant.flows();
            full.store(true, Ordering::SeqCst);
            let status = plant.in_state("tripped");
            assert_eq!(status["latch"]["code"], "ledger-not-writing", "{status}");
            plant.dead_within(AT_ONCE);
            let off = plant.run(&["off", "station.toml", "--json"]).json(0);
            assert_eq!(off["confirmed"], true);
            assert_eq!(plant.amps(), 0.0);
            over.store(true, Ordering::SeqCst);
            disk.join().unwrap();
        });
    }
}
