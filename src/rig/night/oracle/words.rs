//! The few command words the oracle must know, written by hand from the dialects' tables.

use crate::rig::instrument::Kind;

/// What a message says, as far as it matters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Said {
    /// Output on.
    On,
    /// Output off.
    Off,
    /// The current is set, A.
    Amps(f64),
    /// The voltage is set, V.
    Volts(f64),
    /// An output is selected.
    Channel,
    /// Anything else.
    Other,
}

/// Reads a message.
pub(super) fn said(kind: Kind, bytes: &[u8]) -> Said {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Said::Other;
    };
    let text = text.trim();
    let number = |text: &str| text.trim().parse::<f64>().ok();
    match kind {
        Kind::Standard => match text {
            "OUTP ON" => Said::On,
            "OUTP OFF" => Said::Off,
            _ if text.starts_with("INST:NSEL ") => Said::Channel,
            _ => {
                let amps = text.strip_prefix("CURR ").and_then(number).map(Said::Amps);
                let volts = || text.strip_prefix("VOLT ").and_then(number).map(Said::Volts);
                amps.or_else(volts).unwrap_or(Said::Other)
            }
        },
        Kind::Terse => match text {
            "X1" => Said::On,
            "X0" => Said::Off,
            _ => {
                let amps = text.strip_prefix('C').and_then(number).map(Said::Amps);
                let volts = || text.strip_prefix('V').and_then(number).map(Said::Volts);
                amps.or_else(volts).unwrap_or(Said::Other)
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_both_dialects_are_known() {
        // SCPI-99 vol. 2: OUTPut, [SOURce:]CURRent, [SOURce:]VOLTage; the terse table of the rig.
        assert_eq!(said(Kind::Standard, b"OUTP OFF\n"), Said::Off);
        assert_eq!(said(Kind::Standard, b"CURR 0.350\n"), Said::Amps(0.35));
        assert_eq!(said(Kind::Standard, b"CURR:PROT 3.1\n"), Said::Other);
        assert_eq!(said(Kind::Standard, b"VOLT 2.500\n"), Said::Volts(2.5));
        assert_eq!(said(Kind::Standard, b"CURR?\n"), Said::Other);
        assert_eq!(said(Kind::Terse, b"X1"), Said::On);
        assert_eq!(said(Kind::Terse, b"C0.3500"), Said::Amps(0.35));
        assert_eq!(said(Kind::Terse, b"V02.500"), Said::Volts(2.5));
        assert_eq!(said(Kind::Terse, b"c"), Said::Other);
    }
}
