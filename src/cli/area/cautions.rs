//! What should be known beside the area of a shape, a sentence each.

use crate::shape::Narrow;
use crate::shape::mesh::{Changed, Mesh, Survey};
use crate::shape::outline::Recognised;
use crate::spec::Form;
use crate::units::Length;

/// What is not known of an area without a shape.
const FLAT: &str = "only an area is known: it is taken not to grow as it thickens; \
                    `like = SHAPE` says how it is bent";

/// Everything of a shape, with the survey of each of its meshes, under deposits up to `most`.
pub(super) fn cautions(form: &Form, surveys: &[Survey], most: Length) -> Vec<String> {
    let mut list = Vec::new();
    if form.is_flat() {
        list.push(FLAT.to_owned());
    }
    list.extend(form.recognised().into_iter().flat_map(recognised));
    list.extend(closing(form, most));
    for (number, (mesh, survey)) in form.meshes().into_iter().zip(surveys).enumerate() {
        let mut said = surveyed(survey);
        said.extend(changed(mesh.changed()));
        said.extend(narrow(&mesh.narrow(survey, most)));
        said.extend(skins(mesh));
        // Of several it is said which one, in the order they are written.
        let of = match surveys.len() {
            1 => String::new(),
            _ => format!("mesh {}: ", number + 1),
        };
        list.extend(said.into_iter().map(|one| format!("{of}{one}")));
    }
    list
}

/// A number of things in words: `1 edge`, `3 edges`.
fn many(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

/// A bore or a hole that fills up.
fn closing(form: &Form, most: Length) -> Option<String> {
    let clear = form.clear_until().filter(|clear| *clear <= most)?;
    Some(format!(
        "a bore, a hole or the gap between turns fills up at {:.0} um: from there its area is \
         reckoned too large",
        clear.um()
    ))
}

/// What was taken from a picture of a leaf.
fn recognised(seen: &Recognised) -> Vec<String> {
    let [x, y] = seen.extent.map(Length::mm);
    let outline = seen.outline;
    let mut list = vec![format!(
        "the outline is {x:.1} x {y:.1} mm, {:.2} cm2 on one face, {:.1} mm round, with {}: check \
         that",
        outline.area.cm2(),
        outline.perimeter.mm(),
        many(outline.holes as usize, "hole")
    )];
    if seen.others > 0 {
        list.push(format!(
            "{} beside it, more than a twentieth of its size, not counted: only the largest is \
             taken; write one shape for each",
            if seen.others == 1 {
                "another figure lies".to_owned()
            } else {
                format!("{} other figures lie", seen.others)
            }
        ));
    }
    if seen.unscaled {
        list.push(
            "the drawing does not state its size: 96 of its units are taken as an inch; give its \
             `width` and `height` in mm, or state `dpi`"
                .to_owned(),
        );
    }
    list
}

/// What a mesh is like.
fn surveyed(survey: &Survey) -> Vec<String> {
    let [x, y, z] = survey.extent.map(|length| length.mm());
    let mut list = vec![format!(
        "the mesh is {x:.1} x {y:.1} x {z:.1} mm: check the unit"
    )];
    if !survey.watertight {
        list.push(format!(
            "{} not join two triangles that agree (a hole, a fin, a triangle turned over): the \
             interval is wider, and its volume is not known",
            if survey.open_edges == 1 {
                "1 edge does".to_owned()
            } else {
                format!("{} edges do", survey.open_edges)
            }
        ));
    }
    if survey.sharp_inward.mm() > 0.0 {
        list.push(format!(
            "{:.0} mm of edges bend inwards by more than 30 degrees: the deposit is thin there",
            survey.sharp_inward.mm()
        ));
    }
    list
}

/// What was changed of a mesh when it was read.
fn changed(changed: Changed) -> Vec<String> {
    let mut list = Vec::new();
    if changed.turned {
        list.push("its triangles faced inwards: they were turned".to_owned());
    }
    let (skins, area) = changed.left_out;
    if skins > 0 {
        list.push(format!(
            "{} within another, {:.2} cm2, left out: if the bath reaches the hollow, say \
             `--wet all`, or `wet = \"all\"` in a job",
            many(skins, "skin"),
            area.cm2()
        ));
    }
    list
}

/// By how much the figure of a grown mesh may be off.
fn narrow(narrow: &Narrow) -> Option<String> {
    (narrow.share >= 0.0005).then(|| {
        format!(
            "under {:.0} um its area is overstated, by up to about {:.1} %: {:.2} cm2 at edges \
             that bend inwards, {:.2} cm2 that look at a wall so near that the deposits meet",
            narrow.thickness.um(),
            narrow.share * 100.0,
            narrow.at_edges.cm2(),
            narrow.closing.cm2()
        )
    })
}

/// What should be known of the skins of a mesh.
fn skins(mesh: &Mesh) -> Vec<String> {
    let shells = mesh.shells();
    let mut list = Vec::new();
    if shells.inner > 0 {
        list.push(format!(
            "{} within another, {:.2} cm2, counted as wet: true only if the bath reaches there",
            many(shells.inner, "skin"),
            shells.inner_area.cm2()
        ));
    }
    let counted = format!(
        "what is within, about {:.0} % of its area, counts all the same, and the interval is \
         wider by that",
        shells.hidden * 100.0
    );
    if shells.overlapping > 0 {
        list.push(format!(
            "{} cut through another: {counted}; join them in the program that made them",
            many(shells.overlapping, "skin")
        ));
    }
    if shells.crossings > 0 {
        list.push(format!(
            "its surface cuts through itself in {}: {counted}; repair it in the program that made \
             it",
            many(shells.crossings, "place")
        ));
    }
    if shells.crossings_unknown {
        list.push("too much of it lies on itself to say where it cuts through itself".to_owned());
    }
    if shells.uncompared {
        list.push(format!(
            "{} skins are too many to say which lie within another",
            shells.count
        ));
    }
    list
}
