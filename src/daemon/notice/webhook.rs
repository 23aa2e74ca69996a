//! Posts JSON to an address of hers: one request, no redirects followed, any 2xx is a yes.

use crate::spec::notices::Url;
use http_body_util::Full;
use hyper::Request;
use hyper::body::Bytes;
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use rustls_native_certs::load_native_certs;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::pki_types::ServerName;
use tokio_rustls::rustls::{ClientConfig, RootCertStore, crypto::ring};

type AnyFault = Box<dyn std::error::Error + Send + Sync>;

/// Posts it: done, or why not.
pub(super) fn post(url: &Url, json: &str, within: Duration) -> Result<(), String> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|fault| fault.to_string())?;
    let posted =
        runtime.block_on(async { tokio::time::timeout(within, whole(url, json.to_owned())).await });
    // A name that is still being looked up is left to itself.
    runtime.shutdown_background();
    match posted {
        Ok(Ok(status)) if status.is_success() => Ok(()),
        Ok(Ok(status)) => Err(format!("the answer is {status}")),
        Ok(Err(fault)) => Err(causes(&*fault)),
        Err(_) => Err(format!("no answer within {} s", within.as_secs_f64())),
    }
}

/// A fault with what is behind it, on one line.
fn causes(fault: &dyn std::error::Error) -> String {
    let mut text = fault.to_string();
    let mut next = fault.source();
    while let Some(cause) = next {
        let said = cause.to_string();
        if !text.contains(&said) {
            text = format!("{text}: {said}");
        }
        next = cause.source();
    }
    text
}

async fn whole(url: &Url, json: String) -> Result<hyper::StatusCode, AnyFault> {
    let stream = TcpStream::connect((url.host.as_str(), url.port)).await?;
    if url.secure {
        let name = ServerName::try_from(url.host.clone())?;
        let stream = TlsConnector::from(Arc::new(trust()?))
            .connect(name, stream)
            .await?;
        exchange(stream, url, json).await
    } else {
        exchange(stream, url, json).await
    }
}

/// The authorities that this computer trusts.
fn trust() -> Result<ClientConfig, AnyFault> {
    let mut roots = RootCertStore::empty();
    roots.add_parsable_certificates(load_native_certs().certs);
    if roots.is_empty() {
        return Err(
            "this computer trusts no certificate authority: install ca-certificates".into(),
        );
    }
    let builder = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()));
    Ok(builder
        .with_safe_default_protocol_versions()?
        .with_root_certificates(roots)
        .with_no_client_auth())
}

async fn exchange(
    stream: impl AsyncRead + AsyncWrite + Unpin,
    url: &Url,
    json: String,
) -> Result<hyper::StatusCode, AnyFault> {
    let usual = if url.secure { 443 } else { 80 };
    let host = if url.host.contains(':') {
        format!("[{}]", url.host)
    } else {
        url.host.clone()
    };
    let host = if url.port == usual {
        host
    } else {
        format!("{host}:{}", url.port)
    };
    let request = Request::post(&url.target)
        .header("host", host)
        .header("content-type", "application/json")
        .header(
            "user-agent",
            concat!("nightvat/", env!("CARGO_PKG_VERSION")),
        )
        .header("connection", "close")
        .body(Full::new(Bytes::from(json)))?;
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await?;
    let driving = async {
        // Ends with the connection; the request says what went wrong.
        let _ = connection.await;
        std::future::pending::<()>().await;
    };
    tokio::select! {
        answer = sender.send_request(request) => Ok(answer?.status()),
        () = driving => Err("the connection ended".into()),
    }
}
