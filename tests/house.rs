//! The rules of the house, held by a test: who may import whom, which files touch the world, how
//! long a function may be.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

const LONGEST_FUNCTION: usize = 70;
const LONGEST_FILE: usize = 500;
const WIDEST_LINE: usize = 100;

/// The only production files that may touch files, clocks, processes, threads or sockets.
const DOORS: &[&str] = &[
    "main.rs",
    "spec/shelf.rs",
    "supply/port.rs",
    "supply/clock.rs",
    "supply/port/",
    "supply/keeper/",
    "ledger/store.rs",
    "ledger/store/",
    "ledger/read.rs",
    "ledger/read/",
    "rig/lend.rs",
    "rig/lend/",
    "daemon/",
    "cli/",
];

/// What only a door may name.
const WORLD: &[&str] = &[
    "std::fs",
    "std::net::Tcp",
    "std::net::Udp",
    "std::process",
    "std::thread",
    "std::os::unix",
    "Instant::now",
    "SystemTime",
    "rustix::",
    "rusqlite::",
    "serialport::",
    "tokio::",
    "chrono::",
];

/// Files of the rig that carry physics of their own and may not borrow it from the rooms they test.
const RIG_JOINERS: &[&str] = &[
    "rig/rehearsal.rs",
    "rig/mod.rs",
    "rig/night/driver.rs",
    "rig/night/driver/",
];

struct Source {
    name: String,
    text: String,
}

impl Source {
    /// The lines above the file's test module.
    fn production(&self) -> Vec<&str> {
        self.text
            .lines()
            .take_while(|line| line.trim() != "#[cfg(test)]")
            .collect()
    }

    fn room(&self) -> &str {
        let first = self.name.split('/').next().unwrap_or_default();
        first.strip_suffix(".rs").unwrap_or(first)
    }

    fn is_one_of(&self, list: &[&str]) -> bool {
        list.iter().any(|entry| {
            self.name == *entry || (entry.ends_with('/') && self.name.starts_with(entry))
        })
    }
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder that can be read") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            walk(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

fn sources() -> Vec<Source> {
    let source = root().join("src");
    let mut paths = Vec::new();
    walk(&source, &mut paths);
    assert!(
        paths.len() > 40,
        "the walk found only {} files",
        paths.len()
    );
    let relative = |path: &Path| {
        path.strip_prefix(&source)
            .expect("below src")
            .to_string_lossy()
            .into_owned()
    };
    let mut list: Vec<Source> = paths
        .iter()
        .map(|path| Source {
            name: relative(path),
            text: fs::read_to_string(path).expect("text"),
        })
        .collect();
    list.sort_by(|a, b| a.name.cmp(&b.name));
    list
}

/// The rooms in the order of lib.rs.
fn ladder() -> Vec<String> {
    let text = fs::read_to_string(root().join("src/lib.rs")).expect("lib.rs");
    text.lines()
        .filter_map(|line| {
            line.strip_prefix("pub mod ")?
                .strip_suffix(';')
                .map(str::to_owned)
        })
        .collect()
}

/// Rooms named in a line of code, comments left out.
fn rooms_named<'a>(line: &str, ladder: &'a [String]) -> Vec<&'a str> {
    let code = line.split("//").next().unwrap_or_default();
    ladder
        .iter()
        .filter(|room| {
            code.match_indices(&format!("crate::{room}"))
                .any(|(at, text)| {
                    let next = code[at + text.len()..].chars().next();
                    !next.is_some_and(|c| c.is_alphanumeric() || c == '_')
                })
        })
        .map(String::as_str)
        .collect()
}

fn fail_if_any(faults: &[String]) {
    assert!(
        faults.is_empty(),
        "{} fault(s):\n{}",
        faults.len(),
        faults.join("\n")
    );
}

#[test]
fn a_room_imports_only_rooms_above_it() {
    let ladder = ladder();
    assert_eq!(ladder.first().map(String::as_str), Some("units"));
    assert_eq!(ladder.last().map(String::as_str), Some("cli"));
    let place: BTreeMap<&str, usize> = ladder
        .iter()
        .enumerate()
        .map(|(at, room)| (room.as_str(), at))
        .collect();
    let mut faults = Vec::new();
    for source in sources() {
        let Some(here) = place.get(source.room()).copied() else {
            continue;
        };
        for (number, line) in source.production().iter().enumerate() {
            for room in rooms_named(line, &ladder) {
                if place[room] > here {
                    let (number, name) = (number + 1, &source.name);
                    faults.push(format!(
                        "{name}:{number}: {room} is below {}",
                        source.room()
                    ));
                }
            }
        }
    }
    fail_if_any(&faults);
}

#[test]
fn control_and_supply_never_meet() {
    let ladder = ladder();
    let mut faults = Vec::new();
    for source in sources() {
        let other = match source.room() {
            "control" => "supply",
            "supply" => "control",
            _ => continue,
        };
        for (number, line) in source.production().iter().enumerate() {
            if rooms_named(line, &ladder).contains(&other) {
                faults.push(format!("{}:{}: names {other}", source.name, number + 1));
            }
        }
    }
    fail_if_any(&faults);
}

#[test]
fn the_rigs_physics_is_its_own() {
    let ladder = ladder();
    let mut faults = Vec::new();
    for source in sources() {
        if source.room() != "rig" || source.is_one_of(RIG_JOINERS) {
            continue;
        }
        for (number, line) in source.production().iter().enumerate() {
            for room in rooms_named(line, &ladder) {
                if matches!(room, "shape" | "deposit" | "control" | "plan" | "run") {
                    faults.push(format!("{}:{}: names {room}", source.name, number + 1));
                }
            }
        }
    }
    fail_if_any(&faults);
}

#[test]
fn only_doors_touch_the_world() {
    let mut faults = Vec::new();
    for source in sources() {
        if source.is_one_of(DOORS) {
            continue;
        }
        for (number, line) in source.production().iter().enumerate() {
            let code = line.split("//").next().unwrap_or_default();
            for word in WORLD {
                if code.contains(word) {
                    faults.push(format!("{}:{}: {word}", source.name, number + 1));
                }
            }
        }
    }
    fail_if_any(&faults);
}

/// Functions of a file with their first line and length, by rustfmt's indentation.
fn functions(lines: &[&str]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut open: Vec<(usize, usize)> = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        let indent = line.len() - line.trim_start().len();
        let words = line.trim_start();
        let starts = [
            "fn ",
            "pub fn ",
            "const fn ",
            "pub const fn ",
            "async fn ",
            "pub async fn ",
        ];
        let is_function = starts.iter().any(|start| words.starts_with(start))
            || (words.starts_with("pub(") && words.contains(" fn "));
        if is_function && !words.ends_with(';') && !words.ends_with('}') {
            open.push((number, indent));
        } else if words.starts_with('}')
            && let Some((start, _)) = open.pop_if(|(_, depth)| *depth == indent)
        {
            found.push((start + 1, number - start + 1));
        }
    }
    found
}

#[test]
fn functions_and_files_stay_short() {
    let mut faults = Vec::new();
    let mut seen = 0;
    for source in sources() {
        let lines = source.production();
        if lines.len() > LONGEST_FILE {
            faults.push(format!("{}: {} lines", source.name, lines.len()));
        }
        for (start, length) in functions(&lines) {
            seen += 1;
            if length > LONGEST_FUNCTION {
                faults.push(format!(
                    "{}:{start}: a function of {length} lines",
                    source.name
                ));
            }
        }
        for (number, line) in source.text.lines().enumerate() {
            let width = line.chars().count();
            if width > WIDEST_LINE && !line.contains("://") {
                faults.push(format!("{}:{}: {width} columns", source.name, number + 1));
            }
        }
    }
    assert!(seen > 300, "only {seen} functions were recognised");
    fail_if_any(&faults);
}

#[test]
fn every_room_says_what_it_knows() {
    let mut faults = Vec::new();
    for source in sources() {
        let is_door = source.name == "units.rs"
            || source.name == "exchange.rs"
            || source.name.matches('/').count() == 1 && source.name.ends_with("/mod.rs");
        if !is_door {
            continue;
        }
        let head: String = source
            .text
            .lines()
            .take_while(|line| line.starts_with("//!"))
            .collect();
        let head = head.replace("//!", "");
        for words in ["knows", "must never know", "come in"] {
            if !head.contains(words) {
                faults.push(format!(
                    "{}: its opening does not say `{words}`",
                    source.name
                ));
            }
        }
    }
    fail_if_any(&faults);
}

#[test]
fn nothing_is_left_unfinished_or_vaguely_named() {
    let words = ["todo!(", "unimplemented!(", "dbg!(", "#[ignore"];
    let names = ["manager", "helper", "util", "common", "handler", "context"];
    let mut faults = Vec::new();
    for source in sources() {
        for (number, line) in source.text.lines().enumerate() {
            for word in words {
                if line.contains(word) {
                    faults.push(format!("{}:{}: {word}", source.name, number + 1));
                }
            }
        }
        for name in names {
            if source.name.contains(name) {
                faults.push(format!("{}: says nothing", source.name));
            }
        }
    }
    fail_if_any(&faults);
}

#[test]
fn the_top_level_holds_only_what_it_should() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "src",
        "profiles",
        "tests",
        "hardware-notes",
        "target",
    ];
    let mut faults = Vec::new();
    for entry in fs::read_dir(root()).expect("the root") {
        let name = entry
            .expect("an entry")
            .file_name()
            .to_string_lossy()
            .into_owned();
        if !allowed.contains(&name.as_str())
            && !name.starts_with('.')
            && !name.starts_with("LICENSE")
        {
            faults.push(name);
        }
    }
    fail_if_any(&faults);
}
