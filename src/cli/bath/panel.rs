//! `bath panel`: a Hull-cell panel, read.

use crate::bath::panel::{self, Bright};
use crate::bath::{BathFault, BathProfile};
use crate::cli::paper::{print_json, print_text};
use crate::cli::{Exit, Failure};
use crate::spec::{self, Shelf};
use crate::units::{Current, Length, Quantity};
use crate::view;
use std::path::PathBuf;

/// Where on a panel of the 267 mL Hull cell which current density was, and the window to use.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat bath panel --current '2 A' --svg ruler.svg\n  \
    nightvat bath panel --current '2 A' --bright-from '10 mm' --bright-to '60 mm' \
    --profile acid-copper-bright\n\n\
    Distances are from the end that is nearer to the anode. Print the ruler at 100 %, and hold its \
    100 mm bar against a real one.\nNext: put the window into a copy of your bath profile.")]
pub(in crate::cli) struct PanelArgs {
    /// Current through the cell
    #[arg(long, value_parser = Current::read)]
    current: Current,
    /// Where it began to look bright, from the high-current end
    #[arg(long, value_name = "LENGTH", value_parser = Length::read, requires = "bright_to")]
    bright_from: Option<Length>,
    /// Where it ended
    #[arg(long, value_name = "LENGTH", value_parser = Length::read, requires = "bright_from")]
    bright_to: Option<Length>,
    /// The bath whose window it is compared with
    #[arg(long)]
    profile: Option<String>,
    /// Write a ruler at true scale
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &PanelArgs, json: bool) -> Result<(), Failure> {
    if !(0.1..=10.0).contains(&args.current.a()) {
        return Err(BathFault::Range {
            what: "the current of a panel".to_owned(),
            found: format!("{} A", args.current.a()),
            allowed: "0.1 to 10 A".to_owned(),
        }
        .into());
    }
    let ends = args.bright_from.zip(args.bright_to);
    let bright = ends
        .map(|(from, to)| panel::bright(args.current, from, to))
        .transpose()?;
    let profile = args
        .profile
        .as_ref()
        .map(|name| spec::bath::open(name, &Shelf::disk()))
        .transpose()?;
    if let Some(path) = &args.svg {
        let ruler = view::picture::ruler(args.current);
        std::fs::write(path, ruler).map_err(|fault| {
            let text = format!("cannot write the ruler: {fault}");
            Failure::new(Exit::BadInput, "not-writable", text)
                .at(path.display().to_string())
                .remedy("name a file in a folder you may write to")
        })?;
    }
    say(args, bright, profile.as_ref(), json);
    Ok(())
}

fn say(args: &PanelArgs, bright: Option<Bright>, profile: Option<&BathProfile>, json: bool) {
    if json {
        let mut done = view::json::bath_panel(args.current, bright.as_ref(), profile);
        done["file"] = serde_json::json!(args.svg);
        print_json(&done);
    } else {
        print_text(&view::text::bath_panel(
            args.current,
            bright.as_ref(),
            profile,
        ));
    }
}
