//! The keeper: what it lets pass, and that it turns the output off whatever happens to its owner.
//! Every test of a process ends by asking the supply's own account whether current flows.

use super::fake_supply::{Fake, Model};
use super::supply_codec::{STANDARD, exchanges, load};
use nightvat::exchange::{Answer, Ask, LinkFault, Order};
use nightvat::spec::SupplyProfile;
use nightvat::supply::clock::Clock;
use nightvat::supply::keeper::{
    Asked, HireError, Hired, KeptLine, Limits, Report, Request, Settings, Watch, Why, ask_off,
    hire, last_record,
};
use nightvat::supply::link::Link;
use nightvat::supply::port::{PortError, off_now};
use nightvat::supply::wire::{Line, WireFault};
use nightvat::units::{Current, Span, Voltage};
use rustix::process::{Pid, Signal, kill_process, test_kill_process};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

pub(crate) const EXE: &str = env!("CARGO_BIN_EXE_nightvat");
/// Longer than any of these tests should ever wait.
pub(crate) const AGES: Duration = Duration::from_secs(20);

pub(crate) fn limits() -> Limits {
    Limits {
        max_current: Current::from_a(0.5),
        max_voltage: Voltage::from_v(2.5),
        end_within: Span::from_h(1.0),
        lease: Span::from_s(5.0),
        mark: None,
    }
}

/// The standard profile with short times, so that the tests are quick.
pub(crate) fn quick() -> SupplyProfile {
    let text = STANDARD
        .replace("first_byte = \"500 ms\"", "first_byte = \"200 ms\"")
        .replace("longest = \"1 s\"", "longest = \"250 ms\"")
        .replace("settle = \"100 ms\"", "settle = \"10 ms\"");
    (*load(&text)).clone()
}

// What it lets pass, in one process and without real time.

fn watch() -> Watch<Model> {
    let link = Link::new(load(STANDARD));
    Watch::new(
        Model::default(),
        link,
        Clock {
            origin_ns: 0,
            speed: 1.0,
        },
    )
}

/// What the keeper makes of an order, exchange by exchange; the first refusal ends it.
fn pass(watch: &mut Watch<Model>, order: Order, now: Instant) -> Result<(), WireFault> {
    for (id, exchange) in (0..).zip(exchanges(STANDARD, order)) {
        match watch.handle(Request::Exchange { id, exchange }, now) {
            Some(Report::Exchanged { outcome, .. }) => outcome.reply.map(|_| ())?,
            other => panic!("{other:?}"),
        }
    }
    Ok(())
}

fn refused(result: Result<(), WireFault>) -> String {
    match result {
        Err(WireFault::Forbidden(text)) => text,
        other => panic!("{other:?}"),
    }
}

#[test]
fn nothing_raises_before_it_is_armed() {
    let (mut watch, now) = (watch(), Instant::now());
    for order in [
        Order::On,
        Order::SetCurrent(Current::from_ma(1.0)),
        Order::SetVoltage(Voltage::from_mv(1.0)),
    ] {
        assert!(
            refused(pass(&mut watch, order, now)).contains("not armed"),
            "{order:?}"
        );
    }
    for order in [
        Order::Prepare,
        Order::Off,
        Order::Read(Ask::MEASURED),
        Order::SetOverVoltage(Voltage::from_v(3.0)),
        Order::SetCurrent(Current::ZERO),
    ] {
        assert_eq!(pass(&mut watch, order, now), Ok(()), "{order:?}");
    }
}

#[test]
fn limits_hold_at_and_above_and_only_get_narrower() {
    let (mut watch, now) = (watch(), Instant::now());
    assert!(matches!(
        watch.handle(Request::Arm(limits()), now),
        Some(Report::Armed(_))
    ));
    let mut amps = |a: f64| pass(&mut watch, Order::SetCurrent(Current::from_a(a)), now);
    assert_eq!(amps(0.499), Ok(()));
    assert_eq!(amps(0.5), Ok(()));
    assert!(refused(amps(0.501)).contains("0.5 A"));
    let mut volts = |v: f64| pass(&mut watch, Order::SetVoltage(Voltage::from_v(v)), now);
    assert_eq!(volts(2.5), Ok(()));
    assert!(refused(volts(2.501)).contains("2.5 V"));
    let wider = Limits {
        max_current: Current::from_a(2.0),
        end_within: Span::from_h(9.0),
        ..limits()
    };
    match watch.handle(Request::Arm(wider), now) {
        Some(Report::Armed(got)) => {
            assert_eq!(got.max_current, Current::from_a(0.5));
            assert!(got.end_within <= Span::from_h(1.0));
        }
        other => panic!("{other:?}"),
    }
    let nonsense = Limits {
        max_current: Current::from_a(f64::NAN),
        ..limits()
    };
    assert!(matches!(
        watch.handle(Request::Arm(nonsense), now),
        Some(Report::NotArmed(_))
    ));
}

#[test]
fn a_lease_that_lapses_is_off_and_a_renewed_one_is_not() {
    let (mut watch, begun) = (watch(), Instant::now());
    watch.handle(Request::Arm(limits()), begun);
    assert_eq!(
        pass(&mut watch, Order::SetCurrent(Current::from_a(0.3)), begun),
        Ok(())
    );
    assert_eq!(pass(&mut watch, Order::On, begun), Ok(()));
    let after = |s: f64| begun + Duration::from_secs_f64(s);
    assert_eq!(watch.due(after(4.99)), None);
    assert_eq!(watch.handle(Request::Renew, after(4.0)), None);
    assert_eq!(watch.due(after(8.99)), None);
    assert!(watch.idle_for(after(8.0)) <= Some(Duration::from_secs(1)));
    let (why, report) = watch.due(after(9.0)).expect("the lease has lapsed");
    assert_eq!((why, report.confirmed), (Why::LeaseLapsed, true));
    assert!(watch.is_idle());
    assert!(refused(pass(&mut watch, Order::On, after(9.1))).contains("not armed"));
}

#[test]
fn the_latest_end_is_off_however_lively_the_owner() {
    let (mut watch, now) = (watch(), Instant::now());
    watch.handle(
        Request::Arm(Limits {
            end_within: Span::from_s(2.0),
            ..limits()
        }),
        now,
    );
    assert_eq!(pass(&mut watch, Order::On, now), Ok(()));
    assert_eq!(watch.due(now), None);
    // The model's exchanges take 20 ms of its own clock each.
    for _ in 0..100 {
        watch.handle(Request::Renew, now);
        assert_eq!(pass(&mut watch, Order::Read(Ask::CURRENT), now), Ok(()));
    }
    let (why, report) = watch.due(now).expect("the end is reached");
    assert_eq!((why, report.confirmed), (Why::EndReached, true));
}

#[test]
fn disarming_needs_a_reading_that_says_off() {
    let (mut watch, now) = (watch(), Instant::now());
    watch.handle(Request::Arm(limits()), now);
    assert_eq!(watch.handle(Request::Disarm, now), Some(Report::Disarmed));
    watch.handle(Request::Arm(limits()), now);
    assert_eq!(pass(&mut watch, Order::On, now), Ok(()));
    match watch.handle(Request::Disarm, now) {
        Some(Report::Off {
            why: Why::StillOn,
            report,
        }) => assert!(report.confirmed),
        other => panic!("{other:?}"),
    }
    assert!(watch.is_idle());
}

#[test]
fn an_off_that_is_not_confirmed_is_tried_for_ever() {
    let link = Link::new(load(STANDARD));
    let stuck = Model {
        output: true,
        amps: 0.3,
        deaf_to_off: true,
        ..Model::default()
    };
    let mut watch = Watch::new(
        stuck,
        link,
        Clock {
            origin_ns: 0,
            speed: 1.0,
        },
    );
    let begun = Instant::now();
    match watch.handle(Request::Off, begun) {
        Some(Report::Off {
            why: Why::Asked,
            report,
        }) => {
            assert!(!report.confirmed);
            assert!(report.text().contains("0.300 A flow"), "{}", report.text());
        }
        other => panic!("{other:?}"),
    }
    let mut now = begun;
    for try_at in 1..20 {
        // A second after the end of the try before, in which its owner is heard.
        let waits = watch.idle_for(now).unwrap();
        assert!(
            waits > Duration::from_secs(1) && waits < Duration::from_secs(5),
            "{waits:?}"
        );
        assert!(watch.due(now + waits / 2).is_none(), "{try_at}");
        now += waits;
        assert!(watch.must_off());
        assert!(matches!(
            watch.handle(Request::Arm(limits()), now),
            Some(Report::NotArmed(_))
        ));
        assert!(refused(pass(&mut watch, Order::On, now)).contains("must be off"));
        assert!(
            watch.due(now).is_some_and(|(_, report)| !report.confirmed),
            "{try_at}"
        );
    }
}

// Real processes on a pseudo-terminal.

pub(crate) struct Bench {
    pub(crate) fake: Fake,
    state: tempfile::TempDir,
    pub(crate) settings: Settings,
}

pub(crate) fn bench(profile: SupplyProfile) -> Bench {
    let (fake, state) = (Fake::lend(Model::default()), tempfile::tempdir().unwrap());
    let port = fake.path().to_owned();
    let clock = Clock::start(1.0);
    let settings = Settings {
        profile,
        port,
        clock,
        state: state.path().to_owned(),
        relay: None,
    };
    Bench {
        fake,
        state,
        settings,
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        dismiss(self.state.path());
    }
}

/// Ends a keeper before its terminal goes: it would hunt for the terminal by name, and the next
/// test may get that name.
pub(crate) fn dismiss(state: &Path) {
    let Ok(text) = std::fs::read_to_string(state.join("keeper.lock")) else {
        return;
    };
    let pid: u32 = text.trim().parse().unwrap();
    if !is_gone(pid) {
        signal(pid, Signal::KILL);
        // Without a word: this is also done while a test that has failed is cleaned up.
        let until = Instant::now() + AGES;
        while !is_gone(pid) && Instant::now() < until {
            thread::sleep(Duration::from_millis(1));
        }
    }
}

impl Bench {
    pub(crate) fn state(&self) -> &Path {
        self.state.path()
    }

    /// Hires a keeper, arms it and lets current flow.
    pub(crate) fn flowing(&self, limits: Limits) -> (Link, KeptLine) {
        let (hired, reports) = hire(Path::new(EXE), &self.settings).unwrap();
        let mut line = KeptLine::new(hired, reports, &self.settings);
        let mut link = Link::new(self.settings.profile.clone().into());
        assert!(matches!(
            link.carry(Order::Identify, &mut line),
            Ok(Answer::Identity(_))
        ));
        assert!(line.arm(limits));
        for order in [
            Order::Prepare,
            Order::SetCurrent(Current::from_a(0.3)),
            Order::On,
        ] {
            assert!(link.carry(order, &mut line).is_ok(), "{order:?}");
        }
        assert_eq!(self.fake.flows(), 0.3);
        (link, line)
    }
}

/// The first report of an off.
pub(crate) fn off_report(line: &mut KeptLine) -> (Why, bool) {
    match line.next_report(AGES) {
        Some(Report::Off { why, report }) => (why, report.confirmed),
        other => panic!("{other:?}"),
    }
}

pub(crate) fn wait_until(what: &str, mut is: impl FnMut() -> bool) -> Duration {
    let begun = Instant::now();
    while !is() {
        assert!(begun.elapsed() < AGES, "waited too long: {what}");
        thread::sleep(Duration::from_millis(1));
    }
    begun.elapsed()
}

/// The process is gone, or dead and not yet collected.
pub(crate) fn is_gone(pid: u32) -> bool {
    let pid = Pid::from_raw(i32::try_from(pid).unwrap()).unwrap();
    let stat = std::fs::read_to_string(format!("/proc/{}/stat", pid.as_raw_nonzero()));
    test_kill_process(pid).is_err() || stat.is_ok_and(|stat| stat.contains(") Z "))
}

pub(crate) fn signal(pid: u32, signal: Signal) {
    kill_process(Pid::from_raw(i32::try_from(pid).unwrap()).unwrap(), signal).unwrap();
}

#[test]
fn a_night_in_short_arm_renew_read_off_disarm() {
    let bench = bench(quick());
    let (mut link, mut line) = bench.flowing(limits());
    let record = last_record(bench.state()).unwrap();
    assert!(
        !record.confirmed_off,
        "whoever finds it knows that the output may be on"
    );
    let reading = link.read(Ask::MEASURED | Ask::OUTPUT, &mut line).unwrap();
    assert_eq!(
        (reading.current, reading.output),
        (Some(Current::from_a(0.3)), Some(true))
    );
    assert!(reading.sent < reading.received && reading.received <= line.now());
    let over = link.carry(Order::SetCurrent(Current::from_a(0.6)), &mut line);
    assert!(matches!(over, Err(LinkFault::Forbidden(_))), "{over:?}");
    assert_eq!(bench.fake.flows(), 0.3);
    line.hired.send(&Request::Renew).unwrap();
    assert!(link.carry(Order::Off, &mut line).is_ok());
    line.hired.send(&Request::Disarm).unwrap();
    assert_eq!(line.next_report(AGES), Some(Report::Disarmed));
    wait_until("the record says so", || {
        last_record(bench.state()).unwrap().confirmed_off
    });
    let pid = line.hired.pid();
    drop(line);
    wait_until("the keeper leaves", || is_gone(pid));
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn the_pipe_closed_is_off_confirmed_and_written_down() {
    let bench = bench(quick());
    let (_, line) = bench.flowing(limits());
    let pid = line.hired.pid();
    drop(line);
    wait_until("the keeper leaves", || is_gone(pid));
    assert_eq!(bench.fake.flows(), 0.0);
    let record = last_record(bench.state()).unwrap();
    assert!(record.confirmed_off, "{record:?}");
    assert_eq!(record.why, Some(Why::OwnerGone));
}

#[test]
fn silence_of_a_living_owner_is_off_after_the_lease() {
    let bench = bench(quick());
    let lease = Span::from_s(0.8);
    let (_, mut line) = bench.flowing(Limits { lease, ..limits() });
    let armed = Instant::now();
    assert_eq!(off_report(&mut line), (Why::LeaseLapsed, true));
    assert!(
        armed.elapsed() > Duration::from_millis(500),
        "{:?}",
        armed.elapsed()
    );
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn every_signal_that_can_be_caught_is_off_and_out() {
    for (sent, name) in [
        (Signal::TERM, "SIGTERM"),
        (Signal::INT, "SIGINT"),
        (Signal::HUP, "SIGHUP"),
        (Signal::QUIT, "SIGQUIT"),
        (Signal::ABORT, "SIGABRT"),
    ] {
        let bench = bench(quick());
        let (_, mut line) = bench.flowing(limits());
        signal(line.hired.pid(), sent);
        assert_eq!(off_report(&mut line), (Why::Signal(name.to_owned()), true));
        assert_eq!(
            line.next_report(AGES),
            Some(Report::Gone(Some(0))),
            "{name}"
        );
        assert_eq!(bench.fake.flows(), 0.0, "{name}");
    }
}

#[test]
fn off_is_asked_of_a_keeper_through_its_state_folder() {
    let bench = bench(quick());
    assert_eq!(ask_off(bench.state(), AGES).unwrap(), Asked::NoKeeper);
    let (_, _line) = bench.flowing(limits());
    match ask_off(bench.state(), AGES).unwrap() {
        Asked::Record(record) => assert!(record.confirmed_off, "{record:?}"),
        other => panic!("{other:?}"),
    }
    assert_eq!(bench.fake.flows(), 0.0);
    assert_eq!(ask_off(bench.state(), AGES).unwrap(), Asked::NoKeeper);
}

#[test]
fn an_exchange_in_flight_is_finished_and_queued_ones_are_skipped() {
    let bench = bench(quick());
    bench.fake.set_latency(Duration::from_millis(100));
    let (_, mut line) = bench.flowing(limits());
    let query = exchanges(STANDARD, Order::Read(Ask::CURRENT)).remove(0);
    for id in 1000..1010 {
        line.hired
            .send(&Request::Exchange {
                id,
                exchange: query.clone(),
            })
            .unwrap();
    }
    thread::sleep(Duration::from_millis(30));
    let (pid, before) = (line.hired.pid(), bench.fake.heard().len());
    drop(line);
    wait_until("the keeper leaves", || is_gone(pid));
    let heard = bench.fake.heard();
    let at = heard[before..]
        .iter()
        .position(|said| said == "OUTP OFF")
        .unwrap();
    assert!(
        at <= 1,
        "at most the running query stands before it: {:?}",
        &heard[before..]
    );
    let record = last_record(bench.state()).unwrap();
    assert!(
        record.confirmed_off,
        "no late reply was taken for the proof: {record:?}"
    );
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn a_signal_does_not_tear_the_exchange_in_flight() {
    for _ in 0..10 {
        let bench = bench(quick());
        let (_, mut line) = bench.flowing(limits());
        bench.fake.set_latency(Duration::from_millis(60));
        let exchange = exchanges(STANDARD, Order::Read(Ask::CURRENT)).remove(0);
        line.hired
            .send(&Request::Exchange { id: 7, exchange })
            .unwrap();
        thread::sleep(Duration::from_millis(20));
        signal(line.hired.pid(), Signal::TERM);
        let whole = line.outcome(7).unwrap();
        assert_eq!(whole.reply, Ok(b"0.3000".to_vec()));
        assert_eq!(
            off_report(&mut line),
            (Why::Signal("SIGTERM".to_owned()), true)
        );
        assert_eq!(bench.fake.flows(), 0.0);
    }
}

#[test]
fn a_supply_deaf_to_off_keeps_its_keeper_at_its_post() {
    let bench = bench(quick());
    let (_, line) = bench.flowing(limits());
    bench.fake.change(|model| model.deaf_to_off = true);
    let pid = line.hired.pid();
    drop(line);
    wait_until("the record says so", || {
        last_record(bench.state())
            .is_some_and(|record| record.off.is_some() && !record.confirmed_off)
    });
    assert!(!is_gone(pid));
    assert_eq!(bench.fake.flows(), 0.3);
    bench.fake.change(|model| model.deaf_to_off = false);
    wait_until("the keeper leaves", || is_gone(pid));
    assert!(last_record(bench.state()).unwrap().confirmed_off);
    assert_eq!(bench.fake.flows(), 0.0);
}

#[test]
fn a_port_that_comes_back_is_found_again_and_turned_off() {
    let mut bench = bench(quick());
    let folder = tempfile::tempdir().unwrap();
    let link_path = folder.path().join("supply");
    std::os::unix::fs::symlink(bench.fake.path(), &link_path).unwrap();
    bench.settings.port.clone_from(&link_path);
    let (mut link, mut line) = bench.flowing(limits());
    let model = bench.fake.unplug();
    let lost = link.read(Ask::CURRENT, &mut line);
    assert!(matches!(lost, Err(LinkFault::PortLost(_))), "{lost:?}");
    // Back under another number, with the output still on, as a supply would be.
    let again = Fake::lend(model);
    std::fs::remove_file(&link_path).unwrap();
    std::os::unix::fs::symlink(again.path(), &link_path).unwrap();
    assert_eq!(again.flows(), 0.3);
    line.hired.send(&Request::Off).unwrap();
    assert_eq!(off_report(&mut line), (Why::Asked, true));
    assert_eq!(again.flows(), 0.0);
}

#[test]
fn a_simulated_supply_that_is_no_more_is_not_looked_for_among_strangers() {
    let mut bench = bench(quick());
    let (_, line) = bench.flowing(limits());
    let pid = line.hired.pid();
    let _supply = bench.fake.unplug();
    // The next terminal may get the old one's number; it must be left alone.
    let stranger = Fake::lend(Model {
        output: true,
        amps: 0.2,
        ..Model::default()
    });
    drop(line);
    wait_until("the keeper leaves", || is_gone(pid));
    assert!(!last_record(bench.state()).unwrap().confirmed_off);
    assert_eq!(stranger.flows(), 0.2);
    assert!(stranger.heard().is_empty(), "{:?}", stranger.heard());
}

#[test]
fn a_port_is_used_by_one_keeper_only_and_each_error_is_its_own() {
    let bench = bench(quick());
    let (_, _line) = bench.flowing(limits());
    let elsewhere = tempfile::tempdir().unwrap();
    let other = Settings {
        state: elsewhere.path().to_owned(),
        ..bench.settings.clone()
    };
    match hire(Path::new(EXE), &other) {
        Err(HireError::Port(PortError::Busy(path))) => assert_eq!(path, bench.settings.port),
        other => panic!("{other:?}"),
    }
    let nowhere = Settings {
        port: PathBuf::from("/dev/no-such-port"),
        ..other.clone()
    };
    match hire(Path::new(EXE), &nowhere) {
        Err(HireError::Port(error @ PortError::NotThere { .. })) => {
            assert_eq!(error.to_string(), "there is no port /dev/no-such-port");
        }
        other => panic!("{other:?}"),
    }
    let file = elsewhere.path().join("file");
    std::fs::write(&file, "no port").unwrap();
    match hire(
        Path::new(EXE),
        &Settings {
            port: file.clone(),
            ..other.clone()
        },
    ) {
        Err(HireError::Port(PortError::Unusable { path, .. })) => assert_eq!(path, file),
        other => panic!("{other:?}"),
    }
    let hurried = Settings {
        port: file.clone(),
        clock: Clock::start(60.0),
        ..other
    };
    match hire(Path::new(EXE), &hurried) {
        Err(HireError::Port(PortError::NotSimulated(path))) => assert_eq!(path, file),
        other => panic!("{other:?}"),
    }
    assert_eq!(
        bench.fake.flows(),
        0.3,
        "the run is not disturbed by any of it"
    );
}

#[test]
fn off_needs_no_keeper_and_no_daemon() {
    let bench = bench(quick());
    bench
        .fake
        .change(|model| (model.output, model.amps) = (true, 0.4));
    assert_eq!(bench.fake.flows(), 0.4);
    let profile = bench.settings.profile.clone().into();
    let report = off_now(bench.fake.path(), &profile, Clock::start(1.0), AGES).unwrap();
    assert!(report.confirmed, "{report:?}");
    assert_eq!(bench.fake.flows(), 0.0);
    bench.fake.change(|model| model.mute = true);
    let report = off_now(bench.fake.path(), &profile, Clock::start(1.0), AGES).unwrap();
    assert_eq!(
        (report.confirmed, report.fault),
        (false, Some(LinkFault::Silent))
    );
}

#[test]
fn a_keeper_killed_is_noticed_and_the_next_one_turns_off() {
    let bench = bench(quick());
    let (_, mut line) = bench.flowing(limits());
    signal(line.hired.pid(), Signal::KILL);
    assert_eq!(line.next_report(AGES), Some(Report::Gone(None)));
    assert_eq!(bench.fake.flows(), 0.3, "the supply goes on by itself");
    let (mut next, reports): (Hired, _) = hire(Path::new(EXE), &bench.settings).unwrap();
    next.send(&Request::Off).unwrap();
    match reports.recv_timeout(AGES) {
        Ok(Report::Off { report, .. }) => assert!(report.confirmed, "{report:?}"),
        other => panic!("{other:?}"),
    }
    assert_eq!(bench.fake.flows(), 0.0);
}
