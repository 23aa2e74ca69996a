//! A file's text, read, and everything that is wrong with it.

use super::node::{self, Entry, Node, Place, Value};
use super::problem::{Problem, Problems, Saying};
use super::table::Table;
use std::cell::RefCell;
use toml::de::{DeTable, DeValue};

/// So many problems of one file are told one by one.
const TOLD: usize = 200;

/// A TOML text and the problems found in it so far.
#[derive(Debug)]
pub struct Sheet {
    file: String,
    text: String,
    root: Vec<Entry>,
    /// The text is not TOML: the tree is not to be trusted, and only what the parser said counts.
    broken: bool,
    problems: RefCell<Vec<(Place, Saying)>>,
}

impl Sheet {
    /// Reads a text. A text that is no TOML gives an empty sheet whose problems say why.
    #[must_use]
    pub fn parse(file: &str, text: &str) -> Self {
        let (table, errors) = DeTable::parse_recoverable(text);
        let allowed = "a TOML 1.0 text: [table], key = \"text\", key = 1.5, key = true";
        Self::new(
            file,
            text,
            node::of_table(table.get_ref()),
            (&errors, allowed),
        )
    }

    /// Reads the text of one value, as on a command line, into a sheet that holds it under `key`;
    /// `example` is such a value.
    #[must_use]
    pub fn parse_value(label: &str, key: &str, text: &str, example: &str) -> Self {
        let (value, errors) = DeValue::parse_recoverable(text);
        let node = node::of_value(&value);
        let root = vec![Entry {
            key: key.to_owned(),
            place: node.place,
            node,
        }];
        Self::new(
            label,
            text,
            root,
            (&errors, &format!("one value as in a file: {example}")),
        )
    }

    fn new(
        file: &str,
        text: &str,
        root: Vec<Entry>,
        (errors, allowed): (&[toml::de::Error], &str),
    ) -> Self {
        let broken = !errors.is_empty();
        let sheet = Self {
            file: file.to_owned(),
            text: text.to_owned(),
            root: if broken { Vec::new() } else { root },
            broken: false,
            problems: RefCell::default(),
        };
        for error in errors {
            sheet.record_syntax(error, allowed);
        }
        Self { broken, ..sheet }
    }

    /// The whole file as a table.
    #[must_use]
    pub fn root(&self) -> Table<'_> {
        Table::new(self, &self.root, (0, 0), String::new())
    }

    /// Records a problem at the bytes `place`. Nothing is recorded against a text that is no TOML.
    pub(super) fn record(&self, place: Place, saying: Saying) {
        if !self.broken {
            self.problems.borrow_mut().push((place, saying));
        }
    }

    /// The text at the bytes `place`.
    pub(super) fn written(&self, (start, end): Place) -> &str {
        self.text.get(start..end).unwrap_or_default()
    }

    /// A value in words.
    pub(super) fn in_words(&self, node: &Node) -> String {
        node.value.in_words(self.written(node.place))
    }

    /// How many problems there are so far.
    #[must_use]
    pub fn problem_count(&self) -> usize {
        self.problems.borrow().len()
    }

    /// Everything that is wrong, in the order of the text. Of a file that is wrong all over, the
    /// first few hundred and how many more.
    #[must_use]
    pub fn into_problems(self) -> Vec<Problem> {
        let mut problems = self.problems.into_inner();
        problems.sort_by_key(|(place, _)| *place);
        let more = problems.len().saturating_sub(TOLD);
        problems.truncate(TOLD);
        let place_it = |(place, saying)| Problem::new(&self.file, &self.text, place, saying);
        let mut told: Vec<Problem> = problems.into_iter().map(place_it).collect();
        if more > 0 {
            told.push(untold(&self.file, more));
        }
        told
    }

    /// The value, if nothing at all was wrong.
    ///
    /// # Errors
    /// Every problem of the text, in its order.
    pub fn finish<T>(self, value: Option<T>) -> Result<T, Problems> {
        let file = self.file.clone();
        let problems = self.into_problems();
        match value {
            Some(value) if problems.is_empty() => Ok(value),
            None if problems.is_empty() => Err(incomplete(&file).into()),
            Some(_) | None => Err(Problems(problems)),
        }
    }

    fn record_syntax(&self, error: &toml::de::Error, allowed: &str) {
        let span = error.span().unwrap_or_default();
        let place = (span.start, span.end);
        let line_start = self
            .written((0, place.0))
            .rfind('\n')
            .map_or(0, |at| at + 1);
        let line = self
            .text
            .get(line_start..)
            .and_then(|rest| rest.lines().next());
        let remedy = line.and_then(unquoted).unwrap_or_else(|| {
            "mend this first; the rest of the file is checked when it can be read".to_owned()
        });
        self.record(
            place,
            Saying {
                code: "not-toml",
                found: error.message().to_owned(),
                allowed: allowed.to_owned(),
                remedy,
            },
        );
    }
}

/// What to do about `thickness = 250 um`: the commonest way not to write TOML.
fn unquoted(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let value = value.split('#').next()?.trim();
    let number = value.split_whitespace().next()?;
    let bare = !value.contains(['"', '\'', '{', '[', ',']) && value.contains(' ');
    (bare && number.parse::<f64>().is_ok()).then(|| {
        format!(
            "put quotation marks around it: {} = \"{value}\"",
            key.trim()
        )
    })
}

/// What stands for the problems beyond [`TOLD`].
fn untold(file: &str, more: usize) -> Problem {
    Problem::of_file(
        file,
        Saying {
            code: "more-problems",
            found: format!("{more} more problems"),
            allowed: "the right file".to_owned(),
            remedy: "look whether this is the file you meant, and mend the first ones".to_owned(),
        },
    )
}

/// A reader that gives up without a reason is a fault of ours; it must not pass for a good file.
fn incomplete(file: &str) -> Problem {
    Problem::of_file(
        file,
        Saying {
            code: "unreadable",
            found: "a file that could not be read to its end".to_owned(),
            allowed: "a complete file".to_owned(),
            remedy: "report this: the reader should have said what is missing".to_owned(),
        },
    )
}

impl Value {
    /// The keys of a table.
    pub(super) fn entries(&self) -> Option<&[Entry]> {
        match self {
            Self::Table(entries) => Some(entries),
            _ => None,
        }
    }
}
