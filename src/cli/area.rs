//! `area`: how much surface a shape has, now and as it thickens.

mod cautions;

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::deposit::Metal;
use crate::shape::mesh::{self, Mesh};
use crate::shape::reach::Reach;
use crate::shape::{Body, MeshError, ShapeError};
use crate::spec::{Form, Shelf, read_form, read_paint};
use crate::units::{Length, Quantity};
use crate::view::{self, AreaFacts, Grown};
use cautions::cautions;
use std::path::{Path, PathBuf};

/// How much surface a shape or mesh has.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat area '{ kind = \"sphere\", diameter = \"22 mm\" }' --thickness '300 um'\n  \
    nightvat area --mesh pod.stl --unit mm\n  \
    nightvat area --mesh pod.stl --unit mm --contact top\n  \
    nightvat area '{ kind = \"leaf\", file = \"leaf.png\", dpi = 300, thickness = \"0.3 mm\" }'\n  \
    nightvat area '{ kind = \"foil\", mass = \"0.52 g\", per_area = \"4.1 mg/cm2\" }'\n\n\
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
    /// Whether the skins within another count: `all` where the bath reaches the hollow, or
    /// `outside`, which is taken where nothing is said
    #[arg(long, value_name = "WHERE", value_parser = ["outside", "all"])]
    wet: Option<String>,
    /// Where a clip touches a mesh, as "X, Y, Z" in its own frame or as a side (top, bottom, left,
    /// right, front, back): how far the copper has to go from there; may be given again
    #[arg(long, value_name = "PLACE", allow_hyphen_values = true)]
    contact: Vec<String>,
    /// Where the picture of a mesh with a contact goes, coloured by when copper arrives
    #[arg(
        long,
        value_name = "FILE.svg",
        default_value = "arrival.svg",
        requires = "contact"
    )]
    arrival: PathBuf,
    /// True area over smooth area; it multiplies the area at the start, not the growth
    #[arg(long, default_value_t = 1.0)]
    texture: f64,
    /// Where the picture of what was recognised in a photo goes
    #[arg(
        long,
        value_name = "FILE.png",
        default_value = "recognised.png",
        conflicts_with = "mesh"
    )]
    picture: PathBuf,
    /// At this thickness of copper as well; may be given again
    #[arg(long, value_name = "THICKNESS", value_parser = Length::read,
        default_values = ["100 um", "300 um"])]
    thickness: Vec<Length>,
}

/// The thickest deposit that is reckoned with: a job's target ends there too.
const THICKEST: Length = Length::from_mm(5.0);

/// Does it.
pub(super) fn run(args: &AreaArgs, json: bool) -> Result<(), Failure> {
    checked(args)?;
    let form = form(args)?;
    let bad = |fault: ShapeError| {
        Failure::new(Exit::BadInput, "bad-shape", fault.to_string())
            .remedy("measure it again, and look at the units")
    };
    let body = form
        .body()
        .and_then(|body| body.with_texture(args.texture))
        .map_err(bad)?;
    // An area alone says nothing of how it is bent.
    let flat = form.is_flat();
    let mut pictures = write_pictures(&form, &args.picture)?;
    let reach = reach(&form, &args.contact)?;
    if let Some(reach) = &reach {
        let drawn = view::picture::arrival(reach);
        written(&args.arrival, drawn.as_bytes(), "--arrival FILE.svg")?;
        pictures.push(args.arrival.display().to_string());
    }
    let meshes = form.meshes();
    let surveys = meshes.iter().map(|mesh| mesh.survey());
    let surveys = surveys
        .collect::<Result<Vec<_>, _>>()
        .map_err(|fault| bad(fault.into()))?;
    let closed = surveys.iter().all(|survey| survey.watertight);
    let meshed = !surveys.is_empty();
    let most = args
        .thickness
        .iter()
        .copied()
        .fold(Length::ZERO, Length::max);
    let facts = AreaFacts {
        area: body.area_interval(),
        mean_curvature: (!flat).then_some(body.mean_curvature),
        gauss: (!flat).then_some(body.gauss),
        // What a mesh with holes encloses is not known.
        volume: (!flat && closed).then_some(body.volume),
        watertight: meshed.then_some(closed),
        triangles: meshed.then(|| surveys.iter().map(|survey| survey.triangles).sum()),
        grown: args
            .thickness
            .iter()
            .map(|thickness| grown(&body, *thickness))
            .collect(),
        cautions: cautions(&form, &surveys, most),
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

/// Texture and thicknesses within what there is.
fn checked(args: &AreaArgs) -> Result<(), Failure> {
    if !(1.0..=20.0).contains(&args.texture) {
        let said = format!("the texture is {}, allowed is 1 to 20", args.texture);
        return Err(Failure::new(Exit::BadInput, "bad-value", said)
            .remedy("1 is smooth; 1.2 to 3 for a rough seed head"));
    }
    let built = |one: &Length| *one >= Length::ZERO && *one <= THICKEST;
    if let Some(other) = args.thickness.iter().find(|one| !built(one)) {
        let said = format!(
            "a deposit of {} um; allowed is 0 um to {} um",
            other.um(),
            THICKEST.um()
        );
        return Err(
            Failure::new(Exit::BadInput, "bad-value", said).remedy("look at the unit: `300 um`")
        );
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
    if contacts.is_empty() {
        return Ok(None);
    }
    let one = match form {
        Form::Many { each, .. } => each,
        other => other,
    };
    let Form::Mesh(mesh) = one else {
        let said = "a place of contact on a shape that is not one mesh";
        return Err(Failure::new(Exit::BadInput, "bad-value", said)
            .remedy("take `--contact` out, or give the mesh of the piece: --mesh FILE"));
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

fn form(args: &AreaArgs) -> Result<Form, Failure> {
    let shelf = Shelf::disk();
    let Some(file) = &args.mesh else {
        if args.unit.is_some() || args.wet.is_some() {
            let said = "`--unit` and `--wet` go with `--mesh FILE`";
            return Err(Failure::new(Exit::BadInput, "bad-usage", said)
                .remedy("write `unit` and `wet` into the shape, as in a job file"));
        }
        return described(args.shape.as_deref().unwrap_or_default(), &shelf);
    };
    let unit = args.unit.as_deref().and_then(mesh::unit);
    let bytes = shelf.mesh(file, None).map_err(|why| {
        Failure::new(Exit::BadInput, "missing-file", why)
            .at(file)
            .remedy("name a file of triangles: STL, OBJ, PLY or 3MF")
    })?;
    let mesh = Mesh::read(&bytes, unit).map_err(|fault| {
        let remedy = match fault {
            MeshError::NoUnit => "state its unit: `--unit mm` for most programs".to_owned(),
            _ => fault.remedy(),
        };
        Failure::new(Exit::BadInput, "bad-mesh", fault.to_string())
            .at(file)
            .remedy(remedy)
    })?;
    let all = args.wet.as_deref() == Some("all");
    let mesh = if all { mesh } else { mesh.outside() };
    Ok(Form::Mesh(std::sync::Arc::new(mesh)))
}

/// A shape as it stands in a job file. What is neither a table nor a list is a file, or a word.
fn described(text: &str, shelf: &Shelf) -> Result<Form, Failure> {
    let word = text.trim();
    if word.starts_with(['{', '[']) {
        return Ok(read_form::read_text(text, shelf)?);
    }
    let ending = Path::new(word).extension().and_then(|end| end.to_str());
    let ending = ending.unwrap_or_default().to_lowercase();
    let remedy = match ending.as_str() {
        "stl" | "obj" | "ply" | "3mf" => {
            format!("for a mesh write: nightvat area --mesh {word} --unit mm")
        }
        "png" | "jpg" | "jpeg" | "svg" => format!(
            "for a leaf write: nightvat area '{{ kind = \"leaf\", file = \"{word}\", dpi = 300, \
             thickness = \"0.3 mm\" }}'"
        ),
        _ => "write: nightvat area '{ kind = \"sphere\", diameter = \"22 mm\" }'".to_owned(),
    };
    let said = format!("`{word}` is no shape; a shape is an inline table, or a list of them");
    Err(Failure::new(Exit::BadInput, "bad-shape", said).remedy(remedy))
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
