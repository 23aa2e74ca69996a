//! The additive of a bath over time, as a plot.

use crate::bath::BathProfile;
use crate::bath::keep::Level;
use crate::ledger::TankRow;
use crate::run::additive_state;
use crate::units::Span;
use crate::view::words::day;
use std::fmt::Write;

const WIDE: f64 = 640.0;
const HIGH: f64 = 240.0;
const LEFT: f64 = 50.0;
const TOP: f64 = 26.0;
const BOTTOM: f64 = 30.0;
/// Places on the time axis at which the account is drawn, beside each event.
const PLACES: u32 = 200;

/// The first additive's account since the bath was made, with the lines below which it is due and
/// above which it is too much. A bath without additives has an empty plot that says so.
#[must_use]
pub fn bath(row: &TankRow, profile: &BathProfile, now: Span) -> String {
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDE} {HIGH}\" width=\"{WIDE}\" \
         height=\"{HIGH}\" font-family=\"sans-serif\" font-size=\"11\">\n"
    );
    let Some(additive) = profile.additives.first() else {
        label(&mut out, LEFT, TOP, "this bath has no additive");
        out.push_str("</svg>\n");
        return out;
    };
    let from = row.made.when;
    let long = (now - from).max(Span::from_h(1.0));
    let at = |when: Span| additive_state(row, additive, when, true).level;
    let mut times: Vec<Span> = (0..=PLACES)
        .map(|k| from + long * (f64::from(k) / f64::from(PLACES)))
        .collect();
    let instant = Span::from_s(0.001); // a step is drawn as one: just before it and at it
    let events = row.entries.iter().map(|entry| entry.when);
    for when in events.chain(row.runs.iter().map(|run| run.until)) {
        if when >= from && when <= now {
            times.extend([when - instant, when]);
        }
    }
    times.sort_by(|a, b| a.s().total_cmp(&b.s()));
    let levels: Vec<_> = times.iter().map(|when| (*when, at(*when))).collect();
    let full = additive.most.in_volume(row.volume()).cm3();
    let most = levels
        .iter()
        .map(|(_, level)| level.held.cm3())
        .fold(full, f64::max)
        * 1.1;
    let x = |when: Span| LEFT + (WIDE - LEFT - 10.0) * ((when - from) / long).clamp(0.0, 1.0);
    let y = |ml: f64| TOP + (HIGH - TOP - BOTTOM) * (1.0 - ml / most);
    limits(&mut out, &at(now), y);
    let points: Vec<String> = levels
        .iter()
        .map(|(when, level)| format!("{:.1},{:.1}", x(*when), y(level.held.cm3())))
        .collect();
    let _ = writeln!(
        out,
        "<polyline points=\"{}\" fill=\"none\" stroke=\"#06c\" stroke-width=\"1.5\"/>",
        points.join(" ")
    );
    let title = format!("{}: level by the account, mL", additive.name);
    label(&mut out, LEFT, 15.0, &title);
    axis(&mut out, y(0.0), x(now));
    label(
        &mut out,
        LEFT,
        HIGH - 10.0,
        &format!("made {}", day(&row.made.at)),
    );
    let end = format!("now, {:.1} days later", long.h() / 24.0);
    words(&mut out, x(now), HIGH - 10.0, "end", &end);
    out.push_str("</svg>\n");
    out
}

/// The lines at which an additive is due, full and too much.
fn limits(out: &mut String, level: &Level, y: impl Fn(f64) -> f64) {
    for (ml, words) in [
        (level.low.cm3(), "due below"),
        (level.full.cm3(), "full"),
        (level.most.cm3(), "too much above"),
    ] {
        // Writing to a text cannot fail.
        let _ = writeln!(
            out,
            "<line x1=\"{LEFT}\" y1=\"{0:.1}\" x2=\"{1}\" y2=\"{0:.1}\" stroke=\"#999\" \
             stroke-dasharray=\"4 3\"/>",
            y(ml),
            WIDE - 10.0
        );
        let said = format!("{words} {ml:.2} mL");
        label(out, LEFT + 4.0, y(ml) - 3.0, &said);
    }
}

/// The line of nothing at all, with a tick at each end.
fn axis(out: &mut String, y: f64, end: f64) {
    // Writing to a text cannot fail.
    let _ = writeln!(
        out,
        "<path d=\"M{LEFT} {0:.1}v-4v4H{end:.1}v-4\" fill=\"none\" stroke=\"#333\"/>",
        y
    );
    words(out, LEFT - 6.0, y + 4.0, "end", "0");
}

fn label(out: &mut String, x: f64, y: f64, said: &str) {
    words(out, x, y, "start", said);
}

fn words(out: &mut String, x: f64, y: f64, anchor: &str, words: &str) {
    let plain = words.replace('&', "&amp;").replace('<', "&lt;");
    let _ = writeln!(
        out,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{plain}</text>"
    );
}
