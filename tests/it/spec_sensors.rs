//! What a station says of its sensors, its level, its brightener and its link.

use nightvat::spec::station::{LINK_ALLOWANCE, Source, read};
use nightvat::spec::{Brightener, Level, Measures, Shelf, Station};
use nightvat::units::{Charge, Length, Span};

const PLAIN: &str = r#"
name = "north tank"
supply = "scpi-standard"
port = "/dev/null"
[limits]
current = "3 A"
voltage = "2.5 V"
[tank]
volume = "6 L"
"#;

fn station(more: &str) -> Result<Station, Vec<&'static str>> {
    let text = format!("{PLAIN}{more}");
    read("north.toml", &text, &Shelf::embedded())
        .map_err(|problems| problems.0.iter().map(|one| one.code).collect())
}

#[test]
fn a_plain_station_has_none_and_waits_a_little() {
    let plain = station("").unwrap();
    assert_eq!(plain.link_allowance, LINK_ALLOWANCE);
    assert_eq!(plain.sensors, []);
    assert_eq!((plain.tank.level, plain.tank.brightener), (None, None));
}

#[test]
fn all_of_it_is_read() {
    let whole = station(
        r#"
[tank.level]
above = "20 mm"
falls_a_day = "4 mm"
[tank.brightener]
every = "40 Ah"
since = "12 Ah"
[link]
allowance = "30 s"
[[sensor]]
measures = "temperature"
file = "/sys/temp"
scale = 0.001
[[sensor]]
measures = "stirring"
run = ["read-turns", "--once"]
every = "5 s"
within = "1 s"
low = 200
high = 400
"#,
    )
    .unwrap();
    let level = Level {
        above: Length::from_mm(20.0),
        falls_a_day: Length::from_mm(4.0),
    };
    let brightener = Brightener {
        every: Charge::from_ah(40.0),
        since: Charge::from_ah(12.0),
    };
    assert_eq!(whole.tank.level, Some(level));
    assert_eq!(whole.tank.brightener, Some(brightener));
    assert_eq!(whole.link_allowance, Span::from_s(30.0));
    let [first, second] = &whole.sensors[..] else {
        panic!("{:?}", whole.sensors)
    };
    assert_eq!(first.measures, Measures::Temperature);
    assert_eq!(first.from, Source::File("/sys/temp".into()));
    assert_eq!((first.scale, first.window), (0.001, None));
    let Source::Command(command) = &second.from else {
        panic!("{second:?}")
    };
    assert_eq!(command.program, "read-turns");
    assert_eq!(command.arguments, ["--once"]);
    assert_eq!(second.window, Some([200.0, 400.0]));
    assert_eq!(second.every, Span::from_s(5.0));
}

#[test]
fn what_makes_no_sense_is_said() {
    let cases = [
        ("[link]\nallowance = '1 s'", "out-of-range"),
        ("[link]", "missing-key"),
        ("[tank.level]\nabove = '20 mm'", "missing-key"),
        ("[tank.brightener]\nevery = '0 Ah'", "out-of-range"),
        (
            "[[sensor]]\nmeasures = 'colour'\nfile = 'x'",
            "unknown-word",
        ),
        ("[[sensor]]\nmeasures = 'level'", "bad-value"),
        (
            "[[sensor]]\nmeasures = 'level'\nfile = 'x'\nrun = ['y']",
            "bad-value",
        ),
        (
            "[[sensor]]\nmeasures = 'level'\nrun = ['cat x']",
            "bad-value",
        ),
        ("[[sensor]]\nmeasures = 'stirring'\nfile = 'x'", "bad-value"),
        (
            "[[sensor]]\nmeasures = 'level'\nfile = 'x'\nlow = 1",
            "bad-value",
        ),
    ];
    for (more, code) in cases {
        let problems = station(more).expect_err(more);
        assert_eq!(problems, [code], "{more}");
    }
}
