//! Figures and sentences that more than one view uses.

use crate::control::{Outcome, State};
use crate::ledger::{ElectrodeRow, RunRecord};
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Voltage};

/// What stands for a figure that is none.
const NO_FIGURE: &str = "–";

/// Hours and minutes, `12:04`.
pub(super) fn h_mm(span: Span) -> String {
    let minutes = (span.s().max(0.0) / 60.0).round();
    format!("{:.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
}

/// A length of time as people say it: `12 h 4 min`, `40 s`.
pub(super) fn lasting(span: Span) -> String {
    let seconds = span.s().max(0.0);
    if seconds < 10.0 {
        return format!("{seconds:.1} s");
    }
    if seconds < 99.5 {
        return format!("{seconds:.0} s");
    }
    let minutes = (seconds / 60.0).round();
    if minutes < 60.0 {
        return format!("{minutes:.0} min");
    }
    format!(
        "{:.0} h {:.0} min",
        (minutes / 60.0).floor(),
        minutes % 60.0
    )
}

/// A figure with about three places that mean something, never fewer than the whole number.
fn places(value: f64) -> String {
    match value.abs() {
        size if !size.is_finite() => NO_FIGURE.to_owned(),
        size if size >= 99.95 => format!("{value:.0}"),
        size if size >= 9.995 => format!("{value:.1}"),
        size if size >= 0.9995 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

/// Amp-hours without their unit.
pub(super) fn ah(charge: Charge) -> String {
    places(charge.ah())
}

/// Amp-hours with their hard bounds, with as many places as it takes to tell the three apart.
pub(super) struct Bounds {
    /// The least it can be.
    pub(super) low: String,
    /// The best value.
    pub(super) best: String,
    /// The most it can be.
    pub(super) high: String,
    places: usize,
}

impl Bounds {
    /// Of a charge and its bounds.
    pub(super) fn of(charge: Bounded<Charge>) -> Self {
        let width = charge.high.ah() - charge.low.ah();
        let told_apart = |places: &i32| width >= 2.0 * 10_f64.powi(-places);
        let usual = places(charge.best.ah());
        let least = usual.split_once('.').map_or(0, |(_, after)| after.len());
        let needed = (0..4).find(told_apart).unwrap_or(4);
        let places = usize::try_from(needed).unwrap_or(0).max(least);
        let text = |charge: Charge| format!("{:.places$}", charge.ah());
        Self {
            low: text(charge.low),
            best: text(charge.best),
            high: text(charge.high),
            places,
        }
    }

    /// Another charge, with the same places.
    pub(super) fn beside(&self, other: Charge) -> String {
        format!("{:.*}", self.places, other.ah())
    }
}

/// Grams without their unit.
pub(super) fn g(mass: Mass) -> String {
    places(mass.g())
}

/// Micrometres without their unit.
pub(super) fn um(length: Length) -> String {
    let value = length.um();
    if !value.is_finite() {
        return NO_FIGURE.to_owned();
    }
    if value.abs() < 9.95 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    }
}

/// Square centimetres without their unit.
pub(super) fn cm2(area: Area) -> String {
    places(area.cm2())
}

/// Amperes with their unit.
pub(super) fn amperes(current: Current) -> String {
    if current.a().abs() < 0.1 {
        return format!("{} mA", decimals(current.ma(), 1));
    }
    format!("{:.3} A", current.a())
}

/// Volts with their unit.
pub(super) fn volts(voltage: Voltage) -> String {
    format!("{} V", decimals(voltage.v(), 2))
}

/// So many decimals, and no sign before a nought.
fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(bare) if bare.chars().all(|c| matches!(c, '0' | '.')) => bare.to_owned(),
        Some(_) | None => text,
    }
}

/// A share as a percentage.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

/// Date and time to the minute, `2026-11-24 20:14`, of a label in RFC 3339.
pub(super) fn minute(label: &str) -> String {
    clean(label)
        .chars()
        .take(16)
        .map(|c| if c == 'T' { ' ' } else { c })
        .collect()
}

/// The day alone of such a label.
pub(super) fn day(label: &str) -> String {
    clean(label).chars().take(10).collect()
}

/// A text without what could steer a terminal or break a line.
pub(super) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\t' | '\r' => ' ',
            c if c.is_control() || is_invisible(c) => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// Marks that reorder or hide the text around them.
const fn is_invisible(c: char) -> bool {
    matches!(
        c,
        '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}'
    )
}

/// How a run ended, as a sentence.
pub(super) fn ending(record: &RunRecord) -> String {
    let Some(ending) = record.ending else {
        return format!(
            "Its end was never written. The last that is known of it is {} after its start, \
             in state {}.",
            lasting(record.lasted()),
            record.state().word()
        );
    };
    let after = lasting(ending.at);
    let off = "a reading confirmed the output off";
    match ending.outcome {
        Outcome::Finished => format!("Finished as asked after {after}; {off}."),
        Outcome::Stopped => format!("Stopped by a person after {after}; {off}."),
        Outcome::Tripped(fault) => {
            format!("Tripped after {after}: {}. Then {off}.", fault.guard().sees)
        }
        Outcome::Interrupted(fault) => {
            format!(
                "Interrupted after {after}: {}. Then {off}.",
                fault.guard().sees
            )
        }
    }
}

/// A piece's name, and that it no longer hangs.
pub(super) fn hung(name: &str, hangs: bool) -> String {
    if hangs {
        name.to_owned()
    } else {
        format!("{name} (lifted)")
    }
}

/// The piece whose thickness is the one shown for the run, where there is one.
pub(super) fn governing(record: &RunRecord) -> Option<&ElectrodeRow> {
    record.electrodes.get(record.governing?)
}

/// What a state is, in a few words.
pub(super) const fn state_words(state: State) -> &'static str {
    match state {
        State::Idle => "nothing runs",
        State::Proving => "supply and cell are checked",
        State::Striking => "the gentle start",
        State::Ramping => "the current rises",
        State::Building => "full density",
        State::Holding => "the target is reached; a small current keeps the pieces from dissolving",
        State::Finished => "done as asked, output confirmed off",
        State::Paused => "output off; a person looks",
        State::Stopping => "a person asked to stop; off is on its way",
        State::Stopped => "stopped by a person, output confirmed off",
        State::Tripped => "a guard turned the output off, confirmed",
        State::Interrupted => "cut short by a crash or an outage, output confirmed off",
        State::Unconfirmed => "off was sent and no reading proves it",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_as_hours_and_minutes() {
        // Arithmetic: 43 440 s are 12 h 4 min; 3 599 s round to an hour.
        assert_eq!(h_mm(Span::from_s(43_440.0)), "12:04");
        assert_eq!(h_mm(Span::from_s(3_599.0)), "1:00");
        assert_eq!(h_mm(Span::from_s(-5.0)), "0:00");
        assert_eq!(lasting(Span::from_s(43_440.0)), "12 h 4 min");
        assert_eq!(lasting(Span::from_s(0.44)), "0.4 s");
        assert_eq!(lasting(Span::from_s(99.0)), "99 s");
        assert_eq!(lasting(Span::from_s(99.6)), "2 min");
        assert_eq!(lasting(Span::from_s(3_590.0)), "1 h 0 min");
    }

    #[test]
    fn figures_keep_three_places() {
        assert_eq!(ah(Charge::from_ah(0.0123)), "0.012");
        assert_eq!(ah(Charge::from_ah(9.996)), "10.0");
        assert_eq!(ah(Charge::from_ah(123.4)), "123");
        assert_eq!(um(Length::from_um(9.94)), "9.9");
        assert_eq!(um(Length::from_um(f64::NAN)), "–");
        assert_eq!(um(Length::from_um(141.6)), "142");
        assert_eq!(amperes(Current::from_ma(38.25)), "38.2 mA");
        // What a meter shows of nothing.
        assert_eq!(amperes(Current::from_ma(-0.04)), "0.0 mA");
        assert_eq!(amperes(Current::from_ma(-0.06)), "-0.1 mA");
        assert_eq!(volts(Voltage::from_v(-0.004)), "0.00 V");
        assert_eq!(volts(Voltage::from_v(-0.012)), "-0.01 V");
    }

    #[test]
    fn bounds_are_told_apart() {
        let bounded = |low, best, high| Bounded {
            low: Charge::from_ah(low),
            best: Charge::from_ah(best),
            high: Charge::from_ah(high),
        };
        let near = Bounds::of(bounded(10.4829, 10.4976, 10.5472));
        assert_eq!(
            [near.low.as_str(), &near.best, &near.high],
            ["10.48", "10.50", "10.55"]
        );
        assert_eq!(near.beside(Charge::from_ah(10.504)), "10.50");
        let far = Bounds::of(bounded(9.0, 10.5, 12.0));
        assert_eq!(
            [far.low.as_str(), &far.best, &far.high],
            ["9.0", "10.5", "12.0"]
        );
        assert_eq!(Bounds::of(bounded(1.0, 1.0, 1.0)).best, "1.0000");
    }

    #[test]
    fn a_name_cannot_steer_the_terminal() {
        assert_eq!(
            clean("a\u{1b}[31mb\nc\u{202e}d\u{7}"),
            "a\u{fffd}[31mb c\u{fffd}d\u{fffd}"
        );
        assert_eq!(clean("Blütenkopf ♥"), "Blütenkopf ♥");
    }
}
