//! The answer before she sleeps, in one screen.

use super::layout::labelled;
use super::night::{protection, remarks};
use crate::run::Bedtime;

/// The answer; `finish` is a time of day.
#[must_use]
pub fn bedtime(of: &Bedtime, finish: Option<&str>) -> String {
    let mut out = if of.go {
        "Go to bed.\n\n".to_owned()
    } else {
        "Not yet. Mend this first, in gloves and goggles:\n\n".to_owned()
    };
    remarks(&mut out, "Mend", &of.fix);
    out.push_str(&labelled("State", of.state.word()));
    if let Some(covered) = of.covered {
        out.push_str(&labelled("Covered", &format!("{:.0} %", covered * 100.0)));
    }
    if let Some((is, may)) = of.voltage {
        out.push_str(&labelled(
            "Voltage",
            &format!("{:.2} V of {:.2} V", is.v(), may.v()),
        ));
    }
    if let Some(finish) = finish {
        out.push_str(&labelled(
            "Done",
            &format!("{finish}, if nothing comes between"),
        ));
    }
    if let Some(water) = of.water {
        let text = format!("{:.2} L of water will have gone by then", water.l());
        out.push_str(&labelled("Water", &text));
    }
    remarks(&mut out, "Know", &of.know);
    protection(&mut out, &of.layers, &of.blind);
    out
}
