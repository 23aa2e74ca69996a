//! The keeper where things stall or are not known: a disk that takes no record, an output that the
//! keeper before left unproved, a beginning that hangs, a device that comes back deaf, a port that
//! was away.

use super::fake_supply::{Fake, Model};
use super::keeper::{
    AGES, EXE, bench, dismiss, is_gone, limits, off_report, quick, signal, wait_until,
};
use super::supply_codec::{STANDARD, exchanges, load};
use nightvat::exchange::{Ask, LinkFault, Order};
use nightvat::supply::clock::Clock;
use nightvat::supply::keeper::{HireError, Report, Request, Watch, Why, hire, last_record};
use nightvat::supply::link::Link;
use nightvat::supply::wire::{Exchange, Line, Outcome, WireFault};
use nightvat::units::{Moment, Span};
use rustix::fs::{FileType, Mode, mknodat};
use rustix::process::Signal;
use std::cell::{Cell, RefCell};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::rc::Rc;
use std::time::{Duration, Instant};

/// Whoever writes here waits until somebody reads: a disk that stalls.
fn stall(state: &Path) {
    let draft = state.join("keeper.json.new");
    mknodat(
        rustix::fs::CWD,
        &draft,
        FileType::Fifo,
        Mode::from_raw_mode(0o600),
        0,
    )
    .unwrap();
}

#[test]
fn a_disk_that_stalls_holds_up_no_off() {
    let bench = bench(quick());
    let (_, mut line) = bench.flowing(limits());
    stall(bench.state());
    line.hired.send(&Request::Off).unwrap();
    assert_eq!(off_report(&mut line), (Why::Asked, true));
    assert_eq!(bench.fake.flows(), 0.0);
    // And not the next one either, while the first record still waits.
    bench
        .fake
        .change(|model| (model.output, model.amps) = (true, 0.3));
    assert_eq!(bench.fake.flows(), 0.3);
    line.hired.send(&Request::Off).unwrap();
    assert_eq!(off_report(&mut line), (Why::Asked, true));
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn a_keeper_whose_last_record_waits_still_ends() {
    let bench = bench(quick());
    let (_, line) = bench.flowing(limits());
    stall(bench.state());
    let pid = line.hired.pid();
    drop(line);
    wait_until("it is off", || bench.fake.flows() == 0.0);
    wait_until("the keeper leaves", || is_gone(pid));
}

#[test]
fn what_the_keeper_before_left_unproved_is_turned_off_before_the_next_one_leaves() {
    let bench = bench(quick());
    let (_, mut line) = bench.flowing(limits());
    signal(line.hired.pid(), Signal::KILL);
    assert_eq!(line.next_report(AGES), Some(Report::Gone(None)));
    assert_eq!(bench.fake.flows(), 0.3);
    // Its owner dies too before it has asked for anything.
    let (next, reports) = hire(Path::new(EXE), &bench.settings).unwrap();
    let pid = next.pid();
    drop((next, reports));
    wait_until("the keeper leaves", || is_gone(pid));
    assert_eq!(bench.fake.flows(), 0.0);
    assert!(last_record(bench.state()).unwrap().confirmed_off);
    // One that finds nothing amiss leaves without a word to the supply.
    let before = bench.fake.heard().len();
    let (next, reports) = hire(Path::new(EXE), &bench.settings).unwrap();
    let pid = next.pid();
    drop((next, reports));
    wait_until("the keeper leaves", || is_gone(pid));
    assert_eq!(bench.fake.heard().len(), before);
}

#[test]
fn a_keeper_that_hangs_as_it_begins_is_given_up() {
    let bench = bench(quick());
    let folder = tempfile::tempdir().unwrap();
    let program = folder.path().join("hangs");
    std::fs::write(&program, "#!/bin/sh\nexec sleep 1000\n").unwrap();
    std::fs::set_permissions(&program, PermissionsExt::from_mode(0o700)).unwrap();
    let begun = Instant::now();
    match hire(&program, &bench.settings) {
        Err(HireError::Died(None)) => {}
        other => panic!("{other:?}"),
    }
    let waited = begun.elapsed();
    assert!(waited >= Duration::from_secs(10), "{waited:?}");
}

#[test]
fn nobody_else_may_read_what_a_keeper_leaves() {
    let bench = bench(quick());
    let (_, line) = bench.flowing(limits());
    for name in [
        "keeper.json",
        "keeper.lock",
        "keeper.log",
        "keeper-settings.json",
    ] {
        let file = std::fs::metadata(bench.state().join(name)).unwrap();
        assert_eq!(file.permissions().mode() & 0o777, 0o600, "{name}");
    }
    drop(line);
    dismiss(bench.state());
}

#[test]
fn a_device_that_comes_back_deaf_is_given_its_time_and_its_owner_is_heard() {
    let mut profile = quick();
    profile.line.wait_after_open = Span::from_s(3.0);
    let mut bench = bench(profile);
    let folder = tempfile::tempdir().unwrap();
    let name = folder.path().join("supply");
    std::os::unix::fs::symlink(bench.fake.path(), &name).unwrap();
    bench.settings.port.clone_from(&name);
    let (mut link, mut line) = bench.flowing(limits());
    let model = bench.fake.unplug();
    let again = Fake::lend(model);
    std::fs::remove_file(&name).unwrap();
    std::os::unix::fs::symlink(again.path(), &name).unwrap();
    let heard = again.heard().len();
    let begun = Instant::now();
    let (mut lost, mut longest) = (0, Duration::ZERO);
    let reading = loop {
        let asked = Instant::now();
        let read = link.read(Ask::CURRENT, &mut line);
        match read {
            Ok(reading) => break reading,
            Err(LinkFault::PortLost(_)) => {
                longest = longest.max(asked.elapsed());
                lost += 1;
            }
            Err(fault) => panic!("{fault}"),
        }
        assert!(begun.elapsed() < AGES, "{lost}");
        if begun.elapsed() < Duration::from_secs(2) {
            assert_eq!(again.heard().len(), heard, "it does not listen yet");
        }
    };
    // It was not waited out in one exchange: what the owner says comes through meanwhile.
    assert!(lost >= 4, "{lost}");
    assert!(longest < Duration::from_secs(2), "{longest:?}");
    assert_eq!(reading.current.map(|current| current.a()), Some(0.3));
}

/// A supply on a port that can be pulled out.
struct Pulled {
    supply: Model,
    away: Rc<Cell<bool>>,
    /// It is back after so many more words that met no port.
    back_after: Rc<Cell<u32>>,
    heard: Rc<RefCell<Vec<String>>>,
}

impl Line for Pulled {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        if self.away.get() {
            let left = self.back_after.get().saturating_sub(1);
            self.away.set(self.back_after.replace(left) != 1);
            let now = self.supply.now();
            return Outcome {
                sent: now,
                received: now,
                reply: Err(WireFault::PortLost("it is not there".into())),
            };
        }
        let said = String::from_utf8_lossy(&exchange.send);
        self.heard.borrow_mut().push(said.trim().to_owned());
        self.supply.exchange(exchange)
    }

    fn now(&self) -> Moment {
        self.supply.now()
    }

    fn rest(&mut self, span: Span) {
        self.supply.rest(span);
    }
}

/// The keeper's off met a port that was not there. When it is back, the first word on it is off,
/// though it is the owner who asks something; and off is owed once.
#[test]
fn off_that_met_no_port_is_the_first_thing_on_it() {
    for back_after in [0, 1] {
        off_is_first(back_after);
    }
}

/// The port is back as the owner speaks, or just after the off that the keeper says before that.
fn off_is_first(back_after: u32) {
    let (away, heard) = (Rc::new(Cell::new(true)), Rc::default());
    let back = Rc::new(Cell::new(0));
    let line = Pulled {
        supply: Model::default(),
        away: Rc::clone(&away),
        back_after: Rc::clone(&back),
        heard: Rc::clone(&heard),
    };
    let clock = Clock {
        origin_ns: 0,
        speed: 1.0,
    };
    let mut watch = Watch::new(line, Link::new(load(STANDARD)), clock);
    let now = Instant::now();
    match watch.handle(Request::Off, now) {
        Some(Report::Off { report, .. }) => assert!(!report.confirmed),
        other => panic!("{other:?}"),
    }
    let asks = |watch: &mut Watch<Pulled>| {
        for (id, exchange) in (0..).zip(exchanges(STANDARD, Order::Read(Ask::CURRENT))) {
            watch.handle(Request::Exchange { id, exchange }, now);
        }
    };
    asks(&mut watch);
    assert_eq!(*heard.borrow(), Vec::<String>::new());
    if back_after == 0 {
        away.set(false);
    } else {
        back.set(back_after);
        // What the owner asks now is not asked: it would come before off.
        asks(&mut watch);
        assert_eq!(*heard.borrow(), Vec::<String>::new());
    }
    asks(&mut watch);
    asks(&mut watch);
    let wanted = ["OUTP OFF", "MEAS:CURR?", "MEAS:CURR?"];
    assert_eq!(*heard.borrow(), wanted);
}
