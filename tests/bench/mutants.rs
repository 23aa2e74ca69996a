//! Mutants: small changes to the sources of the rooms that decide and talk, each of which a test
//! must notice. `cargo bench --profile dev --bench mutants` tries all of them,
//! `-- --room control` those of one room, `-- --file control/charge.rs,control/live.rs` those of
//! these files; `-- --list` only names them.
//!
//! Building the crate for every mutant would take days. All of them stand in one copy of the tree
//! (`target/mutants/copy`), each behind a choice that is made when a test starts; the product knows
//! nothing of it. What does not compile is found by building, and left out.

#[path = "mutants/copy.rs"]
mod copy;
#[path = "mutants/known.rs"]
mod known;
#[path = "mutants/sites.rs"]
mod sites;
#[path = "mutants/trial.rs"]
mod trial;

use copy::{Copy, Written};
use sites::Site;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;
use trial::{Fate, Test};

/// The rooms that are tried, with the sources that belong to each.
const ROOMS: [(&str, &str); 6] = [
    ("deposit", "src/deposit/"),
    ("plan", "src/plan/"),
    ("codec", "src/supply/codec"),
    ("link", "src/supply/link"),
    ("control", "src/control/"),
    ("run", "src/run/"),
];

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let after = |name: &str| {
        let at = words.iter().position(|word| word == name)?;
        words.get(at + 1).cloned()
    };
    let (room, file) = (after("--room"), after("--file"));
    let asked = |site: &&Site| {
        room.as_ref().is_none_or(|it| room_of(&site.file) == it)
            && file
                .as_ref()
                .is_none_or(|some| some.split(',').any(|it| site.file.ends_with(it)))
    };
    let tree = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let texts = sources(&tree);
    let all = sites_of(&texts);
    if words.iter().any(|word| word == "--list") {
        for site in all.iter().filter(asked) {
            println!("{}:{}: {}", site.file, site.line, site.key());
        }
        return ExitCode::SUCCESS;
    }
    let listed = known::read(&tree.join("tests/mutants.txt"));
    let keys: BTreeSet<String> = all.iter().map(Site::key).collect();
    let strangers: Vec<&String> = listed.keys().filter(|key| !keys.contains(*key)).collect();
    for key in &strangers {
        println!("listed, but there is no such place: {key}");
    }
    let work = target().join("mutants");
    let copy = Copy {
        tree,
        folder: work.join("copy"),
        // Its own: cargo would take one tree's programs for the other's.
        target: work.join("build"),
    };
    let begun = Instant::now();
    let (programs, lame) = build(&copy, &work, &texts, &all);
    println!("built in {:.0} s", begun.elapsed().as_secs_f64());
    let tests = reaches(&work, &copy, &programs);
    let chosen: Vec<&Site> = all.iter().filter(asked).collect();
    let viable: Vec<&Site> = chosen
        .iter()
        .filter(|it| !lame.contains(&it.id))
        .copied()
        .collect();
    let begun = Instant::now();
    let fates = trial::in_pairs(&viable, |_, site| {
        let fate = trial::fate(site.id, &tests, &copy.folder);
        if !is_caught(&fate) && !listed.contains_key(&site.key()) {
            eprintln!("{}", told(site, &fate));
        }
        fate
    });
    println!("tried in {:.0} s", begun.elapsed().as_secs_f64());
    let tried: Vec<(&Site, Fate)> = viable.into_iter().zip(fates).collect();
    record(&work, &chosen, &lame, &tried);
    let unexplained = report(&chosen, &lame, &tried, &listed);
    match unexplained == 0 && strangers.is_empty() {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}

fn room_of(file: &str) -> &'static str {
    let belongs = |(_, start): &&(&str, &str)| file.starts_with(start);
    ROOMS.iter().find(belongs).map_or("none", |(room, _)| room)
}

/// Where cargo builds: this program stands in `<target>/<profile>/deps`.
fn target() -> PathBuf {
    let program = std::env::current_exe().expect("this program's place");
    program
        .ancestors()
        .nth(3)
        .expect("the target folder")
        .to_owned()
}

fn sources(tree: &Path) -> BTreeMap<String, String> {
    let mut folders = vec![tree.join("src")];
    let mut found = BTreeMap::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder of sources") {
            let path = entry.expect("an entry").path();
            let name = path.strip_prefix(tree).expect("below").to_string_lossy();
            if path.is_dir() {
                folders.push(path.clone());
            } else if name.ends_with(".rs") && room_of(&name) != "none" {
                let text = fs::read_to_string(&path).expect("a source");
                found.insert(name.into_owned(), text);
            }
        }
    }
    found
}

fn sites_of(texts: &BTreeMap<String, String>) -> Vec<Site> {
    let files = texts.iter();
    let mut all: Vec<Site> = files
        .flat_map(|(file, text)| sites::find(file, text))
        .collect();
    for (site, id) in all.iter_mut().zip(1..) {
        site.id = id;
    }
    all
}

/// Builds the copy with every site that compiles: its tests, and the sites that do not.
fn build(
    copy: &Copy,
    work: &Path,
    texts: &BTreeMap<String, String>,
    all: &[Site],
) -> (Vec<PathBuf>, BTreeSet<u32>) {
    fs::create_dir_all(work).expect("a folder to work in");
    let mut hash = DefaultHasher::new();
    texts.hash(&mut hash);
    include_str!("mutants/sites.rs").hash(&mut hash);
    let kept = work.join(format!("lame-{:016x}", hash.finish()));
    let kept_text = fs::read_to_string(&kept).unwrap_or_default();
    let mut lame: BTreeSet<u32> = kept_text.lines().filter_map(|it| it.parse().ok()).collect();
    loop {
        let written: BTreeMap<String, Written> = texts
            .iter()
            .map(|(file, text)| {
                let of_file = |site: &&Site| &site.file == file && !lame.contains(&site.id);
                let sites: Vec<&Site> = all.iter().filter(of_file).collect();
                (file.clone(), copy::write(text, &sites))
            })
            .collect();
        copy.refresh(&written);
        match copy.tests(&written) {
            Ok(programs) => {
                let lines: Vec<String> = lame.iter().map(u32::to_string).collect();
                fs::write(kept, lines.join("\n")).expect("a list that can be kept");
                return (programs, lame);
            }
            Err(more) => {
                println!("{} more do not compile", more.len());
                lame.extend(more);
            }
        }
    }
}

/// What each test reaches, from the last run if the programs are still the same.
fn reaches(work: &Path, copy: &Copy, programs: &[PathBuf]) -> Vec<Test> {
    let stamp: Vec<_> = programs
        .iter()
        .map(|it| (it, fs::metadata(it).and_then(|it| it.modified()).ok()))
        .collect();
    let stamp = format!("{stamp:?}");
    let kept = work.join("reached");
    let text = fs::read_to_string(&kept).unwrap_or_default();
    if let Some(rest) = text.strip_prefix(&stamp) {
        return rest.lines().filter_map(Test::parse).collect();
    }
    let begun = Instant::now();
    let (tests, slow) = trial::tests(programs, &copy.folder);
    for name in slow {
        println!("too slow, and left out: {name}");
    }
    assert!(
        tests.iter().any(|test| !test.reaches.is_empty()),
        "no test reaches any mutant: these programs were built from something else"
    );
    let seconds = begun.elapsed().as_secs_f64();
    println!("{} tests ran once in {seconds:.0} s", tests.len());
    let lines: Vec<String> = tests.iter().map(Test::line).collect();
    fs::write(kept, format!("{stamp}\n{}", lines.join("\n"))).expect("a list that can be kept");
    tests
}

const fn is_caught(fate: &Fate) -> bool {
    matches!(fate, Fate::Caught(_) | Fate::Endless(_))
}

fn told(site: &Site, fate: &Fate) -> String {
    let what = match fate {
        Fate::Caught(tests) => format!("caught by one of {tests}"),
        Fate::Endless(tests) => format!("never ends, in one of {tests}"),
        Fate::Survived(tests) => format!("survived {tests} tests"),
        Fate::Unreached => "no test reaches it".to_owned(),
    };
    format!("{}:{}: {}: {what}", site.file, site.line, site.key())
}

/// Everything, for whoever wants to look.
fn record(work: &Path, chosen: &[&Site], lame: &BTreeSet<u32>, tried: &[(&Site, Fate)]) {
    let unviable = chosen.iter().filter(|it| lame.contains(&it.id));
    let mut lines: Vec<String> = unviable
        .map(|site| format!("{}:{}: {}: not viable", site.file, site.line, site.key()))
        .collect();
    lines.extend(tried.iter().map(|(site, fate)| told(site, fate)));
    let path = work.join("results.txt");
    fs::write(&path, lines.join("\n") + "\n").expect("results that can be written");
    println!("all of them, one a line: {}", path.display());
}

/// Prints the sums and what is unexplained; how many that are.
fn report(
    chosen: &[&Site],
    lame: &BTreeSet<u32>,
    tried: &[(&Site, Fate)],
    listed: &BTreeMap<String, String>,
) -> usize {
    for (site, fate) in tried {
        if is_caught(fate) && listed.contains_key(&site.key()) {
            println!("listed, but caught: {}", told(site, fate));
        }
    }
    let mut unexplained = 0;
    println!("room      places  not viable  caught  (endless)  listed  survived  unreached");
    for (room, _) in ROOMS {
        let here = |site: &Site| room_of(&site.file) == room;
        let places = chosen.iter().filter(|it| here(it)).count();
        let unviable = chosen.iter().filter(|it| here(it) && lame.contains(&it.id));
        let count = |wanted: &dyn Fn(&Site, &Fate) -> bool| {
            let of_room = tried.iter().filter(|(site, _)| here(site));
            of_room.filter(|(site, fate)| wanted(site, fate)).count()
        };
        let free = |site: &Site| !listed.contains_key(&site.key());
        let caught = count(&|_, fate| is_caught(fate));
        let endless = count(&|_, fate| matches!(fate, Fate::Endless(_)));
        let excused = count(&|site, fate| !is_caught(fate) && !free(site));
        let survived = count(&|site, fate| matches!(fate, Fate::Survived(_)) && free(site));
        let unreached = count(&|site, fate| *fate == Fate::Unreached && free(site));
        let unviable = unviable.count();
        println!(
            "{room:8} {places:7} {unviable:11} {caught:7} {endless:10} {excused:7} {survived:9} \
             {unreached:10}"
        );
        unexplained += survived + unreached;
    }
    for (site, fate) in tried {
        if !is_caught(fate) && !listed.contains_key(&site.key()) {
            println!("{}", told(site, fate));
        }
    }
    println!("{unexplained} neither caught nor listed");
    unexplained
}
