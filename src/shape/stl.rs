//! The bytes of an STL, binary or text, as triangles joined at their corners, in the file's own
//! unit.
//!
//! Read here and not by a crate because files met in practice hold several solids, upper-case words
//! or the word `solid` at the head of a binary file, and because the message must say what was
//! found. No memory is taken on the word of a header: only what the bytes themselves hold.

use super::MeshError;
use super::net::Net;

/// Bytes before the count of a binary file, and with the count.
const HEADER: usize = 80;
const COUNTED: usize = HEADER + 4;
/// Bytes of one triangle: a normal, three corners, two spare bytes.
const RECORD: usize = 50;

type Triangle = [[f64; 3]; 3];

/// Reads either kind.
pub(super) fn read(bytes: &[u8]) -> Result<Net, MeshError> {
    if bytes.trim_ascii().is_empty() {
        return Err(MeshError::Blank);
    }
    let net = if is_text(bytes) {
        Net::woven(read_text(bytes)?.into_iter())
    } else {
        Net::woven(read_binary(bytes)?)
    };
    if net.faces.is_empty() {
        Err(MeshError::Empty)
    } else {
        Ok(net)
    }
}

/// Whether it is a text STL: it begins with `solid`, and is not a binary file of exactly the length
/// its count asks for, nor has the zero bytes of one.
fn is_text(bytes: &[u8]) -> bool {
    let begins = bytes.trim_ascii_start();
    let solid = begins.len() >= 5 && begins[..5].eq_ignore_ascii_case(b"solid");
    let fits = claimed(bytes).is_some_and(|count| Some(bytes.len()) == needed(count));
    solid && !fits && !bytes.contains(&0)
}

/// The number of triangles the header of a binary file claims.
fn claimed(bytes: &[u8]) -> Option<u32> {
    let count = bytes.get(HEADER..COUNTED)?;
    Some(u32::from_le_bytes(count.try_into().ok()?))
}

/// The bytes a binary file of that many triangles has.
fn needed(count: u32) -> Option<usize> {
    usize::try_from(count)
        .ok()?
        .checked_mul(RECORD)?
        .checked_add(COUNTED)
}

/// The triangles of a binary file, read as they are asked for.
fn read_binary(bytes: &[u8]) -> Result<impl ExactSizeIterator<Item = Triangle>, MeshError> {
    let Some(claimed) = claimed(bytes) else {
        return Err(not_stl(bytes));
    };
    if bytes[..COUNTED]
        .iter()
        .all(|b| b.is_ascii_graphic() || b.is_ascii_whitespace())
    {
        return Err(not_stl(bytes));
    }
    let held = (bytes.len() - COUNTED) / RECORD;
    let Some(records) = needed(claimed).and_then(|end| bytes.get(COUNTED..end)) else {
        return Err(MeshError::CutShort { claimed, held });
    };
    Ok(records.as_chunks().0.iter().map(record))
}

/// One record of a binary file; its normal is not used, since the corners say the same.
fn record(bytes: &[u8; RECORD]) -> Triangle {
    let number = |at: usize| {
        let at = 12 + 4 * at;
        f64::from(f32::from_le_bytes([
            bytes[at],
            bytes[at + 1],
            bytes[at + 2],
            bytes[at + 3],
        ]))
    };
    std::array::from_fn(|corner| std::array::from_fn(|axis| number(3 * corner + axis)))
}

fn not_stl(bytes: &[u8]) -> MeshError {
    let shown = String::from_utf8_lossy(&bytes[..bytes.len().min(24)]);
    MeshError::NotStl {
        begins: shown.escape_debug().take(24).collect(),
    }
}

/// A word of a text file and its line.
struct Word<'a> {
    text: &'a str,
    line: usize,
}

impl Word<'_> {
    fn is(&self, word: &str) -> bool {
        self.text.eq_ignore_ascii_case(word)
    }

    fn refused(&self, wanted: &'static str) -> MeshError {
        let found = self.text.escape_debug().take(24).collect();
        MeshError::Text {
            line: self.line,
            found,
            wanted,
        }
    }
}

fn read_text(bytes: &[u8]) -> Result<Vec<Triangle>, MeshError> {
    let text = String::from_utf8_lossy(bytes);
    let end_of_line = if text.contains('\n') { '\n' } else { '\r' };
    let mut words = text
        .split(end_of_line)
        .enumerate()
        .flat_map(|(line, text)| {
            // A solid's name may hold any word.
            let named = text
                .split_whitespace()
                .next()
                .filter(|word| begins_or_ends(word));
            let rest = if named.is_some() { "" } else { text };
            let word = move |text| Word {
                text,
                line: line + 1,
            };
            named.into_iter().chain(rest.split_whitespace()).map(word)
        });
    let mut triangles = Vec::new();
    let outcome = read_solids(&mut words, &mut triangles);
    // Where the last word is the wrong one, the file was cut within it.
    let ends_here = words.next().is_none();
    match outcome {
        Ok(Ended(true)) => Ok(triangles),
        Err(fault) if !ends_here => Err(fault),
        Ok(Ended(false)) | Err(_) => Err(MeshError::NoEnd {
            held: triangles.len(),
        }),
    }
}

/// Whether the last solid had its end.
struct Ended(bool);

fn read_solids<'a>(
    words: &mut impl Iterator<Item = Word<'a>>,
    triangles: &mut Vec<Triangle>,
) -> Result<Ended, MeshError> {
    let mut corners: Vec<[f64; 3]> = Vec::with_capacity(3);
    let mut ended = false;
    while let Some(word) = words.next() {
        if begins_or_ends(word.text) {
            ended = word.is("endsolid");
        } else if word.is("vertex") {
            corners.push(corner(words, &word)?);
        } else if word.is("endloop") {
            let whole = corners.as_slice().try_into();
            triangles.push(whole.map_err(|_| word.refused("the end of three corners"))?);
            corners.clear();
        } else if word.is("normal") {
            // Its three numbers are not used: the corners say the same.
            words.by_ref().take(3).for_each(drop);
        } else if !["facet", "outer", "loop", "endfacet"]
            .iter()
            .any(|known| word.is(known))
        {
            return Err(word.refused("a facet or a vertex"));
        }
    }
    Ok(Ended(ended))
}

fn begins_or_ends(word: &str) -> bool {
    word.eq_ignore_ascii_case("solid") || word.eq_ignore_ascii_case("endsolid")
}

/// The three numbers after `vertex`.
fn corner<'a>(
    words: &mut impl Iterator<Item = Word<'a>>,
    vertex: &Word<'_>,
) -> Result<[f64; 3], MeshError> {
    let mut at = [0.0; 3];
    for number in &mut at {
        let word = words
            .next()
            .ok_or_else(|| vertex.refused("a corner's three numbers"))?;
        *number = word.text.parse().map_err(|_| word.refused("a number"))?;
    }
    Ok(at)
}
