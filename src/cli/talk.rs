//! A question to the daemon over its socket, and its answer.

use super::paper::day_time_and_second;
use super::{Exit, Failure};
use crate::daemon::{self, Place, PlaceFault, Refusal};
use crate::supply::keeper::last_record;
use http_body_util::{BodyExt, Full, Limited};
use hyper::body::Bytes;
use hyper::client::conn::http1;
use hyper::{Method, Request};
use hyper_util::rt::TokioIo;
use serde::Deserialize;
use serde_json::Value;
use std::path::Path;
use std::time::Duration;
use tokio::net::UnixStream;

/// A status comes from memory: a daemon that takes longer is not well.
pub(super) const SOON: Duration = Duration::from_secs(5);
/// What needs a proof is answered after 15 s at the latest.
pub(super) const PROOF: Duration = Duration::from_secs(25);
/// The largest answer that is read.
const LARGEST: usize = 4 << 20;

/// Why there is no answer.
#[derive(Debug)]
pub(super) enum Unanswered {
    /// Nobody listens on the socket.
    Nobody(Failure),
    /// Somebody does, but does not answer.
    Silent(Failure),
    /// The answer is no.
    Refused(Failure),
}

impl From<Unanswered> for Failure {
    fn from(unanswered: Unanswered) -> Self {
        match unanswered {
            Unanswered::Nobody(failure)
            | Unanswered::Silent(failure)
            | Unanswered::Refused(failure) => failure,
        }
    }
}

/// Reads from the daemon.
pub(super) fn get(route: &str) -> Result<Value, Unanswered> {
    ask(Method::GET, route, None, SOON)
}

/// Has the daemon do something.
pub(super) fn post(route: &str, body: Option<&Value>) -> Result<Value, Unanswered> {
    ask(Method::POST, route, body, PROOF)
}

fn ask(
    method: Method,
    route: &str,
    body: Option<&Value>,
    patience: Duration,
) -> Result<Value, Unanswered> {
    let place = Place::of_environment().map_err(|fault| Unanswered::Nobody(fault.into()))?;
    let socket = place.socket();
    let body = body.map(Value::to_string).unwrap_or_default();
    let request = Request::builder()
        .method(method)
        .uri(route)
        .header("host", "nightvat")
        .header("content-type", "application/json")
        .body(Full::new(Bytes::from(body)))
        .map_err(|fault| silent(&socket, &fault))?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|fault| silent(&socket, &fault))?;
    runtime.block_on(async {
        let stream = match tokio::time::timeout(patience, UnixStream::connect(&socket)).await {
            Ok(Ok(stream)) => stream,
            Ok(Err(fault)) => return Err(nobody(&socket, &fault)),
            Err(_) => return Err(silent(&socket, &"it takes no connection")),
        };
        match tokio::time::timeout(patience, exchange(stream, request)).await {
            Ok(Ok(answer)) => read(answer),
            Ok(Err(fault)) => Err(silent(&socket, &fault)),
            Err(_) => {
                let waited = format!("nothing came for {} s", patience.as_secs());
                Err(silent(&socket, &waited))
            }
        }
    })
}

type AnyFault = Box<dyn std::error::Error + Send + Sync>;

/// One request, one answer; true if it is a yes.
async fn exchange(
    stream: UnixStream,
    request: Request<Full<Bytes>>,
) -> Result<(bool, Value), AnyFault> {
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await?;
    let driving = async {
        // Ends with the connection; the request says what went wrong.
        let _ = connection.await;
        std::future::pending::<()>().await;
    };
    let asking = async {
        let answer = sender.send_request(request).await?;
        let yes = answer.status().is_success();
        let body = Limited::new(answer.into_body(), LARGEST)
            .collect()
            .await?
            .to_bytes();
        Ok::<_, AnyFault>((yes, serde_json::from_slice(&body)?))
    };
    tokio::select! {
        answer = asking => answer,
        () = driving => Err("the connection ended".into()),
    }
}

fn read((yes, answer): (bool, Value)) -> Result<Value, Unanswered> {
    if yes {
        return Ok(answer);
    }
    let refusal = answer
        .get("error")
        .and_then(|it| Refusal::deserialize(it).ok());
    Err(Unanswered::Refused(match refusal {
        Some(refusal) => Failure::from(refusal),
        None => Failure::new(
            Exit::Failed,
            "no-sense",
            format!("the daemon answers {answer}"),
        ),
    }))
}

fn nobody(socket: &Path, fault: &std::io::Error) -> Unanswered {
    let text = format!("no daemon answers ({fault})");
    let serve = "`nightvat serve STATION` starts one, which says first what was delivered";
    let failure = Failure::new(Exit::NoDaemon, "no-daemon", text);
    Unanswered::Nobody(with_word(failure, socket, serve))
}

fn silent(socket: &Path, fault: &dyn ToString) -> Unanswered {
    let text = format!("the daemon does not answer: {}", fault.to_string());
    let off = "`nightvat off STATION` turns the output off without it";
    let failure = Failure::new(Exit::NoDaemon, "daemon-silent", text);
    Unanswered::Silent(with_word(failure, socket, off))
}

/// Where the daemon says nothing, what its keeper wrote last says how the output stands; a doubt
/// there comes before the remedy.
fn with_word(mut failure: Failure, socket: &Path, remedy: &str) -> Failure {
    let folder = daemon::state_folder().ok();
    let record = folder.and_then(|folder| last_record(&folder));
    let doubted = record.as_ref().is_some_and(|record| !record.confirmed_off);
    let word = record.map(|record| {
        let begins = if doubted {
            "the keeper last wrote"
        } else {
            "the output was off when it was last read"
        };
        let at = day_time_and_second(&record.at);
        format!("; {begins}, {at}: {}", record.text)
    });
    let remedy = if doubted {
        "`nightvat off STATION`, or turn the supply off by hand"
    } else {
        remedy
    };
    failure.text.push_str(&word.unwrap_or_default());
    failure.at(socket.display().to_string()).remedy(remedy)
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        let exit = match refusal.exit {
            daemon::BAD_INPUT => Exit::BadInput,
            daemon::NO_SUPPLY => Exit::NoSupply,
            daemon::REFUSED => Exit::Refused,
            daemon::NOT_CONFIRMED_OFF => Exit::NotConfirmedOff,
            _ => Exit::Failed,
        };
        let mut failure = Self::new(exit, &refusal.code, refusal.text);
        failure.place = refusal.place;
        failure.remedy = refusal.remedy;
        failure.problems = refusal.problems;
        failure
    }
}

impl From<PlaceFault> for Failure {
    fn from(fault: PlaceFault) -> Self {
        Refusal::from(fault).into()
    }
}
