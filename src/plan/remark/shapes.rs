//! Shapes whose growth cannot be foretold.

use super::Remarks;
use crate::spec::Form;
use crate::units::Length;

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
        if found.sharp_inward > Length::ZERO {
            said.warn(
                "mesh-sharp-inward",
                format!(
                    "{:.0} mm of edges in the mesh of piece {name:?} bend inwards by more than 30 \
                 degrees: there the deposit is thinner than the mean",
                    found.sharp_inward.mm()
                ),
            );
        }
    }
}
