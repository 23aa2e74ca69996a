//! The relay in the output lead: what proving must find, and when control cuts with it. The core
//! alone, with a supply and a relay that follow a script; the station says 1.5 s.

use super::course::{Puppet, Script, Wired, puppet_in};
use nightvat::control::{Event, Fault, Outcome, State, Wish};
use nightvat::exchange::Contact;
use nightvat::units::Span;

const SOUND: Wired = Wired {
    opens_s: 1.2,
    leaks_a: 0.0,
};

fn with(relay: Wired) -> Script {
    Script {
        relay: Some(relay),
        ..Script::default()
    }
}

/// The first guard that speaks while proving, if it does not come through.
fn proved(script: Script) -> Option<Fault> {
    let mut puppet = Puppet::new(script);
    for _ in 0..200 {
        if puppet.core.state() == State::Proving {
            puppet.step();
        }
    }
    puppet.spoke.first().copied()
}

#[test]
fn a_sound_relay_is_held_let_go_and_held_before_the_run() {
    let mut puppet = Puppet::new(with(SOUND));
    puppet.reach(State::Striking);
    assert_eq!(puppet.spoke, []);
    let what: Vec<Contact> = puppet.relay.iter().map(|(_, contact)| *contact).collect();
    let (hold, let_go) = (Contact::Hold, Contact::LetGo);
    assert_eq!(what, [let_go, hold, let_go, hold]);
    assert_eq!(puppet.cut, None);
    // A minute at most for all of proving, so that nobody wishes it away.
    assert!(puppet.now.s() < 30.0, "{}", puppet.now.s());
}

/// 0 + 1.5 steps of 1 mA + 1 mA are nothing to this meter: 2.5 mA, of the 5 mA of proving.
#[test]
fn a_relay_that_lets_current_through_is_stuck_from_what_the_meter_can_tell() {
    for (leaks_a, wanted) in [
        (0.0024, None),
        (0.0025, None),
        (0.0026, Some(Fault::RelayStuck)),
    ] {
        let script = with(Wired { leaks_a, ..SOUND });
        assert_eq!(proved(script), wanted, "{leaks_a} A");
    }
}

/// It opens within 1.5 s, and a quarter of a second is the computer's. Readings come every half
/// second and 40 ms, and two that were asked for later than that must show a current.
#[test]
fn a_relay_that_opens_too_late_is_stuck() {
    let stuck = Some(Fault::RelayStuck);
    let looks = [
        (1.5, None),
        (1.75, None),
        (2.3, None),
        (2.75, stuck),
        (1e6, stuck),
    ];
    for (opens_s, wanted) in looks {
        let script = with(Wired { opens_s, ..SOUND });
        assert_eq!(proved(script), wanted, "{opens_s} s");
    }
}

/// Two fifths of the proving current are a contact, through the relay as without one.
#[test]
fn a_relay_that_does_not_close_is_open() {
    for (missing, wanted) in [
        (0.39, None),
        (0.399_999, None),
        (0.61, Some(Fault::RelayOpen)),
        (1.0, Some(Fault::RelayOpen)),
    ] {
        let script = Script {
            missing,
            ..with(SOUND)
        };
        assert_eq!(proved(script), wanted, "{missing} missing");
    }
}

/// In every state in which current flows: off that is not confirmed is cut after five seconds.
#[test]
fn off_that_is_not_confirmed_is_cut_after_five_seconds_and_no_sooner() {
    for state in [
        State::Striking,
        State::Ramping,
        State::Building,
        State::Holding,
    ] {
        let mut puppet = puppet_in(state, with(SOUND));
        // The supply acknowledges off and goes on.
        puppet.script.on_after_off = u32::MAX;
        let asked = puppet.now;
        puppet.tell(Event::Asked(Wish::Stop));
        while puppet.cut.is_none() {
            let before = puppet.now.since(asked).s();
            assert!(before <= 5.1, "{}: not cut at {before} s", state.word());
            puppet.step();
        }
        let cut = puppet.cut.unwrap().since(asked).s();
        assert!((5.0..5.1).contains(&cut), "{}: {cut} s", state.word());
        let last = puppet.relay.last().map(|(_, contact)| *contact);
        assert_eq!(last, Some(Contact::Cut { lies: false }));
        assert!(puppet.core.is_cut());
        assert_eq!(puppet.core.state(), State::Unconfirmed);
        // It says on, and nothing flows: that is not confirmed, however long it lasts.
        for _ in 0..200 {
            puppet.step();
        }
        assert_eq!((puppet.ended, puppet.core.is_cut()), (None, true));
        // It obeys at last.
        puppet.script.on_after_off = 0;
        assert_eq!(puppet.finish(), Outcome::Tripped(Fault::OutputStaysOn));
        assert!(!puppet.core.is_cut());
    }
}

#[test]
fn off_that_is_confirmed_in_time_is_no_cut() {
    let mut puppet = puppet_in(State::Building, with(SOUND));
    puppet.script.on_after_off = 3;
    let asked = puppet.now;
    puppet.tell(Event::Asked(Wish::Stop));
    puppet.finish();
    assert!(puppet.now.since(asked).s() > 2.0);
    assert_eq!(puppet.cut, None);
    assert!(
        !puppet
            .relay
            .iter()
            .any(|(_, contact)| matches!(contact, Contact::Cut { .. }))
    );
}

#[test]
fn a_silent_supply_is_cut_as_well() {
    let mut puppet = puppet_in(State::Building, with(SOUND));
    puppet.script.silent = true;
    let asked = puppet.now;
    puppet.tell(Event::Asked(Wish::Stop));
    while puppet.cut.is_none() && puppet.now.since(asked).s() < 20.0 {
        puppet.step();
    }
    let cut = puppet.cut.expect("a cut").since(asked).s();
    assert!((5.0..5.1).contains(&cut), "{cut} s");
}

/// A supply that said off while current flowed: once the lead is open its word proves nothing, and
/// only dead terminals do.
#[test]
fn the_word_of_a_supply_that_lied_confirms_nothing_through_an_open_lead() {
    let mut puppet = puppet_in(State::Building, with(SOUND));
    puppet.script.on_after_off = u32::MAX;
    puppet.script.says_off = true;
    puppet.tell(Event::Asked(Wish::Stop));
    for _ in 0..400 {
        puppet.step();
    }
    let last = puppet.relay.last().map(|(_, contact)| *contact);
    assert_eq!(last, Some(Contact::Cut { lies: true }));
    assert_eq!(
        puppet.ended, None,
        "it says off, nothing flows, and its terminals are live"
    );
    puppet.script.on_after_off = 0;
    puppet.finish();
}

/// Cut once is cut, whoever says so after that.
#[test]
fn what_is_cut_is_not_cut_again() {
    let mut puppet = puppet_in(State::Building, with(SOUND));
    puppet.script.on_after_off = u32::MAX;
    puppet.tell(Event::Asked(Wish::Stop));
    while puppet.cut.is_none() {
        puppet.step();
    }
    for _ in 0..400 {
        puppet.step();
        puppet.tell(Event::RelayCut);
    }
    let cuts = |(_, contact): &&(_, Contact)| matches!(contact, Contact::Cut { .. });
    assert_eq!(puppet.relay.iter().filter(cuts).count(), 1);
}

/// A supply cut since it went on, until a moment after; whether the run is over then, its terminals
/// showing so much.
fn over_after_a_cut(wordless: bool, live_v: f64) -> bool {
    let script = Script {
        wordless,
        ..with(SOUND)
    };
    let mut puppet = puppet_in(State::Building, script);
    puppet.script.live_v = Some(live_v);
    puppet.script.on_after_off = u32::MAX;
    puppet.tell(Event::Asked(Wish::Stop));
    while puppet.cut.is_none() {
        puppet.step();
    }
    puppet.script.on_after_off = 0;
    for _ in 0..200 {
        puppet.step();
    }
    puppet.ended.is_some()
}

/// Behind an open lead no current says little. The ceiling is 2.5 V and the meter has steps of 10
/// mV: a tenth of it and half a step are dead.
#[test]
fn behind_an_open_lead_only_a_word_or_dead_terminals_prove_off() {
    for (live_v, wanted) in [(0.0, true), (0.252, true), (0.27, false), (2.5, false)] {
        assert_eq!(over_after_a_cut(true, live_v), wanted, "{live_v} V");
    }
    // A word that was never a lie is enough, whatever its capacitors still hold.
    assert!(over_after_a_cut(false, 1.0));
}

/// Through a closed contact no current is no current.
#[test]
fn through_a_closed_lead_the_ammeter_is_enough() {
    let script = Script {
        wordless: true,
        ..with(SOUND)
    };
    let mut puppet = puppet_in(State::Building, script);
    puppet.script.live_v = Some(1.0);
    puppet.tell(Event::Asked(Wish::Stop));
    assert_eq!((puppet.finish(), puppet.cut), (Outcome::Stopped, None));
}

/// Just after a pause it may not have opened yet: as long as it may take, and a quarter of a
/// second, nothing is held against it, and then two readings are, half a second apart.
#[test]
fn a_relay_that_is_still_closed_as_proving_begins() {
    for (closed_s, wanted) in [(1.5, None), (2.45, None), (2.6, Some(Fault::RelayStuck))] {
        let mut puppet = Puppet::new(with(Wired {
            opens_s: closed_s,
            ..SOUND
        }));
        puppet.closed_until = puppet.now + Span::from_s(closed_s);
        for _ in 0..200 {
            if puppet.core.state() == State::Proving {
                puppet.step();
            }
        }
        assert_eq!(puppet.spoke.first().copied(), wanted, "{closed_s} s");
    }
}

#[test]
fn a_relay_the_keeper_let_go_ends_the_run_and_off_is_proved_beside_it() {
    for state in Fault::RelayLost.guard().states {
        let mut puppet = puppet_in(*state, with(SOUND));
        puppet.tell(Event::RelayCut);
        assert_eq!(puppet.spoke, [Fault::RelayLost], "in {}", state.word());
        assert_eq!(puppet.finish(), Outcome::Tripped(Fault::RelayLost));
    }
    // On the way off it is the cut itself.
    let mut puppet = puppet_in(State::Stopping, with(SOUND));
    puppet.tell(Event::RelayCut);
    assert!(puppet.cut.is_some() && puppet.core.is_cut());
}

#[test]
fn without_a_relay_none_is_moved() {
    let mut puppet = puppet_in(State::Building, Script::default());
    puppet.script.silent = true;
    puppet.tell(Event::Asked(Wish::Stop));
    for _ in 0..400 {
        puppet.step();
    }
    assert_eq!((puppet.relay.len(), puppet.cut), (0, None));
}
