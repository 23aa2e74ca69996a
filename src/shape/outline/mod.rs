//! Outlines from pictures: a photo or scan (PNG, JPEG), or a drawn path (SVG).

mod blobs;
mod contour;
mod drawing;
mod photo;

use super::Outline;
use crate::units::Length;
use std::sync::Arc;

/// How large a picture is in the world.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scale {
    /// Dots in an inch, as a scanner states.
    Dpi(f64),
    /// A plain bar of this length lies beside the leaf.
    Bar(Length),
    /// As the file says: only a drawing does.
    Own,
}

/// An outline, and what was recognised.
#[derive(Clone, Debug, PartialEq)]
pub struct Recognised {
    /// The outline.
    pub outline: Outline,
    /// Its extent along both edges of the picture.
    pub extent: [Length; 2],
    /// A PNG: the leaf is red, what is not leaf around and in it bluish, the bar green; a drawing
    /// has none.
    pub picture: Option<Arc<Vec<u8>>>,
    /// Other figures of more than a twentieth of its area, a bar not counted.
    pub others: usize,
    /// A drawing that states no size, so that its units count as 1/96 of an inch.
    pub unscaled: bool,
}

/// A figure beside the leaf is told of from this part of its area.
const TOLD: f64 = 0.05;

/// Why there is no outline in a picture.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum OutlineError {
    /// No picture of a known kind.
    #[error("it is no PNG, JPEG or SVG that can be read: {why}")]
    Unread {
        /// What the reader says.
        why: String,
    },
    /// Too many dots.
    #[error(
        "the picture has {width} x {height} dots, at most {most} million are read: scale it down"
    )]
    TooLarge {
        /// Dots across.
        width: u32,
        /// Dots down.
        height: u32,
        /// Million dots.
        most: u32,
    },
    /// Nothing stands out.
    #[error("nothing stands out from its ground: lay it flat on plain white paper, in even light")]
    NoContrast,
    /// Too small, or nothing at all.
    #[error("no outline was found in it that is larger than a speck of {most} dots")]
    Nothing {
        /// What counts as a speck.
        most: usize,
    },
    /// A drawing without a path.
    #[error("no outline was found in it: no visible path encloses an area")]
    NoPath,
    /// It goes beyond the picture.
    #[error("the outline is cut off by the edge of the picture: leave a rim of ground all round")]
    CutOff,
    /// No bar.
    #[error(
        "no scale bar was found: a plain dark bar, at least four times as long as wide, apart from \
         the leaf"
    )]
    NoBar,
    /// A photo has no scale of its own.
    #[error("a photo does not say how large it is: state `dpi` or `scale_bar`")]
    NoScale,
    /// A drawing has no bar.
    #[error("a scale bar is looked for in photos only: leave it out, or state `dpi`")]
    BarInDrawing,
}

/// Finds the largest outline in the bytes of a PNG, JPEG or SVG.
///
/// # Errors
/// [`OutlineError`] says what is missing and what to do about it.
pub fn recognise(bytes: &[u8], scale: Scale) -> Result<Recognised, OutlineError> {
    let raster = bytes.starts_with(b"\x89PNG") || bytes.starts_with(b"\xff\xd8");
    if raster {
        photo::recognise(bytes, scale)
    } else {
        drawing::recognise(bytes, scale)
    }
}
