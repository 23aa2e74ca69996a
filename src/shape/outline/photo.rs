//! Photos and scans: ground and figure are told apart by brightness, and the largest figure is the
//! leaf.

use super::blobs::{self, Blob};
use super::contour::{self, Grid};
use super::{OutlineError, Recognised, Scale, TOLD};
use crate::shape::{Outline, uncertainty};
use crate::units::{Area, Length};
use image::{GrayImage, ImageReader, Limits, Rgb, RgbImage};
use std::io::Cursor;
use std::sync::Arc;

/// Million dots that are read.
const MOST: u32 = 50;
/// Memory a decoder may take.
const MEMORY: u64 = 512 << 20;
/// A figure or hole of fewer dots is a speck.
const SPECK: usize = 60;
/// Ground and figure differ at least by this, of 255.
const CONTRAST: f64 = 30.0;
/// How far brightness is smoothed, in dots: it takes the staircase out of the rim.
const SMOOTH: f32 = 1.2;
/// Dots across the picture that is written.
const SHOWN: usize = 1400;

pub(super) fn recognise(bytes: &[u8], scale: Scale) -> Result<Recognised, OutlineError> {
    let gray = decode(bytes)?;
    let seen = Seen::of(&gray)?;
    let (leaf, bar) = seen.choose(matches!(scale, Scale::Bar(_)))?;
    let dot = match (scale, bar) {
        (Scale::Dpi(dpi), _) => Length::from_mm(25.4 / dpi),
        (Scale::Bar(length), Some((_, dots))) => length / dots,
        (Scale::Bar(_), None) => return Err(OutlineError::NoBar),
        (Scale::Own, _) => return Err(OutlineError::NoScale),
    };
    let cut = Cut::of(&seen, leaf);
    let (area, rim) = contour::measure(&cut.grid, 0.0);
    let [left, top, right, bottom] = seen.blobs[leaf].bounds;
    let square = dot.m() * dot.m();
    Ok(Recognised {
        outline: Outline {
            area: Area::from_m2(area * square),
            perimeter: dot * rim,
            holes: cut.holes,
            uncertainty: uncertainty::LEAF,
        },
        extent: [right + 1 - left, bottom + 1 - top].map(|dots| dot * dots as f64),
        picture: drawn(&gray, &seen, leaf, bar.map(|(bar, _)| bar)).map(Arc::new),
        others: seen.others(leaf, bar.map(|(bar, _)| bar)),
        unscaled: false,
    })
}

/// Brightness, what is transparent being white.
fn decode(bytes: &[u8]) -> Result<GrayImage, OutlineError> {
    let unread = |why: String| OutlineError::Unread { why };
    let open = || {
        let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format()?;
        let mut limits = Limits::default();
        limits.max_alloc = Some(MEMORY);
        reader.limits(limits);
        Ok(reader)
    };
    let failed = |fault: std::io::Error| unread(fault.to_string());
    let (width, height) = open()
        .map_err(failed)?
        .into_dimensions()
        .map_err(|fault| unread(fault.to_string()))?;
    if u64::from(width) * u64::from(height) > u64::from(MOST) * 1_000_000 {
        let most = MOST;
        return Err(OutlineError::TooLarge {
            width,
            height,
            most,
        });
    }
    let image = open()
        .map_err(failed)?
        .decode()
        .map_err(|fault| unread(fault.to_string()))?;
    let mut gray = GrayImage::new(width, height);
    for (to, from) in gray.pixels_mut().zip(image.to_luma_alpha8().pixels()) {
        let [bright, solid] = from.0.map(u32::from);
        let mixed = (bright * solid + 255 * (255 - solid)) / 255;
        to.0[0] = u8::try_from(mixed).unwrap_or(u8::MAX);
    }
    Ok(gray)
}

/// A picture taken apart.
struct Seen {
    width: usize,
    height: usize,
    /// Brightness against the level, smoothed; the figure is above nothing.
    figure: Vec<f32>,
    labels: Vec<u32>,
    blobs: Vec<Blob>,
}

impl Seen {
    fn of(gray: &GrayImage) -> Result<Self, OutlineError> {
        let level = level(gray)?;
        let (width, height) = (gray.width() as usize, gray.height() as usize);
        let smooth = image::imageops::blur(gray, SMOOTH);
        let mut figure: Vec<f32> = smooth
            .as_raw()
            .iter()
            .map(|bright| level - f32::from(*bright))
            .collect();
        // What most of the picture's edge shows is the ground.
        let edge = (0..figure.len()).filter(|at| {
            let (x, y) = (at % width, at / width);
            x == 0 || y == 0 || x + 1 == width || y + 1 == height
        });
        let (dark, all) = edge.fold((0, 0), |(dark, all), at| {
            (dark + usize::from(figure[at] > 0.0), all + 1)
        });
        if 2 * dark > all {
            figure.iter_mut().for_each(|value| *value = -*value);
        }
        let wanted: Vec<bool> = figure.iter().map(|value| *value > 0.0).collect();
        let (labels, blobs) = blobs::label(&wanted, width, false);
        Ok(Self {
            width,
            height,
            figure,
            labels,
            blobs,
        })
    }

    /// The leaf, and the bar with its length in dots.
    fn choose(&self, barred: bool) -> Result<(usize, Option<(usize, f64)>), OutlineError> {
        let mut found: Vec<usize> = (0..self.blobs.len())
            .filter(|at| self.blobs[*at].dots >= SPECK)
            .collect();
        found.sort_by_key(|at| std::cmp::Reverse(self.blobs[*at].dots));
        let bar = found.iter().find_map(|at| {
            let long = self.blobs[*at].bar()?;
            (barred && found.len() > 1).then_some((*at, long))
        });
        if barred && bar.is_none() {
            return Err(OutlineError::NoBar);
        }
        let leaf = found
            .into_iter()
            .find(|at| bar.is_none_or(|(bar, _)| bar != *at))
            .ok_or(OutlineError::Nothing { most: SPECK })?;
        if self.blobs[leaf].at_edge(self.width, self.height) {
            return Err(OutlineError::CutOff);
        }
        Ok((leaf, bar))
    }

    /// How many other figures are large enough to be told of.
    fn others(&self, leaf: usize, bar: Option<usize>) -> usize {
        let least = self.blobs[leaf].dots as f64 * TOLD;
        let told = |at: &usize| *at != leaf && Some(*at) != bar;
        let all = (0..self.blobs.len()).filter(told);
        all.filter(|at| self.blobs[*at].dots as f64 > least).count()
    }

    fn is(&self, at: usize, blob: usize) -> bool {
        usize::try_from(self.labels[at]).is_ok_and(|label| label == blob + 1)
    }
}

/// The level between dark and bright by Otsu's method: it leaves the least variance within both.
#[allow(clippy::cast_possible_truncation)] // a brightness
fn level(gray: &GrayImage) -> Result<f32, OutlineError> {
    let mut counts = [0.0_f64; 256];
    for bright in gray.as_raw() {
        counts[usize::from(*bright)] += 1.0;
    }
    let all: f64 = counts.iter().sum();
    let whole: f64 = counts
        .iter()
        .zip(0..=255_u8)
        .map(|(n, b)| n * f64::from(b))
        .sum();
    let (mut below, mut sum) = (0.0, 0.0);
    let (mut best, mut means) = (0.0, None);
    for (count, bright) in counts.iter().zip(0..=255_u8) {
        below += count;
        sum += count * f64::from(bright);
        if below <= 0.0 || below >= all {
            continue;
        }
        let (dark, light) = (sum / below, (whole - sum) / (all - below));
        let between = below * (all - below) * (light - dark).powi(2);
        if between > best {
            (best, means) = (between, Some([dark, light]));
        }
    }
    match means {
        // Half-way between the means: there the smoothed rim of a figure is where it was.
        Some([dark, light]) if light - dark >= CONTRAST => Ok(f64::midpoint(dark, light) as f32),
        _ => Err(OutlineError::NoContrast),
    }
}

/// The leaf alone, with a rim of ground; specks in it are filled.
struct Cut {
    grid: Grid,
    holes: u32,
}

impl Cut {
    fn of(seen: &Seen, leaf: usize) -> Self {
        let [left, top, right, bottom] = seen.blobs[leaf].bounds;
        let (left, top) = (left.saturating_sub(1), top.saturating_sub(1));
        let (right, bottom) = (
            (right + 1).min(seen.width - 1),
            (bottom + 1).min(seen.height - 1),
        );
        let width = right + 1 - left;
        let places = (top..=bottom).flat_map(|y| (left..=right).map(move |x| y * seen.width + x));
        let mut values = Vec::new();
        let mut ground = Vec::new();
        for at in places {
            let other = seen.labels[at] != 0 && !seen.is(at, leaf);
            // Another figure that reaches in is ground here.
            values.push(if other { -1.0 } else { seen.figure[at] });
            ground.push(!seen.is(at, leaf));
        }
        let (labels, blobs) = blobs::label(&ground, width, true);
        let height = ground.len() / width;
        let mut holes = 0;
        let mut speck = vec![false; blobs.len() + 1];
        for (blob, speck) in blobs.iter().zip(speck.iter_mut().skip(1)) {
            if blob.at_edge(width, height) {
                continue;
            }
            *speck = blob.dots < SPECK;
            holes += u32::from(!*speck);
        }
        for (value, label) in values.iter_mut().zip(&labels) {
            if speck[*label as usize] {
                *value = value.abs().max(1.0);
            }
        }
        Self {
            grid: Grid { width, values },
            holes,
        }
    }
}

/// What was recognised, as a PNG.
fn drawn(gray: &GrayImage, seen: &Seen, leaf: usize, bar: Option<usize>) -> Option<Vec<u8>> {
    let step = seen.width.max(seen.height).div_ceil(SHOWN).max(1);
    let [left, top, right, bottom] = seen.blobs[leaf].bounds;
    let (wide, high) = (seen.width.div_ceil(step), seen.height.div_ceil(step));
    let mut out = RgbImage::new(u32::try_from(wide).ok()?, u32::try_from(high).ok()?);
    for (x, y, to) in out.enumerate_pixels_mut() {
        let (x, y) = (x as usize * step, y as usize * step);
        let at = y * seen.width + x;
        let bright = gray.as_raw()[at] / 2 + 64;
        let within = (left..=right).contains(&x) && (top..=bottom).contains(&y);
        *to = if seen.is(at, leaf) {
            Rgb([220, bright / 2, bright / 2])
        } else if bar.is_some_and(|bar| seen.is(at, bar)) {
            Rgb([0, 150, 60])
        } else if within {
            Rgb([bright, bright, 230])
        } else {
            Rgb([bright, bright, bright])
        };
    }
    let mut bytes = Cursor::new(Vec::new());
    out.write_to(&mut bytes, image::ImageFormat::Png).ok()?;
    Some(bytes.into_inner())
}
