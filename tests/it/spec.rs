//! What people write: every rule, and the words of every problem. The expected texts were written
//! by hand.

use nightvat::spec::{self, Form, Problems, Sheet, Shelf, Target, Until};
use nightvat::units::{Area, Length};
use proptest::prelude::*;

/// A job without a fault, one line a key; the cases below change one line each.
const JOB: &str = r#"name = "two twigs"
bath = "acid-copper-bright"
[target]
thickness = "200 um"
until = "thinnest"
[current]
density = "1.5 A/dm2"
[current.strike]
density = "0.3 A/dm2"
for = "40 min"
[current.ramp]
over = "2 h"
[finish]
hold = "0.05 A/dm2"
at_most = "30 min"
[[piece]]
name = "twig"
surface = "paint"
shape = { kind = "sphere", diameter = "22 mm" }
texture = 1.25
uncertainty = "10 %"
contact = "4 mm2"
[[piece]]
name = "stem"
surface = "metal"
shape = { kind = "wire", diameter = "1.2 mm", length = "180 mm" }
[[hanger]]
shape = { kind = "wire", diameter = "1 mm", length = "150 mm" }
[[look]]
at = "60 um"
"#;

/// A station without a fault.
const STATION: &str = r#"name = "north tank"
supply = "scpi-standard"
port = "/dev/ttyUSB0"
[limits]
current = "3 A"
voltage = "2.5 V"
[tank]
volume = "6 L"
bath_ledger = "north tank"
stirred = true
surface = "300 cm2"
gap = "9 cm"
[tank.anode]
area = "180 cm2"
mass = "420 g"
[resume]
within = "10 min"
[page]
listen = "127.0.0.1:8737"
"#;

/// A bath profile without a fault.
const BATH: &str = r#"name = "plain"
metal = "copper"
deposit_density = "8.93 g/cm3"
efficiency = "98 %"
efficiency_uncertainty = "1 %"
sources = ["our own scale"]
[window.still]
low = "0.5 A/dm2"
high = "2 A/dm2"
[window.stirred]
low = "1 A/dm2"
high = "4 A/dm2"
[temperature]
low = "18 C"
high = "30 C"
[[component]]
name = "sulfuric acid"
low = "30 g/L"
high = "75 g/L"
"#;

/// One line changed, and what the reader says: where, found, expected, do this.
struct Case {
    line: &'static str,
    becomes: &'static str,
    place: &'static str,
    found: &'static str,
    expected: &'static str,
    remedy: &'static str,
}

const fn case(
    [line, becomes]: [&'static str; 2],
    [place, found, expected, remedy]: [&'static str; 4],
) -> Case {
    Case {
        line,
        becomes,
        place,
        found,
        expected,
        remedy,
    }
}

/// Holds each case against a reader: exactly one problem, in exactly these words.
fn hold<T: std::fmt::Debug>(
    sound: &str,
    cases: &[Case],
    read: impl Fn(&str) -> Result<T, Problems>,
) {
    read(sound).unwrap();
    for case in cases {
        let whole_line = |line: &&str| *line == case.line;
        assert_eq!(
            sound.lines().filter(whole_line).count(),
            1,
            "the line {:?} is not once in the sound text",
            case.line
        );
        let text: Vec<&str> = sound
            .lines()
            .map(|line| {
                if line == case.line {
                    case.becomes
                } else {
                    line
                }
            })
            .collect();
        let problems = read(&text.join("\n")).expect_err(case.becomes);
        let [one] = problems.0.as_slice() else {
            panic!("not one problem for {}:\n{problems}", case.becomes);
        };
        let said = [
            one.place(),
            one.found.clone(),
            one.allowed.clone(),
            one.remedy.clone(),
        ];
        let wanted = [case.place, case.found, case.expected, case.remedy];
        assert_eq!(said, wanted, "for {}", case.becomes);
    }
}

fn job(text: &str) -> Result<spec::Job, Problems> {
    spec::job::read("j", text, &Shelf::embedded())
}

fn station(text: &str) -> Result<spec::Station, Problems> {
    spec::station::read("s", text, &Shelf::embedded())
}

fn bath(text: &str) -> Result<nightvat::bath::BathProfile, Problems> {
    spec::bath::read("b", text)
}

fn form(text: &str) -> Result<Form, Problems> {
    spec::read_form::read_text(text, &Shelf::embedded())
}

#[test]
fn a_sound_job_is_read_whole() {
    let job = job(JOB).unwrap();
    assert_eq!(job.target, Target::Thickness("200 um".parse().unwrap()));
    assert_eq!(job.until, Until::Thinnest);
    assert_eq!(job.density.a_per_dm2(), 1.5);
    assert_eq!(job.strike.unwrap().duration.min_value(), 40.0);
    assert_eq!(job.ramp.unwrap().over.h(), 2.0);
    assert_eq!(job.finish.unwrap().at_most.min_value(), 30.0);
    assert_eq!(job.pieces.len(), 2);
    assert_eq!(job.pieces[0].texture, 1.25);
    assert_eq!(job.pieces[0].paint.contact, Some("4 mm2".parse().unwrap()));
    assert_eq!(job.pieces[1].texture, 1.0);
    assert_eq!(job.hangers.len(), 1);
    assert_eq!(job.looks.len(), 1);
}

#[test]
fn a_sound_station_is_read_whole() {
    let station = station(STATION).unwrap();
    assert_eq!(station.max_current.a(), 3.0);
    assert_eq!(station.max_voltage.v(), 2.5);
    assert!(station.tank.stirred);
    assert_eq!(station.tank.volume, "6 L".parse().unwrap());
    assert_eq!(
        station.tank.anode.unwrap().mass,
        Some("420 g".parse().unwrap())
    );
    assert_eq!(station.resume.unwrap().within.min_value(), 10.0);
    assert_eq!(station.page.unwrap().listen.port(), 8737);
}

#[test]
fn a_sound_bath_is_read_whole() {
    let bath = bath(BATH).unwrap();
    assert_eq!(bath.metal.valence, 2.0);
    assert_eq!(bath.deposit_density.g_per_cm3(), 8.93);
    assert_eq!(bath.efficiency, 0.98);
    assert_eq!(bath.window(false)[1].a_per_dm2(), 2.0);
    assert_eq!(bath.window(true)[1].a_per_dm2(), 4.0);
    assert_eq!(bath.temperature[0].c(), 18.0);
    assert_eq!(bath.components[0].high.g_per_l(), 75.0);
}

const DENSITY: &str = "a current density, for example \"1.5 A/dm2\" or \"14 A/ft2\"";
const LENGTH: &str = "a length, for example \"250 um\" or \"22 mm\"";
const NAME: &str = "a name of at most 80 letters, without `/`, line breaks or blanks at its ends";

#[test]
fn unit_slips_of_a_job_are_told() {
    let cases = [
        case(
            ["thickness = \"200 um\"", "thickness = \"250 mm\""],
            [
                "j:4:13",
                "250 mm",
                "a thickness of deposit from 1 um to 5 mm",
                "look at the unit: did you mean thickness = \"250 um\"?",
            ],
        ),
        case(
            ["thickness = \"200 um\"", "thickness = 0.25"],
            [
                "j:4:13",
                "the number 0.25 without a unit",
                LENGTH,
                "write thickness = \"0.25 UNIT\", with one of the units um, µm, mm, cm, m, in, mil",
            ],
        ),
        case(
            ["thickness = \"200 um\"", "thickness = \"0.25\""],
            [
                "j:4:13",
                "`0.25` without a unit",
                LENGTH,
                "write thickness = \"0.25 UNIT\", with one of the units um, µm, mm, cm, m, in, mil",
            ],
        ),
        case(
            ["density = \"1.5 A/dm2\"", "density = \"1.5 A\""],
            [
                "j:7:11",
                "the unit `A`, which is no unit of a current density",
                DENSITY,
                "write density = \"NUMBER UNIT\", with one of the units A/dm2, A/dm², A/ft2, mA/cm2, mA/cm², A/m2",
            ],
        ),
        case(
            ["density = \"1.5 A/dm2\"", "density = true"],
            ["j:7:11", "true", DENSITY, "write density = \"1.5 A/dm2\""],
        ),
        case(
            ["density = \"1.5 A/dm2\"", "density = \"150 A/dm2\""],
            [
                "j:7:11",
                "150 A/dm2",
                "a current density from 0.001 A/dm2 to 50 A/dm2",
                "look at the unit: did you mean density = \"150 A/ft2\"?",
            ],
        ),
        case(
            ["for = \"40 min\"", "for = \"40 d\""],
            [
                "j:10:7",
                "40 d",
                "a time from 1 s to 48 h",
                "look at the unit: did you mean for = \"40 s\"?",
            ],
        ),
        case(
            ["at_most = \"30 min\"", "at_most = \"0 min\""],
            [
                "j:15:11",
                "0 min",
                "a time from 1 min to 168 h",
                "write at_most within that range",
            ],
        ),
        case(
            [
                "shape = { kind = \"sphere\", diameter = \"22 mm\" }",
                "shape = { kind = \"sphere\", diameter = \"22 m\" }",
            ],
            [
                "j:19:39",
                "22 m",
                "a length of a piece in a tank, from 50 um to 2 m",
                "look at the unit: did you mean diameter = \"22 mm\"?",
            ],
        ),
        case(
            ["texture = 1.25", "texture = 0.8"],
            [
                "j:20:11",
                "0.8",
                "true area over smooth area, from 1 to 20",
                "write texture within that range",
            ],
        ),
        case(
            ["texture = 1.25", "texture = nan"],
            [
                "j:20:11",
                "the number nan",
                "a plain number",
                "write texture = 1.25, without quotation marks",
            ],
        ),
        case(
            ["uncertainty = \"10 %\"", "uncertainty = 0.1"],
            [
                "j:21:15",
                "the number 0.1 without a unit",
                "a percentage, for example \"10 %\"",
                "write uncertainty = \"0.1 UNIT\", with one of the units %",
            ],
        ),
        case(
            ["contact = \"4 mm2\"", "contact = \"4 m2\""],
            [
                "j:22:11",
                "4 m2",
                "a contact patch from 0.01 mm2 to 100 cm2",
                "look at the unit: did you mean contact = \"4 cm2\"?",
            ],
        ),
    ];
    hold(JOB, &cases, job);
}

#[test]
fn keys_of_a_job_that_are_missing_or_unknown_are_told() {
    let cases = [
        case(
            ["thickness = \"200 um\"", "thicknes = \"200 um\""],
            [
                "j:4:1",
                "the key `thicknes`",
                "one of `thickness`, `mass`, `charge`, `hours`, `until`",
                "did you mean `thickness`?",
            ],
        ),
        case(
            ["thickness = \"200 um\"", ""],
            [
                "j:3:1",
                "no `thickness` in `target`",
                "`thickness`: one of thickness, mass, charge, hours",
                "add thickness = \"250 um\"",
            ],
        ),
        case(
            [
                "name = \"two twigs\"",
                "colour = \"red\"\nname = \"two twigs\"",
            ],
            [
                "j:1:1",
                "the key `colour`",
                "one of `name`, `bath`, `target`, `current`, `finish`, `piece`, `hanger`, `look`",
                "take it out",
            ],
        ),
        case(
            ["name = \"two twigs\"", ""],
            [
                "j:1:1",
                "no `name` in the file",
                "`name`: a text in quotation marks",
                "add name = \"…\"",
            ],
        ),
        case(
            ["name = \"two twigs\"", "name = \" \""],
            [
                "j:1:8",
                "an empty text",
                "a text with something in it",
                "write name = \"…\"",
            ],
        ),
        case(
            ["name = \"two twigs\"", "name = \"two/twigs\""],
            [
                "j:1:8",
                "the name \"two/twigs\"",
                NAME,
                "give it a plain name",
            ],
        ),
        case(
            ["for = \"40 min\"", ""],
            [
                "j:8:1",
                "no `for` in `current.strike`",
                "`for`: a time, for example \"40 min\" or \"2 h\"",
                "add for = \"40 min\"",
            ],
        ),
        case(
            ["surface = \"metal\"", ""],
            [
                "j:23:1",
                "no `surface` in `piece[2]`",
                "`surface`: one of \"paint\", \"metal\"",
                "add surface = \"paint\"",
            ],
        ),
        case(
            ["[[look]]", "[look]"],
            [
                "j:29:1",
                "a table",
                "a list of tables, [[look]]",
                "write [[look]]",
            ],
        ),
        case(
            ["[finish]", "[[finish]]"],
            ["j:13:1", "a list", "a table, [finish]", "make it a table"],
        ),
    ];
    hold(JOB, &cases, job);
}

#[test]
fn what_makes_no_sense_in_a_job_is_told() {
    let cases = [
        case(
            [
                "bath = \"acid-copper-bright\"",
                "bath = \"acid-coper-bright\"",
            ],
            [
                "j:2:8",
                "no bath profile `acid-coper-bright` built in",
                "the path of a bath profile file, or a built-in one: acid-copper-bright, acid-copper-plain, acid-copper-high-throw, nickel-sulfamate",
                "did you mean `acid-copper-bright`?",
            ],
        ),
        case(
            ["until = \"thinnest\"", "until = \"twigg\""],
            [
                "j:5:9",
                "\"twigg\"",
                "one of \"thinnest\", \"rack-mean\", \"twig\", \"stem\"",
                "did you mean until = \"twig\"?",
            ],
        ),
        case(
            [
                "until = \"thinnest\"",
                "until = \"thinnest\"\nmass = \"3 g\"",
            ],
            [
                "j:6:8",
                "`mass` beside `thickness`",
                "one target for the whole job",
                "keep `thickness` or `mass`, not both",
            ],
        ),
        case(
            ["density = \"0.3 A/dm2\"", "density = \"3 A/dm2\""],
            [
                "j:9:11",
                "a strike above the full density",
                "a strike that is gentler than `current.density`",
                "lower this one, or raise `current.density`",
            ],
        ),
        case(
            ["hold = \"0.05 A/dm2\"", "hold = \"1.5 A/dm2\""],
            [
                "j:14:8",
                "a hold as strong as the build",
                "a hold far below `current.density`: it only keeps the copper from dissolving",
                "write hold = \"0.05 A/dm2\"",
            ],
        ),
        case(
            ["name = \"stem\"", "name = \"twig\""],
            [
                "j:24:8",
                "a second piece \"twig\"",
                "a name that no other piece of the job has",
                "give each piece a name of its own",
            ],
        ),
        case(
            ["name = \"stem\"", "name = \"rack-mean\""],
            [
                "j:24:8",
                "a piece named \"rack-mean\"",
                "any name but \"thinnest\", \"rack-mean\", which `until` uses",
                "give it another name",
            ],
        ),
        case(
            ["surface = \"paint\"", "surface = \"pant\""],
            [
                "j:18:11",
                "\"pant\"",
                "one of \"paint\", \"metal\"",
                "did you mean surface = \"paint\"?",
            ],
        ),
        case(
            [
                "surface = \"metal\"",
                "surface = \"metal\"\ncontact = \"4 mm2\"",
            ],
            [
                "j:26:11",
                "`contact` on metal",
                "`contact` only on paint: copper covers metal at once",
                "take `contact` out, or write surface = \"paint\"",
            ],
        ),
        case(
            ["at = \"60 um\"", "at = \"200 um\""],
            [
                "j:30:6",
                "a look that never comes due",
                "a thickness below the target's",
                "lower it, or take it out",
            ],
        ),
        case(
            [
                "at = \"60 um\"",
                "at = \"60 um\"\n[[look]]\nat = \"0.06 mm\"",
            ],
            [
                "j:32:6",
                "a second look at the same thickness",
                "looks at different thicknesses",
                "take one out",
            ],
        ),
    ];
    hold(JOB, &cases, job);
}

#[test]
fn paint_needs_a_strike_and_a_job_needs_a_piece() {
    let strike = "[current.strike]\ndensity = \"0.3 A/dm2\"\nfor = \"40 min\"\n";
    let problems = job(&JOB.replace(strike, "")).unwrap_err();
    let wanted = "\
j:15:11
    surface = \"paint\"
              ^^^^^^^
  found:    paint without a strike
  expected: a gentle start for paint: [current.strike] with `density` and `for`
  do this:  add [current.strike], say density = \"0.3 A/dm2\", for = \"40 min\"

1 problem in j. Nothing was energised.";
    assert_eq!(problems.to_string(), wanted);

    let bare = JOB.split("[[piece]]").next().unwrap();
    let problems = job(bare).unwrap_err();
    assert_eq!(problems.0.len(), 1, "{problems}");
    assert_eq!(problems.0[0].found, "no `piece` in the file");
    assert_eq!(
        problems.0[0].allowed,
        "`piece`: at least one piece, [[piece]]"
    );
    assert_eq!(
        problems.0[0].remedy,
        "add [[piece]] with name, surface and shape"
    );
}

#[test]
fn five_problems_are_told_at_once_in_the_order_of_the_lines() {
    let text = r#"
name = "heads"
bath = "acid-copper-bright"
[target]
	thickness = "250 mm"
[current]
density = 1.5
[[piece]]
name = "Köpfchen"
surface = "metal"
shape = { kind = "sfere", diameter = "22 mm" }
[[piece]]
name = "stem"   # no surface
shape = { kind = "wire", diameter = "1.2 mm", long = "180 mm", length = "18 cm" }
"#;
    let wanted = "\
heads.toml:5:14
    \tthickness = \"250 mm\"
    \t            ^^^^^^^^
  found:    250 mm
  expected: a thickness of deposit from 1 um to 5 mm
  do this:  look at the unit: did you mean thickness = \"250 um\"?

heads.toml:7:11
    density = 1.5
              ^^^
  found:    the number 1.5 without a unit
  expected: a current density, for example \"1.5 A/dm2\" or \"14 A/ft2\"
  do this:  write density = \"1.5 UNIT\", with one of the units A/dm2, A/dm², A/ft2, mA/cm2, mA/cm², A/m2

heads.toml:11:18
    shape = { kind = \"sfere\", diameter = \"22 mm\" }
                     ^^^^^^^
  found:    \"sfere\"
  expected: one of \"sphere\", \"ellipsoid\", \"wire\", \"rod\", \"tube\", \"ring\", \"plate\", \"disc\", \
\"cone\", \"prism\", \"coil\", \"leaf\", \"foil\", \"area\", \"mesh\"
  do this:  did you mean kind = \"sphere\"?

heads.toml:12:1
    [[piece]]
    ^^^^^^^^^
  found:    no `surface` in `piece[2]`
  expected: `surface`: one of \"paint\", \"metal\"
  do this:  add surface = \"paint\"

heads.toml:14:47
    shape = { kind = \"wire\", diameter = \"1.2 mm\", long = \"180 mm\", length = \"18 cm\" }
                                                  ^^^^
  found:    the key `long`
  expected: one of `kind`, `diameter`, `length`, `count`
  do this:  take it out

5 problems in heads.toml. Nothing was energised.";
    let problems = spec::job::read("heads.toml", text, &Shelf::embedded()).unwrap_err();
    assert_eq!(problems.to_string(), wanted);
}

#[test]
fn a_problem_is_an_error_object_in_json() {
    let text = JOB.replace("thickness = \"200 um\"", "thickness = 0.25");
    let json = serde_json::to_value(job(&text).unwrap_err()).unwrap();
    assert_eq!(json["code"], "bare-number");
    assert_eq!(json["place"], "j:4:13");
    assert_eq!(
        json["text"],
        "found the number 0.25 without a unit; expected a length, for example \"250 um\" or \"22 mm\""
    );
    assert_eq!(json["problems"].as_array().unwrap().len(), 1);
    let text = text.replace("texture = 1.25", "texture = \"rough\"");
    let json = serde_json::to_value(job(&text).unwrap_err()).unwrap();
    assert_eq!(json["code"], "several-problems");
    assert_eq!(json["text"], "2 problems in j. Nothing was energised.");
    assert_eq!(json["problems"][1]["code"], "wrong-type");
    assert_eq!(json["problems"][1]["place"], "j:20:11");
}

#[test]
fn slips_in_a_station_are_told() {
    let cases = [
        case(
            ["supply = \"scpi-standard\"", "supply = \"scpi-standart\""],
            [
                "s:2:10",
                "no supply profile `scpi-standart` built in",
                "the path of a supply profile file, or a built-in one: scpi-standard, scpi-standard-two-channel, terse-fixed",
                "did you mean `scpi-standard`?",
            ],
        ),
        case(
            ["current = \"3 A\"", "current = \"300 A\""],
            [
                "s:5:11",
                "300 A",
                "the most this station may carry, from 1 mA to 100 A",
                "look at the unit: did you mean current = \"300 mA\"?",
            ],
        ),
        case(
            ["voltage = \"2.5 V\"", "voltage = \"61 V\""],
            [
                "s:6:11",
                "61 V",
                "the voltage ceiling of this station, from 100 mV to 60 V",
                "write voltage within that range",
            ],
        ),
        case(
            ["volume = \"6 L\"", ""],
            [
                "s:7:1",
                "no `volume` in `tank`",
                "`volume`: a volume, for example \"6 L\" or \"250 mL\"",
                "add volume = \"6 L\"",
            ],
        ),
        case(
            ["stirred = true", "stirred = \"yes\""],
            [
                "s:10:11",
                "the text \"yes\"",
                "true or false",
                "write stirred = true, without quotation marks",
            ],
        ),
        case(
            ["gap = \"9 cm\"", "gap = \"9 m\""],
            [
                "s:12:7",
                "9 m",
                "the gap from anode to cathode, from 2 mm to 2 m",
                "look at the unit: did you mean gap = \"9 mm\"?",
            ],
        ),
        case(
            ["area = \"180 cm2\"", ""],
            [
                "s:13:1",
                "no `area` in `tank.anode`",
                "`area`: the area that faces the cathode",
                "add area = \"180 cm2\"",
            ],
        ),
        case(
            ["within = \"10 min\"", "within = \"2 d\""],
            [
                "s:17:10",
                "2 d",
                "a time after the interruption, from 1 s to 24 h",
                "look at the unit: did you mean within = \"2 s\"?",
            ],
        ),
        case(
            ["listen = \"127.0.0.1:8737\"", "listen = \"localhost\""],
            [
                "s:19:10",
                "\"localhost\"",
                "an address and a port: \"127.0.0.1:8737\", or \"[::1]:8737\"",
                "write listen = \"127.0.0.1:8737\" for this computer alone",
            ],
        ),
    ];
    hold(STATION, &cases, station);
}

#[test]
fn slips_in_a_bath_profile_are_told() {
    let cases = [
        case(
            ["metal = \"copper\"", "metal = \"coper\""],
            [
                "b:2:9",
                "\"coper\"",
                "one of \"copper\", \"nickel\", \"silver\"",
                "did you mean metal = \"copper\"?",
            ],
        ),
        case(
            ["efficiency = \"98 %\"", "efficiency = \"102 %\""],
            [
                "b:4:14",
                "102 %",
                "a share from 10 % to 100 %",
                "write efficiency within that range",
            ],
        ),
        case(
            ["high = \"2 A/dm2\"", "high = \"0.5 A/dm2\""],
            [
                "b:9:8",
                "a window without a width",
                "a `high` that is above `low`",
                "look at `low` and `high`",
            ],
        ),
        case(
            ["[window.stirred]", "[window.stired]"],
            [
                "b:10:9",
                "the key `stired`",
                "one of `still`, `stirred`",
                "did you mean `stirred`?",
            ],
        ),
        case(
            ["low = \"18 C\"", "low = \"64 F\""],
            [
                "b:14:7",
                "the unit `F`, which is no unit of a temperature",
                "a temperature, for example \"22 C\"",
                "write low = \"NUMBER UNIT\", with one of the units C, °C",
            ],
        ),
        case(
            [
                "sources = [\"our own scale\"]",
                "sources = \"our own scale\"",
            ],
            [
                "b:6:11",
                "the text \"our own scale\"",
                "a list of texts, [\"…\", \"…\"]",
                "write sources = [\"…\"]",
            ],
        ),
    ];
    hold(BATH, &cases, bath);
}

#[test]
fn a_bath_without_a_density_has_the_metals_own() {
    let text = BATH.replace("deposit_density = \"8.93 g/cm3\"\n", "");
    // 8.96 g/cm3: density of copper in the table of the elements (periodictable 2.1.0).
    assert_eq!(bath(&text).unwrap().deposit_density.g_per_cm3(), 8.96);
}

#[test]
fn every_kind_of_shape_is_read() {
    let mm = Length::from_mm;
    let is = |text: &str, wanted: Form| assert_eq!(form(text).unwrap(), wanted, "{text}");
    is(
        r#"{kind="sphere",diameter="2 mm"}"#,
        Form::Sphere { diameter: mm(2.0) },
    );
    is(
        r#"{kind="ellipsoid",a="1 mm",b="2 mm",c="3 mm"}"#,
        Form::Ellipsoid {
            a: mm(1.0),
            b: mm(2.0),
            c: mm(3.0),
        },
    );
    is(
        r#"{kind="wire",diameter="2 mm",length="8 m"}"#,
        Form::Wire {
            diameter: mm(2.0),
            length: Length::from_m(8.0),
        },
    );
    is(
        r#"{kind="rod",diameter="2 mm",length="8 mm"}"#,
        Form::Rod {
            diameter: mm(2.0),
            length: mm(8.0),
        },
    );
    is(
        r#"{kind="tube",outer="2 mm",inner="1 mm",length="8 mm"}"#,
        Form::Tube {
            outer: mm(2.0),
            inner: mm(1.0),
            length: mm(8.0),
        },
    );
    is(
        r#"{kind="ring",across="9 mm",wire="1 mm"}"#,
        Form::Ring {
            across: mm(9.0),
            wire: mm(1.0),
        },
    );
    is(
        r#"{kind="plate",length="9 mm",width="8 mm",thickness="1 mm"}"#,
        Form::Plate {
            length: mm(9.0),
            width: mm(8.0),
            thickness: mm(1.0),
        },
    );
    is(
        r#"{kind="disc",diameter="9 mm",thickness="1 mm"}"#,
        Form::Disc {
            diameter: mm(9.0),
            thickness: mm(1.0),
        },
    );
    is(
        r#"{kind="cone",bottom="9 mm",top="0 mm",height="8 mm"}"#,
        Form::Cone {
            bottom: mm(9.0),
            top: mm(0.0),
            height: mm(8.0),
        },
    );
    is(
        r#"{kind="prism",sides=6,edge="9 mm",height="8 mm"}"#,
        Form::Prism {
            sides: 6,
            edge: mm(9.0),
            height: mm(8.0),
        },
    );
    let ball = Form::Sphere { diameter: mm(2.0) };
    is(
        r#"{kind="area",area="45 cm2",like={kind="sphere",diameter="2 mm"}}"#,
        Form::Plain {
            area: Area::from_cm2(45.0),
            like: Some(Box::new(ball.clone())),
        },
    );
    let bare = Form::Plain {
        area: Area::from_cm2(45.0),
        like: None,
    };
    is(
        r#"[{kind="sphere",diameter="2 mm",count=3}, {kind="area",area="45 cm2"}]"#,
        Form::Together(vec![
            Form::Many {
                count: 3,
                each: Box::new(ball),
            },
            bare,
        ]),
    );
}

#[test]
fn wrong_shapes_point_into_their_text() {
    let says = |text: &str, place: &str, found: &str| {
        let problems = form(text).unwrap_err();
        assert_eq!(problems.0.len(), 1, "{problems}");
        assert_eq!(
            (problems.0[0].place().as_str(), problems.0[0].found.as_str()),
            (place, found)
        );
    };
    says("{ kind = \"blob\" }", "SHAPE:1:10", "\"blob\"");
    says(
        "{ diameter = \"2 mm\" }",
        "SHAPE:1:1",
        "no `kind` in `shape`",
    );
    says(
        "{ kind = \"sphere\" }",
        "SHAPE:1:1",
        "no `diameter` in `shape`",
    );
    says("[]", "SHAPE:1:1", "an empty list");
    says("[3]", "SHAPE:1:2", "the number 3");
    says("\"sphere\"", "SHAPE:1:1", "the text \"sphere\"");
    says(
        r#"{kind="tube",outer="2 mm",inner="2 mm",length="8 mm"}"#,
        "SHAPE:1:33",
        "a tube without a wall",
    );
    says(
        r#"{kind="ring",across="2 mm",wire="2 mm"}"#,
        "SHAPE:1:33",
        "a ring without a hole",
    );
    says(
        r#"{kind="prism",sides=2,edge="9 mm",height="8 mm"}"#,
        "SHAPE:1:21",
        "the number 2",
    );
    says(
        r#"{kind="sphere",diameter="2 mm",count=0}"#,
        "SHAPE:1:38",
        "the number 0",
    );
    says(
        r#"{kind="area",area="45 cm2",like={kind="area",area="1 cm2"}}"#,
        "SHAPE:1:33",
        "an area that is like an area",
    );
    says(
        "{ kind = \"mesh\", file = \"a.stl\", unit = \"mm\" }",
        "SHAPE:1:25",
        "files are not read here",
    );
    let problems = form("sphere").unwrap_err();
    let wanted = "\
SHAPE:1:1
    sphere
    ^^^^^^
  found:    string values must be quoted, expected literal string
  expected: one value as in a file: { kind = \"sphere\", diameter = \"22 mm\" }
  do this:  mend this first; the rest of the file is checked when it can be read

1 problem in SHAPE. Nothing was energised.";
    assert_eq!(problems.to_string(), wanted);
}

#[test]
fn text_that_is_not_toml_is_told_with_the_likely_cause() {
    let problems = job(&JOB.replace("\"200 um\"", "200 um # thick")).unwrap_err();
    assert_eq!(problems.0.len(), 1, "{problems}");
    assert_eq!(problems.0[0].place(), "j:4:13");
    assert_eq!(
        problems.0[0].remedy,
        "put quotation marks around it: thickness = \"200 um\""
    );
    let problems = job("[target]\nthickness = \n[current\n").unwrap_err();
    let places: Vec<String> = problems
        .0
        .iter()
        .map(nightvat::spec::Problem::place)
        .collect();
    assert_eq!(places, ["j:2:13", "j:3:9"]);
}

#[test]
fn the_built_in_studio_needs_no_file() {
    let shelf = Shelf::embedded();
    let job = spec::job::open(spec::DEMO_JOB, &shelf).unwrap();
    let names: Vec<&str> = job.pieces.iter().map(|piece| piece.name.as_str()).collect();
    assert_eq!(names, ["seed head a", "seed head b", "pod", "stem"]);
    let station = spec::station::open(spec::DEMO_STATION, &shelf).unwrap();
    assert_eq!(station.max_current.a(), 3.0);
    let bath = spec::bath::open(&job.bath, &shelf).unwrap();
    assert_eq!(bath.metal.name, "copper");
    let supply = spec::open_supply(&station.supply, &shelf).unwrap();
    assert_eq!(supply.name, "scpi-standard");
}

#[test]
fn every_file_in_profiles_is_sound_and_built_in() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles");
    let shelf = Shelf::disk();
    let mut seen = 0;
    for folder in ["jobs", "stations", "baths", "supplies"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|end| end != "toml") {
                continue;
            }
            let name = path.file_stem().unwrap().to_str().unwrap();
            for name in [path.to_str().unwrap(), name] {
                let read = match folder {
                    "jobs" => spec::job::open(name, &shelf).map(|_| ()),
                    "stations" => spec::station::open(name, &shelf).map(|_| ()),
                    "baths" => spec::bath::open(name, &shelf).map(|_| ()),
                    _ => spec::open_supply(name, &shelf).map(|_| ()),
                };
                read.unwrap_or_else(|problems| panic!("{problems}"));
            }
            seen += 1;
        }
    }
    assert_eq!(seen, 10);
}

#[test]
fn a_file_that_is_not_there_or_no_text_is_one_clear_problem() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let says = |name: &str| {
        spec::job::open(name, &Shelf::disk())
            .unwrap_err()
            .to_string()
    };

    let wanted = "\
seed-hads
  found:    no job `seed-hads` built in and no file seed-hads
  expected: the path of a job file, or a built-in one: seed-heads, one-stem
  do this:  did you mean `seed-heads`?

1 problem in seed-hads. Nothing was energised.";
    assert_eq!(says("seed-hads"), wanted);

    let missing = at("none.toml");
    assert!(says(&missing).contains(&format!("built in and no file {missing}\n")));
    assert!(says(&at("")).contains("cannot be read: it is not a plain file"));
    std::fs::write(at("latin.toml"), b"name = \"K\xf6pfchen\"").unwrap();
    assert!(says(&at("latin.toml")).contains("cannot be read: it is not UTF-8 text"));
    std::fs::write(at("large.toml"), vec![b'#'; (1 << 20) + 1]).unwrap();
    assert!(says(&at("large.toml")).contains("cannot be read: it is larger than 1 MB"));
    std::fs::write(at("full.toml"), vec![b'#'; 1 << 20]).unwrap();
    assert!(says(&at("full.toml")).contains("no `name` in the file"));
}

#[test]
fn files_that_a_job_names_are_found_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let job = JOB
        .replace("\"acid-copper-bright\"", "\"mine.toml\"")
        .replace(
            "{ kind = \"sphere\", diameter = \"22 mm\" }",
            "{ kind = \"mesh\", file = \"pod.stl\", unit = \"mm\" }",
        );
    std::fs::write(at("job.toml"), job).unwrap();
    let says = || spec::job::open(&at("job.toml"), &Shelf::disk());

    let problems = says().unwrap_err();
    let places: Vec<usize> = problems.0.iter().map(|problem| problem.line).collect();
    assert_eq!(places, [2, 19], "{problems}");
    assert_eq!(
        problems.0[1].found,
        format!("there is no file {}", at("pod.stl"))
    );
    assert_eq!(problems.0[1].code, "bad-mesh");
    assert_eq!(problems.0[1].column, 33);

    std::fs::write(at("pod.stl"), b"this is no mesh").unwrap();
    std::fs::write(at("mine.toml"), BATH).unwrap();
    let problems = says().unwrap_err();
    assert_eq!(problems.0.len(), 1, "{problems}");
    assert!(
        problems.0[0].found.starts_with("`pod.stl` is no mesh: "),
        "{problems}"
    );

    let pod = concat!(env!("CARGO_MANIFEST_DIR"), "/profiles/jobs/pod.stl");
    std::fs::copy(pod, at("pod.stl")).unwrap();
    let job = says().unwrap();
    // A path is kept so that it is found from the working folder.
    assert_eq!(job.bath, at("mine.toml"));
    assert_eq!(
        spec::bath::open(&job.bath, &Shelf::disk()).unwrap().name,
        "plain"
    );
}

#[test]
fn a_file_cannot_write_to_the_terminal() {
    let text = "name = \"\u{9b}2J\" # \u{9b}31m\nbath = '\u{85}'";
    let shown = job(text).unwrap_err().to_string();
    assert!(
        !shown.chars().any(|c| c.is_control() && c != '\n'),
        "{shown:?}"
    );
    let long = format!("name = \"{}\"\nwrong = 3\n", "x".repeat(5000));
    let shown = job(&long).unwrap_err().to_string();
    assert!(
        shown.lines().all(|line| line.chars().count() < 400),
        "{shown}"
    );
}

#[test]
fn deep_nests_and_long_keys_are_no_trouble() {
    let deep = [
        "[".repeat(20_000),
        "{like=".repeat(20_000),
        "a.".repeat(20_000),
    ];
    for text in deep
        .iter()
        .flat_map(|nest| [format!("shape = {nest}"), format!("{nest} = 1")])
    {
        read_all(&text);
    }
    let many: String = (0..20_000).map(|at| format!("key{at} = 1\n")).collect();
    let problems = job(&many).unwrap_err();
    // 20 000 keys and the five that are missing; 200 are told one by one.
    assert_eq!(problems.0.len(), 201);
    assert_eq!(problems.0[200].found, "19805 more problems");
    // Within TOML's own limit a shape may be like a shape that is like a shape.
    let like = "{ kind = \"area\", area = \"1 cm2\", like = ".repeat(30);
    let nest = format!(
        "{like} {{ kind = \"sphere\", diameter = \"2 mm\" }} {}",
        "}".repeat(30)
    );
    let problems = form(&nest).unwrap_err();
    assert_eq!(problems.0[0].found, "an area that is like an area");
}

/// Reads a text as every sort of file, and checks that each problem has a place in the text.
fn read_all(text: &str) {
    let shelf = Shelf::embedded();
    let all = [
        spec::job::read("embedded:x.toml", text, &shelf).err(),
        station(text).err(),
        bath(text).err(),
        form(text).err(),
    ];
    for problems in all.into_iter().flatten() {
        assert!(!problems.0.is_empty());
        assert!(!problems.to_string().is_empty());
        let places = problems
            .0
            .iter()
            .map(|problem| (problem.line, problem.column));
        let places: Vec<(usize, usize)> = places.collect();
        assert!(places.is_sorted(), "{problems}");
        for problem in &problems.0 {
            assert_ne!(
                problem.code, "unreadable",
                "a problem without a reason:\n{text}"
            );
            assert!(
                (1..=text.split('\n').count()).contains(&problem.line),
                "{problem}"
            );
            assert!(problem.width >= 1, "{problem}");
        }
    }
}

/// A demo job with a few pieces of it replaced by bits of TOML and of other lines.
fn mutated() -> impl Strategy<Value = String> {
    let demo = include_str!("../../profiles/jobs/seed-heads.toml");
    let bits = prop_oneof![
        Just(String::new()),
        "[\\[\\]{}=\"',.#\n ]{1,4}",
        "[-0-9.e]{1,6}( (um|mm|m|A|A/dm2|%|h|V))?",
        "\"[-0-9.e]{1,6} (um|mm|m|A|A/dm2|%|h|V)\"",
        "(kind|name|shape|piece|like|count|thickness|surface|paint|area|true|nan|inf)",
        "\\PC{0,5}",
    ];
    let cuts = prop::collection::vec((0..demo.len(), 0..40_usize, bits), 1..6);
    cuts.prop_map(move |cuts| {
        let mut text: Vec<char> = demo.chars().collect();
        for (start, length, bit) in cuts {
            let start = start.min(text.len());
            let end = (start + length).min(text.len());
            text.splice(start..end, bit.chars());
        }
        text.into_iter().collect()
    })
}

proptest! {
    #[test]
    fn no_text_makes_the_reader_panic(text in "\\PC{0,200}") {
        read_all(&text);
    }

    #[test]
    fn no_lines_make_the_reader_panic(
        lines in prop::collection::vec("(\\[{1,2})?[a-c]{0,2}[.]?[a-c]?(\\]{1,2})?( ?= ?[\\PC]{0,8})?", 0..8)
    ) {
        read_all(&lines.join("\n"));
    }

    #[test]
    fn no_slip_in_a_job_makes_the_reader_panic(text in mutated()) {
        read_all(&text);
    }

    #[test]
    fn keys_in_any_table_never_pass_unseen(key in "[a-z]{12,14}", at in 0..31_usize) {
        let mut lines: Vec<String> = JOB.lines().map(str::to_owned).collect();
        // Before the first line or after any other the key falls into one of the tables.
        lines.insert(at.min(lines.len()), format!("{key} = 1"));
        let problems = job(&lines.join("\n")).unwrap_err();
        prop_assert_eq!(problems.0.len(), 1);
        prop_assert_eq!(&problems.0[0].found, &format!("the key `{key}`"));
        prop_assert_eq!(problems.0[0].line, at.min(lines.len() - 1) + 1);
    }
}

#[test]
fn a_table_reports_what_was_asked_for_and_only_that() {
    let sheet = Sheet::parse("x", "a = 1\n[t]\nb = \"2\"\nc = [1, \"d\"]\n");
    let root = sheet.root();
    assert_eq!(root.whole("a", 0, 9), Some(1));
    let table = root.required_table("t").unwrap();
    assert_eq!(table.keys(), ["b", "c"]);
    assert_eq!(table.one_of("b", &["1", "2"]), Some("2"));
    assert_eq!(table.texts("c"), ["d"]);
    assert_eq!(table.required_flag("e"), None);
    table.end();
    root.end();
    let found: Vec<String> = sheet.into_problems().into_iter().map(|p| p.found).collect();
    assert_eq!(found, ["no `e` in `t`", "the number 1"]);
}
