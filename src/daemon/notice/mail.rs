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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::daemon::notice::event::Event;
    use std::io::{BufRead, BufReader, Write};
    use std::net::{TcpListener, TcpStream};
    use std::thread::JoinHandle;

    fn letter() -> Letter {
        Letter {
            event: Event::Tripped,
            run: None,
            subject: "north tank, run 3: TRIPPED".to_owned(),
            text: "118 µm\n.\nthe end".to_owned(),
            json: "{}".to_owned(),
        }
    }

    fn mail(port: u16, secrecy: Secrecy) -> Mail {
        Mail {
            server: "127.0.0.1".to_owned(),
            secrecy,
            port,
            login: None,
            from: "bath@example.org".to_owned(),
            to: vec!["ada@example.org".to_owned(), "bo@example.org".to_owned()],
        }
    }

    /// One talk of RFC 5321 as a server holds it; every line of the client comes back.
    fn serve(stream: TcpStream, recipient: &str) -> Option<Vec<String>> {
        let mut talk = BufReader::new(stream);
        let mut heard = Vec::new();
        let mut data = false;
        talk.get_mut().write_all(b"220 here\r\n").ok()?;
        loop {
            let mut line = String::new();
            if talk.read_line(&mut line).ok()? == 0 {
                return Some(heard);
            }
            let line = line.trim_end().to_owned();
            let word: String = line.chars().take(4).collect();
            heard.push(line.clone());
            let answer = match word.as_str() {
                "." => {
                    data = false;
                    "250 taken"
                }
                _ if data => continue,
                "DATA" => {
                    data = true;
                    "354 go on"
                }
                "RCPT" => recipient,
                "QUIT" => "221 bye",
                _ => "250 yes",
            };
            talk.get_mut()
                .write_all(format!("{answer}\r\n").as_bytes())
                .ok()?;
        }
    }

    fn server(recipient: &'static str) -> (u16, JoinHandle<Vec<String>>) {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("an address").port();
        let serving = std::thread::spawn(move || {
            let stream = listener.accept().expect("a client").0;
            serve(stream, recipient).unwrap_or_default()
        });
        (port, serving)
    }

    const LONG: Duration = Duration::from_secs(10);

    #[test]
    fn a_mail_reaches_its_server_whole() {
        let (port, serving) = server("250 yes");
        assert_eq!(send(&mail(port, Secrecy::Open), &letter(), LONG), Ok(()));
        let heard = serving.join().expect("a talk");
        for line in [
            "MAIL FROM:<bath@example.org>",
            "RCPT TO:<ada@example.org>",
            "RCPT TO:<bo@example.org>",
            "Subject: north tank, run 3: TRIPPED",
            "From: bath@example.org",
            "To: ada@example.org, bo@example.org",
            "the end",
        ] {
            assert!(
                heard.iter().any(|it| it.starts_with(line)),
                "no {line}: {heard:?}"
            );
        }
        assert!(heard.iter().any(|it| it.starts_with("Date: ")), "{heard:?}");
        // A lone dot ends a mail; one in its text is doubled on the way, RFC 5321 4.5.2.
        assert!(heard.contains(&"..".to_owned()), "{heard:?}");
    }

    #[test]
    fn a_server_that_says_no_is_quoted() {
        let (port, serving) = server("550 nobody of that name");
        let sent = send(&mail(port, Secrecy::Open), &letter(), LONG);
        assert!(sent.expect_err("a no").contains("nobody of that name"));
        let heard = serving.join().expect("a talk");
        assert!(!heard.contains(&"DATA".to_owned()));
    }

    #[test]
    fn without_the_secrecy_asked_for_nothing_is_sent() {
        let (port, serving) = server("250 yes");
        let sent = send(&mail(port, Secrecy::StartTls), &letter(), LONG);
        assert!(sent.is_err(), "{sent:?}");
        let heard = serving.join().expect("a talk");
        assert!(!heard.iter().any(|it| it.starts_with("MAIL")), "{heard:?}");
    }

    #[test]
    fn a_server_that_says_nothing_is_left_to_itself() {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("an address").port();
        let begun = std::time::Instant::now();
        let within = Duration::from_millis(500);
        let sent = send(&mail(port, Secrecy::Open), &letter(), within);
        assert!(sent.is_err(), "{sent:?}");
        assert!(
            begun.elapsed() < Duration::from_secs(2),
            "{:?}",
            begun.elapsed()
        );
    }

    #[test]
    fn a_password_is_the_first_line_of_its_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("password");
        let read = |text: &str| {
            std::fs::write(&file, text).expect("a file");
            password(&file)
        };
        assert_eq!(read("open sesame\n").as_deref(), Ok("open sesame"));
        assert!(read("\n").is_err());
        std::fs::remove_file(&file).expect("gone");
        let missing = password(&file).expect_err("no file");
        assert!(missing.contains("cannot be read"), "{missing}");
    }
}
