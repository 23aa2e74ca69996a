//! `paint`: what the resistance of a paint says.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::deposit::{Metal, paint};
use crate::units::{CurrentDensity, Length, Quantity, Resistance};
use serde_json::json;
use std::fmt::Write;

/// What the resistance of a conductive paint says, as a meter reads it.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat paint '120 ohm' --apart '20 mm' --tip '1 mm'\n  \
    nightvat paint '260 ohm' --long '40 mm' --wide '10 mm'\n\n\
    Let the paint dry first. Press two tips on a broad painted place, or paint a test strip and \
    clip it across its whole width at both ends. Next: put the pace you see into the job, \
    front_speed = \"40 mm/h\".")]
pub(super) struct PaintArgs {
    /// What the meter reads
    #[arg(value_name = "RESISTANCE", value_parser = Resistance::read, allow_hyphen_values = true)]
    measured: Resistance,
    /// Between the middles of two round tips on a broad surface
    #[arg(long, value_name = "LENGTH", value_parser = Length::read, allow_hyphen_values = true,
        requires = "tip",
        required_unless_present = "long", conflicts_with = "long")]
    apart: Option<Length>,
    /// Diameter of each tip
    #[arg(long, value_name = "LENGTH", value_parser = Length::read, allow_hyphen_values = true,
        requires = "apart")]
    tip: Option<Length>,
    /// Between the clips of a test strip
    #[arg(long, value_name = "LENGTH", value_parser = Length::read, allow_hyphen_values = true,
        requires = "wide")]
    long: Option<Length>,
    /// Width of the strip
    #[arg(long, value_name = "LENGTH", value_parser = Length::read, allow_hyphen_values = true,
        requires = "long")]
    wide: Option<Length>,
    /// Density of the strike, for the pace
    #[arg(long, value_name = "DENSITY", value_parser = CurrentDensity::read,
        default_value = "0.3 A/dm2")]
    density: CurrentDensity,
    /// Thickness at which islands of copper grow together
    #[arg(long, value_name = "THICKNESS", value_parser = Length::read, default_value = "1 um")]
    coalescence: Length,
}

/// Beyond this a paint takes copper badly (`common practice, no source`).
const HIGH: Resistance = Resistance::from_ohm(1000.0);

/// Does it.
pub(super) fn run(args: &PaintArgs, json: bool) -> Result<(), Failure> {
    let sheet = sheet(args)?;
    let positive = [
        ("--density", args.density.a_per_m2()),
        ("--coalescence", args.coalescence.m()),
    ];
    if let Some((option, _)) = positive.iter().find(|(_, value)| *value <= 0.0) {
        return Err(bad(format!("{option} is not above nothing")));
    }
    let fringe = paint::fringe(sheet, paint::INTERFACE_OHM_M2);
    let pace = paint::pace(fringe, &Metal::COPPER, args.density, args.coalescence);
    if json {
        print_json(&json!({
            "sheet_ohm": sheet.ohm(),
            "fringe_mm": fringe.mm(),
            "front_mm_per_h": pace.mm_per_h(),
            "high": sheet > HIGH,
        }));
        return Ok(());
    }
    let mut out = format!(
        "{} ohm per square\n\
         Beside the copper, bare paint takes current over about {:.1} mm.\n\
         At {:.2} A/dm2 the copper's edge walks roughly {:.0} mm/h: a third or three times\n\
         that is no surprise. See it on a test strip, and write what you saw into the job\n\
         (front_speed).\n",
        Figure(sheet.ohm()),
        fringe.mm(),
        args.density.a_per_dm2(),
        pace.mm_per_h()
    );
    if sheet > HIGH {
        let _ = writeln!(
            out,
            "Caution: above {:.0} ohm per square a paint takes copper badly: another coat, or\n\
             burnish the graphite.",
            HIGH.ohm()
        );
    }
    print_text(&out);
    Ok(())
}

/// A number to three figures or to the unit.
struct Figure(f64);

impl std::fmt::Display for Figure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let places = if self.0 < 10.0 {
            2
        } else if self.0 < 100.0 {
            1
        } else {
            0
        };
        write!(f, "{:.places$}", self.0)
    }
}

fn sheet(args: &PaintArgs) -> Result<Resistance, Failure> {
    if args.measured <= Resistance::ZERO {
        let said = format!("the meter reads {} ohm", args.measured.ohm());
        return Err(bad(format!("{said}, and a paint has more than nothing")));
    }
    let lengths = [args.apart, args.tip, args.long, args.wide];
    if lengths.iter().flatten().any(|one| *one <= Length::ZERO) {
        return Err(bad("a length is not above nothing".to_owned()));
    }
    if let (Some(long), Some(wide)) = (args.long, args.wide) {
        return Ok(paint::of_strip(args.measured, long, wide));
    }
    let (apart, tip) = (args.apart.unwrap_or_default(), args.tip.unwrap_or_default());
    paint::of_tips(args.measured, apart, tip).ok_or_else(|| {
        bad(format!(
            "the tips of {:.2} mm are {:.2} mm apart: they touch",
            tip.mm(),
            apart.mm()
        ))
    })
}

fn bad(said: String) -> Failure {
    Failure::new(Exit::BadInput, "bad-value", said)
        .remedy("measure again: `nightvat paint --help` shows how")
}
