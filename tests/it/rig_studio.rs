//! The demo studio: seed heads and a stalk on one rack, and the bench they are tried on.

#![allow(clippy::unwrap_used)] // a test may

use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::world::{BathFacts, World};
use nightvat::spec::{
    Form, Hanger, Job, Paint, Piece, Station, Strike, Surface, Tank, Target, Until,
};
use nightvat::supply::wire::{Exchange, Line, Outcome, Raise, ReplyEnd};
use nightvat::units::{
    Area, Current, CurrentDensity, Fraction, Length, Moment, Span, Voltage, Volume,
};

/// Copper in an acid sulfate bath at 8.96 g/cm³.
pub(crate) fn copper(efficiency: f64) -> BathFacts {
    BathFacts {
        z: 2.0,
        molar_mass_kg_per_mol: 63.546e-3,
        density_kg_per_m3: 8960.0,
        efficiency,
    }
}

pub(crate) fn piece(name: &str, surface: Surface, form: Form) -> Piece {
    Piece {
        name: name.into(),
        surface,
        form,
        texture: 1.0,
        uncertainty: Some(Fraction::from_percent(10.0)),
        paint: Paint::default(),
        peak_to_mean: None,
    }
}

pub(crate) fn flat(cm2: f64) -> Form {
    Form::Plain {
        area: Area::from_cm2(cm2),
        like: None,
    }
}

pub(crate) fn ball(mm: f64) -> Form {
    Form::Sphere {
        diameter: Length::from_mm(mm),
    }
}

pub(crate) fn wire(diameter_mm: f64, length_mm: f64) -> Form {
    Form::Wire {
        diameter: Length::from_mm(diameter_mm),
        length: Length::from_mm(length_mm),
    }
}

pub(crate) fn job(pieces: Vec<Piece>) -> Job {
    Job {
        name: "seed heads".into(),
        bath: "acid-copper-bright".into(),
        target: Target::Thickness(Length::from_um(250.0)),
        until: Until::Thinnest,
        density: CurrentDensity::from_a_per_dm2(1.5),
        strike: Some(Strike {
            density: CurrentDensity::from_a_per_dm2(0.3),
            duration: Span::from_min(40.0),
            until_covered: false,
        }),
        ramp: None,
        finish: None,
        pieces,
        hangers: Vec::new(),
        looks: Vec::new(),
    }
}

/// Two painted seed heads, a metal stalk, and the wire they hang on.
pub(crate) fn rack() -> Job {
    let mut rack = job(vec![
        piece("seed head a", Surface::Paint, ball(22.0)),
        piece("seed head b", Surface::Paint, ball(18.0)),
        piece("stem", Surface::Metal, wire(1.2, 180.0)),
    ]);
    rack.hangers.push(Hanger {
        form: wire(1.0, 150.0),
    });
    rack
}

pub(crate) fn station() -> Station {
    Station {
        name: "north tank".into(),
        supply: "scpi-standard".into(),
        port: "/dev/null".into(),
        max_current: Current::from_a(3.0),
        max_voltage: Voltage::from_v(2.5),
        tank: Tank {
            volume: Volume::from_l(6.0),
            bath_ledger: None,
            stirred: true,
            surface: None,
            gap: Some(Length::from_cm(9.0)),
            anode: None,
            level: None,
            brightener: None,
        },
        resume: None,
        page: None,
        notices: nightvat::spec::Notices::default(),
        link_allowance: nightvat::spec::station::LINK_ALLOWANCE,
        sensors: Vec::new(),
        relay: None,
    }
}

/// The clean world of a job.
pub(crate) fn clean(job: &Job) -> World {
    World::draw(job, &station(), &copper(1.0), 1, true)
}

/// A bench with this kind of supply on a world.
pub(crate) fn bench(kind: Kind, quirks: Quirks, world: World) -> Bench {
    Bench::new(
        Instrument::new(kind, quirks, world, Moment::ZERO),
        Moment::ZERO,
    )
}

/// Sends a line; waits for a line if it asks something.
pub(crate) fn say(bench: &mut Bench, line: &str) -> Outcome {
    let end = if line.contains('?') {
        ReplyEnd::Byte(b"\r\n".to_vec())
    } else {
        ReplyEnd::None
    };
    bench.exchange(&exchange(format!("{line}\n").as_bytes(), end))
}

/// An exchange with half a second of patience and no gap.
pub(crate) fn exchange(send: &[u8], end: ReplyEnd) -> Exchange {
    Exchange {
        send: send.to_vec(),
        end,
        first_byte: Span::from_ms(500.0),
        between: Span::from_ms(100.0),
        gap: Span::ZERO,
        raises: Raise::default(),
    }
}

/// Plays a conversation: what is sent, and the reply line (nothing for a line without a query).
pub(crate) fn converse(bench: &mut Bench, lines: &[(&str, &str)]) {
    for (line, expected) in lines {
        let reply = say(bench, line)
            .reply
            .map(|bytes| String::from_utf8(bytes).unwrap());
        assert_eq!(reply.as_deref(), Ok(*expected), "after `{line}`");
    }
}

/// A reading as a number.
pub(crate) fn number(bench: &mut Bench, query: &str) -> f64 {
    let reply = say(bench, query).reply.unwrap();
    String::from_utf8(reply).unwrap().parse().unwrap()
}
