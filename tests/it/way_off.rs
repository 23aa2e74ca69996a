//! The way off: what is sent and when, what it waits for, what it is booked as, and what stands.

use super::desk::{Desk, talkative};
use super::night_kit::WIRE;
use nightvat::control::{Event, Fault, Note, Outcome, State, Timing, Wish};
use nightvat::exchange::{Capability, LinkFault, Order};
use nightvat::units::{Moment, Span};

fn building() -> Desk {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Building);
    desk.pass(60.5);
    desk
}

/// When off was asked for since, in seconds.
fn offs(desk: &Desk, since: Moment) -> Vec<f64> {
    let orders = desk.orders(since).into_iter();
    let offs = orders.filter(|(_, order)| *order == Order::Off);
    offs.map(|(at, _)| at.since(since).s()).collect()
}

#[track_caller]
fn are(found: &[f64], wanted: &[f64]) {
    let same =
        found.len() == wanted.len() && found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-6);
    assert!(same, "{found:?}, not {wanted:?}");
}

/// A supply that says nothing: off goes out at once, then each second; after four tries it is said
/// aloud, once, and off goes out every five seconds.
#[test]
fn off_is_sent_again_until_it_is_proved_and_loudly_from_the_fifth_time() {
    let mut desk = building();
    desk.mishap = Box::new(|_| Some(LinkFault::Silent));
    let asked = desk.now;
    desk.tell(Event::Asked(Wish::Stop));
    desk.pass(3.5);
    assert_eq!(desk.core.state(), State::Stopping, "four tries");
    desk.pass(16.0);
    assert_eq!(desk.core.state(), State::Unconfirmed);
    are(
        &offs(&desk, asked),
        &[0.0, 1.0, 2.0, 3.0, 4.0, 9.0, 14.0, 19.0],
    );
    let loud = Note::Entered(State::Unconfirmed);
    let loud: Vec<_> = desk
        .notes()
        .into_iter()
        .filter(|it| *it.1 == loud)
        .collect();
    assert_eq!(loud.len(), 1);
    are(&[loud[0].0.since(asked).s()], &[4.0]);
    // It answers again: that is the end, as it was asked for.
    desk.mishap = Box::new(|_| None);
    assert_eq!(desk.finish(), Outcome::Stopped);
}

/// Off, one reading, the end: nothing that was due while current flowed sends another order.
#[test]
fn one_off_that_is_proved_is_enough() {
    let slow = Capability {
        longest_exchange: Span::from_ms(500.0),
        ..talkative()
    };
    let mut desk = Desk::begin(WIRE, slow);
    desk.takes = Span::from_ms(500.0);
    desk.reach(State::Building);
    desk.pass(60.0);
    let asked = desk.now;
    desk.tell(Event::Asked(Wish::Pause));
    desk.reach(State::Paused);
    desk.pass(10.0);
    are(&offs(&desk, asked), &[0.0]);
    let since = desk.orders(asked);
    assert_eq!(since.len(), 2, "{since:?}");
    assert!(matches!(since[1].1, Order::Read(_)));
}

/// The proof could have come three times over, but never later than after three seconds.
#[test]
fn off_is_repeated_when_its_proof_could_have_come() {
    for (exchange, again) in [(0.05, 1.0), (0.5, 1.5), (0.8, 2.4), (2.0, 3.0)] {
        let timing = Timing::for_supply(&Capability {
            longest_exchange: Span::from_s(exchange),
            ..talkative()
        });
        are(&[timing.off_again.s()], &[again]);
    }
}

/// Charge by the book: nothing of what stood is added once off was acknowledged and proved.
#[test]
fn a_clean_off_is_booked_to_its_exchange() {
    let mut desk = building();
    let current = desk.set;
    let before = desk.core.charge();
    let read = desk.core.last_reading().unwrap();
    let last = read.sent + read.received.since(read.sent) * 0.5;
    desk.tell(Event::Asked(Wish::Stop));
    let asked = desk.now;
    assert_eq!(desk.finish(), Outcome::Stopped);
    let after = desk.core.charge();
    // Off took 40 ms and is obeyed within 0.1 s; 0.1 % can hide since the last reading.
    let flowed = asked.since(last).s();
    let most = current.a() * (flowed + 0.040 + 0.1) * 1.002 + 1e-3 * current.a();
    let more = (after.high - before.high).c();
    assert!(more <= most, "{more} C, at most {most} C");
    let best = (after.best - before.best).c();
    assert!((best - current.a() * (flowed + 0.020)).abs() < 1e-3 * current.a());
}

/// Off was acknowledged and its proof did not come for three seconds: the current may have flowed
/// on for all of them.
#[test]
fn a_late_proof_widens_the_charge_by_what_may_have_flowed_on() {
    let mut desk = building();
    let current = desk.set;
    let mut deaf = 0;
    desk.mishap = Box::new(move |order| {
        deaf += u32::from(matches!(order, Order::Read(_)));
        (matches!(order, Order::Read(_)) && deaf <= 3).then_some(LinkFault::Silent)
    });
    let before = desk.core.charge();
    desk.tell(Event::Asked(Wish::Stop));
    let asked = desk.now;
    desk.pass(2.5);
    // Meanwhile all that the run allows may flow.
    let most = desk.core.plan().limits.current;
    let now = desk.core.charge_at(desk.now);
    let booked = desk.core.charge();
    let since = Span::from_s(2.5 - 0.040);
    assert!((now.high - booked.high - most * since).abs().c() < 1e-6);
    assert_eq!((now.low, now.best), (booked.low, booked.best));
    assert_eq!(desk.finish(), Outcome::Stopped);
    let took = desk.now.since(asked).s();
    assert!(took > 2.9, "{took} s");
    let after = desk.core.charge();
    let more = (after.high - before.high).c();
    assert!(more >= current.a() * took * 0.98, "{more} C in {took} s");
    assert!((after.best - before.best).c() < current.a() * 1.2);
    let pieces = desk.core.rack().charge(0);
    assert!((pieces.high - after.high).abs().c() < 0.02 * after.high.c());
}

/// A reading that was on the wire when off was decided says that current flows, as it did. It counts
/// as no word against an off that was not even sent.
#[test]
fn a_reading_from_before_off_says_nothing_against_it() {
    let mut desk = building();
    while desk.put_on_the_line().is_none() {
        desk.step();
    }
    assert!(matches!(desk.in_flight(), Some(Order::Read(_))));
    let mut against = 1;
    desk.twist = Box::new(move |reading| {
        if reading.output == Some(false) && against > 0 {
            against -= 1;
            reading.output = Some(true);
        }
    });
    desk.tell(Event::Asked(Wish::Stop));
    assert_eq!(desk.finish(), Outcome::Stopped);
    assert_eq!(desk.spoke(), Vec::<Fault>::new());
}

/// Who stops on the way to a pause stops; a trip is no less a trip for being stopped.
#[test]
fn a_stop_on_the_way_off_ends_a_pause_and_no_trip() {
    let mut desk = building();
    desk.tell(Event::Asked(Wish::Pause));
    desk.tell(Event::Asked(Wish::Stop));
    assert_eq!(desk.finish(), Outcome::Stopped);

    let mut desk = building();
    desk.tell(Event::LedgerFailed("full".into()));
    desk.tell(Event::Asked(Wish::Stop));
    let trip = Outcome::Tripped(Fault::LedgerNotWriting);
    assert_eq!(desk.finish(), trip);

    let mut desk = building();
    desk.tell(Event::Asked(Wish::Pause));
    desk.tell(Event::KeeperLost);
    let lost = Outcome::Interrupted(Fault::KeeperLost);
    assert_eq!(desk.finish(), lost);
}
