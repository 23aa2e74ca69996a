//! The simulated supply on a real pseudo-terminal, talked to through the file system.

#![allow(clippy::unwrap_used)] // a test may

use crate::rig_studio::{clean, flat, job, piece};
use nightvat::rig::cell::Truth;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::lend::{LendSettings, Lent};
use nightvat::spec::Surface;
use nightvat::units::Moment;
use std::fs::{self, File, OpenOptions};
use std::io::{Read, Write};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// Serves a supply while `talk` runs; what the cell said each second.
fn lent(link: &Path, speed: f64, talk: impl FnOnce(&Path)) -> Vec<Truth> {
    let world = clean(&job(vec![piece("plate", Surface::Metal, flat(100.0))]));
    let instrument = Instrument::new(
        Kind::Standard,
        Quirks::of(Kind::Standard),
        world,
        Moment::ZERO,
    );
    let settings = LendSettings {
        link: Some(link.into()),
        speed,
        start: Moment::ZERO,
        relay_link: None,
        mishaps: Vec::new(),
    };
    let lent = Lent::open(settings).unwrap();
    let (stop, mut truths) = (AtomicBool::new(false), Vec::new());
    std::thread::scope(|scope| {
        let served = scope.spawn(|| {
            lent.serve(instrument, &mut |truth| truths.push(truth.clone()), &stop)
                .unwrap();
        });
        talk(link);
        stop.store(true, Ordering::Relaxed);
        served.join().unwrap();
    });
    truths
}

/// Sends a line and reads one back.
fn ask(port: &mut File, line: &str) -> String {
    port.write_all(line.as_bytes()).unwrap();
    let mut reply = Vec::new();
    while reply.last() != Some(&b'\n') {
        let mut byte = [0];
        port.read_exact(&mut byte).unwrap();
        reply.push(byte[0]);
    }
    String::from_utf8(reply).unwrap()
}

fn open(link: &Path) -> File {
    OpenOptions::new()
        .read(true)
        .write(true)
        .open(link)
        .unwrap()
}

#[test]
fn answers_through_the_link_as_bytes_without_echo() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("supply");
    lent(&link, 20.0, |link| {
        let mut port = open(link);
        assert_eq!(
            ask(&mut port, "*IDN?\n"),
            "NIGHTVAT,SIMULATED-SUPPLY,0,1.0\n"
        );
        drop(port);
        // A second user finds the same supply.
        let mut port = open(link);
        assert_eq!(ask(&mut port, "CURR 0.5;CURR?\n"), "0.500000000\n");
    });
    assert!(
        fs::symlink_metadata(&link).is_err(),
        "the link is left behind"
    );
}

#[test]
fn tells_the_truth_every_simulated_second_whether_or_not_anybody_talks() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("supply");
    let truths = lent(&link, 200.0, |link| {
        let mut port = open(link);
        assert_eq!(ask(&mut port, "VOLT 5;CURR 1;OUTP ON;OUTP?\n"), "1\n");
        std::thread::sleep(std::time::Duration::from_millis(300));
    });
    assert!(truths.len() > 20, "{}", truths.len());
    for (second, truth) in truths.iter().enumerate() {
        assert!((truth.t_s - (second + 1) as f64).abs() < 1e-9);
    }
    let pairs = truths
        .windows(2)
        .filter(|pair| pair[0].current_a > 0.999_999_9);
    let mut counted = 0;
    for pair in pairs {
        // One ampere for one second.
        let charge = (pair[1].charge_ah - pair[0].charge_ah) * 3600.0;
        assert!((charge - 1.0).abs() < 1e-9, "{charge} {pair:?}");
        counted += 1;
    }
    assert!(counted > 10, "{counted}");
}

#[test]
fn replaces_an_old_link_and_leaves_a_file_alone() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("supply");
    std::os::unix::fs::symlink("/nowhere", &link).unwrap();
    let open = |link: &Path| {
        let link = Some(link.to_path_buf());
        Lent::open(LendSettings {
            link,
            speed: 1.0,
            start: Moment::ZERO,
            relay_link: None,
            mishaps: Vec::new(),
        })
    };
    let first = open(&link).unwrap();
    assert_eq!(fs::read_link(&link).unwrap(), first.path());
    // A newer lender takes the name; the older one's end does not take it away again.
    let second = open(&link).unwrap();
    drop(first);
    assert_eq!(fs::read_link(&link).unwrap(), second.path());
    drop(second);
    assert!(fs::symlink_metadata(&link).is_err());
    fs::write(&link, "precious").unwrap();
    assert!(open(&link).is_err());
    assert_eq!(fs::read_to_string(&link).unwrap(), "precious");
}
