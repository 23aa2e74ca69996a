//! What stands beside one key of a table: a text, a number, a quantity, a word.

use super::node::Value;
use super::table::{Table, nearest, quoted};
use crate::units::Quantity;

impl Table<'_> {
    /// A text.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<String> {
        let node = self.node(key)?;
        match &node.value {
            Value::Text(text) => Some(text.clone()),
            _ => self.wrong(
                node,
                "a text in quotation marks",
                &format!("write {key} = \"…\""),
            ),
        }
    }

    /// A text that is not blank.
    #[must_use]
    pub fn required_text(&self, key: &str) -> Option<String> {
        self.need(key, "a text in quotation marks", &format!("{key} = \"…\""));
        let text = self.text(key)?;
        if text.trim().is_empty() {
            let remedy = format!("write {key} = \"…\"");
            self.problem_at(key, "an empty text", "a text with something in it", &remedy);
            return None;
        }
        Some(text)
    }

    /// True or false.
    #[must_use]
    pub fn flag(&self, key: &str) -> Option<bool> {
        let node = self.node(key)?;
        match &node.value {
            Value::Flag(flag) => Some(*flag),
            _ => self.wrong(
                node,
                "true or false",
                &format!("write {key} = true, without quotation marks"),
            ),
        }
    }

    /// True or false; it must be there.
    #[must_use]
    pub fn required_flag(&self, key: &str) -> Option<bool> {
        self.need(key, "true or false", &format!("{key} = true"));
        self.flag(key)
    }

    /// A number without a unit; never infinite or not-a-number.
    #[must_use]
    #[allow(clippy::cast_precision_loss)] // beyond 2^53 nobody counts here
    pub fn number(&self, key: &str) -> Option<f64> {
        let node = self.node(key)?;
        match &node.value {
            Value::Number(number) if number.is_finite() => Some(*number),
            Value::Whole(Some(whole)) => Some(*whole as f64),
            _ => self.wrong(
                node,
                "a plain number",
                &format!("write {key} = 1.25, without quotation marks"),
            ),
        }
    }

    /// A number without a unit; it must be there.
    #[must_use]
    pub fn required_number(&self, key: &str) -> Option<f64> {
        self.need(key, "a plain number", &format!("{key} = …"));
        self.number(key)
    }

    /// A whole number from `low` to `high`, both included.
    #[must_use]
    pub fn whole(&self, key: &str, low: u64, high: u64) -> Option<u64> {
        let node = self.node(key)?;
        let found = match node.value {
            Value::Whole(Some(whole)) => u64::try_from(whole).ok(),
            _ => None,
        };
        if let Some(whole) = found.filter(|whole| (low..=high).contains(whole)) {
            return Some(whole);
        }
        let allowed = format!("a whole number from {low} to {high}");
        self.wrong(
            node,
            &allowed,
            &format!("write {key} = N, N from {low} to {high}"),
        )
    }

    /// A whole number from `low` to `high`, both included; it must be there.
    #[must_use]
    pub fn required_whole(&self, key: &str, low: u64, high: u64) -> Option<u64> {
        let allowed = format!("a whole number from {low} to {high}");
        self.need(key, &allowed, &format!("{key} = …"));
        self.whole(key, low, high)
    }

    /// A quantity: always a text with a number and a unit.
    #[must_use]
    pub fn quantity<Q: Quantity>(&self, key: &str) -> Option<Q> {
        let node = self.node(key)?;
        let (code, found, number) = match &node.value {
            Value::Text(text) => match Q::read(text) {
                Ok(quantity) => return Some(quantity),
                Err(error) => ("bad-quantity", error.found, text.trim()),
            },
            Value::Whole(_) | Value::Number(_) => {
                let number = self.sheet.written(node.place);
                (
                    "bare-number",
                    format!("the number {number} without a unit"),
                    number,
                )
            }
            _ => {
                let remedy = format!("write {key} = {}", first_example::<Q>());
                return self.wrong(node, &wanted::<Q>(), &remedy);
            }
        };
        let number = if number.parse::<f64>().is_ok() {
            number
        } else {
            "NUMBER"
        };
        let units: Vec<&str> = Q::UNITS.iter().map(|unit| unit.text).collect();
        let units = units.join(", ");
        let remedy = format!("write {key} = \"{number} UNIT\", with one of the units {units}");
        self.record(node.place, code, &found, &wanted::<Q>(), &remedy);
        None
    }

    /// A quantity that must be there.
    #[must_use]
    pub fn required_quantity<Q: Quantity>(&self, key: &str) -> Option<Q> {
        self.need(
            key,
            &wanted::<Q>(),
            &format!("{key} = {}", first_example::<Q>()),
        );
        self.quantity(key)
    }

    /// One of a few words.
    #[must_use]
    pub fn one_of<'w>(&self, key: &str, words: &[&'w str]) -> Option<&'w str> {
        let node = self.node(key)?;
        let allowed = format!("one of {}", quoted(words));
        let Value::Text(text) = &node.value else {
            return self.wrong(
                node,
                &allowed,
                &format!("write {key} = {:?}", words.first()?),
            );
        };
        let found = words.iter().find(|word| *word == text);
        if found.is_none() {
            let remedy = match nearest(text, words.iter().copied()) {
                Some(word) => format!("did you mean {key} = \"{word}\"?"),
                None => format!("choose one of these for {key}"),
            };
            self.record(
                node.place,
                "unknown-word",
                &format!("{text:?}"),
                &allowed,
                &remedy,
            );
        }
        found.copied()
    }

    /// One of a few words; it must be there.
    #[must_use]
    pub fn required_one_of<'w>(&self, key: &str, words: &[&'w str]) -> Option<&'w str> {
        let example = words.first().copied().unwrap_or_default();
        self.need(
            key,
            &format!("one of {}", quoted(words)),
            &format!("{key} = \"{example}\""),
        );
        self.one_of(key, words)
    }
}

/// What a quantity should look like.
fn wanted<Q: Quantity>() -> String {
    format!("{}, for example {}", Q::KIND, Q::EXAMPLES)
}

/// The first way to write a quantity.
fn first_example<Q: Quantity>() -> &'static str {
    Q::EXAMPLES.split(" or ").next().unwrap_or(Q::EXAMPLES)
}
