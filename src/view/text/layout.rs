//! Lines and tables that fit the width.

use crate::view::words::clean;

/// Columns of a terminal.
pub(in crate::view) const WIDTH: usize = 80;
/// Where the text of a labelled line begins.
const LABEL: usize = 13;
/// Blanks between the columns of a table.
const BETWEEN: usize = 2;
/// A name is never cut shorter than this.
const LEAST_NAME: usize = 8;

/// Breaks a text into lines of at most so many characters; a word that is longer is cut.
pub(in crate::view) fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in clean(text)
        .split_whitespace()
        .flat_map(|word| pieces_of(word, width))
    {
        let room = line.chars().count() + usize::from(!line.is_empty()) + word.chars().count();
        if room > width && !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

fn pieces_of(word: &str, width: usize) -> Vec<String> {
    let letters: Vec<char> = word.chars().collect();
    letters
        .chunks(width.max(1))
        .map(|piece| piece.iter().collect())
        .collect()
}

/// A label, and a text beside it that hangs under itself: one line or more, each with its line end.
pub(super) fn labelled(label: &str, text: &str) -> String {
    let mut out = String::new();
    for (index, line) in wrap(text, WIDTH - LABEL).into_iter().enumerate() {
        let label = if index == 0 { label } else { "" };
        out.push_str(format!("{label:<LABEL$}{line}").trim_end());
        out.push('\n');
    }
    out
}

/// A text cut to a width, with a sign that it was.
pub(super) fn fit(text: &str, width: usize) -> String {
    let text = clean(text);
    if text.chars().count() <= width {
        return text;
    }
    let kept: String = text.chars().take(width.saturating_sub(1)).collect();
    format!("{kept}…")
}

/// How a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// To the left; it gives way when the table is too wide.
    Name,
    /// To the right.
    Figure,
    /// To the left, as wide as it is.
    Word,
}

/// A table of texts.
#[derive(Clone, Debug)]
pub(super) struct Table {
    sides: Vec<Side>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// With these headings.
    pub(super) fn new(columns: &[(&str, Side)]) -> Self {
        Self {
            sides: columns.iter().map(|(_, side)| *side).collect(),
            rows: vec![
                columns
                    .iter()
                    .map(|(heading, _)| (*heading).to_owned())
                    .collect(),
            ],
        }
    }

    /// Adds a row; a missing cell is empty.
    pub(super) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows
            .push(cells.into_iter().map(|cell| clean(&cell)).collect());
    }

    /// The whole table, a line a row, none wider than the terminal.
    pub(super) fn text(&self) -> String {
        let widths = self.widths();
        let mut out = String::new();
        for row in &self.rows {
            let cells = row
                .iter()
                .zip(&widths)
                .zip(&self.sides)
                .map(|((cell, width), side)| {
                    let cell = fit(cell, *width);
                    match side {
                        Side::Name | Side::Word => format!("{cell:<width$}"),
                        Side::Figure => format!("{cell:>width$}"),
                    }
                });
            let line = cells.collect::<Vec<_>>().join(&" ".repeat(BETWEEN));
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out
    }

    fn widths(&self) -> Vec<usize> {
        let wide = |column: usize| {
            let cells = self.rows.iter().filter_map(|row| row.get(column));
            cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
        };
        let mut widths: Vec<usize> = (0..self.sides.len()).map(wide).collect();
        let all = widths.iter().sum::<usize>() + BETWEEN * widths.len().saturating_sub(1);
        for _ in 0..all.saturating_sub(WIDTH) {
            // The widest name gives way first.
            let names = widths
                .iter_mut()
                .zip(&self.sides)
                .filter(|(_, side)| **side == Side::Name);
            match names.map(|(width, _)| width).max() {
                Some(width) if *width > LEAST_NAME => *width -= 1,
                Some(_) | None => break,
            }
        }
        widths
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_long_words_are_cut() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("abcdefghij k", 4), ["abcd", "efgh", "ij k"]);
        assert_eq!(wrap("", 5), [""]);
    }

    #[test]
    fn a_table_gives_way_in_its_names_only() {
        let mut table = Table::new(&[("piece", Side::Name), ("Ah", Side::Figure)]);
        table.row(["x".repeat(200), "12.3".to_owned()]);
        table.row(["b".to_owned(), "1".to_owned()]);
        let text = table.text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[1].chars().count(), 80);
        assert!(lines[1].ends_with("…  12.3"));
        assert!(lines[2].ends_with("     1"));
    }
}
