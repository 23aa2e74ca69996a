//! A ruler for Hull-cell panels, at true scale.

use crate::bath::panel::{self, length};
use crate::units::{Current, CurrentDensity};
use std::fmt::Write;

/// Paper beyond the panel, mm.
const MARGIN: f64 = 10.0;
const HEIGHT: f64 = 52.0;

/// The ruler as SVG in millimetres: both scales of current density along the panel's length, and a
/// bar of 100 mm to hold against a real one.
#[must_use]
pub fn ruler(current: Current) -> String {
    let long = length().mm();
    let wide = long + 2.0 * MARGIN;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{wide:.2}mm\" height=\"{HEIGHT}mm\" \
         viewBox=\"0 0 {wide:.2} {HEIGHT}\" font-family=\"sans-serif\" font-size=\"2.6\">\n"
    );
    text(
        &mut out,
        MARGIN,
        5.0,
        "start",
        &format!(
            "Hull cell 267 mL, {:.2} A, A/dm2; high-current end left; print at 100 %",
            current.a()
        ),
    );
    // Writing to a text cannot fail.
    let _ = writeln!(
        out,
        "<rect x=\"{MARGIN}\" y=\"8\" width=\"{long:.2}\" height=\"30\" fill=\"none\" \
         stroke=\"#000\" stroke-width=\"0.2\"/>"
    );
    for (mm, formula, exact) in panel::ruler(current) {
        let x = MARGIN + f64::from(mm);
        tick(&mut out, x, 8.0, 12.0);
        tick(&mut out, x, 34.0, 38.0);
        if mm % 10 == 0 {
            // The last one would stand across the panel's edge.
            let (x, anchor) = if mm == 100 {
                (x + 1.0, "end")
            } else {
                (x, "middle")
            };
            label(&mut out, x, 15.0, anchor, formula);
            label(&mut out, x, 33.0, anchor, exact);
            text(&mut out, x, 24.5, anchor, &mm.to_string());
        }
    }
    text(
        &mut out,
        MARGIN + 0.5,
        19.0,
        "start",
        "above: the trade's formula",
    );
    text(&mut out, MARGIN + 0.5, 24.5, "start", "mm");
    text(
        &mut out,
        MARGIN + 0.5,
        29.5,
        "start",
        "below: exact primary distribution",
    );
    tick(&mut out, MARGIN, 42.0, 46.0);
    tick(&mut out, MARGIN + 100.0, 42.0, 46.0);
    let _ = writeln!(
        out,
        "<line x1=\"{MARGIN}\" y1=\"44\" x2=\"{}\" y2=\"44\" stroke=\"#000\" \
         stroke-width=\"0.3\"/>",
        MARGIN + 100.0
    );
    text(&mut out, MARGIN + 50.0, 49.5, "middle", "100 mm");
    out.push_str("</svg>\n");
    out
}

fn label(out: &mut String, x: f64, y: f64, anchor: &str, density: Option<CurrentDensity>) {
    if let Some(density) = density {
        text(out, x, y, anchor, &format!("{:.2}", density.a_per_dm2()));
    }
}

fn tick(out: &mut String, x: f64, from: f64, to: f64) {
    let _ = writeln!(
        out,
        "<line x1=\"{x:.2}\" y1=\"{from}\" x2=\"{x:.2}\" y2=\"{to}\" stroke=\"#000\" \
         stroke-width=\"0.2\"/>"
    );
}

fn text(out: &mut String, x: f64, y: f64, anchor: &str, words: &str) {
    let _ = writeln!(
        out,
        "<text x=\"{x:.2}\" y=\"{y}\" text-anchor=\"{anchor}\">{words}</text>"
    );
}
