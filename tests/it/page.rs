//! The page over TCP, as a phone, a stranger and another site's page meet it: the real daemon, and
//! the emulator's word on whether current flows.

use super::plant::Plant;
use serde_json::Value;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::time::{Duration, Instant};

const SPEED: u32 = 10;
const AT_ONCE: Duration = Duration::from_secs(2);

/// A plant whose station has a page on a free port of this computer.
fn plant() -> (Plant, SocketAddr) {
    let plant = Plant::open(SPEED);
    let free = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = free.local_addr().unwrap();
    plant.station_also(&format!(
        "[page]\nlisten = \"{at}\"\nnames = [\"bath.local\"]\n"
    ));
    (plant, at)
}

/// Status, headers in small letters, and body.
struct Answer {
    status: u16,
    head: String,
    body: String,
}

fn ask(at: SocketAddr, request: &str) -> Answer {
    let mut stream = TcpStream::connect(at).unwrap();
    stream
        .set_read_timeout(Some(Duration::from_secs(20)))
        .unwrap();
    stream.write_all(request.as_bytes()).unwrap();
    let mut all = String::new();
    stream.read_to_string(&mut all).unwrap();
    let (head, body) = all
        .split_once("\r\n\r\n")
        .unwrap_or_else(|| panic!("{all:?}"));
    let status = head.split(' ').nth(1).and_then(|code| code.parse().ok());
    Answer {
        status: status.unwrap(),
        head: head.to_lowercase(),
        body: body.to_owned(),
    }
}

fn get(at: SocketAddr, route: &str, host: &str) -> Answer {
    ask(
        at,
        &format!("GET {route} HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\r\n"),
    )
}

fn post(at: SocketAddr, route: &str, headers: &str) -> Answer {
    let request = format!(
        "POST {route} HTTP/1.1\r\nhost: {at}\r\nconnection: close\r\ncontent-length: 0\r\n\
         {headers}\r\n"
    );
    ask(at, &request)
}

fn code(answer: &Answer) -> String {
    let body: Value = serde_json::from_str(&answer.body).unwrap();
    body["error"]["code"]
        .as_str()
        .unwrap_or_default()
        .to_owned()
}

#[test]
fn whoever_reaches_it_may_look() {
    let (plant, at) = plant();
    let daemon = plant.flowing();
    assert_eq!(daemon.said["page"], format!("http://{at}"));
    plant.in_state("building");
    let host = at.to_string();
    let page = get(at, "/", &host);
    assert_eq!(page.status, 200, "{}", page.body);
    for words in [
        "north tank",
        "one plate",
        "All is well: full density.",
        "/page.js",
    ] {
        assert!(page.body.contains(words), "{words}: {}", page.body);
    }
    // Nothing from elsewhere, in no other page's frame, and kept by nobody.
    for words in [
        "content-security-policy: default-src 'none'",
        "frame-ancestors 'none'",
        "x-content-type-options: nosniff",
        "cache-control: no-store",
    ] {
        assert!(page.head.contains(words), "{words}: {}", page.head);
    }
    assert!(!page.body.contains("http://") && !page.body.contains("https://"));
    for (route, of) in [("/page.css", "text/css"), ("/page.js", "text/javascript")] {
        let part = get(at, route, &host);
        assert!(
            part.status == 200 && part.head.contains(of),
            "{route}: {}",
            part.head
        );
    }
    let now = get(at, "/now", "bath.local:8737");
    assert!(now.body.contains("<h1 class=\"well\">"), "{}", now.body);
    assert!(!now.body.contains("<html"), "{}", now.body);
    let status: Value = serde_json::from_str(&get(at, "/status", "localhost").body).unwrap();
    assert_eq!(status["state"], "building");
}

#[test]
fn what_changes_anything_needs_a_paired_browser() {
    let (plant, at) = plant();
    let _daemon = plant.flowing();
    let stranger = post(at, "/stop", "");
    assert_eq!(
        (stranger.status, code(&stranger).as_str()),
        (409, "not-paired")
    );
    let guess = format!("authorization: Bearer {}\r\n", "a".repeat(64));
    assert_eq!(code(&post(at, "/off", &guess)), "not-paired");
    let paired = plant.run(&["pair", "station.toml", "--json"]).json(0);
    let url = paired["url"].as_str().unwrap().to_owned();
    let (address, token) = url.split_once("/#token=").unwrap();
    assert_eq!(address, format!("http://bath.local:{}", at.port()));
    let bearer = format!("authorization: Bearer {token}\r\n");
    // Another site's page in the browser of somebody who is paired.
    let elsewhere = format!("{bearer}origin: http://evil.example\r\n");
    assert_eq!(code(&post(at, "/stop", &elsewhere)), "wrong-origin");
    // A name that was made to point here.
    let rebound = ask(
        at,
        &format!(
            "POST /stop HTTP/1.1\r\nhost: evil.example:{}\r\nconnection: close\r\n\
             content-length: 0\r\n{bearer}\r\n",
            at.port()
        ),
    );
    assert_eq!(code(&rebound), "wrong-host");
    assert_eq!(get(at, "/status", "evil.example").status, 400);
    assert!(plant.amps() > 0.1, "a stranger turned the output off");
    // Taken back, then paired anew.
    let anew = plant
        .run(&["pair", "station.toml", "--anew", "--json"])
        .json(0);
    assert_eq!(code(&post(at, "/stop", &bearer)), "not-paired");
    let token = anew["url"]
        .as_str()
        .unwrap()
        .split_once("token=")
        .unwrap()
        .1;
    let own = format!("authorization: Bearer {token}\r\norigin: http://{at}\r\n");
    let stopped = post(at, "/stop", &own);
    assert_eq!(stopped.status, 200, "{}", stopped.body);
    let stopped: Value = serde_json::from_str(&stopped.body).unwrap();
    assert_eq!(stopped["confirmed"], true, "{stopped}");
    plant.dead_within(AT_ONCE);
}

/// Idle, endless and oversized askers have no part in the socket's time, nor in the run's.
#[test]
fn a_flood_on_the_page_delays_nobody_else() {
    let (plant, at) = plant();
    let _daemon = plant.flowing();
    let idle: Vec<TcpStream> = (0..300)
        .filter_map(|_| TcpStream::connect(at).ok())
        .collect();
    assert!(idle.len() > 250, "only {} connections", idle.len());
    let asked = Instant::now();
    let status = plant.status();
    assert!(
        asked.elapsed() < Duration::from_secs(3),
        "{:?}",
        asked.elapsed()
    );
    assert_eq!(status["state"], "building");
    drop(idle);
    let large = "x".repeat(600_000);
    let mut stream = TcpStream::connect(at).unwrap();
    // The daemon may hang up in the middle of it.
    let _ = write!(stream, "GET / HTTP/1.1\r\nhost: {at}\r\nx: {large}\r\n\r\n");
    stream
        .set_read_timeout(Some(Duration::from_secs(20)))
        .unwrap();
    let mut answer = String::new();
    let _ = stream.read_to_string(&mut answer);
    assert!(!answer.starts_with("HTTP/1.1 200"), "{answer}");
    assert!(plant.amps() > 0.1);
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}

#[test]
fn a_port_that_is_taken_costs_the_page_and_not_the_bath() {
    let (plant, at) = plant();
    let _taken = TcpListener::bind(at).unwrap();
    let daemon = plant.flowing();
    assert_eq!(daemon.said["page"], Value::Null);
    assert!(plant.log().contains("no page on"), "{}", plant.log());
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}

#[test]
fn a_station_without_a_page_pairs_nobody() {
    let plant = Plant::open(SPEED);
    assert_eq!(
        plant.run(&["pair", "station.toml", "--json"]).refused(2),
        "no-page"
    );
}
