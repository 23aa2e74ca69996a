//! What the views say of a moment, a plan and a run.

use crate::{made_up, moment};
use nightvat::control::{Blind, Fault, State};
use nightvat::ledger::{Batch, Ledger, SqliteStore, Store};
use nightvat::plan::{Forecast, HangerForecast, PieceForecast, Remark};
use nightvat::run::Snapshot;
use nightvat::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Volume};
use nightvat::view::salvage::salvage;
use nightvat::view::text::Aftermath;
use nightvat::view::{AreaFacts, Grown, Label, Layer, Rehearsal, Tonight, json, report, text};
use serde_json::Value;
use std::collections::BTreeSet;

fn said(of: &Snapshot) -> String {
    text::status(of, &|moment| moment::label(moment)[11..16].to_owned())
}

const BUILDING: &str = "\
north tank · run 12 · seed heads, first rack

BUILDING     All is well: full density.
             Output on, 0.862 A of 0.862 A set, 1.21 V; last reading 0.4 s ago.

Thick        118 µm of 200 µm [##############----------] 59 %
             5.71 Ah (5.69 to 5.73), output on for 8 h 28 min
Done         08:56, in 4 h 12 min
To do        Nothing. `nightvat stop` ends it at any time.

piece         µm        95 %    Ah     g   cm²
seed head a  118  106 to 130  2.07  2.45  19.7
stem         122  110 to 134  2.07  2.45  19.7
hanger 1     119  107 to 131  2.07  2.45  19.7
";

const TRIPPED: &str = "\
north tank · run 12 · seed heads, first rack

TRIPPED      NOT ALL RIGHT: a guard turned the output off. It is confirmed off.
             Output off, 0.0 mA, 0.30 V; last reading 0.4 s ago.
Alarm        constant-current-lost since 04:34: 2.50 V at its ceiling, and 0.020
             A in place of 0.862 A

Thick        118 µm of 200 µm [##############----------] 59 %
             5.71 Ah (5.69 to 5.73), output on for 8 h 28 min
Done         over, after 8 h 30 min
To do        `nightvat explain constant-current-lost` says what to check. Then
             `nightvat clear`; nothing starts before.
";

const IDLE: &str = "\
north tank

IDLE         All is well: nothing runs.
             Output off, 0.0 mA, 0.30 V; last reading 0.4 s ago.
To do        `nightvat start JOB` begins a run.
";

#[test]
fn status_reads_on_one_screen() {
    assert_eq!(said(&moment::snapshot(State::Building)), BUILDING);
    assert!(said(&moment::snapshot(State::Tripped)).starts_with(TRIPPED));
    assert_eq!(said(&moment::snapshot(State::Idle)), IDLE);
    for state in State::ALL {
        let screen = said(&moment::snapshot(state));
        assert!(screen.lines().count() <= 24, "{screen}");
        assert!(
            screen.lines().all(|line| line.chars().count() <= 80),
            "{screen}"
        );
    }
}

/// What each state answers: is it all right, when is it done, what do I do.
const ANSWERS: [(State, &str, &str, &str); 13] = [
    (
        State::Idle,
        "All is well: nothing runs.",
        "",
        "`nightvat start JOB` begins a run.",
    ),
    (
        State::Proving,
        "So far all is well: supply and cell are checked before much flows.",
        "not known before the current flows",
        "Nothing yet.",
    ),
    (
        State::Striking,
        "All is well: the gentle start.",
        "08:56, in 4 h 12 min",
        "Nothing. `nightvat stop` ends it at any time.",
    ),
    (
        State::Ramping,
        "All is well: the current rises.",
        "08:56, in 4 h 12 min",
        "Nothing. `nightvat stop` ends it at any time.",
    ),
    (
        State::Building,
        "All is well: full density.",
        "08:56, in 4 h 12 min",
        "Nothing. `nightvat stop` ends it at any time.",
    ),
    (
        State::Holding,
        "All is well: the target is reached, and a small current keeps the pieces from dissolving.",
        "the target is reached; the hold ends by itself",
        "When you like: `nightvat stop`, then lift and rinse the pieces.",
    ),
    (
        State::Finished,
        "All is well: done as asked, and the output is confirmed off.",
        "as asked, after 8 h 30 min",
        "1. Gloves and goggles on, 2. Lift, 3. Rinse, 4. Neutralise, 5. Rinse, 6. Dry, \
         7. Weigh when dry.",
    ),
    (
        State::Paused,
        "All is well: paused for 12 min, with the output off.",
        "not while it is paused",
        "Look, turn, trim, with gloves and goggles; then `nightvat resume`. A thin deposit \
         dissolves slowly without current.",
    ),
    (
        State::Stopping,
        "Off is on its way, and not confirmed yet.",
        "when off is confirmed",
        "Wait. If it lasts, look at the supply itself.",
    ),
    (
        State::Stopped,
        "All is well: stopped by a person, and the output is confirmed off.",
        "over, after 8 h 30 min",
        "Lift the pieces, rinse, neutralise, dry; weigh them when dry. Gloves and goggles.",
    ),
    (
        State::Tripped,
        "NOT ALL RIGHT: a guard turned the output off. It is confirmed off.",
        "over, after 8 h 30 min",
        "`nightvat explain constant-current-lost` says what to check. Then `nightvat \
         clear`; nothing starts before.",
    ),
    (
        State::Interrupted,
        "NOT ALL RIGHT: the run was cut short. The output is confirmed off.",
        "over, after 8 h 30 min",
        "See what is said below. `nightvat resume` goes on, `nightvat clear` gives it up; nothing \
         starts before.",
    ),
    (
        State::Unconfirmed,
        "DANGER: THE OUTPUT IS NOT CONFIRMED OFF. TREAT IT AS ON.",
        "when off is confirmed",
        "Go to the bench now and switch the supply off by hand. Then `nightvat explain \
         unconfirmed`.",
    ),
];

#[test]
fn every_state_answers_in_the_same_order() {
    for (state, well, done, to_do) in ANSWERS {
        let flat = said(&moment::snapshot(state))
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let word = state.word().to_uppercase();
        let at = |what: &str| {
            flat.find(what)
                .unwrap_or_else(|| panic!("{state:?} does not say `{what}`: {flat}"))
        };
        let well = at(&format!("{word} {well} Output"));
        let to_do = at(&format!("To do {to_do}"));
        if done.is_empty() {
            assert!(well < to_do);
            continue;
        }
        let (thick, done) = (at("Thick 118 µm"), at(&format!("Done {done} To do")));
        assert!(well < thick && thick < done && done < to_do, "{flat}");
    }
    assert_eq!(ANSWERS.map(|answer| answer.0), State::ALL);
}

#[test]
fn status_says_what_does_not_fit_together() {
    let mut rests = moment::snapshot(State::Finished);
    rests.output_on = Some(true);
    assert!(said(&rests).contains("LOOK: the supply says its output is ON"));

    let mut silent = moment::snapshot(State::Building);
    silent.last_reply = Some(silent.now - Span::from_s(12.0));
    assert!(said(&silent).contains("LOOK: the last usable reading is 12 s old."));
    silent.last_reply = None;
    assert!(said(&silent).contains("no reading yet"));

    // In a pause it is read every ten seconds.
    let mut deaf = moment::snapshot(State::Paused);
    deaf.last_reply = Some(deaf.now - Span::from_s(34.0));
    assert!(said(&deaf).contains("All is well: paused"));
    deaf.last_reply = Some(deaf.now - Span::from_s(36.0));
    assert!(said(&deaf).contains("LOOK: the last usable reading is 36 s old."));

    let mut spoken = moment::snapshot(State::Building);
    spoken.alarms = moment::snapshot(State::Tripped).alarms;
    assert!(said(&spoken).contains("LOOK: a guard speaks. The run goes on."));
}

#[test]
fn a_reading_says_nothing_of_now_after_35_seconds() {
    let mut of = moment::snapshot(State::Idle);
    for (age, old) in [(34.9, false), (35.0, false), (35.1, true)] {
        of.last_reply = Some(of.now - Span::from_s(age));
        assert_eq!(of.long_ago(), of.last_reply.filter(|_| old), "{age} s");
        assert_eq!(said(&of).contains("When last read"), old, "{age} s");
    }
}

/// The card for a run that was broken off tells an old reading as past, like the screen.
#[test]
fn a_salvage_card_tells_an_old_reading_as_past() {
    let card = salvage(Some("copper"), Some(Span::from_min(5.0)), true);
    let told = |read_at: Option<&str>| {
        let of = Aftermath {
            run: 3,
            job: "seed heads",
            what: "the daemon died",
            charge: Bounded::exact(Charge::from_ah(1.0)),
            output_on: Some(false),
            current: Some(Current::ZERO),
            read_at: read_at.map(str::to_owned),
            since: "Off since Thu 04:10.",
            off_for: Some(Span::from_min(5.0)),
        };
        text::salvage(&of, &card)
    };
    assert!(told(None).contains("The supply says now: output off"));
    let old = told(Some("Thu 04:12"));
    let said = "When it was last read, Thu 04:12, the supply said: output off";
    assert!(old.contains(said), "{old}");
    assert!(!old.contains("says now"), "{old}");
}

#[test]
fn a_long_or_hostile_name_breaks_no_line() {
    let mut of = moment::snapshot(State::Building);
    of.job = Some(format!("\u{1b}[2J{}", "x".repeat(300)));
    of.pieces[0].name = "evil\u{1b}]0;title\u{7}\nname".repeat(9);
    let screen = said(&of);
    assert!(
        screen.lines().all(|line| line.chars().count() <= 80),
        "{screen}"
    );
    assert!(!screen.contains('\u{1b}') && !screen.contains('\u{7}'));
    assert_eq!(screen.lines().count(), BUILDING.lines().count());
}

fn keys(value: &Value) -> BTreeSet<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

fn read(value: &impl serde::Serialize) -> Value {
    serde_json::from_str(&json::line(value)).unwrap()
}

fn has(value: &Value, words: &str) {
    let keys = keys(value);
    for word in words.split_whitespace() {
        assert!(keys.contains(word), "no `{word}` among {keys:?}");
    }
}

/// A piece's keys, which every object that has pieces shares.
const PIECE: &str = "name area_cm2 area_end_cm2 charge_ah mass_g thickness_um thickness_low_um \
                     thickness_high_um";

#[test]
fn status_json_has_the_keys_that_are_fixed() {
    let status = read(&json::status(
        &moment::snapshot(State::Tripped),
        &moment::label,
    ));
    has(
        &status,
        "station state run job output_on current_a setpoint_a voltage_v charge_ah thickness_um \
         target_um progress_fraction finish_at alarms pieces supply",
    );
    assert_eq!(
        keys(&status["alarms"][0]),
        BTreeSet::from(["code", "text", "since"])
    );
    assert_eq!(
        keys(&status["supply"]),
        BTreeSet::from(["identity", "last_reply_s"])
    );
    assert_eq!(status["state"], "tripped");
    assert_eq!(status["alarms"][0]["code"], "constant-current-lost");
    assert_eq!(status["alarms"][0]["since"], "2026-11-25T04:34:00+01:00");
    assert_eq!(status["state_since"], "2026-11-25T04:32:00+01:00");
    assert_eq!(status["finish_at"], Value::Null);
    let age = status["supply"]["last_reply_s"].as_f64().unwrap();
    assert!((age - 0.4).abs() < 1e-6, "{age}");

    let building = read(&json::status(
        &moment::snapshot(State::Building),
        &moment::label,
    ));
    assert_eq!(building["finish_at"], "2026-11-25T08:56:00+01:00");
    assert_eq!(building["output_on"], true);
    assert_eq!(building["pieces"].as_array().unwrap().len(), 2);

    let idle = read(&json::status(
        &moment::snapshot(State::Idle),
        &moment::label,
    ));
    for absent in [
        "run",
        "job",
        "charge_ah",
        "thickness_um",
        "target_um",
        "finish_at",
        "state_since",
    ] {
        assert_eq!(idle[absent], Value::Null, "{absent}");
    }
}

fn forecast() -> Forecast {
    Forecast {
        area: Area::from_cm2(19.0),
        charge: Charge::from_ah(9.7),
        mass: Mass::from_g(11.5),
        duration: Span::from_h(11.5),
        current_start: Current::from_ma(57.0),
        current_peak: Current::from_a(0.99),
        pieces: vec![PieceForecast {
            name: "seed head a".to_owned(),
            area: Area::from_cm2(19.0),
            area_end: Area::from_cm2(20.1),
            charge: Charge::from_ah(2.97),
            mass: Mass::from_g(3.52),
            thickness: Bounded {
                low: Length::from_um(180.0),
                best: Length::from_um(200.0),
                high: Length::from_um(220.0),
            },
            peak_to_mean: 1.5,
        }],
        hangers: vec![HangerForecast {
            area: Area::from_cm2(7.5),
            charge: Charge::from_ah(1.18),
            mass: Mass::from_g(1.4),
        }],
        curve: Vec::new(),
    }
}

#[test]
fn plan_json_and_text_say_the_same() {
    let forecast = forecast();
    let warnings = [Remark {
        code: "anode-small",
        text: "the anode is small".to_owned(),
    }];
    let refusals = [Remark {
        code: "density-above-window",
        text: "lower it to 5 A/dm2".to_owned(),
    }];
    let layers = [
        Layer {
            name: "keeper",
            active: Some(true),
            text: "off after 5 s of silence".to_owned(),
        },
        Layer {
            name: "relay",
            active: Some(false),
            text: "the station names none".to_owned(),
        },
    ];
    let blind = [Blind {
        code: Fault::CellVoltageCollapsed.code(),
        text: "below 30 mA".to_owned(),
    }];
    let tonight = Tonight {
        job: "seed heads",
        forecast: &forecast,
        warnings: &warnings,
        refusals: &refusals,
        layers: &layers,
        blind: &blind,
        finish: Some(Label {
            at: "2026-11-25T07:44:00+01:00",
            said: "Wed 07:44",
        }),
    };
    let plan = read(&json::plan(&tonight));
    has(
        &plan,
        "job area_cm2 charge_ah mass_g duration_s current_start_a current_peak_a pieces hangers \
         warnings refusals layers blind",
    );
    assert_eq!(keys(&plan["pieces"][0]), PIECE.split_whitespace().collect());
    assert_eq!(
        keys(&plan["hangers"][0]),
        BTreeSet::from(["area_cm2", "charge_ah", "mass_g"])
    );
    assert_eq!(keys(&plan["warnings"][0]), BTreeSet::from(["code", "text"]));
    assert_eq!(plan["duration_s"], 41_400.0);
    assert_eq!(plan["finish_at"], "2026-11-25T07:44:00+01:00");
    assert_eq!(plan["refusals"][0]["code"], "density-above-window");

    let text = text::plan(&tonight);
    for what in [
        "REFUSED, for one reason. Nothing will be turned on.",
        "Refused      density-above-window: lower it to 5 A/dm2",
        "Warning      anode-small: the anode is small",
        "11 h 30 min; begun now, done Wed 07:44",
        "57.0 mA at first, 0.990 A at most",
        "9.70 Ah, 11.5 g of metal, hangers included",
        "seed head a  200  180 to 220",
        "Layer        NO: relay: the station names none",
        "Blind        cell-voltage-collapsed: below 30 mA",
    ] {
        assert!(text.contains(what), "no `{what}` in:\n{text}");
    }
    let free = text::plan(&Tonight {
        refusals: &[],
        ..tonight
    });
    assert!(free.contains("Verdict      This night may be run.") && !free.contains("REFUSED"));
}

#[test]
fn area_json_and_text_say_the_same() {
    let facts = AreaFacts {
        area: Bounded {
            low: Area::from_cm2(14.4),
            best: Area::from_cm2(15.2),
            high: Area::from_cm2(16.0),
        },
        mean_curvature: Some(Length::from_cm(13.823)),
        gauss: Some(12.566),
        volume: Some(Volume::from_cm3(5.575)),
        watertight: Some(false),
        triangles: Some(1_280),
        grown: vec![Grown {
            thickness: Length::from_um(300.0),
            area: Area::from_cm2(16.0),
            charge: Charge::from_ah(3.5),
            mass: Mass::from_g(4.2),
        }],
        pictures: Vec::new(),
        reach: vec![(0.5, Length::from_mm(17.2)), (1.0, Length::from_mm(34.6))],
        cautions: vec!["holes are counted as open".to_owned()],
    };
    let area = read(&json::area(&facts));
    has(
        &area,
        "area_cm2 low_cm2 high_cm2 mean_curvature_cm gauss_term volume_cm3 watertight triangles \
         grown",
    );
    let grown = BTreeSet::from(["thickness_um", "area_cm2", "charge_ah", "mass_g"]);
    assert_eq!(keys(&area["grown"][0]), grown);
    assert_eq!(area["triangles"], 1_280);
    let text = text::area(&facts);
    for what in [
        "15.2 cm², 14.4 to 16.0 (95 %)",
        "NOT watertight",
        "holes are",
        "300  16.0  3.50",
    ] {
        assert!(text.contains(what), "no `{what}` in:\n{text}");
    }
}

#[test]
fn rehearsal_json_and_text_tell_reckoned_and_true_apart() {
    let night = made_up::night(false);
    let rehearsal = Rehearsal {
        record: &night.record,
        truth: &night.truth,
        overshoot: Some(2e-6),
        simulated: Span::from_h(12.07),
        wall: Span::from_s(0.31),
    };
    let object = read(&json::rehearsal(&rehearsal));
    has(
        &object,
        "pieces outcome trip run charge_ah charge_low_ah charge_high_ah charge_true_ah \
         thickness_um thickness_true_um overshoot_fraction simulated_s wall_s events",
    );
    has(&object["pieces"][0], PIECE);
    assert_eq!(
        (&object["outcome"], &object["trip"]),
        (&Value::from("finished"), &Value::Null)
    );
    assert_eq!(object["pieces"].as_array().unwrap().len(), 4);
    assert_eq!(object["events"][0]["code"], "gap");

    let text = text::rehearsal(&rehearsal);
    assert!(
        text.contains("Finished as asked after 12 h 4 min"),
        "{text}"
    );
    assert!(text.contains("on seed head a; truly 209 µm"), "{text}");
    assert!(text.contains("hanger 1"), "{text}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );

    let tripped = made_up::night(true);
    let object = read(&json::rehearsal(&Rehearsal {
        record: &tripped.record,
        ..rehearsal
    }));
    assert_eq!(object["outcome"], "tripped");
    assert_eq!(object["trip"], "constant-current-lost");
}

#[test]
fn errors_have_the_object_that_is_fixed() {
    let line = json::error("not-found", "no such job", Some("rack.toml"), None);
    let object: Value = serde_json::from_str(&line).unwrap();
    let error = &object["error"];
    assert_eq!(
        keys(error),
        BTreeSet::from(["code", "text", "place", "remedy"])
    );
    assert_eq!(
        (&error["place"], &error["remedy"]),
        (&Value::from("rack.toml"), &Value::Null)
    );
}

#[test]
fn lists_of_runs_and_pieces_come_from_the_ledger_itself() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let mut store = SqliteStore::open(&path, Batch::Each).unwrap();
    let night = made_up::night(false);
    store.begin(&night.record.head).unwrap();
    store.weigh(1, "stem", Mass::from_g(1.31), "dry").unwrap();
    let ledger = Ledger::open_read(&path).unwrap();

    let runs = text::runs(&ledger.runs().unwrap());
    assert!(
        runs.contains("1  2026-11-24  seed heads, first…  not ended  rehearsed"),
        "{runs}"
    );
    let pieces = text::pieces(&ledger.pieces().unwrap());
    assert!(
        pieces.contains("1.31") && !pieces.contains("hanger"),
        "{pieces}"
    );
    for line in runs.lines().chain(pieces.lines()) {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let object = read(&json::runs(&ledger.runs().unwrap()));
    assert_eq!(object["runs"][0]["outcome"], Value::Null);
    assert_eq!(object["runs"][0]["target_um"], 200.0);
    let object = read(&json::pieces(&ledger.pieces().unwrap()));
    has(&object["pieces"][3], PIECE);
    assert_eq!(object["pieces"][3]["weighed_g"], 1.31);
    assert_eq!(read(&json::report(&ledger.run(1).unwrap()))["seed"], 7);
    assert!(text::runs(&[]).contains("No run") && text::pieces(&[]).contains("No piece"));
}

#[test]
fn a_page_of_the_manual_fits_the_terminal() {
    let page = text::page("no-contact").unwrap();
    assert!(
        page.starts_with("no-contact\n\nWhat it means\n  The small proving current"),
        "{page}"
    );
    assert!(page.lines().all(|line| line.chars().count() <= 80));
    assert_eq!(text::page("no-such-thing"), None);
}

#[test]
fn a_report_says_first_what_was_asked_and_what_came() {
    let night = made_up::night(false);
    let page = report::report(&night.record, &night.readings, Some(&night.truth));
    let at = |what: &str| page.find(what).unwrap_or_else(|| panic!("no `{what}`"));
    let asked = at("200 µm asked; 202 µm came on seed head a");
    let outcome = at("Finished as asked after 12 h 4 min; a reading confirmed the output off.");
    let pieces = at(">Pieces<");
    assert!(asked < outcome && outcome < pieces && pieces < at(">The night<"));
    for what in [
        "A rehearsal on the simulated station: no metal was deposited.",
        "The hold added",
        "What the simulated cell says",
        "hanger 1",
        "gap",
        "Gloves and goggles on.",
        "Neutralise",
        "Weigh when dry.",
        "local rules",
        "acid-copper-bright",
    ] {
        at(what);
    }
    for panel in [
        "Current, A",
        "Voltage, V",
        "Thickness, µm",
        "hours since the start",
    ] {
        assert_eq!(
            page.matches(panel).count(),
            2,
            "{panel}: once wide, once narrow"
        );
    }
}

#[test]
fn a_report_needs_nothing_beside_itself() {
    let night = made_up::night(false);
    let page = report::report(&night.record, &night.readings, Some(&night.truth));
    // The name of the SVG language is an address that nothing fetches.
    let page = page.replace("http://www.w3.org/2000/svg", "");
    for outside in [
        "<script", "http:", "https:", "src=", "<link", "@import", "url(",
    ] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(page.contains("prefers-color-scheme: dark") && page.contains("@media print"));
}

#[test]
fn a_report_of_a_trip_begins_with_the_guards_page_and_shows_no_truth() {
    let night = made_up::night(true);
    let page = report::report(&night.record, &night.readings, None);
    for what in [
        "Tripped after 7 h 21 min: the voltage is at its ceiling",
        "First: constant-current-lost",
        "What to check",
        "2.50 V at its ceiling, and 0.020 A in place of 0.862 A",
    ] {
        assert!(page.contains(what), "no `{what}`");
    }
    assert!(!page.contains("simulated cell") && !page.contains("Diamond"));
    let (guard, tripped) = (page.rfind("tr class=\"guard\""), page.rfind(">tripped<"));
    assert!(
        guard < tripped && guard.is_some(),
        "the reason stands before what it led to"
    );
}

#[test]
fn hostile_names_stay_text() {
    let mut night = made_up::night(false);
    let evil = "<script>alert('x')</script>\"&<img src=x onerror=y>";
    night.record.head.job = evil.to_owned();
    night.record.head.station = evil.to_owned();
    night.record.head.began = evil.to_owned();
    night.record.head.job_text = evil.to_owned();
    night.record.identity = Some(evil.to_owned());
    night.record.electrodes[0].head.name = evil.to_owned();
    night.record.electrodes[4].head.name = evil.to_owned();
    night.record.events[0].code = evil.to_owned();
    night.record.events[0].text = evil.to_owned();
    let page = report::report(&night.record, &night.readings, Some(&night.truth));
    assert!(
        !page.contains("<script") && !page.contains("<img"),
        "markup came through"
    );
    assert!(page.contains("&lt;script&gt;"));
}

/// Every number that stands in an attribute of a drawing.
fn drawn_numbers(page: &str) -> Vec<&str> {
    let attributes = [
        " x=\"",
        " y=\"",
        " x1=\"",
        " x2=\"",
        " y1=\"",
        " y2=\"",
        " width=\"",
        " d=\"",
    ];
    attributes
        .iter()
        .flat_map(|name| page.split(*name).skip(1))
        .filter_map(|rest| rest.split('"').next())
        .flat_map(|value| value.split(|c: char| c.is_ascii_alphabetic() || c == ' '))
        .filter(|number| !number.is_empty())
        .collect()
}

#[test]
fn every_number_of_a_drawing_is_finite_and_inside() {
    let mut night = made_up::night(false);
    night.readings[700].current = Some(Current::from_a(f64::NAN));
    night.readings[701].voltage = None;
    night.readings[702].thickness = Length::from_um(f64::INFINITY);
    night.record.electrodes[1].account.thickness.high = Length::from_um(f64::NAN);
    let one = night.readings[..1].to_vec();
    for readings in [&night.readings[..], &one, &[]] {
        let page = report::report(&night.record, readings, Some(&night.truth));
        let body = page
            .split("<body>")
            .nth(1)
            .unwrap()
            .replace("initial-scale=1", "");
        let numbers = drawn_numbers(&body);
        assert!(numbers.len() > 50, "nothing is drawn");
        for number in numbers {
            let value = number.trim_start_matches('-').split('-').next().unwrap();
            let value: f64 = value.parse().unwrap_or_else(|e| panic!("`{number}`: {e}"));
            assert!(value.is_finite() && value <= 800.0, "{number}");
        }
        assert!(
            !body.contains("NaN") && !body.contains("inf\""),
            "a figure that is none"
        );
    }
}

#[test]
fn a_run_that_never_ended_and_never_began_makes_a_page_too() {
    let mut night = made_up::night(false);
    night.record.ending = None;
    night.record.thickness = None;
    night.record.states.clear();
    night.record.events.clear();
    night.record.electrodes.clear();
    let page = report::report(&night.record, &[], None);
    assert!(page.contains("Its end was never written.") && page.contains("No reading was taken."));
    assert!(page.contains("200 µm asked, a run without a single reading."));
}
