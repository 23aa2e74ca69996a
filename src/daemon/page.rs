//! The page's listener: the same routes over TCP, where the station file asks for it. Reading is
//! open to whoever reaches the address. What changes anything needs the token of a paired browser,
//! and neither a name that was made to point here nor another site's page gets that far.

use super::api::Office;
use super::place::Place;
use super::refusal::{BAD_INPUT, REFUSED, Refusal};
use super::standing::Standing;
use super::told;
use crate::spec::Station;
use crate::spec::station::Page;
use crate::view::page::{SCRIPT, STYLE};
use axum::Router;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{
    AUTHORIZATION, CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HOST, HeaderName, ORIGIN,
    REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue, Method};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::net::{IpAddr, TcpListener};
use std::os::unix::fs::OpenOptionsExt;
use std::path::PathBuf;
use std::sync::Arc;

/// The token's file in the state folder; its mode is what guards it.
const TOKEN: &str = "page.token";
/// So many random bytes are in a token.
const TOKEN_BYTES: usize = 32;
/// Nothing is taken from elsewhere, nothing runs but the page's own script, and no other page may
/// show this one inside itself.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; \
                      form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/// Who is let in, and to what.
#[derive(Clone, Debug)]
pub(super) struct Gate {
    /// Names it may be called by, beside addresses and `localhost`.
    names: Arc<[String]>,
    /// The file with the token.
    token: PathBuf,
}

impl Gate {
    /// For a page, with the token in this state folder.
    pub(super) fn of(page: &Page, place: &Place) -> Self {
        Self {
            names: page.names.clone().into(),
            token: place.folder().join(TOKEN),
        }
    }
}

/// The page's listener and who is let in; `None` where the station asks for no page.
pub(super) fn open(standing: &Standing, place: &Place) -> Option<(TcpListener, Gate)> {
    let page = standing.station.page.as_ref()?;
    Some((listen(page)?, Gate::of(page, place)))
}

/// Where the page of a station is.
pub(super) fn address(station: &Station) -> Option<String> {
    let page = station.page.as_ref()?;
    Some(format!("http://{}", page.listen))
}

/// Listens where the page is to be; `None`, loudly, where that cannot be: the bath comes first.
fn listen(page: &Page) -> Option<TcpListener> {
    let opened = TcpListener::bind(page.listen)
        .and_then(|listener| listener.set_nonblocking(true).map(|()| listener));
    match opened {
        Ok(listener) => Some(listener),
        Err(fault) => {
            tracing::error!("no page on {}: {fault}", page.listen);
            None
        }
    }
}

/// The token of this state folder; made anew where there is none, or where another is wanted.
///
/// # Errors
/// What the system says where the file cannot be read or written.
pub fn token(place: &Place, anew: bool) -> std::io::Result<String> {
    let path = place.folder().join(TOKEN);
    if !anew && let Some(token) = read(&path) {
        return Ok(token);
    }
    let mut random = [0; TOKEN_BYTES];
    File::open("/dev/urandom")?.read_exact(&mut random)?;
    let token: String = random.iter().map(|byte| format!("{byte:02x}")).collect();
    let fresh = path.with_extension("new");
    // A file left over may be somebody's: this one is made for its owner alone, and put in place
    // whole.
    match std::fs::remove_file(&fresh) {
        Err(fault) if fault.kind() != ErrorKind::NotFound => return Err(fault),
        Ok(()) | Err(_) => {}
    }
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&fresh)?;
    file.write_all(token.as_bytes())?;
    file.sync_all()?;
    std::fs::rename(&fresh, &path)?;
    Ok(token)
}

fn read(path: &std::path::Path) -> Option<String> {
    let mut text = String::new();
    let file = File::open(path).ok()?;
    file.take(1024).read_to_string(&mut text).ok()?;
    let token = text.trim();
    (token.len() == 2 * TOKEN_BYTES).then(|| token.to_owned())
}

/// The routes of the page, before those of the API.
pub(super) fn routes(api: Router<Office>, gate: Gate) -> Router<Office> {
    Router::new()
        .route("/", get(page))
        .route("/now", get(now))
        .route(
            "/page.css",
            get(async || typed("text/css; charset=utf-8", STYLE)),
        )
        .route(
            "/page.js",
            get(async || typed("text/javascript; charset=utf-8", SCRIPT)),
        )
        .merge(api)
        .layer(from_fn_with_state(gate, guarded))
}

async fn page(State(office): State<Office>) -> Response {
    typed(
        "text/html; charset=utf-8",
        told::page(&office.board.look(), &office.standing),
    )
}

async fn now(State(office): State<Office>) -> Response {
    typed(
        "text/html; charset=utf-8",
        told::now(&office.board.look(), &office.standing),
    )
}

fn typed(of: &'static str, text: impl Into<Body>) -> Response {
    ([(CONTENT_TYPE, HeaderValue::from_static(of))], text.into()).into_response()
}

/// Lets a request through, or says why not.
async fn guarded(State(gate): State<Gate>, request: Request, next: Next) -> Response {
    let mut answer = match gate.admits(request.method(), request.headers()) {
        Ok(()) => next.run(request).await,
        Err(refusal) => super::api::Refused(refusal).into_response(),
    };
    let headers = answer.headers_mut();
    let all: [(HeaderName, &'static str); 4] = [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "no-referrer"),
        (CACHE_CONTROL, "no-store"),
    ];
    for (name, value) in all {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

impl Gate {
    /// Whether a request may pass: by what it calls us, where it comes from, and what it brings.
    fn admits(&self, method: &Method, headers: &HeaderMap) -> Result<(), Refusal> {
        let host = text(headers, &HOST).unwrap_or_default();
        if !self.knows(host) {
            let said = format!("the page is not called {host:?} here");
            return Err(Refusal::new(BAD_INPUT, "wrong-host", said)
                .remedy("open it by its address, or add the name to `names` of [page]"));
        }
        let comes_from = text(headers, &ORIGIN);
        if comes_from.is_some_and(|origin| origin != format!("http://{host}")) {
            let said = "another site's page asks for this";
            return Err(Refusal::new(REFUSED, "wrong-origin", said)
                .remedy("open the page of the bath itself"));
        }
        if matches!(*method, Method::GET | Method::HEAD) || self.is_paired(headers) {
            return Ok(());
        }
        let said = "this browser is not paired: it may look, and change nothing";
        Err(Refusal::new(REFUSED, "not-paired", said)
            .remedy("`nightvat pair` on the computer of the bath prints the address to open"))
    }

    /// An address as it stands, this computer's own name for itself, or a name of the station file.
    /// A name that somebody else made to point here is none of them.
    fn knows(&self, host: &str) -> bool {
        let name = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
            _ => host,
        };
        let bare = name.trim_start_matches('[').trim_end_matches(']');
        bare.parse::<IpAddr>().is_ok()
            || name.eq_ignore_ascii_case("localhost")
            || self
                .names
                .iter()
                .any(|known| known.eq_ignore_ascii_case(name))
    }

    fn is_paired(&self, headers: &HeaderMap) -> bool {
        let brought = text(headers, &AUTHORIZATION).and_then(|text| text.strip_prefix("Bearer "));
        let (Some(brought), Some(token)) = (brought, read(&self.token)) else {
            return false;
        };
        same(brought.as_bytes(), token.as_bytes())
    }
}

/// Compares without telling by its time where two differ.
fn same(a: &[u8], b: &[u8]) -> bool {
    let differ = a.iter().zip(b).fold(0, |differ, (a, b)| differ | (a ^ b));
    a.len() == b.len() && differ == 0
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    headers.get(name).map(|value| value.to_str().unwrap_or("?"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gate(folder: &std::path::Path) -> Gate {
        Gate {
            names: ["bath.local".to_owned()].into(),
            token: folder.join(TOKEN),
        }
    }

    fn headers(all: &[(HeaderName, &str)]) -> HeaderMap {
        let pairs = all
            .iter()
            .map(|(name, value)| (name.clone(), value.parse().unwrap()));
        pairs.collect()
    }

    #[test]
    fn only_addresses_and_known_names_are_answered_to() {
        let gate = gate(std::path::Path::new("/none"));
        for host in [
            "127.0.0.1:8737",
            "192.168.1.7:8737",
            "[::1]:8737",
            "localhost:8737",
            "LOCALHOST",
            "bath.local:8737",
        ] {
            assert!(gate.knows(host), "{host}");
        }
        for host in [
            "",
            "evil.example:8737",
            "127.0.0.1.evil.example",
            "localhost.evil.example:8737",
            "bath.local.evil.example",
            "127.0.0.1:8737@evil.example",
        ] {
            assert!(!gate.knows(host), "{host}");
        }
    }

    #[test]
    fn what_changes_anything_needs_the_token_and_no_other_origin() {
        let folder = tempfile::tempdir().unwrap();
        let place = Place::at(folder.path()).unwrap();
        let token = token(&place, false).unwrap();
        let gate = gate(folder.path());
        let host = (HOST, "127.0.0.1:8737");
        let bearer = format!("Bearer {token}");
        let paired = (AUTHORIZATION, bearer.as_str());
        let code = |method: Method, all: &[(HeaderName, &str)]| {
            gate.admits(&method, &headers(all)).err().map(|no| no.code)
        };
        assert_eq!(code(Method::GET, std::slice::from_ref(&host)), None);
        let not_paired = Some("not-paired".to_owned());
        assert_eq!(code(Method::POST, std::slice::from_ref(&host)), not_paired);
        assert_eq!(code(Method::POST, &[host.clone(), paired.clone()]), None);
        let wrong = format!("Bearer {}", "0".repeat(token.len()));
        let wrong = [host.clone(), (AUTHORIZATION, wrong.as_str())];
        assert_eq!(code(Method::POST, &wrong), not_paired);
        let empty = [host.clone(), (AUTHORIZATION, "Bearer ")];
        assert_eq!(code(Method::POST, &empty), not_paired);
        let own = (ORIGIN, "http://127.0.0.1:8737");
        assert_eq!(
            code(Method::POST, &[host.clone(), paired.clone(), own]),
            None
        );
        for other in [
            "http://evil.example",
            "null",
            "https://127.0.0.1:8737",
            "http://127.0.0.1",
        ] {
            let asked = [host.clone(), paired.clone(), (ORIGIN, other)];
            assert_eq!(
                code(Method::POST, &asked),
                Some("wrong-origin".to_owned()),
                "{other}"
            );
        }
        // A name that was made to point here, as its own page would ask.
        let rebound = [
            (HOST, "evil.example:8737"),
            paired.clone(),
            (ORIGIN, "http://evil.example:8737"),
        ];
        assert_eq!(code(Method::POST, &rebound), Some("wrong-host".to_owned()));
        assert_eq!(
            code(Method::GET, &rebound[..1]),
            Some("wrong-host".to_owned())
        );
        // Another token, and the old one opens nothing any more.
        super::token(&place, true).unwrap();
        assert_eq!(code(Method::POST, &[host, paired]), not_paired);
    }

    #[test]
    fn a_token_is_its_owners_alone_and_stays() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let place = Place::at(folder.path()).unwrap();
        let first = token(&place, false).unwrap();
        assert_eq!(first.len(), 64);
        assert_eq!(token(&place, false).unwrap(), first);
        let mode = std::fs::metadata(folder.path().join(TOKEN))
            .unwrap()
            .permissions()
            .mode();
        assert_eq!(mode & 0o777, 0o600);
        assert_ne!(token(&place, true).unwrap(), first);
    }
}
