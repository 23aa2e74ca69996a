//! `area`: how much surface a shape has, now and as it thickens.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::deposit::{self, Deposit, Metal};
use crate::shape::Body;
use crate::shape::mesh::Mesh;
use crate::spec::{Form, Shelf, read_form};
use crate::units::{Length, Quantity};
use crate::view;

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

/// Does it.
pub(super) fn run(args: &AreaArgs, json: bool) -> Result<(), Failure> {
    if !(1.0..=20.0).contains(&args.texture) {
        let said = format!("the texture is {}, allowed is 1 to 20", args.texture);
        return Err(Failure::new(Exit::BadInput, "bad-value", said));
    }
    let form = form(args)?;
    let body = form
        .body()
        .map_err(|fault| Failure::new(Exit::BadInput, "bad-shape", fault.to_string()))?
        .with_texture(args.texture);
    let measured = view::AreaMeasured {
        body,
        mesh: mesh_of(&form).map(|mesh| (mesh.is_watertight(), mesh.triangles.len())),
        grown: args.thickness.iter().map(|thickness| grown(&body, *thickness)).collect(),
    };
    if json {
        print_json(&view::json::area(&measured));
    } else {
        print_text(&view::text::area(&measured));
    }
    Ok(())
}

fn form(args: &AreaArgs) -> Result<Form, Failure> {
    let shelf = Shelf::disk();
    if let (Some(file), Some(unit)) = (&args.mesh, &args.unit) {
        let unit = Length::read(&format!("1 {unit}"))
            .map_err(|fault| Failure::new(Exit::BadInput, "bad-value", fault.to_string()))?;
        let bytes = shelf
            .mesh(file, None)
            .map_err(|why| Failure::new(Exit::BadInput, "missing-file", why).at(file))?;
        let mesh = Mesh::from_stl(&bytes, unit)
            .map_err(|fault| Failure::new(Exit::BadInput, "bad-mesh", fault.to_string()).at(file))?;
        return Ok(Form::Mesh(std::sync::Arc::new(mesh)));
    }
    let text = args.shape.as_deref().unwrap_or_default();
    Ok(read_form::read_text(text, &shelf)?)
}

fn mesh_of(form: &Form) -> Option<&Mesh> {
    match form {
        Form::Mesh(mesh) => Some(mesh),
        _ => None,
    }
}

/// The body under copper of the pure metal's density, at full efficiency.
fn grown(body: &Body, thickness: Length) -> view::Grown {
    let copper = Deposit::pure(Metal::COPPER);
    let charge = deposit::growth::charge(body, &copper, thickness);
    view::Grown {
        thickness,
        area: body.area_at(thickness),
        charge,
        mass: copper.metal.mass(charge, copper.efficiency),
    }
}
