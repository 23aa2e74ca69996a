//! `area`: how much surface a shape has, now and as it thickens.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::deposit::Metal;
use crate::shape::mesh::{Mesh, Survey};
use crate::shape::{Body, ShapeError};
use crate::spec::{Form, Shelf, read_form};
use crate::units::{Length, Quantity};
use crate::view::{self, AreaFacts, Grown};

/// How much surface a shape or mesh has.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat area '{ kind = \"sphere\", diameter = \"22 mm\" }' --thickness '300 um'\n  \
    nightvat area --mesh pod.stl --unit mm\n\n\
    The shape is written as in a job file. Next: put it into a job and ask `nightvat plan JOB`.")]
pub(super) struct AreaArgs {
    /// The shape, as the inline table of a job file
    #[arg(required_unless_present = "mesh", conflicts_with = "mesh")]
    shape: Option<String>,
    /// A mesh file (STL, binary or ASCII)
    #[arg(long, value_name = "FILE", requires = "unit")]
    mesh: Option<String>,
    /// The unit of the mesh's numbers; STL carries none
    #[arg(long, value_name = "UNIT", value_parser = ["mm", "cm", "m", "in", "um"])]
    unit: Option<String>,
    /// True area over smooth area; it multiplies the area at the start, not the growth
    #[arg(long, default_value_t = 1.0)]
    texture: f64,
    /// Also at this thickness of copper; may be given again
    #[arg(long, value_name = "THICKNESS", value_parser = Length::read)]
    thickness: Vec<Length>,
}

/// What is not known of an area without a shape.
const FLAT: &str = "only an area is known: it is taken not to grow as it thickens; \
                    `like = SHAPE` says how it is bent";

/// Does it.
pub(super) fn run(args: &AreaArgs, json: bool) -> Result<(), Failure> {
    if !(1.0..=20.0).contains(&args.texture) {
        let said = format!("the texture is {}, allowed is 1 to 20", args.texture);
        return Err(Failure::new(Exit::BadInput, "bad-value", said)
            .remedy("1 is smooth; 1.2 to 3 for a rough seed head"));
    }
    let form = form(args)?;
    let bad = |fault: ShapeError| {
        Failure::new(Exit::BadInput, "bad-shape", fault.to_string())
            .remedy("measure it again, and look at the units")
    };
    let body = form
        .body()
        .and_then(|body| body.with_texture(args.texture))
        .map_err(bad)?;
    let survey = match &form {
        Form::Mesh(mesh) => Some(mesh.survey().map_err(|fault| bad(fault.into()))?),
        _ => None,
    };
    // An area alone says nothing of how it is bent.
    let flat = form.is_flat();
    let facts = AreaFacts {
        area: body.area_interval(),
        mean_curvature: (!flat).then_some(body.mean_curvature),
        gauss: (!flat).then_some(body.gauss),
        volume: (!flat).then_some(body.volume),
        watertight: survey.as_ref().map(|survey| survey.watertight),
        triangles: survey.as_ref().map(|survey| survey.triangles),
        grown: args
            .thickness
            .iter()
            .map(|thickness| grown(&body, *thickness))
            .collect(),
        cautions: match &survey {
            Some(survey) => cautions(survey),
            None if flat => vec![FLAT.to_owned()],
            None => Vec::new(),
        },
    };
    if json {
        print_json(&view::json::area(&facts));
    } else {
        print_text(&view::text::area(&facts));
    }
    Ok(())
}

/// What should be known beside a mesh's figures.
fn cautions(survey: &Survey) -> Vec<String> {
    let mut list = Vec::new();
    let [x, y, z] = survey.extent.map(|length| length.mm());
    list.push(format!(
        "the mesh is {x:.1} x {y:.1} x {z:.1} mm: check the unit"
    ));
    if !survey.watertight {
        list.push(format!(
            "{} edges are open: the interval is wider",
            survey.open_edges
        ));
    }
    if survey.inside_out {
        list.push("its triangles face inwards; it was measured as if they did not".to_owned());
    }
    if survey.sharp_inward.mm() > 0.0 {
        list.push(format!(
            "{:.0} mm of sharp inward edges: growth is overstated there",
            survey.sharp_inward.mm()
        ));
    }
    list
}

fn form(args: &AreaArgs) -> Result<Form, Failure> {
    let shelf = Shelf::disk();
    if let (Some(file), Some(unit)) = (&args.mesh, &args.unit) {
        let unit = Length::read(&format!("1 {unit}")).map_err(|fault| {
            Failure::new(Exit::BadInput, "bad-value", fault.to_string())
                .remedy("write `mm`, `cm` or `in`")
        })?;
        let bytes = shelf.mesh(file, None).map_err(|why| {
            Failure::new(Exit::BadInput, "missing-file", why)
                .at(file)
                .remedy("name a file of triangles: STL, binary or ASCII")
        })?;
        let mesh = Mesh::from_stl(&bytes, unit).map_err(|fault| {
            Failure::new(Exit::BadInput, "bad-mesh", fault.to_string())
                .at(file)
                .remedy("export it again as STL, whole and closed")
        })?;
        return Ok(Form::Mesh(std::sync::Arc::new(mesh)));
    }
    let text = args.shape.as_deref().unwrap_or_default();
    Ok(read_form::read_text(text, &shelf)?)
}

/// The body under copper of the pure metal's density, at full efficiency.
fn grown(body: &Body, thickness: Length) -> Grown {
    let copper = Metal::COPPER;
    let mass = copper.density * body.deposit_volume(thickness);
    Grown {
        thickness,
        area: body.area_at(thickness),
        charge: copper.charge(mass, 1.0),
        mass,
    }
}
