//! What is sent: messages, the numbers in them, and the steps made of them.

use serde::{Deserialize, Serialize};

/// A message with at most one number in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Template {
    /// Up to the number.
    pub before: String,
    /// Which number goes in.
    pub slot: Option<Slot>,
    /// After the number.
    pub after: String,
}

impl Template {
    /// Reads `"CURR {current}"`: at most one placeholder, in braces. `{{` and `}}` are not known:
    /// no dialect seen sends braces.
    ///
    /// # Errors
    /// The placeholder that is unknown, unclosed or one too many.
    pub fn parse(text: &str) -> Result<Self, String> {
        let plain = |text: &str| Self {
            before: text.into(),
            slot: None,
            after: String::new(),
        };
        let Some((before, rest)) = text.split_once('{') else {
            return if text.contains('}') {
                Err("a `}` without a `{`".into())
            } else {
                Ok(plain(text))
            };
        };
        let Some((name, after)) = rest.split_once('}') else {
            return Err("a `{` without a `}`".into());
        };
        if before.contains('}') || after.contains(['{', '}']) {
            return Err("more than one placeholder".into());
        }
        let slot = match name {
            "current" => Slot::Current,
            "voltage" => Slot::Voltage,
            other => return Err(format!("the placeholder `{{{other}}}`")),
        };
        Ok(Self {
            before: before.into(),
            slot: Some(slot),
            after: after.into(),
        })
    }

    /// A message without a number.
    #[must_use]
    pub fn fixed(text: &str) -> Self {
        Self {
            before: text.into(),
            slot: None,
            after: String::new(),
        }
    }

    /// The message as it stands in a profile.
    #[must_use]
    pub fn text(&self) -> String {
        let slot = match self.slot {
            None => "",
            Some(Slot::Current) => "{current}",
            Some(Slot::Voltage) => "{voltage}",
        };
        format!("{}{slot}{}", self.before, self.after)
    }
}

/// A number that goes into a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Slot {
    /// The current of the order.
    Current,
    /// The voltage of the order.
    Voltage,
}

/// What is sent for each order. An empty list is a step the supply does not have.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Steps {
    /// Remote mode, lock, quiet: whatever it wants before work.
    pub prepare: Vec<Template>,
    /// The current to hold.
    pub set_current: Vec<Template>,
    /// The voltage ceiling.
    pub set_voltage: Vec<Template>,
    /// The over-voltage protection.
    pub set_over_voltage: Vec<Template>,
    /// The over-current protection.
    pub set_over_current: Vec<Template>,
    /// Output on.
    pub on: Vec<Template>,
    /// Output off; never empty.
    pub off: Vec<Template>,
    /// Clears a tripped protection.
    pub clear_trip: Vec<Template>,
    /// Gives the front panel back.
    pub release: Vec<Template>,
}

impl Steps {
    /// Every step with its name in the file.
    #[must_use]
    pub fn named(&self) -> [(&'static str, &[Template]); 9] {
        [
            ("prepare", &self.prepare),
            ("set_current", &self.set_current),
            ("set_voltage", &self.set_voltage),
            ("set_over_voltage", &self.set_over_voltage),
            ("set_over_current", &self.set_over_current),
            ("on", &self.on),
            ("off", &self.off),
            ("clear_trip", &self.clear_trip),
            ("release", &self.release),
        ]
    }
}

/// How a number is written: fixed point, never with an exponent or a unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NumberOut {
    /// Digits after the point; without any there is no point.
    pub decimals: u8,
    /// The text has this many characters, zeros in front.
    pub width: Option<u8>,
    /// What is written is the SI value times this.
    pub scale: f64,
    /// The supply takes no finer steps than this, in SI units.
    pub step: f64,
}

impl NumberOut {
    /// How many last digits one step of the supply is.
    #[must_use]
    pub fn digits_per_step(&self) -> f64 {
        self.step * self.scale * 10_f64.powi(i32::from(self.decimals))
    }

    /// The SI value rounded down to a step and how it is written; `None` if it is negative, not a
    /// number, or too wide. An order within a millionth of a step below a step is that step: 0.35
    /// A is 350 steps of 1 mA although its binary fraction falls short of it.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked just before
    pub fn written(&self, si: f64) -> Option<(f64, String)> {
        let steps = (si / self.step + 1e-6).floor();
        let digits = steps * self.digits_per_step().round();
        if !(0.0..=1e15).contains(&digits) || si < 0.0 {
            return None;
        }
        let (digits, decimals) = (digits as u64, usize::from(self.decimals));
        let power = 10_u64.pow(u32::from(self.decimals));
        let width = usize::from(self.width.unwrap_or(0));
        let text = if decimals == 0 {
            format!("{digits:0width$}")
        } else {
            let whole = width.saturating_sub(decimals + 1);
            format!("{:0whole$}.{:0decimals$}", digits / power, digits % power)
        };
        let fits = self.width.is_none() || text.len() == width;
        fits.then_some((steps * self.step, text))
    }
}

/// How the numbers of a profile are written.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Numbers {
    /// The current to hold.
    pub current: NumberOut,
    /// The voltage ceiling.
    pub voltage: NumberOut,
    /// The over-current protection.
    pub over_current: NumberOut,
    /// The over-voltage protection.
    pub over_voltage: NumberOut,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn templates_know_their_placeholder() {
        let t = Template::parse("CURR {current};").unwrap();
        assert_eq!(
            (t.before.as_str(), t.slot, t.after.as_str()),
            ("CURR ", Some(Slot::Current), ";")
        );
        for bad in [
            "CURR {amps}",
            "CURR {current",
            "CURR current}",
            "{current}{voltage}",
            "{}",
        ] {
            assert!(Template::parse(bad).is_err(), "{bad}");
        }
    }
}
