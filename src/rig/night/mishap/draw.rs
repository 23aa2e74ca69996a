//! What goes wrong in a night, drawn by chance.

use super::{Class, Deed, Host, Ledger, Link, Mishap, When, Word};
use crate::rig::cell::{CellFault, RelayAil};
use crate::rig::instrument::Ail;
use crate::rig::night::die::Die;
use crate::units::Span;

/// States a mishap is aimed at, beside those that fall where they fall: the short ones, which would
/// hardly ever be hit.
const AIMS: [(&str, f64); 7] = [
    ("proving", 9.0),
    ("striking", 60.0),
    ("ramping", 60.0),
    ("building", 60.0),
    ("holding", 60.0),
    ("paused", 60.0),
    ("stopping", 0.3),
];

/// A night in which anything may fail. `length` is how long it is to take.
#[must_use]
pub fn faulted(die: &mut Die, length: Span) -> Vec<Mishap> {
    let count = if die.chance(0.65) {
        1
    } else {
        2 + die.below(2)
    };
    let mut from = 0.0;
    let mut list = Vec::with_capacity(count);
    for number in 0..count {
        let at = Span::from_s(die.between(from, length.s()));
        let when = if number == 0 && die.chance(0.25) {
            let (state, most) = *die.pick(&AIMS);
            When::In(state, Span::from_s(die.between(0.0, most)))
        } else {
            from = at.s();
            When::At(at)
        };
        list.push(draw(die, when, length));
    }
    if matches!(list[0].when, When::In("paused", _)) {
        let at = When::At(Span::from_s(die.between(30.0, length.s())));
        list.push(in_house(die, Class::Pause, at, true));
    }
    list
}

/// A night with nothing but what happens in any night.
#[must_use]
pub fn rough(die: &mut Die, length: Span) -> Vec<Mishap> {
    let always = When::At(Span::ZERO);
    let mut list = vec![link_part(
        Class::RepliesLost,
        always,
        (Link::LosesReplies(0.02), Link::LosesReplies(0.0)),
        length * 2.0,
        true,
    )];
    let slow = die.seconds(0.005, 0.3);
    list.push(plain(
        Class::LedgerSlow,
        always,
        Deed::Ledger(Ledger::Takes(slow)),
        true,
    ));
    // Not in the first minute: she is still there, and starts again.
    let some_time = |die: &mut Die| When::At(Span::from_s(die.between(60.0, length.s())));
    for _ in 0..die.below(4) {
        let (when, span) = (some_time(die), die.seconds(0.2, 3.0));
        list.push(gap(Class::Unplugged, when, Link::Away(span), span, true));
    }
    for _ in 0..die.below(10) {
        let (when, ms) = (some_time(die), millis(die, 50.0, 500.0));
        list.push(plain(
            Class::HostStalls,
            when,
            Deed::Host(Host::Stalls(ms)),
            true,
        ));
    }
    list
}

/// How likely a kind is drawn in its mild form, which a run must get over.
const MILD: f64 = 0.8;

/// Draws a kind: those with a mild form three times as likely.
fn draw(die: &mut Die, when: When, length: Span) -> Mishap {
    const BOTH: [Class; 16] = [
        Class::LeadFlickers,
        Class::Shorted,
        Class::RackContact,
        Class::PieceContact,
        Class::AnodeFilm,
        Class::RepliesLost,
        Class::CommandsLost,
        Class::RepliesGarbled,
        Class::RepliesLate,
        Class::Silence,
        Class::Unplugged,
        Class::LedgerSlow,
        Class::HostStalls,
        Class::Pause,
        Class::IdleWords,
        Class::MeterDrifts,
    ];
    let any = Class::ANYWHERE;
    let at = die.below(any + 2 * BOTH.len());
    let class = if at < any {
        Class::ALL[at]
    } else {
        BOTH[(at - any) % BOTH.len()]
    };
    let mild = die.chance(MILD);
    draw_class(die, class, when, mild, length)
}

/// Draws a mishap of this kind.
pub(super) fn draw_class(
    die: &mut Die,
    class: Class,
    when: When,
    mild: bool,
    length: Span,
) -> Mishap {
    match class {
        Class::LeadOff
        | Class::LeadFlickers
        | Class::Shorted
        | Class::RackContact
        | Class::PieceContact
        | Class::AnodeFilm
        | Class::PieceFalls => in_cell(die, class, when, mild),
        Class::CurrentKnob
        | Class::VoltageKnob
        | Class::OutputButton
        | Class::PowerCycle
        | Class::PowerLost
        | Class::GuardTurned
        | Class::MeterFrozen
        | Class::MeterDrifts
        | Class::CurrentDrifts
        | Class::ErrorEntry
        | Class::IgnoresOff
        | Class::RelayWelded => in_supply(die, class, when, mild),
        Class::RepliesLost
        | Class::CommandsLost
        | Class::RepliesGarbled
        | Class::CommandsGarbled
        | Class::RepliesLate
        | Class::Echo
        | Class::Silence
        | Class::Unplugged => on_line(die, class, when, mild, length),
        Class::EntriesRefused
        | Class::CommitsRefused
        | Class::LedgerSlow
        | Class::HostStalls
        | Class::HostSleeps
        | Class::KeeperDies
        | Class::DaemonDies
        | Class::Stop
        | Class::Pause
        | Class::IdleWords => in_house(die, class, when, mild),
        Class::CutOffStuck | Class::CutOffPortLost => at_relay(class, when),
        Class::Rehung => hands_in(die, when, 0),
    }
}

/// What goes wrong with the relay in the output lead of a studio that has one: nothing, or one of
/// two.
#[must_use]
pub fn of_relay(die: &mut Die, length: Span) -> Option<Mishap> {
    if !die.chance(0.4) {
        return None;
    }
    let when = match die.below(4) {
        // It was so before the night.
        0 => When::At(Span::ZERO),
        1 => When::In("proving", Span::from_s(die.between(0.0, 15.0))),
        _ => When::At(Span::from_s(die.between(0.0, length.s()))),
    };
    let stuck = die.chance(0.5);
    let class = if stuck {
        Class::CutOffStuck
    } else {
        Class::CutOffPortLost
    };
    Some(at_relay(class, when))
}

/// A person who lifts a piece in the night, and perhaps hangs it again later, or lifts another.
#[must_use]
pub fn of_hands(die: &mut Die, length: Span) -> Vec<Mishap> {
    let times = 1 + die.below(3);
    let first = die.below(4);
    let change = |_| {
        let at = Span::from_s(die.between(0.0, length.s()));
        let piece = if die.chance(0.7) { first } else { die.below(4) };
        hands_in(die, When::At(at), piece)
    };
    (0..times).map(change).collect()
}

fn hands_in(die: &mut Die, when: When, piece: usize) -> Mishap {
    let (reaches, leaves) = (die.seconds(2.0, 60.0), die.seconds(61.0, 900.0));
    let mut it = plain(Class::Rehung, when, Deed::Asks(Word::Pause), true);
    it.deeds.push((reaches, Deed::Asks(Word::Rehang(piece))));
    it.deeds.push((leaves, Deed::Asks(Word::Resume)));
    it.lasts = leaves;
    it
}

fn at_relay(class: Class, when: When) -> Mishap {
    match class {
        Class::CutOffStuck => plain(class, when, Deed::Relay(RelayAil::Welded), false),
        _ => Mishap {
            off_within: Some(Span::from_s(3.0)),
            ..plain(class, when, Deed::RelayPulled, false)
        },
    }
}

/// A mishap of one deed.
fn plain(class: Class, when: When, deed: Deed, tolerable: bool) -> Mishap {
    Mishap {
        class,
        when,
        deeds: vec![(Span::ZERO, deed)],
        lasts: Span::ZERO,
        tolerable,
        off_within: None,
        blinds: false,
        raises: false,
    }
}

fn millis(die: &mut Die, low: f64, high: f64) -> u32 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // hours of ms fit
    let ms = die.decades(low, high) as u32;
    ms
}

fn in_cell(die: &mut Die, class: Class, when: When, mild: bool) -> Mishap {
    let contact = |electrode, ohm| CellFault::Contact { electrode, ohm };
    let deed = match class {
        Class::Shorted if mild => Deed::Cell(CellFault::Short(die.decades(30.0, 300.0))),
        Class::Shorted => Deed::Cell(CellFault::Short(die.decades(0.005, 5.0))),
        Class::RackContact if mild => Deed::Cell(contact(None, die.decades(0.003, 0.03))),
        Class::RackContact => Deed::Cell(contact(None, die.decades(0.3, 100.0))),
        Class::PieceContact if mild => Deed::Contact(die.below(8), die.decades(0.003, 0.05)),
        Class::PieceContact => Deed::Contact(die.below(8), die.decades(0.5, 1000.0)),
        Class::AnodeFilm => {
            let [free, ohm_m2] = if mild {
                [die.between(0.9, 1.0), die.decades(1e-6, 3e-5)]
            } else {
                [die.between(0.1, 0.8), die.decades(1e-3, 1.0)]
            };
            Deed::Cell(CellFault::AnodeFilm { free, ohm_m2 })
        }
        Class::PieceFalls => Deed::Falls(die.below(8)),
        _ => Deed::Cell(CellFault::LeadOpen),
    };
    let has_mild = !matches!(class, Class::LeadOff | Class::PieceFalls);
    let mut it = plain(class, when, deed, mild && has_mild);
    if class == Class::LeadFlickers {
        let mut at = 0.0;
        let longest = if mild { 1.5 } else { 15.0 };
        for _ in 0..1 + die.below(5) {
            at += die.decades(0.05, longest);
            it.deeds
                .push((Span::from_s(at), Deed::Cell(CellFault::LeadBack)));
            at += die.between(10.0, 60.0);
            it.deeds
                .push((Span::from_s(at), Deed::Cell(CellFault::LeadOpen)));
        }
        at += die.decades(0.05, longest);
        it.deeds
            .push((Span::from_s(at), Deed::Cell(CellFault::LeadBack)));
        it.lasts = Span::from_s(at);
    }
    it
}

pub(super) fn in_supply(die: &mut Die, class: Class, when: When, mild: bool) -> Mishap {
    let later = |die: &mut Die, low, high| die.seconds(low, high);
    let deed = match class {
        Class::CurrentKnob => Deed::CurrentKnob(die.decades(0.2, 4.0)),
        Class::VoltageKnob => Deed::VoltageKnob(die.decades(0.2, 4.0)),
        Class::OutputButton => Deed::Button,
        Class::PowerCycle | Class::PowerLost => Deed::Mains(false),
        Class::GuardTurned => Deed::Supply(Ail::GuardVolts(die.between(0.05, 1.2))),
        Class::MeterFrozen => Deed::Supply(Ail::Frozen(true)),
        Class::MeterDrifts if mild => Deed::Supply(Ail::ReadGain(die.between(0.9995, 1.0005))),
        Class::MeterDrifts => Deed::Supply(Ail::ReadGain(die.decades(0.5, 2.0))),
        Class::CurrentDrifts => Deed::Supply(Ail::SetGain(die.decades(0.5, 2.0))),
        Class::IgnoresOff => Deed::Supply(Ail::KeepsOn(true)),
        Class::RelayWelded => Deed::Supply(Ail::Welded(true)),
        _ => Deed::Supply(Ail::Hardware),
    };
    let mut it = plain(class, when, deed, class == Class::MeterDrifts && mild);
    match class {
        Class::PowerCycle => {
            it.lasts = later(die, 0.1, 120.0);
            it.deeds.push((it.lasts, Deed::Mains(true)));
            it.raises = true;
            it.blinds = true;
        }
        Class::PowerLost => it.blinds = true,
        Class::CurrentKnob | Class::OutputButton | Class::CurrentDrifts => it.raises = true,
        Class::MeterFrozen => {
            it.lasts = later(die, 1.0, 3600.0);
            it.deeds.push((it.lasts, Deed::Supply(Ail::Frozen(false))));
        }
        Class::IgnoresOff | Class::RelayWelded => {
            it.lasts = later(die, 2.0, 300.0);
            it.raises = true;
            it.deeds.push((Span::from_s(1.0), Deed::Asks(Word::Stop)));
            let mended = match class {
                Class::IgnoresOff => Ail::KeepsOn(false),
                _ => Ail::Welded(false),
            };
            it.deeds.push((it.lasts, Deed::Supply(mended)));
        }
        _ => {}
    }
    it
}

/// A link that loses or spoils a part of what passes, for a time.
fn link_part(class: Class, when: When, parts: (Link, Link), lasts: Span, mild: bool) -> Mishap {
    let mut it = plain(class, when, Deed::Link(parts.0), mild);
    it.deeds.push((lasts, Deed::Link(parts.1)));
    it.lasts = lasts;
    it.blinds = true;
    it
}

/// A link that is not there for a time.
fn gap(class: Class, when: When, link: Link, lasts: Span, mild: bool) -> Mishap {
    let mut it = plain(class, when, Deed::Link(link), mild);
    it.lasts = lasts;
    it.blinds = true;
    it
}

fn on_line(die: &mut Die, class: Class, when: When, mild: bool, length: Span) -> Mishap {
    let lasts = if mild {
        die.seconds(10.0, (length * 0.5).s().max(20.0))
    } else {
        die.seconds(1.0, 600.0)
    };
    let share = |die: &mut Die, mild: [f64; 2], bad: [f64; 2], is_mild| {
        let [low, high] = if is_mild { mild } else { bad };
        die.decades(low, high)
    };
    match class {
        Class::RepliesLost => {
            let part = share(die, [0.001, 0.02], [0.1, 1.0], mild);
            let parts = (Link::LosesReplies(part), Link::LosesReplies(0.0));
            link_part(class, when, parts, lasts, mild)
        }
        Class::CommandsLost => {
            let part = share(die, [0.001, 0.02], [0.1, 1.0], mild);
            let parts = (Link::LosesCommands(part), Link::LosesCommands(0.0));
            // A setpoint that never arrived reads like a hand at the knob, and off is the answer.
            link_part(class, when, parts, lasts, false)
        }
        Class::RepliesGarbled => {
            let part = share(die, [0.0003, 0.005], [0.02, 0.8], mild);
            // One bit can make another number of a number, and nobody can tell: what is mild hurts
            // so that it shows.
            let parts = if mild {
                (Link::SmearsReplies(part), Link::SmearsReplies(0.0))
            } else {
                (Link::GarblesReplies(part), Link::GarblesReplies(0.0))
            };
            link_part(class, when, parts, lasts, mild)
        }
        Class::CommandsGarbled => {
            let part = share(die, [0.0003, 0.005], [0.02, 0.8], mild);
            let parts = (Link::GarblesCommands(part), Link::GarblesCommands(0.0));
            let mut it = link_part(class, when, parts, lasts, false);
            it.raises = true;
            it
        }
        Class::RepliesLate => {
            let part = share(die, [0.001, 0.02], [0.1, 0.8], mild);
            let by = if mild { 0.95 } else { 3.0 };
            let parts = (Link::Delays(part, by), Link::Delays(0.0, by));
            link_part(class, when, parts, lasts, mild)
        }
        Class::Echo => {
            let parts = (Link::Echoes(true), Link::Echoes(false));
            link_part(class, when, parts, lasts, false)
        }
        _ => {
            let span = if mild {
                die.seconds(0.1, 2.0)
            } else {
                die.seconds(2.0, 900.0)
            };
            let link = match class {
                Class::Silence => Link::Silent(span),
                _ => Link::Away(span),
            };
            let mut it = gap(class, when, link, span, mild);
            // Five seconds without a usable reading are too many; the silence may begin just after
            // a question, and the one that is on the wire is waited for.
            it.off_within = (span.s() > 9.0).then_some(Span::from_s(9.0));
            it
        }
    }
}

pub(super) fn in_house(die: &mut Die, class: Class, when: When, mild: bool) -> Mishap {
    let deed = match class {
        Class::EntriesRefused => Deed::Ledger(Ledger::RefusesEntries),
        Class::CommitsRefused => Deed::Ledger(Ledger::RefusesCommits),
        Class::LedgerSlow if mild => Deed::Ledger(Ledger::Takes(die.seconds(0.1, 10.0))),
        Class::LedgerSlow => Deed::Ledger(Ledger::Takes(die.seconds(20.0, 600.0))),
        Class::HostStalls if mild => Deed::Host(Host::Stalls(millis(die, 100.0, 2500.0))),
        Class::HostStalls => Deed::Host(Host::Stalls(millis(die, 7000.0, 300_000.0))),
        Class::HostSleeps => {
            let ms = millis(die, 100.0, 3_600_000.0);
            Deed::Host(Host::Sleeps(ms, die.chance(0.5)))
        }
        Class::KeeperDies => Deed::Host(Host::KeeperDies),
        Class::DaemonDies => Deed::Host(Host::DaemonDies),
        Class::Pause => Deed::Asks(Word::Pause),
        Class::IdleWords => Deed::Asks(Word::Resume),
        _ => Deed::Asks(Word::Stop),
    };
    let has_mild = matches!(class, Class::LedgerSlow | Class::HostStalls);
    let mut it = plain(class, when, deed, mild && has_mild);
    let seconds = Span::from_s;
    match (class, deed) {
        (Class::EntriesRefused | Class::CommitsRefused, _) => it.off_within = Some(seconds(8.0)),
        (_, Deed::Ledger(Ledger::Takes(_))) if !mild => it.off_within = Some(seconds(23.0)),
        (_, Deed::Ledger(Ledger::Takes(_))) => {
            it.lasts = die.seconds(10.0, 1800.0);
            let well = Deed::Ledger(Ledger::Takes(seconds(0.01)));
            it.deeds.push((it.lasts, well));
        }
        (_, Deed::Host(Host::Stalls(ms))) => {
            it.lasts = seconds(f64::from(ms) / 1e3);
            // The keeper's lease of five seconds, and what it then takes to say off.
            it.off_within = (!mild).then_some(seconds(6.5));
        }
        (_, Deed::Host(Host::Sleeps(ms, _))) => {
            it.lasts = seconds(f64::from(ms) / 1e3);
            it.blinds = true;
        }
        (Class::KeeperDies | Class::DaemonDies | Class::Stop, _) => {
            it.off_within = Some(seconds(2.5));
        }
        (Class::Pause, _) => {
            it.tolerable = true;
            it.lasts = die.seconds(20.0, 1200.0);
            it.deeds.push((it.lasts, Deed::Asks(Word::Resume)));
        }
        (Class::IdleWords, _) => {
            it.tolerable = true;
            for at in 1..8 {
                let word = if at < 7 && die.chance(0.3) {
                    Word::Pause
                } else {
                    Word::Resume
                };
                it.deeds
                    .push((seconds(f64::from(at) * 2.0), Deed::Asks(word)));
            }
            it.deeds.push((seconds(60.0), Deed::Asks(Word::Resume)));
        }
        _ => {}
    }
    it
}
