//! Sends a mail over the server she names.

use super::letter::Letter;
use crate::spec::notices::{Mail, Secrecy};
use lettre::message::Mailbox;
use lettre::transport::smtp::authentication::Credentials;
use lettre::{Message, SmtpTransport, Transport};
use std::path::Path;
use std::sync::mpsc::channel;
use std::time::Duration;

/// A password is not longer than this.
const LONGEST_PASSWORD: usize = 1024;

/// Sends it: done, or why not. A server that dawdles is left to itself after `within`.
pub(super) fn send(mail: &Mail, letter: &Letter, within: Duration) -> Result<(), String> {
    let message = message(mail, letter)?;
    let transport = transport(mail, within)?;
    let (done, sent) = channel();
    std::thread::Builder::new()
        .name("mail".to_owned())
        .spawn(move || {
            let tried = transport.send(&message);
            // Whoever waited may have given up.
            let _ = done.send(tried.map(|_| ()).map_err(|fault| said(&fault)));
        })
        .map_err(|fault| fault.to_string())?;
    sent.recv_timeout(within)
        .unwrap_or_else(|_| Err(format!("not sent within {} s", within.as_secs_f64())))
}

/// A fault with its cause, on one line.
fn said(fault: &lettre::transport::smtp::Error) -> String {
    fault.to_string().replace(['\r', '\n'], " ")
}

fn message(mail: &Mail, letter: &Letter) -> Result<Message, String> {
    let mailbox = |text: &str| {
        text.parse::<Mailbox>()
            .map_err(|fault| format!("{text}: {fault}"))
    };
    let mut builder = Message::builder()
        .from(mailbox(&mail.from)?)
        .subject(&letter.subject)
        .message_id(None);
    for to in &mail.to {
        builder = builder.to(mailbox(to)?);
    }
    builder
        .body(letter.text.clone())
        .map_err(|fault| fault.to_string())
}

fn transport(mail: &Mail, within: Duration) -> Result<SmtpTransport, String> {
    let builder = match mail.secrecy {
        Secrecy::Tls => SmtpTransport::relay(&mail.server),
        Secrecy::StartTls => SmtpTransport::starttls_relay(&mail.server),
        Secrecy::Open => Ok(SmtpTransport::builder_dangerous(&mail.server)),
    };
    let mut builder = builder
        .map_err(|fault| said(&fault))?
        .port(mail.port)
        .timeout(Some(within));
    if let Some((user, file)) = &mail.login {
        builder = builder.credentials(Credentials::new(user.clone(), password(file)?));
    }
    Ok(builder.build())
}

/// The first line of a file.
fn password(file: &Path) -> Result<String, String> {
    let text = std::fs::read_to_string(file)
        .map_err(|fault| format!("{} cannot be read: {fault}", file.display()))?;
    let line = text.lines().next().unwrap_or_default();
    if line.is_empty() || line.len() > LONGEST_PASSWORD {
        return Err(format!("{} holds no password", file.display()));
    }
    Ok(line.to_owned())
}
