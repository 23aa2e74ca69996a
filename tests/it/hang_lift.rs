//! `hang` and `lift` as a person meets them: the real programs, and the emulator's word on whether
//! anything flows while she is told to reach into the bath.

use super::plant::{Plant, wait};
use nightvat::ledger::{Ledger, RunRecord};
use serde_json::{Value, json};
use std::fs;
use std::time::Duration;

const SPEED: u32 = 10;
const AT_ONCE: Duration = Duration::from_secs(2);
const HANGER: &str = "[[hanger]]\nshape = { kind = \"wire\", diameter = \"1 mm\", \
                      length = \"60 mm\" }\n";

fn plate(name: &str, cm2: u32) -> String {
    format!(
        "[[piece]]\nname = \"{name}\"\nsurface = \"metal\"\nuncertainty = \"10 %\"\n\
         shape = {{ kind = \"area\", area = \"{cm2} cm2\" }}\n"
    )
}

/// Two plates of 20 and 30 cm² at 1.5 A/dm2.
fn job(until: &str) -> String {
    format!(
        "name = \"two plates\"\nbath = \"acid-copper-bright\"\n[target]\n\
         thickness = \"60 um\"\n{until}[current]\ndensity = \"1.5 A/dm2\"\n{}{}{HANGER}",
        plate("a", 20),
        plate("b", 30)
    )
}

fn plant_with(job: &str) -> Plant {
    let plant = Plant::open(SPEED);
    fs::write(plant.path("job.toml"), job).unwrap();
    plant
}

fn piece<'a>(status: &'a Value, name: &str) -> &'a Value {
    let pieces = status["pieces"].as_array().unwrap();
    let named = pieces.iter().find(|piece| piece["name"] == name);
    named.unwrap_or_else(|| panic!("{name}: {status}"))
}

fn ah(of: &Value) -> f64 {
    of["charge_ah"].as_f64().unwrap()
}

fn record(plant: &Plant) -> RunRecord {
    let ledger = Ledger::open_read(&plant.path("state/ledger.db")).unwrap();
    ledger.run(1).unwrap()
}

fn words(values: &[&str]) -> Value {
    json!(values)
}

fn resumed(plant: &Plant) {
    plant.run(&["resume", "--json"]).json(0);
    plant.in_state("building");
    plant.flows();
}

#[test]
fn a_piece_is_lifted_hung_again_and_another_hung_beside_it() {
    let plant = plant_with(&job(""));
    let _daemon = plant.flowing();
    plant.in_state("building");
    let lifted = plant.run(&["lift", "a", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
    assert_eq!(
        (&lifted["lifted"], &lifted["hung"], &lifted["state"]),
        (&words(&["a"]), &words(&[]), &json!("paused")),
        "{lifted}"
    );
    assert_eq!(lifted["warnings"], words(&[]), "nothing new is to be said");
    assert_eq!(
        (&lifted["confirmed"], &lifted["output_on"]),
        (&json!(true), &json!(false))
    );
    let at_rest = plant.in_state("paused");
    assert_eq!(piece(&at_rest, "a")["hangs"], false);
    assert_eq!(piece(&at_rest, "b")["hangs"], true);
    let had = ah(piece(&at_rest, "a"));
    // It is in the ledger before she is told to reach in.
    assert_eq!(
        hangs(&record(&plant)),
        [("a", false), ("b", true), ("hanger 1", true)]
    );
    let report = plant.run(&["report", "1", "--json"]).json(0);
    assert_eq!(piece(&report, "a")["hangs"], false, "{report}");
    assert_eq!(piece(&report, "b")["hangs"], true, "{report}");

    resumed(&plant);
    let on = wait("more on b", || {
        let status = plant.status();
        let risen = status["setpoint_a"].as_f64()? > 0.47;
        (risen && ah(piece(&status, "b")) > ah(piece(&at_rest, "b"))).then_some(status)
    });
    assert_eq!(ah(piece(&on, "a")), had, "what is lifted takes nothing");
    // 30 cm² and 1.9 cm² of hanger at 1.5 A/dm2 are 0.478 A.
    let set = on["setpoint_a"].as_f64().unwrap();
    assert!((set - 0.48).abs() < 0.01, "{set} A");

    fs::write(plant.path("more.toml"), plate("c", 25)).unwrap();
    let hung = plant.run(&["hang", "more.toml", "--json"]).json(0);
    assert_eq!(hung["hung"], words(&["c"]), "{hung}");
    plant.dead_within(AT_ONCE);
    // Paused already: the next change needs no more off.
    let again = plant.run(&["hang", "--again", "a", "--json"]).json(0);
    assert_eq!(again["hung"], words(&["a"]), "{again}");
    resumed(&plant);
    let all = wait("a beginning on c", || {
        let status = plant.status();
        (ah(piece(&status, "c")) > 0.0).then_some(status)
    });
    assert!(ah(piece(&all, "a")) > had, "{all}");
    let names = all["pieces"]
        .as_array()
        .unwrap()
        .iter()
        .map(|piece| piece["name"].clone());
    assert_eq!(
        names.collect::<Vec<_>>(),
        [json!("a"), json!("b"), json!("c")]
    );
    assert_eq!(all["hangers"].as_array().unwrap().len(), 1);
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);

    let run = record(&plant);
    let codes = run.events.iter().map(|event| event.code.as_str());
    let codes: Vec<&str> = codes
        .filter(|code| ["hung", "lifted"].contains(code))
        .collect();
    assert_eq!(codes, ["lifted", "hung", "hung"]);
    assert_eq!(
        hangs(&run),
        [("a", true), ("b", true), ("c", true), ("hanger 1", true)]
    );
    assert_eq!(run.papers.len(), 1);
    assert!(
        run.papers[0].path.ends_with("more.toml"),
        "{:?}",
        run.papers
    );
    let (whole, parts) = (run.charge.best.ah(), run.electrodes.iter());
    let sum: f64 = parts.map(|one| one.account.charge.best.ah()).sum();
    assert!(
        (sum / whole - 1.0).abs() < 1e-6,
        "{sum} Ah on the electrodes of {whole} Ah"
    );
}

fn hangs(run: &RunRecord) -> Vec<(&str, bool)> {
    let electrodes = run.electrodes.iter();
    electrodes
        .map(|one| (one.head.name.as_str(), one.hangs))
        .collect()
}

#[test]
fn what_cannot_be_changed_is_refused_and_the_current_flows_on() {
    let plant = plant_with(&job("until = \"b\"\n"));
    let _daemon = plant.serve();
    assert_eq!(
        plant.run(&["lift", "a", "--json"]).refused(5),
        "nothing-runs"
    );
    assert_eq!(
        plant.run(&["hang", "--again", "a", "--json"]).refused(5),
        "nothing-runs"
    );
    plant.run(&["start", "job.toml", "--json"]).json(0);
    plant.flows();
    let no = |words: &[&str], code: i32| {
        let word = plant.run(&[words, &["--json"]].concat()).refused(code);
        assert!(
            plant.amps() > 0.1,
            "{words:?} is refused, and turned the output off"
        );
        word
    };
    assert_eq!(no(&["lift", "z"], 2), "no-such-piece");
    assert_eq!(no(&["lift", "b"], 5), "not-now", "the run ends with it");
    assert_eq!(no(&["lift", "a", "b"], 5), "not-now");
    assert_eq!(no(&["hang", "--again", "a"], 5), "not-now", "it hangs");
    assert_eq!(no(&["hang", "none.toml"], 2), "not-found");
    assert_eq!(
        no(&["hang", "job.toml"], 2),
        "several-problems",
        "a whole job"
    );
    fs::write(plant.path("more.toml"), plate("b", 5)).unwrap();
    assert_eq!(
        no(&["hang", "more.toml"], 2),
        "bad-value",
        "a name it has had"
    );
    fs::write(plant.path("more.toml"), plate("c", 200)).unwrap();
    assert_eq!(no(&["hang", "more.toml"], 5), "current-above-station");
    fs::write(plant.path("more.toml"), "").unwrap();
    assert_eq!(no(&["hang", "more.toml"], 2), "missing-key");
    assert_eq!(plant.run(&["hang", "--json"]).code, Some(2));
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}

/// What was lifted and hung outlives the daemon: the run goes on with what hung last.
#[test]
fn after_a_crash_the_run_goes_on_with_what_hung_last() {
    let plant = plant_with(&job(""));
    let daemon = plant.flowing();
    plant.in_state("building");
    fs::write(plant.path("more.toml"), plate("c", 25)).unwrap();
    plant.run(&["hang", "more.toml", "--json"]).json(0);
    plant.run(&["lift", "a", "--json"]).json(0);
    // The file may be gone by then.
    fs::remove_file(plant.path("more.toml")).unwrap();
    resumed(&plant);
    std::thread::sleep(Duration::from_millis(1500));
    plant.power_cut(daemon);
    let _next = plant.serve();
    plant.dead_within(AT_ONCE);
    let before = plant.in_state("interrupted");
    assert_eq!(piece(&before, "a")["hangs"], false, "{before}");
    wait("a run that may go on", || {
        (plant.run(&["resume", "--json"]).code == Some(0)).then_some(())
    });
    plant.flows();
    let on = wait("more on b and c", || {
        let status = plant.status();
        let more = |name| ah(piece(&status, name)) > ah(piece(&before, name));
        (more("b") && more("c")).then_some(status)
    });
    assert_eq!(ah(piece(&on, "a")), ah(piece(&before, "a")));
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}

/// Its screens: what to do with the hands, and that a piece no longer hangs.
#[test]
fn the_screens_say_what_to_do_now_and_what_no_longer_hangs() {
    let plant = plant_with(&job(""));
    let _daemon = plant.flowing();
    let said = plant.run(&["lift", "a"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    for words in [
        "output off, confirmed",
        "Lift now: a.",
        "a: 0.0",
        "Rinse",
        "nightvat resume",
    ] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
    let screen = plant.run(&["status"]).out;
    assert!(screen.contains("a (lifted)"), "{screen}");
    let said = plant.run(&["hang", "--again", "a"]);
    for words in ["Hang now: a.", "Contacts tugged.", "nightvat resume"] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}

/// The ledger knows of an anode of 5 kg, and the station's file of one of a gram: what is said after
/// a lift is by the ledger, as what was said at the start.
#[test]
fn a_change_is_judged_by_the_station_that_the_start_was() {
    let plant = plant_with(&job(""));
    let text = fs::read_to_string(plant.path("station.toml")).unwrap();
    let text = text
        .replace("[tank]\n", "[tank]\nbath_ledger = \"north\"\n")
        .replace("420 g", "1 g");
    fs::write(plant.path("station.toml"), text).unwrap();
    let add = |what: &[&str]| {
        let words = [&["bath", "add", "north"], what, &["--json"]].concat();
        plant.run(&words).json(0)
    };
    add(&["--made", "acid-copper-bright", "--volume", "6 L"]);
    let _daemon = plant.serve();
    let warned = |said: &Value| said["warnings"].to_string().contains("anode-light");
    let plan = ["plan", "job.toml", "--station", "station.toml", "--json"];
    assert!(warned(&plant.run(&plan).json(0)), "a gram is too light");
    add(&["anode 5 kg"]);
    let started = plant.run(&["start", "job.toml", "--json"]).json(0);
    assert!(!warned(&started), "{started}");
    plant.flows();
    plant.in_state("building");
    let lifted = plant.run(&["lift", "a", "--json"]).json(0);
    assert_eq!(lifted["lifted"], words(&["a"]), "{lifted}");
    assert!(!warned(&lifted), "{lifted}");
    plant.run(&["stop", "--json"]).json(0);
}

/// What a gauge said of an earlier piece like it is said when it is hung, as it is at a start.
#[test]
fn a_piece_that_is_hung_says_what_it_has_learnt() {
    let plant = plant_with(&job(""));
    let earlier = job("").replace(&plate("a", 20), &plate("c", 25));
    fs::write(plant.path("earlier.toml"), earlier).unwrap();
    plant.run(&["rehearse", "earlier.toml", "--json"]).json(0);
    // As if that run had been real: what is rehearsed teaches nothing.
    let ledger = rusqlite::Connection::open(plant.path("state/ledger.db")).unwrap();
    ledger.execute("UPDATE runs SET simulated = 0", []).unwrap();
    plant.run(&["gauge", "1/c", "50 um", "--json"]).json(0);
    let _daemon = plant.flowing();
    plant.in_state("building");
    fs::write(plant.path("more.toml"), plate("c", 25)).unwrap();
    let hung = plant.run(&["hang", "more.toml", "--json"]).json(0);
    let mut said = hung["warnings"].as_array().unwrap().iter();
    let gauged = said.find(|one| one["code"] == "area-from-gauge");
    let gauged = gauged.unwrap_or_else(|| panic!("{hung}"));
    assert!(gauged["text"].as_str().unwrap().contains("\"c\""), "{hung}");
    let lifted = plant.run(&["lift", "a", "--json"]).json(0);
    assert_eq!(lifted["warnings"], words(&[]), "it was said before");
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}
