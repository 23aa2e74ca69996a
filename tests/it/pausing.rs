//! A pause is watched: what is off is read every ten seconds, one odd reading is read again, and an
//! output that comes on is turned off, told and booked.

use super::desk::{Desk, talkative};
use super::night_kit::WIRE;
use nightvat::control::{Event, Fault, Outcome, State, Wish};
use nightvat::exchange::{LinkFault, Order};
use nightvat::units::{Current, Moment, Span};

/// A run that has grown for a minute and been paused.
fn paused() -> Desk {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Building);
    desk.pass(60.0);
    desk.tell(Event::Asked(Wish::Pause));
    desk.pass(2.0);
    assert!(desk.core.is_paused() && !desk.on);
    desk
}

/// Until the next look is on the wire.
fn look(desk: &mut Desk) {
    while !matches!(desk.in_flight(), Some(Order::Read(_))) {
        desk.step();
        desk.put_on_the_line();
    }
}

fn offs(desk: &Desk, since: Moment) -> Vec<f64> {
    let orders = desk.orders(since).into_iter();
    orders
        .filter(|(_, order)| *order == Order::Off)
        .map(|(at, _)| at.since(since).s())
        .collect()
}

#[test]
fn a_pause_is_looked_at_every_ten_seconds_and_nothing_else_is_sent() {
    let mut desk = paused();
    let (since, charge) = (desk.now, desk.core.charge());
    desk.pass(600.0);
    let orders = desk.orders(since);
    assert!(orders.iter().all(|it| matches!(it.1, Order::Read(_))));
    assert!((59..=60).contains(&orders.len()), "{}", orders.len());
    assert!(desk.core.is_paused());
    assert_eq!(desk.core.charge(), charge);
    let age = desk.now.since(desk.core.last_reading().unwrap().received);
    assert!(age.s() <= 10.1, "{age:?}");
}

#[test]
fn an_output_that_comes_on_in_a_pause_is_off_within_a_look_and_booked() {
    let mut desk = paused();
    desk.pass(95.0);
    let quiet = desk.core.last_reading().unwrap().sent;
    let before = desk.core.charge();
    let (pressed, flows) = (desk.now, desk.set);
    desk.on = true;
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::OutputStaysOn));
    assert!(desk.spoke().contains(&Fault::OutputStaysOn));
    // A look each ten seconds, a second one at once, and off: three exchanges of 40 ms.
    let off = offs(&desk, pressed);
    assert_eq!(off.len(), 1, "{off:?}");
    assert!(off[0] <= 10.0 + 3.0 * 0.04, "{off:?}");
    // It was on at most since the last look that found it off.
    let after = desk.core.charge();
    assert_eq!((after.low, after.best), (before.low, before.best));
    let truly = flows.a() * off[0];
    let most = flows.a() * 1.02 * (pressed.since(quiet).s() + off[0] + 0.2);
    let more = (after.high - before.high).c();
    assert!((truly..=most).contains(&more), "{truly} {more} {most}");
    let piece = desk.core.rack().charge(0);
    assert!((piece.high - after.high).abs().c() < 0.02 * after.high.c());
}

/// The meter has shown more than was set before: the knob was turned as well.
#[test]
fn the_most_that_was_read_counts_not_what_was_set() {
    let mut desk = paused();
    desk.pass(95.0);
    let quiet = desk.core.last_reading().unwrap().sent;
    let before = desk.core.charge();
    (desk.on, desk.set) = (true, desk.set * 3.0);
    let flows = desk.set;
    desk.finish();
    let more = (desk.core.charge().high - before.high).c();
    let since = offs(&desk, quiet)[0];
    assert!(more >= flows.a() * since, "{more} C, {since} s");
}

/// Current alone is enough, whatever the supply says; another output's silence is none of ours.
#[test]
fn a_current_that_the_supply_denies_is_believed() {
    let mut desk = paused();
    desk.twist = Box::new(|reading| reading.current = Some(Current::from_a(0.2)));
    desk.pass(20.0);
    assert!(!desk.core.is_paused());
    assert!(desk.spoke().contains(&Fault::OutputStaysOn));

    let mut desk = paused();
    desk.twist = Box::new(|reading| {
        reading.channel = Some(false);
        reading.output = Some(true);
        reading.current = Some(Current::from_a(0.2));
    });
    desk.pass(60.0);
    assert!(desk.core.is_paused() && desk.spoke().is_empty());
}

#[test]
fn one_odd_reading_is_read_again_at_once() {
    let mut desk = paused();
    let (since, charge) = (desk.now, desk.core.charge());
    let mut reads = 0;
    desk.twist = Box::new(move |reading| {
        reads += 1;
        if reads == 3 {
            reading.output = Some(true);
        }
    });
    desk.pass(60.0);
    assert!(desk.core.is_paused() && desk.spoke().is_empty());
    assert!(offs(&desk, since).is_empty());
    assert_eq!(desk.core.charge(), charge);
    let reads: Vec<_> = desk.reads(since);
    let again = reads[3].since(reads[2]);
    assert!(again.s() < 0.1, "{again:?}");
    assert!(reads[4].since(reads[3]).s() > 9.0);
}

/// On at the last word, and then silence, or a reading that says nothing: off it shall be, and the
/// pause goes on when that is proved.
#[test]
fn a_doubt_that_is_not_settled_turns_it_off_again() {
    for silent in [true, false] {
        let mut desk = paused();
        desk.pass(30.0);
        let quiet = desk.core.last_reading().unwrap().sent;
        let (since, before) = (desk.now, desk.core.charge());
        let (mut asked, mut read) = (0, 0);
        desk.mishap = Box::new(move |order| {
            let reads = matches!(order, Order::Read(_));
            asked += u32::from(reads);
            (silent && reads && asked == 2).then_some(LinkFault::Silent)
        });
        desk.twist = Box::new(move |reading| {
            read += 1;
            if read == 1 {
                reading.output = Some(true);
            } else if read == 2 && !silent {
                (reading.output, reading.current) = (None, None);
            }
        });
        desk.pass(20.0);
        assert!(desk.core.is_paused(), "{:?}", desk.core.state());
        let off = offs(&desk, since);
        assert_eq!(off.len(), 1, "{off:?}");
        let after = desk.core.charge();
        assert_eq!((after.low, after.best), (before.low, before.best));
        let open = since.since(quiet).s() + off[0];
        let more = (after.high - before.high).c();
        assert!(more >= desk.set.a() * open, "{more} C in {open} s");
        assert!(desk.spoke().is_empty());
    }
}

/// While off is on its way after such a doubt, all that the run allows may flow.
#[test]
fn until_it_is_proved_the_charge_is_open_since_the_last_look() {
    let mut desk = paused();
    desk.pass(95.0);
    let quiet = desk.core.last_reading().unwrap().sent;
    desk.on = true;
    while desk.core.is_paused() {
        desk.step();
    }
    let (booked, now) = (desk.core.charge(), desk.core.charge_at(desk.now));
    let most = desk.core.plan().limits.current * desk.now.since(quiet);
    assert!((now.high - booked.high - most).abs().c() < 1e-6);
}

/// Nobody answers: it was off, and is asked again.
#[test]
fn a_silent_supply_stays_paused_and_is_asked_again() {
    let mut desk = paused();
    desk.mishap = Box::new(|_| Some(LinkFault::Silent));
    let since = desk.now;
    desk.pass(300.0);
    assert!(desk.core.is_paused() && offs(&desk, since).is_empty());
    assert!(desk.reads(since).len() >= 29);
    // However long it takes to know that nobody answers, no look waits behind another.
    let since = desk.now;
    desk.takes = Span::from_s(23.0);
    desk.pass(300.0);
    let asked = desk.reads(since).len();
    assert!((9..=11).contains(&asked), "{asked}");
    desk.takes = Span::from_ms(40.0);
    desk.mishap = Box::new(|_| None);
    desk.on = true;
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::OutputStaysOn));
}

/// A look that is on the wire when she goes on, or stops, changes nothing, answered or not.
#[test]
fn a_look_on_the_wire_does_not_disturb_what_she_asks() {
    for fault in [None, Some(LinkFault::Silent), Some(LinkFault::KeeperLost)] {
        let mut desk = paused();
        desk.pass(5.0);
        look(&mut desk);
        let mut left = fault.clone();
        desk.mishap = Box::new(move |order| {
            matches!(order, Order::Read(_))
                .then(|| left.take())
                .flatten()
        });
        desk.tell(Event::Asked(Wish::Resume));
        assert_eq!(desk.core.state(), State::Proving);
        desk.reach(State::Building);
        assert!(desk.spoke().is_empty(), "{fault:?}: {:?}", desk.spoke());

        let mut desk = paused();
        desk.pass(5.0);
        look(&mut desk);
        let mut left = fault;
        desk.mishap = Box::new(move |order| {
            matches!(order, Order::Read(_))
                .then(|| left.take())
                .flatten()
        });
        desk.tell(Event::Asked(Wish::Stop));
        assert_eq!(desk.finish(), Outcome::Stopped);
    }
}

/// A stop, or the loss of the keeper, between the odd reading and the next: what may have flowed is
/// booked all the same.
#[test]
fn what_ends_a_pause_in_doubt_books_the_doubt() {
    for (event, doubted) in [
        (Event::Asked(Wish::Stop), true),
        (Event::Asked(Wish::Stop), false),
        (Event::KeeperLost, true),
    ] {
        let mut desk = paused();
        desk.pass(30.0);
        let before = desk.core.charge();
        let mut read = 0;
        desk.twist = Box::new(move |reading| {
            read += 1;
            if doubted && read == 1 {
                reading.output = Some(true);
            }
        });
        look(&mut desk);
        desk.step();
        desk.tell(event);
        assert!(desk.core.state() != State::Paused);
        while desk.ended.is_none() {
            desk.step();
        }
        let more = (desk.core.charge().high - before.high).c();
        assert_eq!(more > 5.0 * desk.set.a(), doubted, "{more}");
    }
}
