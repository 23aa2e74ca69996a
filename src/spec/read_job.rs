//! Reads a job.

use super::job::{Finish, Hanger, Job, Look, Piece, Ramp, Strike, Surface, Target, Until};
use super::problem::Problems;
use super::read_form::{self, Meshes};
use super::read_paint;
use super::sheet::Sheet;
use super::shelf::{Shelf, Sort};
use super::table::{Table, quoted};
use crate::units::{Charge, CurrentDensity, Fraction, Length, Mass, Span};

/// Two thicknesses that are nearer than this are the same one in different units.
const SAME: Length = Length::from_um(0.001);

/// Finds a job by its name or path and reads it.
///
/// # Errors
/// The one problem of a file that is not there, or every problem of one that is.
pub fn open(name: &str, shelf: &Shelf) -> Result<Job, Problems> {
    let found = shelf.find(Sort::Job, name, None)?;
    read(&found.path, &found.text, shelf)
}

/// Reads the text of a job. Files it names are looked for beside `path`.
///
/// # Errors
/// Every problem of the text, in its order.
pub fn read(path: &str, text: &str, shelf: &Shelf) -> Result<Job, Problems> {
    let sheet = Sheet::parse(path, text);
    let root = sheet.root();
    let meshes = Meshes::new(shelf, Some(path));
    let job = draft(&root, shelf, &meshes, path);
    root.end();
    sheet.finish(job)
}

/// Reads the text of a file that holds nothing but pieces, which are to be hung into a run of this
/// job. Files it names are looked for beside `path`.
///
/// # Errors
/// Every problem of the text, in its order.
pub fn read_pieces(
    path: &str,
    text: &str,
    shelf: &Shelf,
    job: &Job,
) -> Result<Vec<Piece>, Problems> {
    let sheet = Sheet::parse(path, text);
    let root = sheet.root();
    let meshes = Meshes::new(shelf, Some(path));
    let taken = job.pieces.iter().map(|piece| piece.name.clone()).collect();
    let pieces = pieces(&root, &meshes, job.strike.is_some(), taken);
    root.end();
    sheet.finish(Some(pieces.read))
}

/// Reads every part before the first missing one is given up for, so that all problems are told.
fn draft(root: &Table<'_>, shelf: &Shelf, meshes: &Meshes<'_>, path: &str) -> Option<Job> {
    let name = name(root);
    let bath = profile(root, "bath", Sort::Bath, shelf, path);
    let target_table = root.required_table("target");
    let target = target_table.as_ref().and_then(target);
    let current = root.required_table("current");
    let density = current.as_ref().and_then(|table| density(table, "density"));
    let strike = current.as_ref().and_then(|table| strike(table, density));
    let ramp = current.as_ref().and_then(ramp);
    let finish = root
        .table("finish")
        .and_then(|table| finish(&table, density));
    let pieces = pieces(
        root,
        meshes,
        current.as_ref().is_some_and(|table| table.has("strike")),
        Vec::new(),
    );
    let until = target_table
        .as_ref()
        .and_then(|table| until(table, &pieces.names));
    let hangers = hangers(root, meshes);
    let looks = looks(root, target);
    Some(Job {
        name: name?,
        bath: bath?,
        target: target?,
        until: until?,
        density: density?,
        strike,
        ramp,
        finish,
        pieces: pieces.read,
        hangers,
        looks,
    })
}

/// A name that fits on a line, in a path of the interface and in a table of the ledger.
pub(super) fn name(table: &Table<'_>) -> Option<String> {
    let name = table.required_text("name")?;
    let long = name.chars().count() > 80;
    let odd = name.contains('/') || name.chars().any(char::is_control) || name.trim() != name;
    if long || odd {
        let allowed =
            "a name of at most 80 letters, without `/`, line breaks or blanks at its ends";
        table.problem_at(
            "name",
            &format!("the name {name:?}"),
            allowed,
            "give it a plain name",
        );
        return None;
    }
    Some(name)
}

/// The name or path of a profile that exists; a path is given as it is found from the working
/// folder.
pub(super) fn profile(
    table: &Table<'_>,
    key: &str,
    sort: Sort,
    shelf: &Shelf,
    beside: &str,
) -> Option<String> {
    let name = table.required_text(key)?;
    if sort.names().any(|known| known == name) {
        return Some(name);
    }
    match shelf.find(sort, &name, Some(beside)) {
        Ok(found) => Some(found.path),
        Err(problems) => {
            for one in problems.0 {
                table.problem_of(one.code, key, &one.found, &one.allowed, &one.remedy);
            }
            None
        }
    }
}

/// A current density within what any bath bears.
pub(super) fn density(table: &Table<'_>, key: &str) -> Option<CurrentDensity> {
    let density = table.required_quantity::<CurrentDensity>(key)?;
    let (low, high) = (
        CurrentDensity::from_a_per_dm2(0.001),
        CurrentDensity::from_a_per_dm2(50.0),
    );
    table.in_range(key, density, low, high, "a current density")
}

fn span(table: &Table<'_>, key: &str, low: Span, high: Span) -> Option<Span> {
    let span = table.required_quantity::<Span>(key)?;
    table.in_range(key, span, low, high, "a time")
}

/// A thickness that one night or a few can build.
fn thickness(table: &Table<'_>, key: &str) -> Option<Length> {
    let thickness = table.quantity::<Length>(key)?;
    let (low, high) = (Length::from_um(1.0), Length::from_mm(5.0));
    table.in_range(key, thickness, low, high, "a thickness of deposit")
}

fn target(table: &Table<'_>) -> Option<Target> {
    let keys = ["thickness", "mass", "charge", "hours"];
    let there: Vec<&str> = keys.into_iter().filter(|key| table.has(key)).collect();
    let thick = thickness(table, "thickness").map(Target::Thickness);
    let mass = table.quantity::<Mass>("mass").and_then(|mass| {
        let (low, high) = (Mass::from_mg(1.0), Mass::from_kg(5.0));
        table
            .in_range("mass", mass, low, high, "a mass of deposit")
            .map(Target::Mass)
    });
    let charge = table.quantity::<Charge>("charge").and_then(|charge| {
        let (low, high) = (Charge::from_ah(0.001), Charge::from_ah(10_000.0));
        table
            .in_range("charge", charge, low, high, "a charge")
            .map(Target::Charge)
    });
    let hours = table.quantity::<Span>("hours").and_then(|hours| {
        let (low, high) = (Span::from_min(1.0), Span::from_h(720.0));
        table
            .in_range("hours", hours, low, high, "a time")
            .map(Target::Hours)
    });
    match there.as_slice() {
        [] => {
            let allowed = "one of thickness, mass, charge, hours";
            table.need("thickness", allowed, "thickness = \"250 um\"");
            None
        }
        [_] => thick.or(mass).or(charge).or(hours),
        [first, second, ..] => {
            let found = format!("`{second}` beside `{first}`");
            let remedy = format!("keep `{first}` or `{second}`, not both");
            table.problem_at(second, &found, "one target for the whole job", &remedy);
            None
        }
    }
}

fn until(table: &Table<'_>, names: &[String]) -> Option<Until> {
    if !table.has("until") {
        return Some(Until::Thinnest);
    }
    let mut words = vec!["thinnest", "rack-mean"];
    words.extend(names.iter().map(String::as_str));
    Some(match table.one_of("until", &words)? {
        "thinnest" => Until::Thinnest,
        "rack-mean" => Until::RackMean,
        piece => Until::Piece(piece.to_owned()),
    })
}

fn strike(current: &Table<'_>, build: Option<CurrentDensity>) -> Option<Strike> {
    let table = current.table("strike")?;
    let density = density(&table, "density");
    let duration = span(&table, "for", Span::from_s(1.0), Span::from_h(48.0));
    let density = density?;
    if build.is_some_and(|build| density > build) {
        let allowed = "a strike that is gentler than `current.density`";
        let remedy = "lower this one, or raise `current.density`";
        table.problem_at(
            "density",
            "a strike above the full density",
            allowed,
            remedy,
        );
        return None;
    }
    Some(Strike {
        density,
        duration: duration?,
        until_covered: table.one_of("until", &["time", "covered"]) == Some("covered"),
    })
}

fn ramp(current: &Table<'_>) -> Option<Ramp> {
    let table = current.table("ramp")?;
    span(&table, "over", Span::from_s(1.0), Span::from_h(48.0)).map(|over| Ramp { over })
}

fn finish(table: &Table<'_>, build: Option<CurrentDensity>) -> Option<Finish> {
    let hold = density(table, "hold");
    let at_most = span(table, "at_most", Span::from_min(1.0), Span::from_h(168.0));
    let hold = hold?;
    if build.is_some_and(|build| hold >= build) {
        let allowed =
            "a hold far below `current.density`: it only keeps the copper from dissolving";
        table.problem_at(
            "hold",
            "a hold as strong as the build",
            allowed,
            "write hold = \"0.05 A/dm2\"",
        );
        return None;
    }
    Some(Finish {
        hold,
        at_most: at_most?,
    })
}

/// The pieces that could be read, and the names of all.
struct Pieces {
    read: Vec<Piece>,
    names: Vec<String>,
}

/// The pieces; `names` are those that are taken already.
fn pieces(root: &Table<'_>, meshes: &Meshes<'_>, strike: bool, names: Vec<String>) -> Pieces {
    let heading = "[[piece]] with name, surface and shape";
    root.need("piece", "at least one piece, [[piece]]", heading);
    let mut all = Pieces {
        read: Vec::new(),
        names,
    };
    let mut told = strike;
    for table in root.tables("piece") {
        let name = piece_name(&table, &all.names);
        all.names.extend(name.clone());
        let surface = surface(&table);
        if surface == Some(Surface::Paint) && !told {
            told = true; // once for the whole job
            let allowed = "a gentle start for paint: [current.strike] with `density` and `for`";
            let remedy = "add [current.strike], say density = \"0.3 A/dm2\", for = \"40 min\"";
            table.problem_of(
                "paint-without-strike",
                "surface",
                "paint without a strike",
                allowed,
                remedy,
            );
        }
        all.read.extend(piece(&table, name, surface, meshes));
    }
    all
}

fn piece_name(table: &Table<'_>, others: &[String]) -> Option<String> {
    let name = name(table)?;
    let reserved = ["thinnest", "rack-mean"];
    if others.contains(&name) {
        let found = format!("a second piece {name:?}");
        let remedy = "give each piece a name of its own";
        table.problem_at(
            "name",
            &found,
            "a name that no other piece of the job has",
            remedy,
        );
        return None;
    }
    if reserved.contains(&name.as_str()) {
        let found = format!("a piece named {name:?}");
        let allowed = format!("any name but {}, which `until` uses", quoted(&reserved));
        table.problem_at("name", &found, &allowed, "give it another name");
        return None;
    }
    Some(name)
}

fn surface(table: &Table<'_>) -> Option<Surface> {
    let word = table.required_one_of("surface", &["paint", "metal"])?;
    Some(if word == "paint" {
        Surface::Paint
    } else {
        Surface::Metal
    })
}

fn piece(
    table: &Table<'_>,
    name: Option<String>,
    surface: Option<Surface>,
    meshes: &Meshes<'_>,
) -> Option<Piece> {
    let form = read_form::required(table, "shape", meshes);
    let texture = match table.number("texture") {
        Some(texture) => {
            table.in_range("texture", texture, 1.0, 20.0, "true area over smooth area,")
        }
        None => Some(1.0),
    };
    let uncertainty = table.quantity::<Fraction>("uncertainty").and_then(|half| {
        let (low, high) = (Fraction::from_percent(0.01), Fraction::from_percent(95.0));
        table.in_range("uncertainty", half, low, high, "a half-width")
    });
    let peak_to_mean = table.number("peak_to_mean").and_then(|peak| {
        table.in_range("peak_to_mean", peak, 1.0, 10.0, "peak over mean density,")
    });
    let paint = read_paint::paint(table, surface, form.as_ref());
    Some(Piece {
        name: name?,
        surface: surface?,
        form: form?,
        texture: texture?,
        uncertainty,
        peak_to_mean,
        paint: paint?,
    })
}

fn hangers(root: &Table<'_>, meshes: &Meshes<'_>) -> Vec<Hanger> {
    let tables = root.tables("hanger");
    let read = |table: Table<'_>| read_form::required(&table, "shape", meshes);
    tables
        .into_iter()
        .filter_map(read)
        .map(|form| Hanger { form })
        .collect()
}

fn looks(root: &Table<'_>, target: Option<Target>) -> Vec<Look> {
    let mut looks: Vec<Look> = Vec::new();
    for table in root.tables("look") {
        table.need("at", "the thickness it is due at", "at = \"60 um\"");
        let Some(at) = thickness(&table, "at") else {
            continue;
        };
        if matches!(target, Some(Target::Thickness(end)) if at > end - SAME) {
            let allowed = "a thickness below the target's";
            table.problem_at(
                "at",
                "a look that never comes due",
                allowed,
                "lower it, or take it out",
            );
        }
        if looks.iter().any(|other| (other.at - at).abs() < SAME) {
            let allowed = "looks at different thicknesses";
            table.problem_at(
                "at",
                "a second look at the same thickness",
                allowed,
                "take one out",
            );
        }
        looks.push(Look { at });
    }
    looks.sort_by(|one, other| one.at.si().total_cmp(&other.at.si()));
    looks
}
