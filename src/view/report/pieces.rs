//! Each piece: its thickness with the interval as a figure and a picture, its metal, its charge,
//! its area.

use crate::ledger::{ElectrodeRow, RunRecord};
use crate::units::Length;
use crate::view::words::{ah, clean, cm2, g, hung, um};
use crate::view::{TrueElectrode, TruthTable};
use maud::{Markup, PreEscaped, html};
use std::fmt::Write;

/// Width of the drawing of an interval.
const WIDE: f64 = 150.0;
/// Its height.
const HIGH: f64 = 22.0;

pub(super) fn section(record: &RunRecord, truth: Option<&TruthTable>) -> Markup {
    let scale = Scale::of(record, truth);
    let pieces = record
        .electrodes
        .iter()
        .enumerate()
        .filter(|(_, row)| !row.head.hanger);
    let truth_of = |index: usize| truth.and_then(|truth| truth.electrodes.get(index));
    html! {
        section {
            h2 { "Pieces" }
            table.pieces {
                thead {
                    tr {
                        th { "Piece" }
                        th.figure { "Thickness" }
                        th { span.unseen { "Its interval, drawn" } }
                        th.figure { "Metal" }
                        th.figure { "Charge" }
                        th.figure { "Area" }
                    }
                }
                tbody {
                    @for (index, row) in pieces { (piece(row, truth_of(index), &scale)) }
                }
            }
            (legend(record, truth))
            @if record.hangers().next().is_some() { (hangers(record)) }
            @if let Some(truth) = truth { (side_by_side(record, truth)) }
        }
    }
}

fn piece(row: &ElectrodeRow, truth: Option<&TrueElectrode>, scale: &Scale) -> Markup {
    let account = row.account;
    let thickness = account.thickness;
    html! {
        tr {
            th scope="row" { (clean(&hung(&row.head.name, row.hangs))) }
            td.figure data-label="Thickness" {
                b { (um(thickness.best)) " µm" } " "
                small { (um(thickness.low)) "–" (um(thickness.high)) }
            }
            td.drawn { (PreEscaped(scale.draw(row, truth))) }
            td.figure data-label="Metal" { (g(account.mass)) " g" }
            td.figure data-label="Charge" { (ah(account.charge.best)) " Ah" }
            td.figure data-label="Area" {
                (cm2(row.head.area)) " → " (cm2(account.area)) " cm²"
            }
        }
    }
}

fn legend(record: &RunRecord, truth: Option<&TruthTable>) -> Markup {
    html! {
        p.note {
            "Every thickness is the mean over a piece; edges and tips have more, hollows less. "
            "Dot: the mean. Bar: its 95 % interval."
            @if record.head.target.is_some() { " Broken line: what was asked." }
            @if truth.is_some() { " Diamond: what the simulated cell truly laid down." }
        }
    }
}

fn hangers(record: &RunRecord) -> Markup {
    html! {
        h3 { "Hangers" }
        p {
            "What hangs below the surface takes current and metal too. "
            @for (index, row) in record.hangers().enumerate() {
                @if index > 0 { "; " }
                (clean(&row.head.name)) ": " (cm2(row.head.area)) " cm², "
                (ah(row.account.charge.best)) " Ah, " (g(row.account.mass)) " g"
            }
            "."
        }
    }
}

/// What the run reckoned beside what the simulated cell says.
fn side_by_side(record: &RunRecord, truth: &TruthTable) -> Markup {
    let rows = record.electrodes.iter().zip(&truth.electrodes);
    html! {
        h3 { "What the simulated cell says" }
        p {
            "The run never sees these figures. They show how far its own reckoning can be trusted."
        }
        table.truth {
            thead {
                tr {
                    th { "" }
                    th.figure { "µm reckoned" }
                    th.figure { "truly" }
                    th.figure { "off by" }
                    th { "within 95 %" }
                    th.figure.spare { "g reckoned" }
                    th.figure.spare { "truly" }
                }
            }
            tbody {
                @for (row, truth) in rows { (compared(row, truth)) }
            }
        }
    }
}

fn compared(row: &ElectrodeRow, truth: &TrueElectrode) -> Markup {
    let thickness = row.account.thickness;
    let inside = thickness.low <= truth.thickness && truth.thickness <= thickness.high;
    html! {
        tr {
            th scope="row" { (clean(&row.head.name)) }
            td.figure { (um(thickness.best)) }
            td.figure { (um(truth.thickness)) }
            td.figure { (off(thickness.best, truth.thickness)) }
            td { @if inside { "yes" } @else { b { "no" } } }
            td.figure.spare { (g(row.account.mass)) }
            td.figure.spare { (g(truth.mass)) }
        }
    }
}

/// How far the reckoned is from the true, as a share of the true.
fn off(reckoned: Length, truth: Length) -> String {
    if truth.m() <= 0.0 {
        return "–".to_owned();
    }
    format!("{:+.1} %", (reckoned / truth - 1.0) * 100.0).replace('-', "−")
}

/// One scale for all drawings, so that they can be compared.
struct Scale {
    least: f64,
    most: f64,
    asked: Option<f64>,
}

impl Scale {
    fn of(record: &RunRecord, truth: Option<&TruthTable>) -> Self {
        let asked = record.head.target.map(Length::um);
        let pieces = record.pieces().count();
        let true_um = truth.map(|truth| truth.electrodes.iter().take(pieces));
        let figures = record
            .pieces()
            .flat_map(|row| {
                [
                    row.account.thickness.low.um(),
                    row.account.thickness.high.um(),
                ]
            })
            .chain(
                true_um
                    .into_iter()
                    .flatten()
                    .map(|truth| truth.thickness.um()),
            )
            .chain(asked)
            .filter(|figure| figure.is_finite());
        let (least, most) = figures.fold((f64::INFINITY, 0.0_f64), |(least, most), one| {
            (least.min(one), most.max(one))
        });
        Self {
            least: least.min(most),
            most: most.max(least.min(most) + 1.0),
            asked,
        }
    }

    fn x(&self, um: f64) -> f64 {
        let share = ((um - self.least) / (self.most - self.least)).clamp(0.0, 1.0);
        8.0 + if share.is_finite() { share } else { 0.0 } * (WIDE - 16.0)
    }

    fn draw(&self, row: &ElectrodeRow, truth: Option<&TrueElectrode>) -> String {
        let thickness = row.account.thickness;
        let middle = HIGH / 2.0;
        let (low, high) = (self.x(thickness.low.um()), self.x(thickness.high.um()));
        let mut svg = format!(
            "<svg class=\"interval\" viewBox=\"0 0 {WIDE} {HIGH}\" aria-hidden=\"true\">\
             <line class=\"rail\" x1=\"8\" x2=\"{}\" y1=\"{middle}\" y2=\"{middle}\"/>",
            WIDE - 8.0
        );
        if let Some(asked) = self.asked {
            let x = self.x(asked);
            let _ = write!(
                svg,
                "<line class=\"asked\" x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"1\" y2=\"21\"/>"
            );
        }
        let _ = write!(
            svg,
            "<line class=\"bar\" x1=\"{low:.1}\" x2=\"{high:.1}\" y1=\"{middle}\" y2=\"{middle}\"/>\
             <circle class=\"dot\" cx=\"{:.1}\" cy=\"{middle}\" r=\"4\"/>",
            self.x(thickness.best.um())
        );
        if let Some(truth) = truth {
            let x = self.x(truth.thickness.um());
            let _ = write!(
                svg,
                "<path class=\"truly\" d=\"M{x:.1} 5l4.5 6-4.5 6-4.5-6z\"/>"
            );
        }
        svg.push_str("</svg>");
        svg
    }
}
