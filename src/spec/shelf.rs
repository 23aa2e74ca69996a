//! The door to files: finds what a person names, embedded or on disk. Only this file of the room
//! reads any.

use super::embedded;
use super::problem::{Problem, Problems, Saying};
use super::table::nearest;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// The largest text that is read, in bytes.
const TEXT_LIMIT: u64 = 1 << 20;
/// The largest mesh that is read, in bytes.
const MESH_LIMIT: u64 = 256 << 20;
/// What the path of an embedded file begins with, in place of a folder.
const EMBEDDED: &str = "embedded:";

/// What sort of file is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// A job.
    Job,
    /// A station.
    Station,
    /// A bath profile.
    Bath,
    /// A supply profile.
    Supply,
    /// Pieces that are to be hung into a run; none are built in.
    Pieces,
}

impl Sort {
    /// In words.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Job => "job",
            Self::Station => "station",
            Self::Bath => "bath profile",
            Self::Supply => "supply profile",
            Self::Pieces => "pieces",
        }
    }

    const fn shelf(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Self::Job => embedded::JOBS,
            Self::Station => embedded::STATIONS,
            Self::Bath => embedded::BATHS,
            Self::Supply => embedded::SUPPLIES,
            Self::Pieces => &[],
        }
    }

    /// The names of the embedded ones.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        self.shelf().iter().map(|(name, _)| *name)
    }
}

/// A text and where it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The path, as messages name it and as other files are found beside it.
    pub path: String,
    /// The text.
    pub text: String,
}

/// Where files are looked for.
#[derive(Clone, Copy, Debug)]
pub struct Shelf {
    disk: bool,
}

impl Shelf {
    /// Only what is built into the program; the disk is not touched.
    #[must_use]
    pub const fn embedded() -> Self {
        Self { disk: false }
    }

    /// What is built in, and the disk.
    #[must_use]
    pub const fn disk() -> Self {
        Self { disk: true }
    }

    /// Finds a file by the name of an embedded one, else by its path. A relative path begins at the
    /// folder of the file `beside`, which names it, or at the working folder.
    ///
    /// # Errors
    /// One problem that says what was looked for, where, and which names are built in.
    pub fn find(&self, sort: Sort, name: &str, beside: Option<&str>) -> Result<Found, Problems> {
        if let Some((known, text)) = sort.shelf().iter().find(|(known, _)| *known == name) {
            let path = format!("{EMBEDDED}{known}.toml");
            return Ok(Found {
                path,
                text: (*text).to_owned(),
            });
        }
        let path = self
            .path(name, beside)
            .ok_or_else(|| missing(sort, name, None))?;
        let shown = path.display().to_string();
        let bytes = read(&path, TEXT_LIMIT).map_err(|why| match why {
            Unread::NotThere => missing(sort, name, Some(&shown)),
            Unread::Because(why) => unreadable(sort, &shown, why),
        })?;
        match String::from_utf8(bytes) {
            Ok(text) => Ok(Found { path: shown, text }),
            Err(_) => Err(unreadable(sort, &shown, "it is not UTF-8 text".to_owned())),
        }
    }

    /// The bytes of a mesh file that the file `beside` names.
    ///
    /// # Errors
    /// A sentence that says which file was looked for and why it was not read.
    pub fn mesh(&self, name: &str, beside: Option<&str>) -> Result<Vec<u8>, String> {
        if beside.is_some_and(|path| path.starts_with(EMBEDDED)) {
            let built_in = embedded::MESHES.iter().find(|(known, _)| *known == name);
            return match built_in {
                Some((_, bytes)) => Ok(bytes.to_vec()),
                None => Err(format!("no mesh `{name}` is built in")),
            };
        }
        let path = self.path(name, beside).ok_or("files are not read here")?;
        read(&path, MESH_LIMIT).map_err(|why| match why {
            Unread::NotThere => format!("there is no file {}", path.display()),
            Unread::Because(why) => format!("{}: {why}", path.display()),
        })
    }

    fn path(&self, name: &str, beside: Option<&str>) -> Option<PathBuf> {
        let folder = beside.and_then(|file| Path::new(file).parent());
        let path = folder.map_or_else(|| PathBuf::from(name), |folder| folder.join(name));
        self.disk.then_some(path)
    }
}

/// Why a file was not read.
enum Unread {
    NotThere,
    Because(String),
}

/// Reads a plain file that is not too large.
fn read(path: &Path, limit: u64) -> Result<Vec<u8>, Unread> {
    let because = |error: std::io::Error| match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => Unread::NotThere,
        _ => Unread::Because(error.to_string()),
    };
    // Looked at before it is opened: opening a pipe would wait for its other end.
    let about = std::fs::metadata(path).map_err(because)?;
    if !about.is_file() {
        return Err(Unread::Because("it is not a plain file".to_owned()));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(because)?;
    file.take(limit + 1)
        .read_to_end(&mut bytes)
        .map_err(because)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > limit {
        return Err(Unread::Because(format!(
            "it is larger than {} MB",
            limit >> 20
        )));
    }
    Ok(bytes)
}

/// The names that are built in, for messages.
fn built_in(sort: Sort) -> String {
    let names: Vec<&str> = sort.names().collect();
    if names.is_empty() {
        return format!("the path of a {} file", sort.word());
    }
    format!(
        "the path of a {} file, or a built-in one: {}",
        sort.word(),
        names.join(", ")
    )
}

fn missing(sort: Sort, name: &str, path: Option<&str>) -> Problems {
    let word = sort.word();
    let none_built_in = sort.names().next().is_none();
    let found = match path {
        Some(path) if none_built_in => format!("no file {path}"),
        Some(path) => format!("no {word} `{name}` built in and no file {path}"),
        None => format!("no {word} `{name}` built in"),
    };
    let remedy = match nearest(name, sort.names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if none_built_in => "look at the path".to_owned(),
        None => "give one of these names, or look at the path".to_owned(),
    };
    let saying = Saying {
        code: "not-found",
        found,
        allowed: built_in(sort),
        remedy,
    };
    Problem::of_file(name, saying).into()
}

fn unreadable(sort: Sort, path: &str, why: String) -> Problems {
    let saying = Saying {
        code: "not-readable",
        found: format!("the file {path}, which cannot be read: {why}"),
        allowed: built_in(sort),
        remedy: "look at the path and at who may read the file".to_owned(),
    };
    Problem::of_file(path, saying).into()
}
