//! A supply's own watchdog: armed with the run, renewed with its periods, disarmed when off is
//! proved; and what it does when keeper and owner are both dead.

use super::fake_supply::Model;
use super::keeper::{EXE, bench, limits, quick, signal, wait_until};
use super::supply_codec::{STANDARD, exchanges, load};
use nightvat::exchange::{Ask, Order};
use nightvat::spec::{Problems, SupplyProfile, supply};
use nightvat::supply::clock::Clock;
use nightvat::supply::keeper::{KeptLine, Limits, Report, Request, Settings, Watch, hire};
use nightvat::supply::link::Link;
use nightvat::supply::wire::WireFault;
use nightvat::units::{Current, Span};
use rustix::process::Signal;
use std::path::Path;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The standard profile with a watchdog that acts after 8 s; on the wire it is told `seconds`.
fn text(seconds: &str) -> String {
    let own = format!(
        "\n[watchdog]\nwithin = \"8 s\"\narm = \"WDOG {seconds}\"\nrenew = \"WDOG RES\"\n\
         disarm = \"WDOG OFF\"\n"
    );
    format!("{STANDARD}{own}")
}

fn watch(model: Model) -> Watch<Model> {
    let clock = Clock {
        origin_ns: 0,
        speed: 1.0,
    };
    Watch::new(model, Link::new(load(&text("8"))), clock)
}

fn heard(watch: &Watch<Model>, word: &str) -> usize {
    let heard = watch.line().heard.iter();
    heard.filter(|said| said.as_str() == word).count()
}

#[test]
fn it_is_armed_with_the_run_renewed_in_good_time_and_disarmed_after_off() {
    let (mut watch, now) = (watch(Model::default()), Instant::now());
    assert!(matches!(
        watch.handle(Request::Arm(limits()), now),
        Some(Report::Armed(_))
    ));
    assert_eq!(heard(&watch, "WDOG 8"), 1);
    // The model's exchanges take 20 ms of its clock each: 200 of them and a renewal each are 8 s
    // at least, so that 3 or 4 renewals a quarter of the time apart go out, and not 200.
    let ask = exchanges(STANDARD, Order::Read(Ask::CURRENT)).remove(0);
    for id in 0..400 {
        let exchange = ask.clone();
        watch.handle(Request::Exchange { id, exchange }, now);
        watch.handle(Request::Renew, now);
    }
    let renewals = heard(&watch, "WDOG RES");
    assert!((3..=4).contains(&renewals), "{renewals} renewals in 8 s");
    assert_eq!(heard(&watch, "WDOG OFF"), 0);
    assert_eq!(watch.handle(Request::Disarm, now), Some(Report::Disarmed));
    assert_eq!(heard(&watch, "WDOG OFF"), 1);
    // A word from an owner whose run is over renews nothing.
    watch.handle(Request::Renew, now);
    assert_eq!(heard(&watch, "WDOG RES"), renewals);
}

#[test]
fn a_supply_that_does_not_take_it_is_not_armed_and_says_why() {
    let model = Model {
        no_watchdog: true,
        ..Model::default()
    };
    let (mut watch, now) = (watch(model), Instant::now());
    match watch.handle(Request::Arm(limits()), now) {
        Some(Report::NotArmed(why)) => assert!(why.contains("-113"), "{why}"),
        other => panic!("{other:?}"),
    }
    let on = exchanges(STANDARD, Order::On).remove(0);
    match watch.handle(
        Request::Exchange {
            id: 1,
            exchange: on,
        },
        now,
    ) {
        Some(Report::Exchanged { outcome, .. }) => match outcome.reply {
            Err(WireFault::Forbidden(why)) => assert!(why.contains("watchdog"), "{why}"),
            other => panic!("{other:?}"),
        },
        other => panic!("{other:?}"),
    }
    assert!(!watch.line().output);
}

#[test]
fn with_keeper_and_owner_dead_the_supply_turns_itself_off() {
    let mut bench = bench(SupplyProfile {
        // 8 s of a clock that runs at 20 x.
        watchdog: load(&text("0.4")).watchdog.clone(),
        ..quick()
    });
    let clock = Clock::start(20.0);
    bench.settings = Settings {
        clock,
        ..bench.settings.clone()
    };
    let (hired, reports) = hire(Path::new(EXE), &bench.settings).unwrap();
    let pid = hired.pid();
    let mut line = KeptLine::new(hired, reports, &bench.settings);
    let mut link = Link::new(bench.settings.profile.clone().into());
    assert!(line.arm(Limits {
        lease: Span::from_s(30.0),
        ..limits()
    }));
    for order in [
        Order::Prepare,
        Order::SetCurrent(Current::from_a(0.3)),
        Order::On,
    ] {
        assert!(link.carry(order, &mut line).is_ok(), "{order:?}");
    }
    for _ in 0..20 {
        line.hired.send(&Request::Renew).unwrap();
        sleep(Duration::from_millis(60));
        assert_eq!(bench.fake.flows(), 0.3, "renewed, it flows on");
    }
    // Both die at once: the owner is this process, and says nothing more.
    signal(pid, Signal::KILL);
    let took = wait_until("no current flows", || bench.fake.flows() == 0.0);
    assert!(took < Duration::from_secs(2), "{took:?}");
    let heard = bench.fake.heard();
    assert!(
        !heard.iter().any(|said| said == "OUTP OFF"),
        "nobody told it to"
    );
}

#[test]
fn a_watchdog_that_would_act_before_the_keeper_is_refused() {
    let short = text("1").replace("within = \"8 s\"", "within = \"5 s\"");
    let said: Problems = supply::read("mine.toml", &short).unwrap_err();
    assert!(said.to_string().contains("within"), "{said}");
    let half = text("1").replace("disarm = \"WDOG OFF\"\n", "");
    let said = supply::read("mine.toml", &half).unwrap_err();
    assert!(said.to_string().contains("disarm"), "{said}");
}
