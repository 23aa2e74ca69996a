//! A TOML text as a tree that owns its words and knows where each stood.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Bytes from and to.
pub(super) type Place = (usize, usize);

/// A value and where it stood.
#[derive(Clone, Debug)]
pub(super) struct Node {
    /// The bytes of the value.
    pub(super) place: Place,
    /// The value.
    pub(super) value: Value,
}

/// A value as TOML has them.
#[derive(Clone, Debug)]
pub(super) enum Value {
    /// A string.
    Text(String),
    /// An integer; `None` where it is beyond 64 bits.
    Whole(Option<i64>),
    /// A float.
    Number(f64),
    /// A boolean.
    Flag(bool),
    /// A date or a time of day, which no file here has a use for.
    Date,
    /// An array.
    List(Vec<Node>),
    /// A table, its keys in the order of the text.
    Table(Vec<Entry>),
}

/// One key of a table.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    /// The key.
    pub(super) key: String,
    /// The bytes of the key.
    pub(super) place: Place,
    /// What it holds.
    pub(super) node: Node,
}

/// The tree of a table.
pub(super) fn of_table(table: &DeTable<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = table
        .iter()
        .map(|(key, value)| Entry {
            key: key.get_ref().to_string(),
            place: (key.span().start, key.span().end),
            node: of_value(value),
        })
        .collect();
    entries.sort_by_key(|entry| entry.place);
    entries
}

/// The tree of a value.
pub(super) fn of_value(value: &Spanned<DeValue<'_>>) -> Node {
    let place = (value.span().start, value.span().end);
    let value = match value.get_ref() {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(whole) => {
            Value::Whole(i64::from_str_radix(whole.as_str(), whole.radix()).ok())
        }
        DeValue::Float(number) => Value::Number(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(flag) => Value::Flag(*flag),
        DeValue::Datetime(_) => Value::Date,
        DeValue::Array(items) => Value::List(items.iter().map(of_value).collect()),
        DeValue::Table(table) => Value::Table(of_table(table)),
    };
    Node { place, value }
}

impl Value {
    /// The value in words, for "found …"; `written` is how it stands in the text.
    pub(super) fn in_words(&self, written: &str) -> String {
        match self {
            Self::Text(text) => format!("the text {text:?}"),
            Self::Whole(_) | Self::Number(_) => format!("the number {written}"),
            Self::Flag(flag) => format!("{flag}"),
            Self::Date => "a date".to_owned(),
            Self::List(_) => "a list".to_owned(),
            Self::Table(_) => "a table".to_owned(),
        }
    }
}
