//! Line plots of a night, as SVG: panels one below the other that share their hours.
//!
//! Each column of pixels shows the lowest and the highest figure that fall into it, so that no
//! spike is lost. Colours come from the page that holds the picture, by class; line styles differ
//! as well.

mod arrival;
mod axis;
mod bath;
mod ruler;
mod trace;

use crate::units::Span;
pub use arrival::arrival;
use axis::Axis;
pub use bath::bath;
pub use ruler::ruler;
use std::fmt::Write;

/// Room left of the panels for figures, px.
const LEFT: f64 = 44.0;
/// Room right of the panels, px.
const RIGHT: f64 = 14.0;
/// Room above a panel for its title, px.
const HEAD: f64 = 40.0;
/// Height of the ribbon of states, px.
const RIBBON: f64 = 20.0;
/// Height of a row of event codes, px.
const ROW: f64 = 15.0;
/// About the width of a letter of a label, px.
const LETTER: f64 = 6.4;
/// The same of the ribbon's names.
const NARROW_LETTER: f64 = 5.4;
/// No more rows of event codes than this; the list beside the picture has them all.
const MOST_ROWS: usize = 4;

/// How large a picture is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Width, px.
    pub width: f64,
    /// Height of one panel without its title, px.
    pub panel: f64,
}

impl Frame {
    /// For a page as wide as a hand and a half.
    pub const WIDE: Self = Self {
        width: 736.0,
        panel: 132.0,
    };
    /// For a phone.
    pub const NARROW: Self = Self {
        width: 344.0,
        panel: 110.0,
    };

    const fn across(self) -> f64 {
        self.width - LEFT - RIGHT
    }
}

/// One line of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Its name, as the legend says it.
    pub name: &'static str,
    /// The class that gives it colour and dashes.
    pub class: &'static str,
    /// Hours and figures, in the order of time.
    pub points: Vec<(f64, f64)>,
}

/// One panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// What it shows.
    pub title: &'static str,
    /// In which unit.
    pub unit: &'static str,
    /// Its lines, the first lowest.
    pub series: Vec<Series>,
    /// A level to be reached, and its name.
    pub level: Option<(f64, String)>,
}

/// A stretch of the ribbon: a state and how long it lasted.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// From when.
    pub from: Span,
    /// Until when.
    pub to: Span,
    /// Its name.
    pub name: &'static str,
}

/// An event to be marked.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// When.
    pub at: Span,
    /// Its word code.
    pub code: String,
    /// True if a guard spoke.
    pub grave: bool,
}

/// A night.
#[derive(Clone, Debug, PartialEq)]
pub struct Night {
    /// How long it was.
    pub lasted: Span,
    /// Its states, in order.
    pub stretches: Vec<Stretch>,
    /// What happened.
    pub marks: Vec<Mark>,
    /// What was measured.
    pub panels: Vec<Panel>,
}

/// Draws a night.
#[must_use]
pub fn night(of: &Night, frame: Frame) -> String {
    let hours = Axis::hours(of.lasted.h().max(1.0 / 60.0), frame.across());
    let rows = rows(of, &hours);
    let used = rows
        .iter()
        .flatten()
        .copied()
        .max()
        .map_or(0, |row| row + 1);
    let top = RIBBON + ROW * used as f64 + 6.0;
    let each = frame.panel + HEAD;
    let bottom = top + each * of.panels.len() as f64;
    let height = bottom + 36.0;
    let mut svg = String::new();
    let _ = write!(
        svg,
        "<svg class=\"night\" viewBox=\"0 0 {:.0} {height:.0}\" role=\"img\" \
         xmlns=\"http://www.w3.org/2000/svg\"><title>{}</title>",
        frame.width,
        escape(&described(of))
    );
    ribbon(&mut svg, of, &hours);
    time_axis(&mut svg, &hours, frame, top + HEAD, bottom);
    marks(&mut svg, of, &hours, &rows, bottom);
    for (index, panel) in of.panels.iter().enumerate() {
        let from = top + each * index as f64 + HEAD;
        draw_panel(&mut svg, panel, &hours, frame, from);
    }
    svg.push_str("</svg>");
    svg
}

/// What a reader that cannot see is told.
fn described(of: &Night) -> String {
    let titles: Vec<String> = of
        .panels
        .iter()
        .map(|panel| format!("{} in {}", panel.title, panel.unit))
        .collect();
    format!("{} over {:.1} hours", titles.join(", "), of.lasted.h())
}

/// The states, as a ribbon of named stretches.
fn ribbon(svg: &mut String, of: &Night, hours: &Axis) {
    for (index, stretch) in of.stretches.iter().enumerate() {
        let (from, to) = (x(hours, stretch.from), x(hours, stretch.to));
        let wide = (to - from).max(1.0);
        let shade = if index % 2 == 0 { "even" } else { "odd" };
        let _ = write!(
            svg,
            "<rect class=\"state {shade}\" x=\"{from:.1}\" y=\"0\" width=\"{wide:.1}\" \
             height=\"{RIBBON}\"><title>{}</title></rect>",
            stretch.name
        );
        if wide > stretch.name.len() as f64 * NARROW_LETTER + 4.0 {
            let middle = f64::midpoint(from, to);
            let _ = write!(
                svg,
                "<text class=\"state-name\" x=\"{middle:.1}\" y=\"14\" \
                 text-anchor=\"middle\">{}</text>",
                stretch.name
            );
        }
    }
}

/// In which row of codes each mark has room; `None` if in no row.
fn rows(of: &Night, hours: &Axis) -> Vec<Option<usize>> {
    let mut free = [f64::NEG_INFINITY; MOST_ROWS];
    of.marks
        .iter()
        .map(|mark| {
            let (from, to) = label_span(mark, hours);
            let row = free.iter().position(|until| *until <= from)?;
            free[row] = to + LETTER;
            Some(row)
        })
        .collect()
}

/// From where to where the code of a mark reaches: right of its line, or left of it near the edge.
fn label_span(mark: &Mark, hours: &Axis) -> (f64, f64) {
    let at = x(hours, mark.at);
    let wide = mark.code.chars().count() as f64 * LETTER + 5.0;
    if at + wide > LEFT + hours.length + RIGHT {
        (at - wide, at)
    } else {
        (at, at + wide)
    }
}

fn marks(svg: &mut String, of: &Night, hours: &Axis, rows: &[Option<usize>], bottom: f64) {
    for (mark, row) in of.marks.iter().zip(rows) {
        let at = x(hours, mark.at);
        let from = RIBBON + row.map_or(0.0, |row| ROW * row as f64 + 3.0);
        let code = escape(&mark.code);
        let grave = if mark.grave { " grave" } else { "" };
        let _ = write!(
            svg,
            "<line class=\"mark{grave}\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{from:.1}\" \
             y2=\"{bottom:.1}\">\
             <title>{code}</title></line>"
        );
        if row.is_some() {
            let (left, _) = label_span(mark, hours);
            let (anchor, shift) = if left < at {
                ("end", -3.0)
            } else {
                ("start", 3.0)
            };
            let _ = write!(
                svg,
                "<text class=\"mark-code{grave}\" x=\"{:.1}\" y=\"{:.1}\" \
                 text-anchor=\"{anchor}\">{code}</text>",
                at + shift,
                from + 11.0
            );
        }
    }
}

fn draw_panel(svg: &mut String, panel: &Panel, hours: &Axis, frame: Frame, from: f64) {
    let figures = panel
        .series
        .iter()
        .flat_map(|series| series.points.iter().map(|point| point.1));
    let level = panel.level.iter().map(|(level, _)| *level);
    let most = figures
        .chain(level)
        .filter(|figure| figure.is_finite())
        .fold(0.0, f64::max);
    let scale = Axis::figures(most, frame.panel);
    let floor = from + frame.panel;
    let right = LEFT + frame.across();
    title(svg, panel, from - 10.0);
    for tick in &scale.ticks {
        let y = floor - scale.at(tick.value);
        let _ = write!(
            svg,
            "<line class=\"grid\" x1=\"{LEFT}\" x2=\"{right:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\
             <text class=\"tick\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
            LEFT - 6.0,
            y + 4.0,
            tick.text
        );
    }
    if let Some((value, name)) = &panel.level {
        let y = floor - scale.at(*value);
        let _ = write!(
            svg,
            "<line class=\"level\" x1=\"{LEFT}\" x2=\"{right:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\
             <text class=\"level-name\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            LEFT + 5.0,
            y + 13.0,
            escape(name)
        );
    }
    for series in &panel.series {
        let place = |(hour, figure): (f64, f64)| (LEFT + hours.at(hour), floor - scale.at(figure));
        let path = trace::path(&series.points, hours.end / 40.0, &place);
        let _ = write!(svg, "<path class=\"trace {}\" d=\"{path}\"/>", series.class);
    }
}

/// The title of a panel, and the legend of its lines where it has more than one.
fn title(svg: &mut String, panel: &Panel, y: f64) {
    let _ = write!(
        svg,
        "<text class=\"panel-title\" x=\"{LEFT}\" y=\"{y:.1}\">{}, {}</text>",
        panel.title, panel.unit
    );
    if panel.series.len() < 2 {
        return;
    }
    let title = panel.title.len() + panel.unit.chars().count() + 2;
    let mut at = LEFT + title as f64 * (LETTER + 0.8) + 18.0;
    for series in &panel.series {
        let line = y - 4.0;
        let _ = write!(
            svg,
            "<line class=\"trace {}\" x1=\"{at:.1}\" x2=\"{:.1}\" y1=\"{line:.1}\" \
             y2=\"{line:.1}\"/>\
             <text class=\"legend\" x=\"{:.1}\" y=\"{y:.1}\">{}</text>",
            series.class,
            at + 20.0,
            at + 25.0,
            series.name
        );
        at += 25.0 + series.name.len() as f64 * LETTER + 16.0;
    }
}

fn time_axis(svg: &mut String, hours: &Axis, frame: Frame, top: f64, bottom: f64) {
    let _ = write!(
        svg,
        "<line class=\"floor\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{bottom:.1}\" y2=\"{bottom:.1}\"/>",
        LEFT + frame.across()
    );
    for tick in &hours.ticks {
        let at = LEFT + hours.at(tick.value);
        let _ = write!(
            svg,
            "<line class=\"grid\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{top:.1}\" y2=\"{:.1}\"/>\
             <text class=\"tick\" x=\"{at:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
            bottom + 4.0,
            bottom + 17.0,
            tick.text
        );
    }
    let _ = write!(
        svg,
        "<text class=\"tick\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">\
         hours since the start</text>",
        LEFT + frame.across() / 2.0,
        bottom + 32.0
    );
}

fn x(hours: &Axis, at: Span) -> f64 {
    LEFT + hours.at(at.h())
}

/// A text that cannot end the element it stands in.
fn escape(text: &str) -> String {
    let mut out = String::new();
    for c in crate::view::words::clean(text).chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}
