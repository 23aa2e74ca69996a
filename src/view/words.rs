//! Figures and sentences that more than one view uses.

use crate::control::{Outcome, State};
use crate::ledger::{ElectrodeRow, RunRecord};
use crate::units::{Area, Charge, Current, Length, Mass, Span, Voltage};

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
        return format!("{:.1} mA", current.ma());
    }
    format!("{:.3} A", current.a())
}

/// Volts with their unit.
pub(super) fn volts(voltage: Voltage) -> String {
    format!("{:.2} V", voltage.v())
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

/// The piece whose thickness is the one shown for the run, where there is one.
pub(super) fn governing(record: &RunRecord) -> Option<&ElectrodeRow> {
    let shown = record.thickness?.um();
    let off = |piece: &ElectrodeRow| (piece.account.thickness.best.um() - shown).abs();
    let nearest = record.pieces().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    (off(nearest) <= 0.01 * shown.max(1.0)).then_some(nearest)
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
        assert_eq!(um(Length::from_um(141.6)), "142");
        assert_eq!(amperes(Current::from_ma(38.25)), "38.2 mA");
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
