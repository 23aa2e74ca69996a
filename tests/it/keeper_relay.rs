//! The keeper's grip on the relay in the output lead, in virtual time: until when its line may be
//! toggled, and what is a cut. The keeper alone, on a simulated supply.

use super::rig_studio::{bench, clean, flat, job, piece};
use super::supply_codec::{STANDARD, load};
use nightvat::exchange::{Contact, Order};
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::{Ail, Kind, Quirks};
use nightvat::spec::Surface;
use nightvat::supply::clock::Clock;
use nightvat::supply::keeper::{Grip, Limits, Report, Request, Watch, Why};
use nightvat::supply::link::Link;
use nightvat::supply::wire::Line;
use nightvat::units::{Current, Span, Voltage};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// A keeper with a relay that opens within so long, on a supply that is on.
struct Post {
    watch: Watch<Bench>,
    grip: Arc<Grip>,
    base: Instant,
}

fn limits() -> Limits {
    Limits {
        max_current: Current::from_a(1.0),
        max_voltage: Voltage::from_v(3.0),
        end_within: Span::from_h(1.0),
        lease: Span::from_s(5.0),
        mark: None,
    }
}

impl Post {
    fn new(opens_s: f64, ail: Option<Ail>) -> Self {
        let world = clean(&job(vec![piece("plate", Surface::Metal, flat(50.0))]));
        let mut line = bench(Kind::Standard, Quirks::of(Kind::Standard), world);
        let mut link = Link::new(load(STANDARD));
        for order in [
            Order::SetVoltage(Voltage::from_v(2.5)),
            Order::SetCurrent(Current::from_a(0.3)),
            Order::On,
        ] {
            link.carry(order, &mut line).unwrap();
        }
        if let Some(ail) = ail {
            let now = line.now();
            line.instrument().ail(now, ail);
        }
        let (base, clock) = (
            Instant::now(),
            Clock {
                origin_ns: 0,
                speed: 1.0,
            },
        );
        let grip = Grip::new(base);
        let watch = Watch::new(line, Link::new(load(STANDARD)), clock)
            .with_relay(grip.clone(), Duration::from_secs_f64(opens_s));
        Self { watch, grip, base }
    }

    /// A moment of the real time, so many seconds after the beginning.
    fn at(&self, s: f64) -> Instant {
        self.base + Duration::from_secs_f64(s)
    }

    fn ask(&mut self, s: f64, request: Request) -> Option<Report> {
        let at = self.at(s);
        self.watch.handle(request, at)
    }

    fn held(&mut self, s: f64) {
        assert!(matches!(
            self.ask(s, Request::Arm(limits())),
            Some(Report::Armed(_))
        ));
        assert_eq!(self.ask(s, Request::Relay(Contact::Hold)), None);
        assert!(self.holds(s));
    }

    fn holds(&self, s: f64) -> bool {
        self.grip.holds(self.at(s))
    }

    /// Until when it holds, to a hundredth of a second, if nobody says anything more.
    fn until(&self) -> f64 {
        let first = (0..3000).find(|n| !self.holds(f64::from(*n) * 0.01));
        f64::from(first.unwrap()) * 0.01
    }
}

#[test]
fn nothing_is_held_that_is_not_armed() {
    let mut post = Post::new(1.5, None);
    assert_eq!(post.ask(0.0, Request::Relay(Contact::Hold)), None);
    assert!(!post.holds(0.0));
    // Nor does arming alone hold it.
    post.ask(0.0, Request::Arm(limits()));
    assert!(!post.holds(0.1));
    // A wish from before is not carried over into a run.
    assert!(!post.watch.cuts(post.at(100.0)));
}

/// Whatever the relay takes to open, it is open ten seconds after the last word of its owner, and
/// never let go before the lease of five has lapsed.
#[test]
fn without_a_renewal_the_lead_is_open_within_ten_seconds() {
    for (opens_s, until) in [(0.5, 9.5), (1.5, 8.5), (3.0, 7.0), (5.0, 5.0)] {
        let mut post = Post::new(opens_s, None);
        post.held(0.0);
        assert!(
            (post.until() - until).abs() < 0.011,
            "{opens_s} s: {}",
            post.until()
        );
        post.ask(3.0, Request::Renew);
        assert!(
            (post.until() - until - 3.0).abs() < 0.011,
            "{opens_s} s: {}",
            post.until()
        );
    }
}

#[test]
fn off_that_is_ordered_has_five_seconds_to_be_confirmed() {
    let mut post = Post::new(0.5, Some(Ail::KeepsOn(true)));
    post.held(0.0);
    post.watch.order_off(Why::OwnerGone, post.at(1.0));
    assert!((post.until() - 6.0).abs() < 0.011, "{}", post.until());
    // Each try that fails moves nothing.
    let (_, report) = post.watch.due(post.at(1.0)).unwrap();
    assert!(!report.confirmed);
    assert!((post.until() - 6.0).abs() < 0.011, "{}", post.until());
    // It wakes for the cut, if nothing else comes first, and cuts once.
    assert!(post.watch.idle_for(post.at(5.9)).unwrap() <= Duration::from_millis(101));
    assert!(!post.watch.cuts(post.at(5.99)));
    assert!(post.watch.cuts(post.at(6.01)) && post.watch.is_cut());
    assert!(!post.watch.cuts(post.at(6.02)), "a cut is told once");
    // Nobody can have it closed again while off waits for its proof.
    post.ask(7.0, Request::Relay(Contact::Hold));
    assert!(!post.holds(7.0));
    assert!(matches!(
        post.ask(7.0, Request::Arm(limits())),
        Some(Report::NotArmed(_))
    ));
    assert!(!post.holds(7.0));
}

#[test]
fn off_that_is_confirmed_opens_the_relay_and_cuts_nothing() {
    let mut post = Post::new(1.5, None);
    post.held(0.0);
    post.watch.order_off(Why::OwnerGone, post.at(1.0));
    assert!(post.holds(1.0), "the proof is read with the lead closed");
    let (_, report) = post.watch.due(post.at(1.0)).unwrap();
    assert!(report.confirmed, "{report:?}");
    assert!(!post.holds(1.1) && !post.watch.is_cut());
    assert!(!post.watch.cuts(post.at(100.0)));
}

#[test]
fn an_owner_who_disarms_lets_it_go_when_off_is_read() {
    let mut post = Post::new(1.5, None);
    post.held(0.0);
    // The output is on: disarming turns it off first.
    let report = post.ask(1.0, Request::Disarm);
    assert!(matches!(report, Some(Report::Off { .. })), "{report:?}");
    assert!(!post.holds(1.1) && post.watch.is_idle());
}

#[test]
fn a_cut_that_is_asked_for_is_at_once_and_is_told() {
    let mut post = Post::new(1.5, Some(Ail::KeepsOn(true)));
    post.held(0.0);
    let cut = Request::Relay(Contact::Cut { lies: false });
    assert_eq!(
        post.ask(2.0, cut.clone()),
        Some(Report::Cut { asked: true })
    );
    assert!(!post.holds(2.0) && post.watch.is_cut());
    assert_eq!(post.ask(2.1, cut), None, "it is told once");
    // The next run begins with none.
    let now = post.at(3.0);
    let mut other = Post::new(1.5, None);
    other.held(0.0);
    assert!(!other.watch.is_cut());
    assert!(!post.watch.cuts(now));
}

/// What is let go for a test is held again, and is no cut.
#[test]
fn a_test_is_no_cut() {
    let mut post = Post::new(1.5, None);
    post.held(0.0);
    assert_eq!(post.ask(1.0, Request::Relay(Contact::LetGo)), None);
    assert!(!post.holds(1.0) && !post.watch.is_cut());
    post.ask(2.0, Request::Relay(Contact::Hold));
    assert!(post.holds(2.0));
}

/// The supply says off and shows nothing: its word is good, unless its owner has seen it lie.
#[test]
fn a_word_that_was_seen_to_lie_confirms_nothing_after_a_cut() {
    for (lies, confirmed) in [(false, true), (true, false)] {
        let mut post = Post::new(1.5, None);
        post.held(0.0);
        post.ask(1.0, Request::Relay(Contact::Cut { lies }));
        let report = post.ask(2.0, Request::Off);
        let Some(Report::Off { report, .. }) = report else {
            panic!("{report:?}")
        };
        assert_eq!(report.confirmed, confirmed);
        assert_eq!(post.watch.must_off(), !confirmed);
    }
}
