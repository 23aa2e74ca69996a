//! What is wrong in a file, said so that a person can mend it.

use serde::{Serialize, Serializer};
use std::fmt;

/// The longest piece of a source line that is shown, in characters.
const SHOWN: usize = 100;
/// The longest text of the file that is repeated in a message, in characters.
const REPEATED: usize = 300;

/// One thing that is wrong, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// A word that says what sort of problem it is: `unknown-key`, `missing-key`, `bad-value`…
    pub code: &'static str,
    /// The file, as the person named it.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// The line it is on, or the part of it around the place.
    pub source: String,
    /// Blanks that stand before the caret, in characters of `source`.
    pub indent: usize,
    /// How many carets.
    pub width: usize,
    /// What was found.
    pub found: String,
    /// What is allowed there.
    pub allowed: String,
    /// What to do.
    pub remedy: String,
}

/// What a problem says, apart from its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saying {
    /// A word that says what sort of problem it is.
    pub code: &'static str,
    /// What was found.
    pub found: String,
    /// What is allowed there.
    pub allowed: String,
    /// What to do.
    pub remedy: String,
}

impl Problem {
    /// A problem at the bytes `start..end` of a text.
    #[must_use]
    pub fn new(file: &str, text: &str, (start, end): (usize, usize), saying: Saying) -> Self {
        let start = char_floor(text, start);
        let end = char_floor(text, end).max(start);
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let rest = &text[line_start..];
        let whole = rest.split('\n').next().unwrap_or_default();
        let whole = whole.strip_suffix('\r').unwrap_or(whole);
        let before = text[line_start..start].chars().count();
        let inside = text[start..end].split('\n').next().unwrap_or_default();
        let width = inside.trim_end().chars().count().max(1);
        let skip = if before + width > SHOWN {
            before.saturating_sub(SHOWN / 4)
        } else {
            0
        };
        let source: String = whole
            .chars()
            .skip(skip)
            .take(SHOWN)
            .map(printable)
            .collect();
        let room = source.chars().count() + 1;
        let indent = (before - skip).min(room);
        Self {
            code: saying.code,
            file: file.to_owned(),
            line: text[..line_start].matches('\n').count() + 1,
            column: before + 1,
            source,
            indent,
            width: width.min((room - indent).max(1)),
            found: repeated(&saying.found),
            allowed: repeated(&saying.allowed),
            remedy: repeated(&saying.remedy),
        }
    }

    /// A problem with a file as a whole: it is missing, too large or not text.
    #[must_use]
    pub fn of_file(file: &str, saying: Saying) -> Self {
        Self {
            line: 0,
            column: 0,
            width: 0,
            ..Self::new(file, "", (0, 0), saying)
        }
    }

    /// `file:line:column`, or only the file where the problem is the file itself.
    #[must_use]
    pub fn place(&self) -> String {
        if self.line == 0 {
            return self.file.clone();
        }
        format!("{}:{}:{}", self.file, self.line, self.column)
    }
}

/// The last start of a character at or before a byte.
fn char_floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Keeps control characters of a file away from the terminal.
fn printable(letter: char) -> char {
    if letter.is_control() && letter != '\t' {
        '\u{fffd}'
    } else {
        letter
    }
}

/// A text of the file, fit to be repeated on one line.
fn repeated(text: &str) -> String {
    let mut out: String = text.chars().take(REPEATED).map(printable).collect();
    if text.chars().nth(REPEATED).is_some() {
        out.push('…');
    }
    out
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.place())?;
        if self.line > 0 {
            let lead = self.source.chars().take(self.indent);
            let lead: String = lead.map(|c| if c == '\t' { '\t' } else { ' ' }).collect();
            let carets = "^".repeat(self.width);
            writeln!(f, "    {}", self.source)?;
            writeln!(f, "    {lead:<indent$}{carets}", indent = self.indent)?;
        }
        writeln!(f, "  found:    {}", self.found)?;
        writeln!(f, "  expected: {}", self.allowed)?;
        write!(f, "  do this:  {}", self.remedy)
    }
}

/// As the error object of the interface: `{code, text, place, remedy}`.
impl Serialize for Problem {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Object<'a> {
            code: &'a str,
            text: String,
            place: String,
            remedy: &'a str,
        }
        let text = format!("found {}; expected {}", self.found, self.allowed);
        let (place, remedy) = (self.place(), self.remedy.as_str());
        Object {
            code: self.code,
            text,
            place,
            remedy,
        }
        .serialize(serializer)
    }
}

/// Everything that is wrong in a file, in the order of its lines. Never empty when it is an error.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problems(pub Vec<Problem>);

impl Problems {
    /// How many problems, in which files, and that nothing came of it.
    #[must_use]
    pub fn summary(&self) -> String {
        let count = self.0.len();
        let noun = if count == 1 { "problem" } else { "problems" };
        let mut files: Vec<&str> = Vec::new();
        for problem in &self.0 {
            if !files.contains(&problem.file.as_str()) {
                files.push(&problem.file);
            }
        }
        format!(
            "{count} {noun} in {}. Nothing was energised.",
            files.join(", ")
        )
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self(vec![problem])
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for problem in &self.0 {
            writeln!(f, "{problem}\n")?;
        }
        write!(f, "{}", self.summary())
    }
}

impl std::error::Error for Problems {}

/// As the error object of the interface, with every problem in `problems`. One problem speaks for
/// itself.
impl Serialize for Problems {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Object<'a> {
            code: &'a str,
            text: String,
            place: String,
            remedy: &'a str,
            problems: &'a [Problem],
        }
        let problems = self.0.as_slice();
        let (code, text, remedy) = match problems {
            [one] => {
                let text = format!("found {}; expected {}", one.found, one.allowed);
                (one.code, text, one.remedy.as_str())
            }
            _ => (
                "several-problems",
                self.summary(),
                "mend each of `problems`",
            ),
        };
        let place = problems.first().map(Problem::place).unwrap_or_default();
        Object {
            code,
            text,
            place,
            remedy,
            problems,
        }
        .serialize(serializer)
    }
}
