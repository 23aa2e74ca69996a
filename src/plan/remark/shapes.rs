//! Shapes whose growth cannot be foretold.

use super::Remarks;
use crate::shape::mesh::Survey;
use crate::shape::{Narrow, Shells};
use crate::spec::Form;
use crate::units::{Area, Length};

/// Where a piece's shape does not let its area be foretold.
pub(super) fn shapes(said: &mut Remarks, name: &str, form: &Form, thickness: Length) {
    if let Some(clear) = form.clear_until().filter(|clear| *clear <= thickness) {
        said.warn(
            "bore-closes",
            format!(
                "a bore or hole of piece {name:?} fills up at {:.0} um, before {:.0} um are on it: \
             from there its area and thickness are reckoned too large",
                clear.um(),
                thickness.um()
            ),
        );
    }
    if form.is_flat() {
        said.warn(
            "growth-unknown",
            format!(
                "of piece {name:?}, or a part of it, only an area is known: it is taken not to \
                 grow under {:.0} um, and on thin or round pieces it does; say what it is like: \
                 `like = SHAPE`",
                thickness.um()
            ),
        );
    }
    for mesh in form.meshes() {
        let Ok(found) = mesh.survey() else { continue };
        if !found.watertight {
            said.warn(
                "mesh-open",
                format!(
                    "the mesh of piece {name:?} is not closed: {} of its edges do not join two \
                 triangles that agree; how its area grows is a guess: repair it and export it \
                 again",
                    found.open_edges
                ),
            );
        }
        skins(said, name, mesh.shells());
        narrow(said, name, &found, &mesh.narrow(&found, thickness));
    }
}

/// Where deposits meet, and by how much the area is overstated.
fn narrow(said: &mut Remarks, name: &str, found: &Survey, narrow: &Narrow) {
    let at = format!(
        "the area under {:.0} um is overstated, by up to about {:.1} %",
        narrow.thickness.um(),
        narrow.share * 100.0
    );
    if narrow.closing > Area::ZERO {
        said.warn(
            "bore-closes",
            format!(
                "{:.2} cm2 of the mesh of piece {name:?} look at a wall so near that the deposits \
                 meet: {at}",
                narrow.closing.cm2()
            ),
        );
    }
    if found.sharp_inward > Length::ZERO {
        said.warn(
            "mesh-sharp-inward",
            format!(
                "{:.0} mm of edges in the mesh of piece {name:?} bend inwards by more than 30 \
                 degrees: there the deposit is thinner than the mean, and {at}",
                found.sharp_inward.mm()
            ),
        );
    }
}

/// Skins whose area does not count, or counts twice.
fn skins(said: &mut Remarks, name: &str, shells: &Shells) {
    if shells.inner > 0 {
        said.warn(
            "mesh-inner-walls",
            format!(
                "{:.2} cm2 of the mesh of piece {name:?} lie within its outer skin and count as \
                 wet: if the bath does not reach them, take `wet` out",
                shells.inner_area.cm2()
            ),
        );
    }
    if shells.crossings > 0 {
        said.warn(
            "mesh-overlaps",
            format!(
                "the surface of the mesh of piece {name:?} cuts through itself in {} places, and \
                 what is within, about {:.0} % of its area, counts all the same: repair it and \
                 export it again",
                shells.crossings,
                shells.hidden * 100.0
            ),
        );
    }
    if shells.overlapping > 0 {
        said.warn(
            "mesh-overlaps",
            format!(
                "skins in the mesh of piece {name:?} cut through one another, and what is within, \
                 about {:.0} % of its area, counts all the same: join them and export it again",
                shells.hidden * 100.0
            ),
        );
    }
}
