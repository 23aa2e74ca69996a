//! What a night will be, what a rehearsed one was, and how much surface a shape has.

use super::layout::{Side, Table, fit, labelled};
use crate::control::Blind;
use crate::ledger::ElectrodeRow;
use crate::plan::{Forecast, Layer, Remark};
use crate::units::Length;
use crate::view::words::{Bounds, ah, amperes, cm2, ending, g, governing, lasting, um};
use crate::view::{AreaFacts, Label, Rehearsal, Tonight, TrueElectrode};

/// A plan.
#[must_use]
pub fn plan(tonight: &Tonight<'_>) -> String {
    let forecast = tonight.forecast;
    let mut out = format!("{}\n\n", fit(tonight.job, super::WIDTH));
    let verdict = match tonight.refusals.len() {
        0 => "This night may be run.".to_owned(),
        1 => "REFUSED, for one reason. Nothing will be turned on.".to_owned(),
        count => format!("REFUSED, for {count} reasons. Nothing will be turned on."),
    };
    out.push_str(&labelled("Verdict", &verdict));
    remarks(&mut out, "Refused", tonight.refusals);
    remarks(&mut out, "Warning", tonight.warnings);
    out.push('\n');
    out.push_str(&figures(forecast, tonight.finish));
    out.push('\n');
    out.push_str(&forecast_table(forecast));
    out.push('\n');
    protection(&mut out, tonight.layers, tonight.blind);
    out
}

/// The layers of protection, and which guards are blind.
pub(super) fn protection(out: &mut String, layers: &[Layer], blind: &[Blind]) {
    for layer in layers {
        let sign = match layer.active {
            Some(true) => "yes",
            Some(false) => "NO",
            None => "yours",
        };
        out.push_str(&labelled(
            "Layer",
            &format!("{sign}: {}: {}", layer.name, layer.text),
        ));
    }
    for one in blind {
        out.push_str(&labelled("Blind", &format!("{}: {}", one.code, one.text)));
    }
}

pub(super) fn remarks(out: &mut String, label: &str, remarks: &[Remark]) {
    for remark in remarks {
        out.push_str(&labelled(
            label,
            &format!("{}: {}", remark.code, remark.text),
        ));
    }
}

/// Bars of the curve of the current, and how many stand in a row.
const BARS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
const CURVE: usize = 44;

fn figures(forecast: &Forecast, finish: Option<Label<'_>>) -> String {
    let finish = finish
        .map(|label| format!("; begun now, done {}", label.said))
        .unwrap_or_default();
    let current = format!(
        "{} at first, {} at most",
        amperes(forecast.current_start),
        amperes(forecast.current_peak)
    );
    let charge = format!(
        "{} Ah, {} g of metal, hangers included",
        ah(forecast.charge),
        g(forecast.mass)
    );
    [
        labelled("Takes", &format!("{}{finish}", lasting(forecast.duration))),
        labelled("Current", &current),
        labelled("", &curve(forecast)),
        labelled("Charge", &charge),
        labelled("Area", &format!("{} cm² of pieces", cm2(forecast.area))),
        labelled("Means", &means(forecast)),
    ]
    .concat()
}

/// That the figures are means, and what edges and tips get.
fn means(forecast: &Forecast) -> String {
    let pieces: Vec<String> = forecast
        .pieces
        .iter()
        .map(|piece| format!("{:.1} times on {}", piece.peak_to_mean, piece.name))
        .collect();
    format!(
        "every figure is a mean over its piece; edges and tips are taken to get {}",
        pieces.join(", ")
    )
}

/// The current over the night as a row of bars, from nothing to the highest.
fn curve(forecast: &Forecast) -> String {
    let (Some(first), Some(last)) = (forecast.curve.first(), forecast.curve.last()) else {
        return String::new();
    };
    let whole = last.0 - first.0;
    let bar = |column: usize| {
        let at = first.0 + whole * (column as f64 / (CURVE - 1) as f64);
        let after = forecast.curve.partition_point(|(on, _)| *on < at);
        let current = forecast.curve[after.min(forecast.curve.len() - 1)].1;
        let share = current / forecast.current_peak;
        let height = (1..BARS.len()).filter(|step| share * BARS.len() as f64 > *step as f64);
        BARS[height.count()]
    };
    let bars: String = (0..CURVE).map(bar).collect();
    format!("{bars} over {}", lasting(whole))
}

fn forecast_table(forecast: &Forecast) -> String {
    let mut table = Table::new(&[
        ("piece", Side::Name),
        ("µm", Side::Figure),
        ("95 %", Side::Figure),
        ("Ah", Side::Figure),
        ("g", Side::Figure),
        ("cm²", Side::Figure),
        ("at the end", Side::Figure),
    ]);
    for piece in &forecast.pieces {
        let thickness = piece.thickness;
        table.row([
            piece.name.clone(),
            um(thickness.best),
            format!("{} to {}", um(thickness.low), um(thickness.high)),
            ah(piece.charge),
            g(piece.mass),
            cm2(piece.area),
            cm2(piece.area_end),
        ]);
    }
    for (index, hanger) in forecast.hangers.iter().enumerate() {
        table.row([
            format!("hanger {}", index + 1),
            String::new(),
            String::new(),
            ah(hanger.charge),
            g(hanger.mass),
            cm2(hanger.area),
            String::new(),
        ]);
    }
    table.text()
}

/// A rehearsal that is over.
#[must_use]
pub fn rehearsal(of: &Rehearsal<'_>) -> String {
    let record = of.record;
    let mut out = format!("{}\n\n", fit(&record.head.job, super::WIDTH));
    out.push_str(&labelled("Outcome", &ending(record)));
    out.push_str(&labelled("Thick", &came(of)));
    let charge = Bounds::of(record.charge);
    let charge = format!(
        "{} Ah, surely {} to {}; the simulated cell took {}",
        charge.best,
        charge.low,
        charge.high,
        charge.beside(of.truth.charge)
    );
    out.push_str(&labelled("Charge", &charge));
    let ran = format!(
        "{} of night in {}; run {}",
        lasting(of.simulated),
        lasting(of.wall),
        record.id
    );
    out.push_str(&labelled("Ran", &ran));
    out.push('\n');
    out.push_str(&truth_table(of));
    out
}

fn came(of: &Rehearsal<'_>) -> String {
    let shown = of.record.thickness.unwrap_or(Length::ZERO);
    let asked = of
        .record
        .head
        .target
        .map(|target| format!(" of {} µm", um(target)));
    let on = governing(of.record).map(|piece| format!(" on {}", piece.head.name));
    format!(
        "{} µm{}{}; truly {} µm",
        um(shown),
        asked.unwrap_or_default(),
        on.unwrap_or_default(),
        um(of.truth.thickness)
    )
}

fn truth_table(of: &Rehearsal<'_>) -> String {
    let mut table = Table::new(&[
        ("piece", Side::Name),
        ("Ah", Side::Figure),
        ("truly", Side::Figure),
        ("g", Side::Figure),
        ("truly", Side::Figure),
        ("µm", Side::Figure),
        ("95 %", Side::Figure),
        ("truly", Side::Figure),
    ]);
    for (index, electrode) in of.record.electrodes.iter().enumerate() {
        table.row(truth_cells(electrode, of.truth.electrodes.get(index)));
    }
    table.text()
}

fn truth_cells(electrode: &ElectrodeRow, truth: Option<&TrueElectrode>) -> [String; 8] {
    let account = electrode.account;
    let thickness = account.thickness;
    [
        electrode.head.name.clone(),
        ah(account.charge.best),
        truth.map(|truth| ah(truth.charge)).unwrap_or_default(),
        g(account.mass),
        truth.map(|truth| g(truth.mass)).unwrap_or_default(),
        um(thickness.best),
        format!("{} to {}", um(thickness.low), um(thickness.high)),
        truth.map(|truth| um(truth.thickness)).unwrap_or_default(),
    ]
}

/// The surface of a shape.
#[must_use]
pub fn area(facts: &AreaFacts) -> String {
    let area = facts.area;
    let now = format!(
        "{} cm², {} to {} (95 %)",
        cm2(area.best),
        cm2(area.low),
        cm2(area.high)
    );
    let mut out = labelled("Area", &now);
    if let (Some(mean), Some(gauss)) = (facts.mean_curvature, facts.gauss) {
        let growth = format!("mean curvature {:.3} cm, Gauss term {gauss:.3}", mean.cm());
        out.push_str(&labelled("Growth", &growth));
    }
    if let Some(volume) = facts.volume {
        out.push_str(&labelled("Volume", &format!("{:.3} cm³", volume.cm3())));
    }
    if let Some(triangles) = facts.triangles {
        let tight = match facts.watertight {
            Some(true) => ", watertight",
            Some(false) => ", NOT watertight",
            None => "",
        };
        out.push_str(&labelled("Mesh", &format!("{triangles} triangles{tight}")));
    }
    for caution in &facts.cautions {
        out.push_str(&labelled("Caution", caution));
    }
    for (share, distance) in &facts.reach {
        let said = format!(
            "{:.0} % of it within {:.1} mm over the surface",
            share * 100.0,
            distance.mm()
        );
        out.push_str(&labelled("Contact", &said));
    }
    for picture in &facts.pictures {
        out.push_str(&labelled("Picture", picture));
    }
    if !facts.grown.is_empty() {
        out.push('\n');
        out.push_str(&grown_table(facts));
    }
    out
}

fn grown_table(facts: &AreaFacts) -> String {
    let mut table = Table::new(&[
        ("deposit µm", Side::Figure),
        ("cm²", Side::Figure),
        ("Ah", Side::Figure),
        ("g", Side::Figure),
        ("current", Side::Figure),
    ]);
    for grown in &facts.grown {
        // At one density the current goes with the area.
        let rises = grown.area / facts.area.best;
        table.row([
            um(grown.thickness),
            cm2(grown.area),
            ah(grown.charge),
            g(grown.mass),
            format!("{rises:.2} times"),
        ]);
    }
    table.text()
}
