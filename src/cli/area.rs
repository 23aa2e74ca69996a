//! `area`: how much surface a shape has, now and as it thickens.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::deposit::Metal;
use crate::shape::mesh::{self, Mesh, Survey};
use crate::shape::outline::Recognised;
use crate::shape::reach::Reach;
use crate::shape::{Body, Narrow, ShapeError, Shells};
use crate::spec::{Form, Shelf, read_form, read_paint};
use crate::units::{Length, Quantity};
use crate::view::{self, AreaFacts, Grown};
use std::path::{Path, PathBuf};

/// How much surface a shape or mesh has.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat area '{ kind = \"sphere\", diameter = \"22 mm\" }' --thickness '300 um'\n  \
    nightvat area --mesh pod.stl --unit mm\n  \
    nightvat area --mesh pod.stl --unit mm --contact top\n\n\
    The shape is written as in a job file. Next: put it into a job and ask `nightvat plan JOB`.")]
pub(super) struct AreaArgs {
    /// The shape, as the inline table of a job file
    #[arg(required_unless_present = "mesh", conflicts_with = "mesh")]
    shape: Option<String>,
    /// A mesh file: STL, OBJ, PLY or 3MF
    #[arg(long, value_name = "FILE")]
    mesh: Option<String>,
    /// The unit of the mesh's numbers; only a 3MF carries its own
    #[arg(long, value_name = "UNIT", value_parser = ["mm", "cm", "m", "in", "um"])]
    unit: Option<String>,
    /// Whether the skins within another count: `all` where the bath reaches the hollow
    #[arg(long, value_name = "WHERE", value_parser = ["outside", "all"], default_value = "outside")]
    wet: String,
    /// Where a clip touches a mesh, as "X, Y, Z" in its own frame or as a side (top, bottom, left,
    /// right, front, back): how far the copper has to go from there; may be given again
    #[arg(
        long,
        value_name = "PLACE",
        requires = "mesh",
        allow_hyphen_values = true
    )]
    contact: Vec<String>,
    /// Where the picture of a mesh with a contact goes, coloured by when copper arrives
    #[arg(long, value_name = "FILE.svg", default_value = "arrival.svg")]
    arrival: PathBuf,
    /// True area over smooth area; it multiplies the area at the start, not the growth
    #[arg(long, default_value_t = 1.0)]
    texture: f64,
    /// Where the picture of what was recognised in a photo goes
    #[arg(long, value_name = "FILE.png", default_value = "recognised.png")]
    picture: PathBuf,
    /// At this thickness of copper as well; may be given again
    #[arg(long, value_name = "THICKNESS", value_parser = Length::read,
        default_values = ["100 um", "300 um"])]
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
    let mut pictures = write_pictures(&form, &args.picture)?;
    let reach = reach(&form, &args.contact)?;
    if let Some(reach) = &reach {
        let drawn = view::picture::arrival(reach);
        written(&args.arrival, drawn.as_bytes(), "--arrival FILE.svg")?;
        pictures.push(args.arrival.display().to_string());
    }
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
            Some(survey) => {
                let mut list = cautions(survey);
                let meshes = form.meshes();
                let most = args.thickness.iter().copied().reduce(Length::max);
                for mesh in meshes {
                    list.extend(most.and_then(|most| narrow(&mesh.narrow(survey, most))));
                    list.extend(skins(mesh));
                }
                list
            }
            None if flat => vec![FLAT.to_owned()],
            None => form.recognised().into_iter().map(recognised).collect(),
        },
        pictures,
        reach: reach.iter().flat_map(covered).collect(),
    };
    if json {
        print_json(&view::json::area(&facts));
    } else {
        print_text(&view::text::area(&facts));
    }
    Ok(())
}

/// Writes what was recognised, one file for each picture, numbered from the second.
fn write_pictures(form: &Form, path: &Path) -> Result<Vec<String>, Failure> {
    let mut list = Vec::new();
    let seen = form.recognised();
    for bytes in seen.into_iter().filter_map(|seen| seen.picture.as_ref()) {
        let number = list.len() + 1;
        let name = if number == 1 {
            path.to_owned()
        } else {
            path.with_extension(format!("{number}.png"))
        };
        written(&name, bytes, "--picture FILE.png")?;
        list.push(name.display().to_string());
    }
    Ok(list)
}

fn written(path: &Path, bytes: &[u8], option: &str) -> Result<(), Failure> {
    std::fs::write(path, bytes).map_err(|fault| {
        Failure::new(Exit::BadInput, "not-writable", fault.to_string())
            .at(path.display().to_string())
            .remedy(format!("`{option}` names another place"))
    })
}

/// How far the copper goes over a mesh from its contacts.
fn reach(form: &Form, contacts: &[String]) -> Result<Option<Reach>, Failure> {
    let (Form::Mesh(mesh), false) = (form, contacts.is_empty()) else {
        return Ok(None);
    };
    let read = |text: &String| {
        read_paint::touch(text).ok_or_else(|| {
            let said = format!("`{text}` is no place on a mesh");
            Failure::new(Exit::BadInput, "bad-value", said)
                .remedy("write --contact '0 mm, 0 mm, 41 mm', or a side: --contact top")
        })
    };
    let touches = contacts.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    let reach = Reach::over(mesh, &touches).map_err(|fault| {
        Failure::new(Exit::BadInput, "bad-value", fault.to_string())
            .remedy(read_paint::advice(&fault).1)
    })?;
    Ok(Some(reach))
}

/// Shares of the area that are told of, and where they end.
fn covered(reach: &Reach) -> [(f64, Length); 5] {
    [0.1, 0.25, 0.5, 0.75, 1.0].map(|share| (share, reach.distance(share)))
}

/// What was taken from a picture of a leaf.
fn recognised(seen: &Recognised) -> String {
    let [x, y] = seen.extent.map(Length::mm);
    let outline = seen.outline;
    format!(
        "the outline is {x:.1} x {y:.1} mm, {:.2} cm2 on one face, {:.1} mm round, with {} holes: \
         check that",
        outline.area.cm2(),
        outline.perimeter.mm(),
        outline.holes
    )
}

/// What should be known of the skins of a mesh.
fn skins(mesh: &Mesh) -> Vec<String> {
    let shells = Shells::of(mesh);
    let mut list = Vec::new();
    if shells.inner > 0 {
        list.push(format!(
            "{} skins lie within another, {:.2} cm2 that count as wet: true only if the bath \
             reaches them",
            shells.inner,
            shells.inner_area.cm2()
        ));
    }
    if shells.overlapping > 0 {
        list.push(format!(
            "{} skins cut through another: what is within counts twice; join them in the program \
             that made them",
            shells.overlapping
        ));
    }
    if shells.crossings > 0 {
        list.push(format!(
            "its surface cuts through itself in {} places: what is within counts all the same; \
             repair it in the program that made it",
            shells.crossings
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
            "{:.0} mm of edges bend inwards by more than 30 degrees: the deposit is thin there",
            survey.sharp_inward.mm()
        ));
    }
    list
}

fn form(args: &AreaArgs) -> Result<Form, Failure> {
    let shelf = Shelf::disk();
    if let Some(file) = &args.mesh {
        let unit = args.unit.as_deref().and_then(mesh::unit);
        let bytes = shelf.mesh(file, None).map_err(|why| {
            Failure::new(Exit::BadInput, "missing-file", why)
                .at(file)
                .remedy("name a file of triangles: STL, OBJ, PLY or 3MF")
        })?;
        let mesh = Mesh::read(&bytes, unit).map_err(|fault| {
            Failure::new(Exit::BadInput, "bad-mesh", fault.to_string())
                .at(file)
                .remedy("export it again, whole and closed, and state its unit")
        })?;
        let mesh = if args.wet == "all" {
            mesh
        } else {
            mesh.outside()
        };
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
