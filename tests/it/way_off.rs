//! The way off: what is sent and when, what it waits for, what it is booked as, and what stands.

use super::desk::{Desk, talkative};
use super::night_kit::WIRE;
use nightvat::control::{Event, Fault, Note, Outcome, State, Timing, Wish};
use nightvat::exchange::{Capability, LinkFault, Order};
use nightvat::units::{Current, Moment, Span};

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
    desk.pass(9.0);
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

/// The reply to the first off is lost: it may have been heard, so that of what flowed since the last
/// reading nothing is certain.
#[test]
fn an_off_whose_reply_is_lost_may_have_been_heard() {
    for (lost, certain) in [(0, true), (1, false)] {
        let mut desk = building();
        desk.pass(0.4);
        let before = desk.core.charge();
        let mut offs = 0;
        desk.mishap = Box::new(move |order| {
            offs += u32::from(*order == Order::Off);
            (*order == Order::Off && offs <= lost).then_some(LinkFault::Silent)
        });
        desk.tell(Event::Asked(Wish::Stop));
        assert_eq!(desk.finish(), Outcome::Stopped);
        let more = desk.core.charge().low - before.low;
        assert_eq!(more.c() > 0.01, certain, "{more:?}, {lost} lost");
        assert!(more.c() >= -1e-9, "{more:?}");
    }
}

/// A run that has grown, been paused and is off.
fn paused() -> Desk {
    let mut desk = building();
    desk.tell(Event::Asked(Wish::Pause));
    desk.pass(2.0);
    assert!(desk.core.is_paused());
    desk
}

/// Stop in a pause: off is sent once more. Heard at once it changes no account; while nobody
/// answers, what stood before the pause may flow again.
#[test]
fn a_stop_in_a_pause_costs_nothing_unless_off_is_not_heard() {
    let mut desk = paused();
    let before = desk.core.charge();
    desk.tell(Event::Asked(Wish::Stop));
    let soon = desk.now + Span::from_s(0.5);
    assert_eq!(desk.core.charge_at(soon), before);
    assert_eq!(desk.finish(), Outcome::Stopped);
    assert_eq!(desk.core.charge(), before);

    let mut desk = paused();
    let set = desk.set.a();
    let asked = desk.now;
    let mut offs = 0;
    desk.mishap = Box::new(move |order| {
        offs += u32::from(*order == Order::Off);
        (*order == Order::Off && offs <= 3).then_some(LinkFault::Silent)
    });
    desk.tell(Event::Asked(Wish::Stop));
    desk.pass(2.5);
    let open = desk.core.charge_at(desk.now).high - before.high;
    let most = desk.core.plan().limits.current * Span::from_s(2.5);
    assert!((open - most).abs().c() < 1e-6, "{open:?}, {most:?}");
    assert_eq!(desk.finish(), Outcome::Stopped);
    let took = desk.now.since(asked).s();
    let after = desk.core.charge();
    let more = (after.high - before.high).c();
    assert!(
        took > 2.9 && more > set * (took - 0.2),
        "{more} C, {took} s"
    );
    assert!(more < set * 1.1 * took, "{more} C, {took} s");
    assert_eq!((after.low, after.best), (before.low, before.best));
}

/// After a pause as before it: an off that is heard at the second try is booked up to there, and
/// nothing is counted twice.
#[test]
fn an_off_heard_late_is_booked_once() {
    let mut desk = paused();
    desk.tell(Event::Asked(Wish::Resume));
    desk.reach(State::Building);
    desk.pass(200.5);
    let (set, asked, before) = (desk.set.a(), desk.now, desk.core.charge());
    let mut offs = 0;
    desk.mishap = Box::new(move |order| {
        offs += u32::from(*order == Order::Off);
        (*order == Order::Off && offs == 1).then_some(LinkFault::Silent)
    });
    desk.tell(Event::Asked(Wish::Stop));
    assert_eq!(desk.finish(), Outcome::Stopped);
    let took = desk.now.since(asked).s();
    let more = (desk.core.charge().high - before.high).c();
    // As much as a second since the last reading, the way off, and the proof's own time.
    assert!(more > set * took, "{more} C, {took} s");
    assert!(more < set * (took + 1.0) * 1.1, "{more} C, {took} s");
}

/// What readings on the way off show: current or none, and what the supply says of its output.
fn shows(desk: &mut Desk, script: &'static [(f64, bool)]) {
    let mut seen = 0;
    desk.twist = Box::new(move |reading| {
        let (amps, output) = *script.get(seen).unwrap_or(&(0.0, false));
        seen += 1;
        reading.current = Some(Current::from_a(amps));
        reading.output = Some(output);
    });
}

/// Twice it says off while current flows: its word is worth nothing, and a contact that is open for
/// a moment proves nothing. Three readings in a row do.
#[test]
fn behind_a_false_word_one_quiet_reading_is_no_off() {
    const LIES: (f64, bool) = (0.4, false);
    const QUIET: (f64, bool) = (0.0, false);
    for (script, readings) in [
        (&[QUIET] as &[_], 1),
        // A digit that changed on the line makes no liar.
        (&[LIES, QUIET], 2),
        (&[LIES, LIES, QUIET, LIES, QUIET, QUIET, LIES], 10),
        (&[LIES, LIES, QUIET, QUIET, QUIET], 5),
    ] {
        let mut desk = building();
        let asked = desk.now;
        shows(&mut desk, script);
        desk.tell(Event::Asked(Wish::Stop));
        desk.finish();
        let orders = desk.orders(asked).into_iter();
        let read = orders.filter(|(_, order)| matches!(order, Order::Read(_)));
        assert_eq!(read.count(), readings, "{script:?}");
    }
}

/// Off does nothing and someone turns the knob up: what the readings show may have flowed all the
/// time.
#[test]
fn a_knob_turned_up_behind_an_off_that_does_nothing_counts() {
    let mut desk = building();
    let (set, asked, before) = (desk.set.a(), desk.now, desk.core.charge());
    shows(&mut desk, &[(0.9, true), (1.4, true), (0.9, true)]);
    desk.tell(Event::Asked(Wish::Stop));
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::OutputStaysOn));
    let took = desk.now.since(asked).s();
    let more = (desk.core.charge().high - before.high).c();
    assert!(set < 0.9 && took > 2.0, "{set} A, {took} s");
    assert!(more > 1.4 * (took - 0.1), "{more} C in {took} s");
    assert!(more < 1.5 * (took + 1.2), "{more} C in {took} s");
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
