//! One table of a sheet: each key is asked for once, and what nobody asked for is unknown.

use super::node::{Entry, Node, Place, Value};
use super::problem::Saying;
use super::said::Said;
use super::sheet::Sheet;
use crate::units::Quantity;
use std::cell::RefCell;

/// A table being read. Asking for a key makes it a valid key; when the table ends, by [`Table::end`] or at
/// the end of its scope, every key that nobody asked for is a problem, and every required key that is not there.
#[derive(Debug)]
pub struct Table<'s> {
    sheet: &'s Sheet,
    entries: &'s [Entry],
    place: Place,
    /// `target` or `piece[2].shape`; empty for the whole file.
    path: String,
    asked: RefCell<Vec<String>>,
    missing: RefCell<Vec<(String, Saying)>>,
    left: bool,
}

impl<'s> Table<'s> {
    pub(super) fn new(sheet: &'s Sheet, entries: &'s [Entry], place: Place, path: String) -> Self {
        let (asked, missing) = (RefCell::default(), RefCell::default());
        Self {
            sheet,
            entries,
            place,
            path,
            asked,
            missing,
            left: false,
        }
    }

    /// Where the table is in the file: `target`, `piece[2].shape`; empty for the whole file.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// All keys there are, in the order of the file. It does not count as asking.
    #[must_use]
    pub fn keys(&self) -> Vec<&'s str> {
        self.entries
            .iter()
            .map(|entry| entry.key.as_str())
            .collect()
    }

    /// True if the key is there. It counts as asking.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.node(key).is_some()
    }

    /// The bytes of a key's value; of the table's heading where the key is not there.
    #[must_use]
    pub fn span_of(&self, key: &str) -> (usize, usize) {
        let entry = self.entries.iter().find(|entry| entry.key == key);
        entry.map_or(self.place, |entry| entry.node.place)
    }

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
    #[allow(clippy::cast_precision_loss)] // a whole number beyond 2^53 has no use as a plain number here
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

    /// A list of texts; empty where it is not there or wrong.
    #[must_use]
    pub fn texts(&self, key: &str) -> Vec<String> {
        let Some(node) = self.node(key) else {
            return Vec::new();
        };
        let allowed = "a list of texts, [\"…\", \"…\"]";
        let Value::List(items) = &node.value else {
            self.wrong::<()>(node, allowed, &format!("write {key} = [\"…\"]"));
            return Vec::new();
        };
        let mut texts = Vec::new();
        for item in items {
            match &item.value {
                Value::Text(text) => texts.push(text.clone()),
                _ => self
                    .wrong(item, allowed, "write it in quotation marks")
                    .unwrap_or_default(),
            }
        }
        texts
    }

    /// A table inside this one.
    #[must_use]
    pub fn table(&self, key: &str) -> Option<Table<'s>> {
        let node = self.node(key)?;
        match node.value.entries() {
            Some(entries) => Some(self.inner(entries, node.place, key)),
            None => self.wrong(
                node,
                &format!("a table, [{}]", self.path_of(key)),
                "make it a table",
            ),
        }
    }

    /// A table inside this one; it must be there.
    #[must_use]
    pub fn required_table(&self, key: &str) -> Option<Table<'s>> {
        let heading = format!("[{}]", self.path_of(key));
        self.need(key, &format!("a table {heading}"), &heading);
        self.table(key)
    }

    /// A list of tables, `[[key]]`; empty where it is not there or wrong.
    #[must_use]
    pub fn tables(&self, key: &str) -> Vec<Table<'s>> {
        let Some(node) = self.node(key) else {
            return Vec::new();
        };
        let heading = format!("[[{}]]", self.path_of(key));
        let (allowed, remedy) = (
            format!("a list of tables, {heading}"),
            format!("write {heading}"),
        );
        let Value::List(items) = &node.value else {
            self.wrong::<()>(node, &allowed, &remedy);
            return Vec::new();
        };
        self.tables_of(items, key, &allowed, &remedy)
    }

    fn tables_of(
        &self,
        items: &'s [Node],
        key: &str,
        allowed: &str,
        remedy: &str,
    ) -> Vec<Table<'s>> {
        let mut tables = Vec::new();
        for (at, item) in items.iter().enumerate() {
            match item.value.entries() {
                Some(entries) => {
                    tables.push(self.inner(entries, item.place, &format!("{key}[{}]", at + 1)));
                }
                None => self.wrong(item, allowed, remedy).unwrap_or_default(),
            }
        }
        tables
    }

    /// A table, or a list of tables; empty where it is not there or wrong.
    #[must_use]
    pub fn table_or_tables(&self, key: &str, what: &str) -> Vec<Table<'s>> {
        let Some(node) = self.node(key) else {
            return Vec::new();
        };
        let (allowed, remedy) = (
            format!("{what}, or a list of them"),
            format!("write {what}"),
        );
        match &node.value {
            Value::List(items) if !items.is_empty() => {
                self.tables_of(items, key, &allowed, &remedy)
            }
            Value::Table(entries) => vec![self.inner(entries, node.place, key)],
            _ => self.wrong(node, &allowed, &remedy).unwrap_or_default(),
        }
    }

    /// Holds a value that was read from `key` against its range, ends included; `what` is what it is, in words.
    #[must_use]
    pub fn in_range<T: Said>(&self, key: &str, value: T, low: T, high: T, what: &str) -> Option<T> {
        if low <= value && value <= high {
            return Some(value);
        }
        let place = self.span_of(key);
        let written = self.sheet.written(place).trim_matches(['"', '\'']);
        let allowed = format!("{what} from {} to {}", low.said(), high.said());
        let remedy = match T::slip(written, low, high) {
            Some(other) => format!("look at the unit: did you mean {key} = \"{other}\"?"),
            None => format!("write {key} within that range"),
        };
        self.record(place, "out-of-range", written, &allowed, &remedy);
        None
    }

    /// Records a problem at the value of a key, or at the table's heading where the key is not there.
    pub fn problem_at(&self, key: &str, found: &str, allowed: &str, remedy: &str) {
        self.problem_of("bad-value", key, found, allowed, remedy);
    }

    /// The same with a code of its own.
    pub fn problem_of(
        &self,
        code: &'static str,
        key: &str,
        found: &str,
        allowed: &str,
        remedy: &str,
    ) {
        self.record(self.span_of(key), code, found, allowed, remedy);
    }

    /// Says that a key must be there: its absence is a problem when the table ends.
    pub fn need(&self, key: &str, allowed: &str, example: &str) {
        if self.has(key) {
            return;
        }
        let here = if self.path.is_empty() {
            "the file".to_owned()
        } else {
            format!("`{}`", self.path)
        };
        let saying = Saying {
            code: "missing-key",
            found: format!("no `{key}` in {here}"),
            allowed: format!("`{key}`: {allowed}"),
            remedy: format!("add {example}"),
        };
        self.missing.borrow_mut().push((key.to_owned(), saying));
    }

    /// Ends the reading of this table: reports every key that was never asked for, and what is missing.
    pub fn end(self) {}

    /// Ends the reading of a table whose valid keys are not known, because something else in it is wrong.
    pub fn leave(mut self) {
        self.left = true;
    }

    /// Ends the reading of such a table, and still reports what is missing from it.
    pub(super) fn only_missing(mut self) {
        self.left = true;
        for (_, saying) in self.missing.take() {
            self.sheet.record(self.place, saying);
        }
    }

    /// A key's node; asking makes the key valid.
    pub(super) fn node(&self, key: &str) -> Option<&'s Node> {
        let mut asked = self.asked.borrow_mut();
        if !asked.iter().any(|known| known == key) {
            asked.push(key.to_owned());
        }
        self.entries
            .iter()
            .find(|entry| entry.key == key)
            .map(|entry| &entry.node)
    }

    /// A table that stands somewhere inside this one.
    pub(super) fn inner(&self, entries: &'s [Entry], place: Place, key: &str) -> Table<'s> {
        Table::new(self.sheet, entries, place, self.path_of(key))
    }

    /// Records that a value is of the wrong sort.
    pub(super) fn wrong<T>(&self, node: &Node, allowed: &str, remedy: &str) -> Option<T> {
        self.record(
            node.place,
            "wrong-type",
            &self.sheet.in_words(node),
            allowed,
            remedy,
        );
        None
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    fn record(&self, place: Place, code: &'static str, found: &str, allowed: &str, remedy: &str) {
        let (found, allowed, remedy) = (found.to_owned(), allowed.to_owned(), remedy.to_owned());
        self.sheet.record(
            place,
            Saying {
                code,
                found,
                allowed,
                remedy,
            },
        );
    }

    /// Reports a key that nobody asked for; gives the valid key it is nearest to.
    fn unknown(&self, entry: &Entry, asked: &[String]) -> Option<String> {
        let words: Vec<&str> = asked.iter().map(String::as_str).collect();
        let near = nearest(&entry.key, words.iter().copied());
        let remedy = match near {
            Some(word) => format!("did you mean `{word}`?"),
            None => "take it out".to_owned(),
        };
        let names: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
        let allowed = format!("one of {}", names.join(", "));
        self.record(
            entry.place,
            "unknown-key",
            &format!("the key `{}`", entry.key),
            &allowed,
            &remedy,
        );
        near.map(str::to_owned)
    }
}

impl Drop for Table<'_> {
    /// A key that nobody asked for, and is nearly a missing one, stands for it: one slip is one problem.
    fn drop(&mut self) {
        if self.left {
            return;
        }
        let asked = self.asked.take();
        let unknown = self
            .entries
            .iter()
            .filter(|entry| !asked.contains(&entry.key));
        let meant: Vec<String> = unknown
            .filter_map(|entry| self.unknown(entry, &asked))
            .collect();
        for (key, saying) in self.missing.take() {
            if !meant.contains(&key) {
                self.sheet.record(self.place, saying);
            }
        }
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

/// Words in quotation marks, with commas.
pub(super) fn quoted(words: &[&str]) -> String {
    words
        .iter()
        .map(|word| format!("\"{word}\""))
        .collect::<Vec<_>>()
        .join(", ")
}

/// The nearest of some words, if it is near at all: at most a third of its letters, or two, differ.
pub(super) fn nearest<'w>(found: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let found: String = found.chars().take(64).collect::<String>().to_lowercase();
    words
        .map(|word| (strsim::damerau_levenshtein(&found, word), word))
        .filter(|(far, word)| {
            *far <= (word.chars().count() / 3).clamp(1, 4) && *far < word.chars().count()
        })
        .min_by_key(|(far, _)| *far)
        .map(|(_, word)| word)
}
