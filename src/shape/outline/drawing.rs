//! Drawn outlines: the path of an SVG that encloses most, with its holes.

use super::{OutlineError, Recognised, Scale, TOLD};
use crate::shape::{Outline, uncertainty};
use crate::units::{Area, Length};
use kurbo::{BezPath, Point, Shape};
use usvg::tiny_skia_path::{PathSegment, Point as Dot};

/// How exact curves are followed, in units of the drawing.
const EXACT: f64 = 1e-3;
/// CSS has 96 units in an inch where a drawing says nothing else.
const CSS: f64 = 96.0;
/// Bytes of a drawing.
const MOST: usize = 16 << 20;

pub(super) fn recognise(bytes: &[u8], scale: Scale) -> Result<Recognised, OutlineError> {
    let dpi = match scale {
        Scale::Dpi(dpi) => dpi,
        Scale::Own => CSS,
        Scale::Bar(_) => return Err(OutlineError::BarInDrawing),
    };
    if bytes.len() > MOST {
        let why = format!("a drawing has at most {} MB", MOST >> 20);
        return Err(OutlineError::Unread { why });
    }
    // A drawing may name other files; none is opened.
    let options = usvg::Options {
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_data(bytes, &options).map_err(|fault| OutlineError::Unread {
        why: fault.to_string(),
    })?;
    let mut paths = Vec::new();
    gather(tree.root(), &mut paths);
    let rings: Vec<Rings> = paths.iter().filter_map(Rings::of).collect();
    let largest = rings
        .iter()
        .max_by(|one, other| one.area.total_cmp(&other.area))
        .ok_or(OutlineError::NoPath)?;
    let told = rings.iter().filter(|ring| ring.area > largest.area * TOLD);
    let unit = Length::from_mm(25.4 / dpi);
    let square = unit.m() * unit.m();
    Ok(Recognised {
        outline: Outline {
            area: Area::from_m2(largest.area * square),
            perimeter: unit * largest.perimeter,
            holes: largest.holes,
            uncertainty: uncertainty::LEAF,
        },
        extent: largest.extent.map(|along| unit * along),
        picture: None,
        others: told.count() - 1,
        unscaled: scale == Scale::Own && !states_size(bytes),
    })
}

/// Whether the drawing's own width is a length in the world, such as `width="60mm"`: a bare number
/// or `px` is none.
fn states_size(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    let head = text.split_once("<svg").map_or("", |(_, rest)| rest);
    let head = head.split('>').next().unwrap_or_default();
    let width = head
        .split_whitespace()
        .find_map(|word| word.strip_prefix("width="));
    let value = width.unwrap_or_default().trim_matches(['"', '\'']);
    ["mm", "cm", "in", "pt", "pc", "Q"]
        .iter()
        .any(|unit| value.ends_with(unit))
}

/// Every visible path, where the drawing puts it.
fn gather(group: &usvg::Group, paths: &mut Vec<BezPath>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => gather(inner, paths),
            usvg::Node::Path(path) if path.is_visible() => {
                let placed = path.data().clone().transform(path.abs_transform());
                paths.extend(placed.map(|placed| followed(&placed)));
            }
            usvg::Node::Path(_) | usvg::Node::Image(_) | usvg::Node::Text(_) => {}
        }
    }
}

fn followed(path: &usvg::tiny_skia_path::Path) -> BezPath {
    let at = |dot: Dot| Point::new(f64::from(dot.x), f64::from(dot.y));
    let mut out = BezPath::new();
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(end) => out.move_to(at(end)),
            PathSegment::LineTo(end) => out.line_to(at(end)),
            PathSegment::QuadTo(one, end) => out.quad_to(at(one), at(end)),
            PathSegment::CubicTo(one, two, end) => out.curve_to(at(one), at(two), at(end)),
            PathSegment::Close => out.close_path(),
        }
    }
    out
}

/// The outermost ring of a path and the rings within it, which are holes.
struct Rings {
    area: f64,
    perimeter: f64,
    holes: u32,
    extent: [f64; 2],
}

impl Rings {
    fn of(path: &BezPath) -> Option<Self> {
        let mut rings: Vec<BezPath> = path.clone().into_iter().fold(Vec::new(), |mut all, part| {
            if matches!(part, kurbo::PathEl::MoveTo(_)) {
                all.push(BezPath::new());
            }
            if let Some(ring) = all.last_mut() {
                ring.push(part);
            }
            all
        });
        for ring in &mut rings {
            ring.close_path();
        }
        rings.sort_by(|one, other| other.area().abs().total_cmp(&one.area().abs()));
        let (outer, rest) = rings.split_first()?;
        let bounds = outer.bounding_box();
        let mut found = Self {
            area: outer.area().abs(),
            perimeter: outer.perimeter(EXACT),
            holes: 0,
            extent: [bounds.width(), bounds.height()],
        };
        if found.area <= 0.0 {
            return None;
        }
        for ring in rest {
            let inside = match ring.elements().first() {
                Some(kurbo::PathEl::MoveTo(start)) => outer.contains(*start),
                _ => false,
            };
            if inside && ring.area() != 0.0 {
                found.area -= ring.area().abs();
                found.perimeter += ring.perimeter(EXACT);
                found.holes += 1;
            }
        }
        (found.area > 0.0).then_some(found)
    }
}
