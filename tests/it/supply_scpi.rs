//! Every line the standard profiles emit, given to an independent device-side parser (crate `scpi`
//! 1.0.1): it must accept the line, and the value that arrives must be the one that was meant. Its
//! status model is not used.

use super::supply_codec::{STANDARD, TWO, load, sent};
use nightvat::exchange::{Ask, Order};
use nightvat::spec::SupplyProfile;
use nightvat::supply::codec::Codec;
use nightvat::units::{Current, Voltage};
use scpi::error::{Error, ErrorCode, Result};
use scpi::tree::prelude::*;
use scpi::{Branch, Leaf, Root};

/// What the device's owner would see on its front.
#[derive(Debug, Default, PartialEq)]
struct Front {
    amps: f64,
    volts: f64,
    over_amps: f64,
    over_volts: f64,
    output: bool,
    guards: (bool, bool),
    channel: i64,
    asked: Vec<&'static str>,
    told: Vec<&'static str>,
    errors: Vec<i16>,
}

impl Device for Front {
    fn handle_error(&mut self, error: Error) {
        self.errors.push(error.get_code());
    }
}

/// A header: what setting it does, and what it is called.
struct Header(
    &'static str,
    Option<fn(&mut Front, &mut Parameters<'_, '_>) -> Result<()>>,
);

impl Command<Front> for Header {
    fn meta(&self) -> CommandTypeMeta {
        CommandTypeMeta::Both
    }

    fn event(
        &self,
        front: &mut Front,
        _: &mut Context,
        mut data: Parameters<'_, '_>,
    ) -> Result<()> {
        let Some(set) = self.1 else {
            return Err(ErrorCode::UndefinedHeader.into());
        };
        set(front, &mut data)?;
        front.told.push(self.0);
        Ok(())
    }

    fn query(
        &self,
        front: &mut Front,
        _: &mut Context,
        _: Parameters<'_, '_>,
        mut reply: ResponseUnit<'_>,
    ) -> Result<()> {
        front.asked.push(self.0);
        reply.data(1_i32).finish()
    }
}

const TREE: Node<Front> = Root![
    Leaf!(b"*IDN" => &Header("identity", None)),
    Leaf!(b"*CLS" => &Header("clear", Some(|_, _| Ok(())))),
    Branch![b"OUTPut"; Leaf!(default b"STATe" => &Header("output", Some(|f, d| {
        f.output = d.next_data()?; Ok(())
    })))],
    Branch![b"MEASure"; Branch![default b"SCALar";
        Branch![b"CURRent"; Leaf!(default b"DC" => &Header("amps", None))],
        Branch![b"VOLTage"; Leaf!(default b"DC" => &Header("volts", None))]
    ]],
    Branch![default b"SOURce";
        Branch![b"CURRent";
            Branch![default b"LEVel"; Branch![default b"IMMediate";
                Leaf!(default b"AMPLitude" => &Header("set amps", Some(|f, d| {
                    f.amps = d.next_data()?; Ok(())
                })))
            ]],
            Branch![b"PROTection";
                Leaf!(default b"LEVel" => &Header("over amps", Some(|f, d| {
                    f.over_amps = d.next_data()?; Ok(())
                }))),
                Leaf!(b"STATe" => &Header("guard amps", Some(|f, d| {
                    f.guards.1 = d.next_data()?; Ok(())
                }))),
                Leaf!(b"TRIPped" => &Header("tripped amps", None)),
                Leaf!(b"CLEar" => &Header("clear amps", Some(|_, _| Ok(()))))
            ]
        ],
        Branch![b"VOLTage";
            Branch![default b"LEVel"; Branch![default b"IMMediate";
                Leaf!(default b"AMPLitude" => &Header("set volts", Some(|f, d| {
                    f.volts = d.next_data()?; Ok(())
                })))
            ]],
            Branch![b"PROTection";
                Leaf!(default b"LEVel" => &Header("over volts", Some(|f, d| {
                    f.over_volts = d.next_data()?; Ok(())
                }))),
                Leaf!(b"STATe" => &Header("guard volts", Some(|f, d| {
                    f.guards.0 = d.next_data()?; Ok(())
                }))),
                Leaf!(b"TRIPped" => &Header("tripped volts", None)),
                Leaf!(b"CLEar" => &Header("clear volts", Some(|_, _| Ok(()))))
            ]
        ]
    ],
    Branch![b"INSTrument"; Leaf!(b"NSELect" => &Header("channel", Some(|f, d| {
        f.channel = d.next_data()?; Ok(())
    })))],
    Branch![b"STATus"; Branch![b"QUEStionable"; Leaf!(b"CONDition" => &Header("condition", None))]],
    Branch![b"SYSTem";
        Branch![b"ERRor"; Leaf!(default b"NEXT" => &Header("error", None))],
        Leaf!(b"REMote" => &Header("remote", Some(|_, _| Ok(())))),
        Leaf!(b"LOCal" => &Header("local", Some(|_, _| Ok(()))))
    ]
];

fn give(front: &mut Front, line: &str) {
    let (mut context, mut reply) = (Context::default(), Vec::new());
    let _failed = TREE.run(line.as_bytes(), front, &mut context, &mut reply);
    assert!(front.errors.is_empty(), "{line:?} gives {:?}", front.errors);
}

/// What the front shows after these orders.
fn after(profile: &str, orders: &[Order]) -> Front {
    let mut front = Front::default();
    for order in orders {
        for (line, _) in sent(profile, *order) {
            give(&mut front, &line);
        }
    }
    front
}

#[test]
fn the_values_that_arrive_are_those_that_were_meant() {
    let front = after(
        STANDARD,
        &[
            Order::Prepare,
            Order::SetOverVoltage(Voltage::from_v(2.75)),
            Order::SetOverCurrent(Current::from_a(3.1)),
            Order::SetVoltage(Voltage::from_mv(2_500.0)),
            Order::SetCurrent(Current::from_ma(350.0)),
            Order::On,
        ],
    );
    assert_eq!((front.amps, front.volts), (0.35, 2.5));
    assert_eq!(
        (front.over_amps, front.over_volts, front.guards),
        (3.1, 2.75, (true, true))
    );
    assert!(front.output);
    let off = after(
        STANDARD,
        &[Order::On, Order::Off, Order::ClearTrip, Order::Release],
    );
    assert!(!off.output);
}

#[test]
fn every_question_of_the_standard_profiles_exists() {
    for profile in [STANDARD, TWO] {
        let mut everything = load(profile).reads();
        everything = everything | Ask::ERROR;
        let front = after(profile, &[Order::Identify, Order::Read(everything)]);
        for name in [
            "identity",
            "amps",
            "volts",
            "output",
            "condition",
            "set amps",
            "set volts",
            "over amps",
            "over volts",
            "tripped amps",
            "tripped volts",
            "error",
        ] {
            assert!(front.asked.contains(&name), "{name} in {:?}", front.asked);
        }
    }
}

#[test]
fn the_second_profile_selects_its_channel_first() {
    let front = after(TWO, &[Order::SetCurrent(Current::from_a(1.0))]);
    assert_eq!((front.channel, front.amps), (1, 1.0));
    assert_eq!(front.told, ["channel", "set amps"]);
}

#[test]
fn long_headers_mean_the_same() {
    // SCPI-99 vol. 1 §6.2.1: the long and the short form of a header are one and the same command.
    let long = STANDARD
        .replace(
            "\"CURR {current}\"",
            "\"SOURce:CURRent:LEVel:IMMediate:AMPLitude {current}\"",
        )
        .replace(
            "\"VOLT {voltage}\"",
            "\"SOURce:VOLTage:LEVel:IMMediate:AMPLitude {voltage}\"",
        )
        .replace("\"OUTP ON\"", "\"OUTPut:STATe 1\"")
        .replace("\"MEAS:CURR?\"", "\"MEASure:SCALar:CURRent:DC?\"")
        .replace("\"SYST:ERR?\"", "\"SYSTem:ERRor:NEXT?\"");
    let orders = [
        Order::SetCurrent(Current::from_a(0.35)),
        Order::SetVoltage(Voltage::from_v(2.5)),
        Order::On,
        Order::Read(Ask::CURRENT),
    ];
    assert_eq!(after(&long, &orders), after(STANDARD, &orders));
    let half = load(&STANDARD.replace("\"CURR {current}\"", "\"CURRE {current}\""));
    assert_eq!(
        error_of(&half),
        Some(-113),
        "neither form: undefined header"
    );
}

/// The first error of setting a current.
fn error_of(profile: &SupplyProfile) -> Option<i16> {
    let codec = Codec::new(profile.clone().into());
    let (mut moves, mut front) = (Vec::new(), Front::default());
    codec
        .plan(Order::SetCurrent(Current::from_a(1.0)), &mut moves)
        .unwrap();
    let line = codec.exchange(&moves[0]).unwrap().send;
    let _failed = TREE.run(&line, &mut front, &mut Context::default(), &mut Vec::new());
    front.errors.first().copied()
}

#[test]
fn two_commands_swapped_set_the_wrong_thing() {
    let swapped = STANDARD
        .replace("\"CURR {current}\"", "\"SWAP {current}\"")
        .replace("\"VOLT {voltage}\"", "\"CURR {voltage}\"")
        .replace("\"SWAP {current}\"", "\"VOLT {current}\"");
    let orders = [
        Order::SetCurrent(Current::from_a(0.35)),
        Order::SetVoltage(Voltage::from_v(2.5)),
    ];
    let front = after(&swapped, &orders);
    assert_eq!(
        (front.amps, front.volts),
        (2.5, 0.35),
        "as a wrong profile would: it shows on reading back"
    );
    let right = after(STANDARD, &orders);
    assert_eq!((right.amps, right.volts), (0.35, 2.5));
}
