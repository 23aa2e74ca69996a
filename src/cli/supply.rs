//! `supply`: find, ask and simulate supplies.

use super::bench::Bench;
use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::daemon::Refusal;
use crate::exchange::{Answer, Ask, Identity, Order, Reading};
use crate::rig::cell::{RelayAil, Truth};
use crate::rig::instrument::{Ail, Instrument};
use crate::rig::lend::{LendSettings, Lent, Mishap};
use crate::rig::world::World;
use crate::spec::{self, DEMO_JOB, DEMO_STATION, Shelf};
use crate::supply::clock::Clock;
use crate::supply::link::Link;
use crate::supply::port::{Port, PortError, ports};
use crate::units::Moment;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Find, ask and simulate supplies.
#[derive(Debug, clap::Subcommand)]
pub(super) enum SupplyCommand {
    /// The serial ports of this computer, best name first
    Ports,
    /// Ask a supply who it is and what it reads; changes nothing
    Probe(ProbeArgs),
    /// Lend a simulated supply with a cell on a pseudo-terminal
    Emulate(EmulateArgs),
}

/// Ask a supply who it is and what it reads. Nothing is set, and the output is left as it is.
#[derive(Debug, clap::Args)]
pub(super) struct ProbeArgs {
    /// The port
    port: PathBuf,
    /// How it is spoken to: a file, or the name of a built-in supply profile
    #[arg(long, default_value = "scpi-standard")]
    profile: String,
}

/// Lend a simulated supply with a cell on a pseudo-terminal, until it is interrupted.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  nightvat supply emulate --port-link /tmp/bench --speed 100\n\n\
    Then name that port in a station file and `nightvat serve` it, with the same --speed."
)]
pub(super) struct EmulateArgs {
    /// Keep a link to the pseudo-terminal at this path
    #[arg(long, value_name = "PATH")]
    port_link: Option<PathBuf>,
    /// What hangs in its cell: a job file, or the name of a built-in one
    #[arg(long, default_value = DEMO_JOB)]
    job: String,
    /// The station whose tank it is: a file, or the name of a built-in one
    #[arg(long, default_value = DEMO_STATION)]
    station: String,
    /// What it speaks: the name of a built-in supply profile; else the station's
    #[arg(long)]
    profile: Option<String>,
    /// Simulated seconds in a second, 1 to 10000
    #[arg(long, default_value_t = 1.0, value_parser = speed)]
    speed: f64,
    /// Which world is drawn
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// A perfect meter and a quiet cell
    #[arg(long)]
    clean: bool,
    /// Lend the station's relay as well, and keep a link to its pseudo-terminal at this path
    #[arg(long, value_name = "PATH")]
    relay_link: Option<PathBuf>,
    /// What goes wrong in the supply or with its relay
    #[arg(long, value_enum)]
    ails: Vec<Trouble>,
    /// It goes wrong after so many simulated seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 0.0, value_parser = seconds)]
    ails_after: f64,
}

/// What can go wrong with a supply that is lent, or with its relay.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Trouble {
    /// The supply takes no off, and says that it is on
    IgnoresOff,
    /// The supply's own output relay welds: it says off, and current flows
    OutputWelded,
    /// The contact of the cut-off relay welds
    RelayWelded,
    /// The contact of the cut-off relay is burnt away
    RelayBurnt,
    /// The one-shot of the cut-off relay dies
    RelayDead,
    /// The port of the cut-off relay is pulled out
    RelayPulled,
}

impl Trouble {
    const fn mishap(self) -> Mishap {
        match self {
            Self::IgnoresOff => Mishap::Supply(Ail::KeepsOn(true)),
            Self::OutputWelded => Mishap::Supply(Ail::Welded(true)),
            Self::RelayWelded => Mishap::Relay(RelayAil::Welded),
            Self::RelayBurnt => Mishap::Relay(RelayAil::Burnt),
            Self::RelayDead => Mishap::Relay(RelayAil::Dead),
            Self::RelayPulled => Mishap::RelayPulled,
        }
    }
}

/// A time from the beginning.
fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(seconds) if (0.0..=1e6).contains(&seconds) => Ok(seconds),
        Ok(_) | Err(_) => Err("a number of seconds from 0 to 1000000".to_owned()),
    }
}

/// A speed that a clock can run at.
pub(super) fn speed(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(speed) if (1.0..=10_000.0).contains(&speed) => Ok(speed),
        Ok(_) | Err(_) => Err("a number from 1 to 10000".to_owned()),
    }
}

/// Does it.
pub(super) fn run(command: &SupplyCommand, json: bool) -> Result<(), Failure> {
    match command {
        SupplyCommand::Ports => list_ports(json),
        SupplyCommand::Probe(args) => probe(args, json),
        SupplyCommand::Emulate(args) => emulate(args, json),
    }
}

fn list_ports(json: bool) -> Result<(), Failure> {
    let found = ports();
    if json {
        let list: Vec<_> = found
            .iter()
            .map(|port| {
                serde_json::json!({"port": port.path, "device": port.device, "about": port.about})
            })
            .collect();
        print_json(&serde_json::json!({ "ports": list }));
    } else if found.is_empty() {
        print_text("no serial port on this computer now; plug the supply in and look again");
    } else {
        for port in found {
            let about = port.about.unwrap_or_default();
            print_text(&format!("{}  {about}", port.path.display()));
        }
    }
    Ok(())
}

/// What a port's trouble is to the person at the keyboard.
pub(super) fn port_failure(fault: &PortError, port: &std::path::Path) -> Failure {
    Failure::new(Exit::NoSupply, fault.code(), fault.to_string())
        .at(port.display().to_string())
        .remedy(fault.remedy())
}

fn probe(args: &ProbeArgs, json: bool) -> Result<(), Failure> {
    let profile = Arc::new(spec::open_supply(&args.profile, &Shelf::disk())?);
    let mut port = Port::open(&args.port, &profile, Clock::start(1.0))
        .map_err(|fault| port_failure(&fault, &args.port))?;
    let mut link = Link::new(profile.clone());
    let silent = |fault: crate::exchange::LinkFault| {
        Failure::from(Refusal::from(&fault)).at(args.port.display().to_string())
    };
    let identity = match link.carry(Order::Identify, &mut port).map_err(silent)? {
        Answer::Identity(Identity(text)) => text,
        Answer::Done { .. } | Answer::Reading(_) => String::new(),
    };
    let ask = (Ask::MEASURED | Ask::OUTPUT | Ask::MODE | Ask::SET_CURRENT | Ask::SET_VOLTAGE)
        .and(profile.capability().reads);
    let reading = link.read(ask, &mut port).map_err(silent)?;
    if json {
        print_json(&probed(&identity, &reading));
    } else {
        print_text(&format!("identity: {identity}"));
        let output = reading
            .output
            .map_or("does not say", |on| if on { "on" } else { "off" });
        print_text(&format!(
            "output: {output}\nreads: {:.3} A, {:.3} V\nset: {:.3} A, {:.3} V",
            reading.current.unwrap_or_default().a(),
            reading.voltage.unwrap_or_default().v(),
            reading.set_current.unwrap_or_default().a(),
            reading.set_voltage.unwrap_or_default().v()
        ));
    }
    Ok(())
}

fn probed(identity: &str, reading: &Reading) -> serde_json::Value {
    serde_json::json!({
        "identity": identity,
        "output_on": reading.output,
        "current_a": reading.current.map(|current| current.a()),
        "voltage_v": reading.voltage.map(|voltage| voltage.v()),
        "setpoint_a": reading.set_current.map(|current| current.a()),
        "setpoint_v": reading.set_voltage.map(|voltage| voltage.v()),
        "mode": reading.mode,
    })
}

fn emulate(args: &EmulateArgs, json: bool) -> Result<(), Failure> {
    let shelf = Shelf::disk();
    let mut bench = Bench::open(&args.job, &args.station, &shelf)?;
    if let Some(profile) = &args.profile {
        bench.profile = Arc::new(spec::open_supply(profile, &shelf)?);
        bench.supply = bench.profile.capability();
    }
    let (kind, quirks, _) = bench.simulated(args.clean)?;
    let world = World::draw(
        &bench.job,
        &bench.station,
        &bench.facts(),
        args.seed,
        args.clean,
    );
    if bench.station.relay.is_some() != args.relay_link.is_some() {
        return Err(relay_mismatch(args));
    }
    let instrument = Instrument::new(kind, quirks, world, Moment::ZERO);
    let after = Moment::from_s(args.ails_after);
    let ails = args.ails.iter().map(|trouble| (after, trouble.mishap()));
    let settings = LendSettings {
        link: args.port_link.clone(),
        speed: args.speed,
        start: Moment::ZERO,
        relay_link: args.relay_link.clone(),
        mishaps: ails.collect(),
    };
    let no_terminal =
        |fault: std::io::Error| Failure::new(Exit::Failed, "no-pseudo-terminal", fault.to_string());
    let lent = Lent::open(settings).map_err(no_terminal)?;
    let name = args.port_link.as_deref().unwrap_or_else(|| lent.path());
    eprintln!("simulated supply on {}; Ctrl-C ends it", name.display());
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        signal_hook::flag::register(signal, stop.clone()).map_err(no_terminal)?;
    }
    let mut tell = |truth: &Truth| {
        if json {
            print_json(&truth.line());
        }
    };
    lent.serve(instrument, &mut tell, &stop)
        .map_err(no_terminal)
}

/// A relay that nobody can toggle lets nothing through, and a line without a relay does nothing.
fn relay_mismatch(args: &EmulateArgs) -> Failure {
    let (said, remedy) = if args.relay_link.is_some() {
        (
            "the station names no relay",
            "write a [relay] table into it, or leave --relay-link out",
        )
    } else {
        (
            "the station has a relay in the output lead, and nothing would ever close it",
            "add --relay-link with the path that the station names as the relay's port",
        )
    };
    Failure::new(Exit::BadInput, "bad-usage", said).remedy(remedy)
}
