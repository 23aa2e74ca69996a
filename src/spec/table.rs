//! One table of a sheet: each key is asked for once, and what nobody asked for is unknown.

use super::node::{Entry, Node, Place, Value};
use super::problem::Saying;
use super::said::Said;
use super::sheet::Sheet;
use std::cell::RefCell;

/// A table being read. Asking for a key makes it a valid key; when the table ends, by
/// [`Table::end`] or at the end of its scope, every key that nobody asked for is a problem, and
/// every required key that is not there.
#[derive(Debug)]
pub struct Table<'s> {
    pub(super) sheet: &'s Sheet,
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
            Value::List(_) => {
                self.record(node.place, "wrong-type", "an empty list", &allowed, &remedy);
                Vec::new()
            }
            _ => self.wrong(node, &allowed, &remedy).unwrap_or_default(),
        }
    }

    /// Holds a value that was read from `key` against its range, ends included; `what` is what it
    /// is, in words.
    #[must_use]
    pub fn in_range<T: Said>(&self, key: &str, value: T, low: T, high: T, what: &str) -> Option<T> {
        if value.within(low, high) {
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

    /// Records a problem at the value of a key, or at the table's heading where the key is not
    /// there.
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

    /// Ends the reading of this table: reports every key that was never asked for, and what is
    /// missing.
    pub fn end(self) {}

    /// Ends the reading of a table whose valid keys are not known, because something else in it is
    /// wrong.
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

    pub(super) fn record(
        &self,
        place: Place,
        code: &'static str,
        found: &str,
        allowed: &str,
        remedy: &str,
    ) {
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
    /// A key that nobody asked for, and is nearly a missing one, stands for it: one slip is one
    /// problem.
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
