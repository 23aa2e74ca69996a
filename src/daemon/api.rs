//! The local API: HTTP and JSON on the socket in the state folder. Reading looks at the board; only
//! what changes something reaches the loop. However slow, dead or many the askers are, the loop
//! never waits for one of them.

mod bounded;

use super::board::Board;
use super::going_on::{self, By};
use super::inbox::{Message, Reply, Want};
use super::prepare::{self, Asking};
use super::refusal::{BAD_INPUT, NOT_CONFIRMED_OFF, REFUSED, Refusal};
use super::standing::Standing;
use axum::body::Bytes;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_LENGTH;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use bounded::Bounded;
use serde_json::{Value, json};
use std::os::unix::net::UnixListener;
use std::sync::Arc;
use std::sync::mpsc::Sender;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::{Semaphore, oneshot};

/// The largest job that is taken, with what is around it.
const LARGEST_BODY: usize = (1 << 20) + (1 << 16);
/// A job comes whole within this.
const BODY_PATIENCE: Duration = Duration::from_secs(10);
/// The loop answers within 15 s, with or without a proof; this is for a loop that is dead.
const LOOP_PATIENCE: Duration = Duration::from_secs(20);
/// Replies that are under way when the daemon ends get this long.
const FAREWELL: Duration = Duration::from_secs(1);

/// What the routes need.
#[derive(Clone)]
struct Office {
    standing: Arc<Standing>,
    board: Board,
    inbox: Sender<Message>,
    /// One job is read at a time.
    reading: Arc<Semaphore>,
}

/// The running API.
#[derive(Debug)]
pub(super) struct Api {
    end: oneshot::Sender<()>,
    thread: JoinHandle<()>,
}

impl Api {
    /// Serves on a thread of its own.
    pub(super) fn start(
        listener: UnixListener,
        standing: Arc<Standing>,
        board: Board,
        inbox: Sender<Message>,
    ) -> std::io::Result<Self> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .max_blocking_threads(4)
            .build()?;
        let (end, ends) = oneshot::channel();
        let reading = Arc::new(Semaphore::new(1));
        let office = Office {
            standing,
            board,
            inbox,
            reading,
        };
        let thread = std::thread::Builder::new()
            .name("api".to_owned())
            .spawn(move || {
                if let Err(fault) = runtime.block_on(serve(listener, office, ends)) {
                    tracing::error!("the local API has ended: {fault}");
                }
                // A job that is still being read is left to itself.
                runtime.shutdown_background();
            })?;
        Ok(Self { end, thread })
    }

    /// Ends it, when replies under way have left or had their time.
    pub(super) fn close(self) {
        // A thread that is gone needs not be told.
        let _ = self.end.send(());
        if self.thread.join().is_err() {
            tracing::error!("the local API died");
        }
    }
}

async fn serve(
    listener: UnixListener,
    office: Office,
    ends: oneshot::Receiver<()>,
) -> std::io::Result<()> {
    let listener = Bounded::new(tokio::net::UnixListener::from_std(listener)?);
    let routes = Router::new()
        .route("/status", get(status))
        .route("/screen", get(screen))
        .route("/bedtime", get(bedtime))
        .route("/start", post(start))
        .route("/stop", post(|office| ask(office, Want::Stop)))
        .route("/off", post(|office| ask(office, Want::Off)))
        .route("/pause", post(|office| ask(office, Want::Pause)))
        .route("/resume", post(resume))
        .route("/clear", post(|office| ask(office, Want::Clear)))
        .route("/hush", post(|office| ask(office, Want::Hush)))
        .fallback(nowhere)
        .method_not_allowed_fallback(nowhere)
        .with_state(office);
    let (closing, closes) = oneshot::channel::<()>();
    let serving = axum::serve(listener, routes).with_graceful_shutdown(async move {
        // A dropped sender means the daemon is gone: the same.
        let _ = ends.await;
        drop(closing);
    });
    tokio::select! {
        served = serving => served,
        () = async {
            let _ = closes.await;
            tokio::time::sleep(FAREWELL).await;
        } => Ok(()),
    }
}

/// A refusal as a reply.
struct Refused(Refusal);

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let status = match self.0.exit {
            BAD_INPUT => StatusCode::BAD_REQUEST,
            REFUSED | NOT_CONFIRMED_OFF => StatusCode::CONFLICT,
            _ => StatusCode::SERVICE_UNAVAILABLE,
        };
        (status, Json(json!({ "error": self.0 }))).into_response()
    }
}

impl From<Refusal> for Refused {
    fn from(refusal: Refusal) -> Self {
        Self(refusal)
    }
}

async fn status(State(office): State<Office>) -> Json<Value> {
    Json(super::told::status(&office.board.look(), &office.standing))
}

async fn screen(State(office): State<Office>) -> Json<Value> {
    Json(super::told::screen(&office.board.look(), &office.standing))
}

async fn bedtime(State(office): State<Office>) -> Json<Value> {
    Json(super::told::bedtime(&office.board.look(), &office.standing))
}

/// Reads and plans the job where it may take its time, then asks the loop.
async fn start(State(office): State<Office>, request: Request) -> Result<Json<Value>, Refused> {
    let body = whole(request).await?;
    let asking: Asking = serde_json::from_slice(&body).map_err(|fault| {
        Refusal::new(
            BAD_INPUT,
            "bad-request",
            format!("the request cannot be read: {fault}"),
        )
    })?;
    let Ok(turn) = Arc::clone(&office.reading).try_acquire_owned() else {
        return Err(Refusal::new(REFUSED, "busy", "another job is being read").into());
    };
    let standing = Arc::clone(&office.standing);
    let reading = tokio::task::spawn_blocking(move || {
        let _turn = turn;
        prepare::prepare(&standing, asking, None)
    });
    let prepared = reading.await.map_err(|_| {
        Refusal::new(BAD_INPUT, "unreadable", "reading the job came to a bad end")
    })??;
    ask(State(office), Want::Start(Box::new(prepared))).await
}

/// A paused run goes on at once; for one that was interrupted the ledger is read first.
async fn resume(State(office): State<Office>) -> Result<Json<Value>, Refused> {
    let latch = office.board.look().latch.clone();
    let Some(latch) = latch.filter(|latch| latch.resumes) else {
        return ask(State(office), Want::Resume).await;
    };
    let standing = Arc::clone(&office.standing);
    let reading =
        tokio::task::spawn_blocking(move || going_on::read(&standing, latch.run, By::Person));
    let go_on = reading.await.map_err(|_| {
        Refusal::new(BAD_INPUT, "unreadable", "reading the job came to a bad end")
    })??;
    match go_on {
        Some(go_on) => ask(State(office), Want::GoOn(Box::new(go_on))).await,
        None => Err(going_on::cannot("its end is still being written").into()),
    }
}

/// The whole body, if it is neither too large nor too slow.
async fn whole(request: Request) -> Result<Bytes, Refused> {
    let told = request
        .headers()
        .get(CONTENT_LENGTH)
        .and_then(|it| it.to_str().ok()?.parse().ok());
    let large = || {
        let text = format!("a job of more than {} MB is no job", LARGEST_BODY >> 20);
        Refused(Refusal::new(BAD_INPUT, "too-large", text))
    };
    if told.is_some_and(|bytes: usize| bytes > LARGEST_BODY) {
        return Err(large());
    }
    let body = axum::body::to_bytes(request.into_body(), LARGEST_BODY);
    match tokio::time::timeout(BODY_PATIENCE, body).await {
        Ok(Ok(body)) => Ok(body),
        Ok(Err(_)) => Err(large()),
        Err(_) => {
            Err(Refusal::new(BAD_INPUT, "too-slow", "the request did not come to its end").into())
        }
    }
}

/// Asks the loop, and waits for its answer.
async fn ask(State(office): State<Office>, want: Want) -> Result<Json<Value>, Refused> {
    let (reply, answer) = oneshot::channel();
    if office
        .inbox
        .send(Message::Asked(want, Reply(reply)))
        .is_err()
    {
        return Err(ending().into());
    }
    match tokio::time::timeout(LOOP_PATIENCE, answer).await {
        Ok(Ok(answer)) => Ok(Json(answer?)),
        Ok(Err(_)) => Err(ending().into()),
        Err(_) => {
            let text = "the daemon's loop does not answer: turn the supply off by hand";
            Err(Refusal::new(NOT_CONFIRMED_OFF, "loop-silent", text).into())
        }
    }
}

fn ending() -> Refusal {
    Refusal::new(REFUSED, "closing", "the daemon is ending")
}

async fn nowhere() -> Response {
    let refusal = Refusal::new(BAD_INPUT, "no-such-route", "the API has no such route")
        .remedy("GET /status, /screen; POST /start, /stop, /off, /pause, /resume, /clear, /hush");
    (StatusCode::NOT_FOUND, Json(json!({ "error": refusal }))).into_response()
}
