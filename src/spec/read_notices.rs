//! Reads who is told what, from the file of a station.

use super::notices::{
    About, Command, Heartbeat, Hourly, Mail, Notices, Outward, Secrecy, Sound, Tell, Url, Way,
};
use super::table::Table;
use crate::units::Span;
use std::path::PathBuf;

/// So many ways are enough.
const MOST_WAYS: usize = 16;
/// An example of a program and its arguments.
const RUN: &str = "run = [\"/home/ada/bin/tell-me\", \"loudly\"]";
const URL: &str = "url = \"https://example.org/nightvat\"";

/// The three tables together; what is not there is empty.
pub(super) fn notices(root: &Table<'_>) -> Option<Notices> {
    let tables = root.tables("tell");
    if tables.len() > MOST_WAYS {
        let found = format!("{} ways", tables.len());
        let allowed = format!("{MOST_WAYS} at the most");
        root.problem_at("tell", &found, &allowed, "take some of them out");
    }
    let read: Vec<Option<Tell>> = tables.into_iter().map(tell).collect();
    let heartbeat = root.table("heartbeat").map(|table| heartbeat(&table));
    let hourly = root.table("hourly").map(|table| hourly(&table));
    Some(Notices {
        tell: read.into_iter().collect::<Option<_>>()?,
        heartbeat: heartbeat.map_or(Some(None), |read| read.map(Some))?,
        hourly: hourly.map_or(Some(None), |read| read.map(Some))?,
    })
}

fn tell(table: Table<'_>) -> Option<Tell> {
    let words = ["sound", "command", "webhook", "mail"];
    let Some(by) = table.required_one_of("by", &words) else {
        // Which keys belong here depends on the way.
        if table.has("by") {
            table.leave();
        } else {
            table.only_missing();
        }
        return None;
    };
    let about = table.one_of("about", &["wake", "morning", "all"]);
    let within = span(&table, "within", 10.0, (1.0, 60.0), "the time for one try,");
    let way = match by {
        "sound" => sound(&table).map(Way::Sound),
        "command" => command(&table, true).map(Way::Command),
        "webhook" => url(&table, true).map(Way::Webhook),
        _ => mail(&table).map(Way::Mail),
    };
    let about = match about {
        Some("wake") => About::Wake,
        Some("morning") => About::Morning,
        Some(_) => About::All,
        // Without a word a sound is kept for what must wake her.
        None if by == "sound" => About::Wake,
        None => About::All,
    };
    Some(Tell {
        about,
        within: within?,
        way: way?,
    })
}

fn sound(table: &Table<'_>) -> Option<Sound> {
    let run = table.has("run").then(|| command(table, false));
    let every = span(
        table,
        "every",
        20.0,
        (2.0, 600.0),
        "the time between two sounds,",
    );
    Some(Sound {
        run: run.map_or(Some(None), |run| run.map(Some))?,
        every: every?,
    })
}

fn heartbeat(table: &Table<'_>) -> Option<Heartbeat> {
    let every = span(
        table,
        "every",
        300.0,
        (10.0, 86_400.0),
        "the time between two signs of life,",
    );
    let within = span(table, "within", 10.0, (1.0, 60.0), "the time for one try,");
    let to = match (table.has("url"), table.has("run")) {
        (false, true) => command(table, true).map(Outward::Command),
        (true, true) => {
            let allowed = "one of `url` and `run`";
            table.problem_at("run", "both `url` and `run`", allowed, "take one out");
            return None;
        }
        (true, false) | (false, false) => url(table, true).map(Outward::Webhook),
    };
    Some(Heartbeat {
        every: every?,
        within: within?,
        to: to?,
    })
}

fn hourly(table: &Table<'_>) -> Option<Hourly> {
    let every = span(
        table,
        "every",
        3600.0,
        (60.0, 86_400.0),
        "the time from one to the next,",
    );
    let within = span(table, "within", 60.0, (1.0, 600.0), "the time it may take,");
    let run = command(table, true);
    Some(Hourly {
        run: run?,
        every: every?,
        within: within?,
    })
}

/// A time in seconds with what it is without a word, and its range.
fn span(
    table: &Table<'_>,
    key: &str,
    without: f64,
    (low, high): (f64, f64),
    what: &str,
) -> Option<Span> {
    if !table.has(key) {
        return Some(Span::from_s(without));
    }
    let span = table.quantity::<Span>(key)?;
    table.in_range(key, span, Span::from_s(low), Span::from_s(high), what)
}

/// A program and its arguments. A line for a shell is a problem: nothing here asks a shell.
pub(super) fn command(table: &Table<'_>, required: bool) -> Option<Command> {
    let allowed = "a program and its arguments, each in quotation marks";
    if required {
        table.need("run", allowed, RUN);
    }
    if !table.has("run") {
        return None;
    }
    let before = table.sheet.problem_count();
    let words = table.texts("run");
    if table.sheet.problem_count() > before {
        return None;
    }
    let remedy = format!("write {RUN}");
    let Some((program, arguments)) = words.split_first() else {
        table.problem_at("run", "an empty list", allowed, &remedy);
        return None;
    };
    if program.trim().is_empty() || words.iter().any(|word| word.contains('\0')) {
        table.problem_at("run", "a program without a name", allowed, &remedy);
        return None;
    }
    if arguments.is_empty() && program.contains(' ') && !program.contains('/') {
        let remedy = "no shell takes it apart: write run = [\"program\", \"argument\"]";
        table.problem_at("run", &format!("{program:?}"), allowed, remedy);
        return None;
    }
    if program.contains('/') && !program.starts_with('/') {
        // A service begins in another folder than she tried it in.
        let allowed = "a program by its bare name, or by its path from /";
        table.problem_at(
            "run",
            &format!("{program:?}"),
            allowed,
            "write the path from /",
        );
        return None;
    }
    Some(Command {
        program: program.clone(),
        arguments: arguments.to_vec(),
    })
}

fn url(table: &Table<'_>, required: bool) -> Option<Url> {
    let allowed = "an address, http:// or https://, without a name or password in it";
    if required {
        table.need("url", allowed, URL);
    }
    let text = table.text("url")?;
    let url = parse_url(&text);
    if url.is_none() {
        table.problem_at(
            "url",
            &format!("{text:?}"),
            allowed,
            &format!("write {URL}"),
        );
    }
    url
}

fn parse_url(text: &str) -> Option<Url> {
    let parsed: hyper::Uri = text.parse().ok()?;
    let secure = match parsed.scheme_str()? {
        "http" => false,
        "https" => true,
        _ => return None,
    };
    let authority = parsed.authority()?;
    let bracketed = parsed.host()?;
    let host = bracketed.trim_matches(['[', ']']);
    // What stands behind the host is nothing, or a port.
    let usual = if secure { 443 } else { 80 };
    let port = match authority.as_str().strip_prefix(bracketed)? {
        "" => usual,
        rest => rest
            .strip_prefix(':')?
            .parse()
            .ok()
            .filter(|port| *port > 0)?,
    };
    Some(Url {
        text: text.to_owned(),
        secure,
        host: Some(host).filter(|host| !host.is_empty())?.to_owned(),
        port,
        target: parsed
            .path_and_query()
            .map_or("/", |target| target.as_str())
            .to_owned(),
    })
}

fn mail(table: &Table<'_>) -> Option<Mail> {
    let server = table.required_text("server");
    let secrecy = match table.one_of("secrecy", &["tls", "starttls", "none"]) {
        Some("starttls") => Some(Secrecy::StartTls),
        Some("none") => Some(Secrecy::Open),
        Some(_) => Some(Secrecy::Tls),
        None => (!table.has("secrecy")).then_some(Secrecy::Tls),
    };
    let usual = match secrecy {
        Some(Secrecy::StartTls) => 587,
        Some(Secrecy::Open) => 25,
        Some(Secrecy::Tls) | None => 465,
    };
    let port = match table.whole("port", 1, 65_535) {
        Some(port) => u16::try_from(port).ok(),
        None => (!table.has("port")).then_some(usual),
    };
    let login = login(table);
    if secrecy == Some(Secrecy::Open) && table.has("user") {
        let allowed = "\"tls\" or \"starttls\" where there is a password";
        let remedy = "a password that everybody can read on the way is none: take it out";
        table.problem_at("secrecy", "\"none\", and a password", allowed, remedy);
    }
    let from = table.required_text("from");
    table.need("to", "who gets it", "to = [\"ada@example.org\"]");
    let to = table.texts("to");
    let addresses = from.iter().map(|one| ("from", one));
    let addresses = addresses.chain(to.iter().map(|one| ("to", one)));
    let mut sound = !to.is_empty();
    for (key, one) in addresses {
        if !is_address(one) {
            let allowed = "an address, name@example.org";
            table.problem_at(key, &format!("{one:?}"), allowed, "write the bare address");
            sound = false;
        }
    }
    if to.is_empty() && table.has("to") {
        table.problem_at("to", "nobody", "one address or more", "say who gets it");
    }
    if !sound {
        return None;
    }
    Some(Mail {
        server: server?,
        secrecy: secrecy?,
        port: port?,
        login: login?,
        from: from?,
        to,
    })
}

/// Name and password go together, and the password stands in a file of its own. The outer `None`
/// is a problem.
#[allow(clippy::option_option)]
fn login(table: &Table<'_>) -> Option<Option<(String, PathBuf)>> {
    let user = table.text("user");
    let file = table.text("password_file");
    match (table.has("user"), table.has("password_file")) {
        (false, false) => Some(None),
        (true, true) => {
            let file = file?;
            if !file.starts_with('/') {
                let allowed = "the path from / of a file that holds nothing but the password";
                let found = format!("{file:?}");
                table.problem_at("password_file", &found, allowed, "write the path from /");
                return None;
            }
            Some(Some((user?, PathBuf::from(file))))
        }
        (true, false) | (false, true) => {
            table.need("user", "the name at the mail server", "user = \"ada\"");
            table.need(
                "password_file",
                "a file that holds nothing but the password",
                "password_file = \"/home/ada/.mail-password\"",
            );
            None
        }
    }
}

/// Good enough to be sent to: one `@` between two things that hold neither blanks nor brackets.
fn is_address(text: &str) -> bool {
    let plain = |part: &str| {
        !part.is_empty()
            && part
                .chars()
                .all(|c| !c.is_whitespace() && !"<>,;\"()".contains(c))
    };
    text.split_once('@')
        .is_some_and(|(name, host)| plain(name) && plain(host) && !host.contains('@'))
}
