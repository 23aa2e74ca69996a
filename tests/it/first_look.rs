//! What the real program says of a port or a supply that is not what the station names, at `serve`,
//! `start` and `supply probe`: one code and remedy each, and nothing is turned on.

use super::fake_supply::{Fake, Model};
use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

const EXE: &str = env!("CARGO_BIN_EXE_nightvat");
/// The user and group `nobody` of most systems.
const NOBODY: u32 = 65_534;

/// A folder with a station for one port, a narrow supply profile and a job.
struct Desk(tempfile::TempDir);

impl Desk {
    fn of(port: &Path) -> Self {
        let desk = Self(tempfile::tempdir().unwrap());
        let station = format!(
            "name = \"north tank\"\nsupply = \"./narrow.toml\"\nport = \"{}\"\n[limits]\n\
             current = \"3 A\"\nvoltage = \"2.5 V\"\n[tank]\nvolume = \"6 L\"\n\
             surface = \"300 cm2\"\ngap = \"9 cm\"\n[tank.anode]\narea = \"180 cm2\"\n\
             mass = \"420 g\"\n",
            port.display()
        );
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let profile =
            fs::read_to_string(root.join("profiles/supplies/scpi-standard.toml")).unwrap();
        let narrow = profile.replace("[\"*,*,*,*\"]", "[\"FAKE,*,*,*\"]");
        assert_ne!(profile, narrow, "the profile takes any identity");
        fs::write(desk.path("station.toml"), station).unwrap();
        fs::write(desk.path("narrow.toml"), narrow).unwrap();
        desk
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(EXE);
        command.args(words).current_dir(self.0.path());
        command.env("NIGHTVAT_STATE", self.path("state"));
        command.stdin(Stdio::null());
        command
    }

    /// The error of a command that ends with status 4.
    fn error(&self, words: &[&str]) -> Value {
        error_of(&mut self.command(words))
    }
}

fn error_of(command: &mut Command) -> Value {
    let done = command.output().unwrap();
    assert_eq!(done.status.code(), Some(4), "{done:?}");
    let object: Value = serde_json::from_slice(&done.stdout).unwrap();
    object["error"].clone()
}

/// A daemon that answers; killed when dropped.
struct Serving(Child);

impl Serving {
    fn on(desk: &Desk) -> Self {
        let mut command = desk.command(&["serve", "station.toml", "--json"]);
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        out.read_line(&mut line).unwrap();
        assert!(line.contains("north tank"), "{line}");
        Self(child)
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn code_of(error: &Value) -> &str {
    assert!(
        error["remedy"].as_str().is_some_and(|it| !it.is_empty()),
        "{error}"
    );
    error["code"].as_str().unwrap()
}

/// Nothing that turns an output on was ever said to it.
fn never_on(fake: &Fake) {
    let heard = fake.heard();
    assert!(!heard.is_empty(), "nobody asked it");
    let on = |said: &&String| said.ends_with(" ON") || said.ends_with(" 1");
    assert!(!heard.iter().any(|said| on(&said)), "{heard:?}");
    assert_eq!(fake.flows(), 0.0);
}

#[test]
fn serve_says_what_is_wrong_with_the_supply_it_finds() {
    let cases = [
        (Some("@@ 7#"), None, "supply-garbled"),
        (None, Some("OTHER,MODEL-9,1,1"), "wrong-supply"),
    ];
    for (babbles, identity, code) in cases {
        let fake = Fake::lend(Model {
            babbles: babbles.map(str::to_owned),
            identity: identity.map(str::to_owned),
            ..Model::default()
        });
        let desk = Desk::of(fake.path());
        let error = desk.error(&["serve", "station.toml", "--json"]);
        assert_eq!(code_of(&error), code, "{error}");
        let quoted = babbles.or(identity).unwrap();
        assert!(error["text"].as_str().unwrap().contains(quoted), "{error}");
        never_on(&fake);
        let port = fake.path().display().to_string();
        let probe = [
            "supply",
            "probe",
            &port,
            "--profile",
            "./narrow.toml",
            "--json",
        ];
        assert_eq!(code_of(&desk.error(&probe)), code);
    }
}

#[test]
fn a_supply_that_changes_before_a_start_is_met_with_its_own_code() {
    let fake = Fake::lend(Model::default());
    let desk = Desk::of(fake.path());
    let _daemon = Serving::on(&desk);
    let change = |babbles: Option<&str>, identity: Option<&str>| {
        fake.change(|model| {
            model.babbles = babbles.map(str::to_owned);
            model.identity = identity.map(str::to_owned);
        });
    };
    let start = ["start", "one-stem", "--json"];
    change(None, Some("OTHER,MODEL-9,1,1"));
    assert_eq!(code_of(&desk.error(&start)), "wrong-supply");
    change(Some("@@ 7#"), None);
    assert_eq!(code_of(&desk.error(&start)), "supply-garbled");
    never_on(&fake);
}

#[test]
fn a_port_that_is_not_there_or_not_permitted_has_its_own_code() {
    let desk = Desk::of(Path::new("/no/such/port"));
    let error = desk.error(&["serve", "station.toml", "--json"]);
    assert_eq!(code_of(&error), "port-not-there");

    // Root may open anything, so another user tries.
    let exe = desk.path("nightvat");
    fs::copy(EXE, &exe).unwrap();
    let open = |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode));
    open(desk.0.path(), 0o755).unwrap();
    let port = desk.path("locked");
    fs::write(&port, "").unwrap();
    open(&port, 0o600).unwrap();
    let mut probe = Command::new(&exe);
    probe.args(["supply", "probe"]).arg(&port).arg("--json");
    if rustix::process::geteuid().is_root() {
        probe.uid(NOBODY).gid(NOBODY);
    } else {
        open(&port, 0o000).unwrap();
    }
    let error = error_of(probe.current_dir("/").stdin(Stdio::null()));
    assert_eq!(code_of(&error), "port-not-permitted");
    assert_eq!(error["place"], port.display().to_string());
    // Joining a group that may not open it either would not help.
    assert!(
        !error["remedy"].as_str().unwrap().contains("usermod"),
        "{error}"
    );
}
