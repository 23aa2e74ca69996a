//! The answer before she sleeps, in one screen.

use super::layout::labelled;
use crate::run::Bedtime;

/// The answer; `finish` is a time of day.
#[must_use]
pub fn bedtime(of: &Bedtime, finish: Option<&str>) -> String {
    let mut out = if of.go {
        "Go to bed.\n\n".to_owned()
    } else {
        "Not yet. Mend this first, in gloves and goggles:\n\n".to_owned()
    };
    for remark in &of.fix {
        out.push_str(&labelled(
            "Mend",
            &format!("{}: {}", remark.code, remark.text),
        ));
    }
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
    for remark in &of.know {
        out.push_str(&labelled(
            "Know",
            &format!("{}: {}", remark.code, remark.text),
        ));
    }
    for layer in &of.layers {
        let stands = match layer.active {
            Some(true) => "yes",
            Some(false) => "NO",
            None => "yours",
        };
        out.push_str(&labelled(
            "Layer",
            &format!("{stands}, {}: {}", layer.name, layer.text),
        ));
    }
    for blind in &of.blind {
        out.push_str(&labelled(
            "Blind",
            &format!("{}: {}", blind.code, blind.text),
        ));
    }
    out
}
