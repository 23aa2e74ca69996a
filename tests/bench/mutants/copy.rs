//! The copy of the tree that holds every mutant at once, and what of it compiles.

use super::sites::{Shape, Site};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Stands in the copy alone: which mutant lives, and which were met.
const CHOICE: &str = r#"
/// True for the one mutant that lives in this process.
pub fn mutant(id: u32) -> bool {
    use std::io::Write;
    use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
    use std::sync::OnceLock;
    static CHOSEN: OnceLock<(u32, Option<std::fs::File>)> = OnceLock::new();
    static MET: [AtomicBool; 16384] = [const { AtomicBool::new(false) }; 16384];
    let (chosen, reached) = CHOSEN.get_or_init(|| {
        let word = std::env::var("NIGHTVAT_MUTANT").unwrap_or_default();
        let open = |name| std::fs::File::options().create(true).append(true).open(name);
        let file = std::env::var_os("NIGHTVAT_REACHED").map(open);
        (word.parse().unwrap_or(0), file.and_then(Result::ok))
    });
    if let Some(mut file) = reached.as_ref()
        && !MET[id as usize].swap(true, Relaxed)
    {
        let _ = file.write_all(format!("{id}\n").as_bytes());
    }
    *chosen == id
}
"#;

/// Where the copy stands and what is built into it.
pub(crate) struct Copy {
    /// The tree it is a copy of.
    pub(crate) tree: PathBuf,
    /// The copy.
    pub(crate) folder: PathBuf,
    /// Where cargo builds.
    pub(crate) target: PathBuf,
}

/// A source with its sites written in, and where each stands in it.
pub(crate) struct Written {
    pub(crate) text: String,
    /// For each site, its whole in the written text, and the changed part of that.
    places: Vec<(u32, Range<usize>, Range<usize>)>,
}

/// Writes the sites into one source.
pub(crate) fn write(text: &str, sites: &[&Site]) -> Written {
    let mut inserted: Vec<(usize, u8, i64, u32, String)> = Vec::new();
    for site in sites {
        let (start, end) = (site.range.start, site.range.end);
        let length = i64::try_from(end - start).expect("a length");
        let choice = format!("if crate::mutant({})", site.id);
        match &site.shape {
            Shape::Body(statement) => {
                let statement = format!(" {choice} {{ {statement} }}");
                inserted.push((start, 0, i64::from(site.id), site.id, statement));
            }
            Shape::Expression(changed) => {
                let open = format!("({choice} {{ {changed} }} else {{ (");
                inserted.push((start, 2, -length, site.id, open));
                inserted.push((end, 1, length, site.id, ") })".to_owned()));
            }
        }
    }
    inserted.sort();
    let mut whole = String::with_capacity(text.len() * 2);
    let mut places = BTreeMap::new();
    let mut from = 0;
    for (at, kind, _, id, piece) in inserted {
        whole.push_str(&text[from..at]);
        from = at;
        let start = whole.len();
        whole.push_str(&piece);
        if kind == 1 {
            let place: &mut (Range<usize>, Range<usize>) = places.get_mut(&id).expect("opened");
            place.0.end = whole.len();
        } else {
            places.insert(id, (start..whole.len(), start..whole.len()));
        }
    }
    whole.push_str(&text[from..]);
    let places = places.into_iter().map(|(id, (all, part))| (id, all, part));
    Written {
        text: whole,
        places: places.collect(),
    }
}

impl Written {
    /// The site that an error between these bytes is the fault of.
    fn blamed(&self, error: &Range<usize>) -> Option<u32> {
        let within = |place: &Range<usize>| place.start <= error.start && error.end <= place.end;
        let changed = self.places.iter().filter(|place| within(&place.2));
        if let Some(place) = changed.min_by_key(|place| place.2.len()) {
            return Some(place.0);
        }
        let around = self.places.iter().filter(|place| within(&place.1));
        around.min_by_key(|place| place.1.len()).map(|it| it.0)
    }
}

impl Copy {
    /// Brings the copy up to date with the tree, but for the sources that hold sites. A file that
    /// has not changed keeps its time, so that cargo builds little.
    pub(crate) fn refresh(&self, written: &BTreeMap<String, Written>) {
        let mut wanted = BTreeSet::new();
        list(&self.tree, &self.tree, &mut wanted);
        let mut there = BTreeSet::new();
        list(&self.folder, &self.folder, &mut there);
        for gone in there.difference(&wanted) {
            fs::remove_file(self.folder.join(gone)).expect("a copy that can be removed");
        }
        for name in wanted {
            let from = self.tree.join(&name);
            let mut bytes = fs::read(&from).expect("a file of the tree");
            if let Some(source) = written.get(&name) {
                bytes = source.text.clone().into_bytes();
            } else if name == "src/lib.rs" {
                let text = String::from_utf8(bytes).expect("text");
                let head = text.find("/// Quantities").expect("the first room");
                let (opening, rooms) = text.split_at(head);
                bytes = format!("{opening}#![allow(warnings)]\n{rooms}{CHOICE}").into_bytes();
            } else if name == "Cargo.toml" {
                bytes.extend_from_slice(b"\n[workspace]\n");
            }
            let to = self.folder.join(&name);
            if fs::read(&to).ok().as_ref() != Some(&bytes) {
                fs::create_dir_all(to.parent().expect("a folder")).expect("a folder");
                fs::write(&to, bytes).expect("a copy that can be written");
                let rights = fs::metadata(&from).expect("rights").permissions();
                fs::set_permissions(&to, rights).expect("rights");
            }
        }
    }

    /// Builds the tests of the library and of the rooms together: their programs, or the sites
    /// that do not compile.
    pub(crate) fn tests(
        &self,
        written: &BTreeMap<String, Written>,
    ) -> Result<Vec<PathBuf>, BTreeSet<u32>> {
        let messages = self.cargo(&["test", "--no-run", "--lib", "--test", "it"]);
        let mut found = BTreeSet::new();
        let mut lost = String::new();
        let messages_of = |it: &&serde_json::Value| it["reason"] == "compiler-message";
        for message in messages.iter().filter(messages_of) {
            let message = &message["message"];
            let spans = message["spans"].as_array().cloned().unwrap_or_default();
            if message["level"] != "error" || spans.is_empty() {
                continue;
            }
            let primary = spans.iter().filter(|it| it["is_primary"] == true);
            let blamed = primary.filter_map(|span| {
                let byte = |key: &str| usize::try_from(span[key].as_u64()?).ok();
                let source = written.get(span["file_name"].as_str()?)?;
                source.blamed(&(byte("byte_start")?..byte("byte_end")?))
            });
            match blamed.min() {
                Some(id) => drop(found.insert(id)),
                None => lost.push_str(message["rendered"].as_str().unwrap_or("?")),
            }
        }
        if !found.is_empty() {
            return Err(found);
        }
        let programs: Vec<PathBuf> = messages
            .iter()
            .filter(|it| it["profile"]["test"] == true)
            .filter_map(|it| Some(PathBuf::from(it["executable"].as_str()?)))
            .collect();
        assert_eq!(programs.len(), 2, "the copy's tests do not build:\n{lost}");
        Ok(programs)
    }

    fn cargo(&self, words: &[&str]) -> Vec<serde_json::Value> {
        let out = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
            .args(words)
            .args(["--locked", "--message-format=json"])
            .current_dir(&self.folder)
            .env("CARGO_TARGET_DIR", &self.target)
            .stderr(Stdio::inherit())
            .output()
            .expect("cargo");
        let text = String::from_utf8_lossy(&out.stdout);
        let parsed = text.lines().map(serde_json::from_str);
        parsed.filter_map(Result::ok).collect()
    }
}

/// The files of a tree that a build needs, by their names below its root.
fn list(root: &Path, folder: &Path, found: &mut BTreeSet<String>) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries {
        let path = entry.expect("an entry").path();
        let below = path.strip_prefix(root).expect("below").to_string_lossy();
        if below.starts_with('.') || below == "target" {
            continue;
        }
        if path.is_dir() {
            list(root, &path, found);
        } else {
            found.insert(below.into_owned());
        }
    }
}
