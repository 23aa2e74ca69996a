//! What makes pieces of one kind: the same name and the same shape and texture as they are written.

use std::collections::BTreeMap;
use toml::{Table, Value};

/// The kind of each piece of a job's text, by its name. Two texts give the same kind if name, shape
/// and texture are written with the same keys and values, in any order and spacing; a mesh or a
/// picture counts by the name of its file. Empty where the text is no job.
#[must_use]
pub fn kinds(text: &str) -> BTreeMap<String, String> {
    let Ok(job) = text.parse::<Table>() else {
        return BTreeMap::new();
    };
    let pieces = job.get("piece").and_then(Value::as_array);
    let kind = |piece: &Value| {
        let name = piece.get("name")?.as_str()?.to_owned();
        let shape = piece.get("shape")?;
        let texture = piece.get("texture").map(Value::to_string);
        let told = format!("{name}: {shape}, {}", texture.unwrap_or_default());
        Some((name, told))
    };
    pieces.into_iter().flatten().filter_map(kind).collect()
}
