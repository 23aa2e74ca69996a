//! `bath check`: an analysis against the window, and the correction.

use super::add::label;
use super::cupboard::CupboardArgs;
use super::{kept, seconds};
use crate::bath::{self, BathFault, Cupboard, Note, Titrated, Titration, chemical::component};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::cli::pieces::{ledger_path, unreadable};
use crate::ledger::{Batch, SqliteStore, TankDeed, TankEntry};
use crate::spec::{self, Shelf};
use crate::units::{Concentration, Density, Quantity, Volume};
use crate::view;
use std::path::PathBuf;

/// What an analysis says of a bath, and how the bath is brought right.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat bath check acid-copper-bright --volume '6 L' --copper-titration '1 mL 8.15 mL 0.1 M' \
    --acid-titration '2 mL 2.45 mL 1 N' --chloride-titration '50 mL 0.95 mL 0.1 N'\n  \
    nightvat bath check acid-copper-bright --volume '6 L' --density '1.152 g/mL' \
    --copper-by-colour '200 g/L'\n\n\
    A titration is SAMPLE TITRANT NORMALITY [FACTOR]. Acid is titrated to methyl orange: copper \
    takes up soda above pH 5. Chloride with a silver electrode: copper hides the colour.\n\
    Next: `nightvat bath add` for what you put in.")]
pub(in crate::cli) struct CheckArgs {
    /// The bath: the name of a built-in profile, or a path
    profile: String,
    /// How much is in the tank
    #[arg(long, value_parser = Volume::read, allow_hyphen_values = true)]
    volume: Volume,
    /// Copper, with EDTA or thiosulfate
    #[arg(long, value_name = "TITRATION")]
    copper_titration: Option<String>,
    /// What copper was titrated with
    #[arg(
        long,
        value_name = "TITRANT",
        value_parser = ["edta", "thiosulfate"],
        default_value = "edta"
    )]
    copper_by: String,
    /// Acid, with sodium hydroxide to methyl orange
    #[arg(long, value_name = "TITRATION")]
    acid_titration: Option<String>,
    /// Chloride, with silver nitrate
    #[arg(long, value_name = "TITRATION")]
    chloride_titration: Option<String>,
    /// COMPONENT=CONCENTRATION that is known otherwise; may be given again
    #[arg(long, value_name = "HELD")]
    holds: Vec<String>,
    /// Density of the bath: with the copper known, it tells the acid, coarsely
    #[arg(long, value_name = "DENSITY", value_parser = Density::read)]
    density: Option<Density>,
    /// Copper sulfate by comparing its blue with solutions of known strength, coarsely
    #[arg(long, value_name = "CONCENTRATION", value_parser = Concentration::read)]
    copper_by_colour: Option<Concentration>,
    /// COMPONENT=CONCENTRATION to bring it to, in place of the profile's; may be given again
    #[arg(long, value_name = "TARGET")]
    target: Vec<String>,
    /// Write the analysis to the ledger of this bath
    #[arg(long, value_name = "NAME")]
    bath: Option<String>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE", requires = "bath")]
    ledger: Option<PathBuf>,
    #[command(flatten)]
    cupboard: CupboardArgs,
}

/// How far a colour may mislead (common practice, no source).
const COLOUR_DOUBT: f64 = 0.15;

/// Does it.
pub(super) fn run(args: &CheckArgs, json: bool) -> Result<(), Failure> {
    let profile = spec::bath::open(&args.profile, &Shelf::disk())?;
    bath::volume_checked(args.volume)?;
    let cupboard = args.cupboard.read()?;
    let (held, coarse) = held(args, &cupboard)?;
    bath::possible(&held, cupboard.at)?;
    if held.is_empty() {
        return Err(BathFault::Said {
            what: "no analysis: give a titration, a density or `--holds`".to_owned(),
        }
        .into());
    }
    let targets = args
        .target
        .iter()
        .map(|text| bath::read_share(text))
        .collect::<Result<Vec<_>, BathFault>>()?;
    let known = |name: &str| held.iter().any(|(known, _)| known == name);
    let mut check = bath::check(&profile, &held);
    check.retain(|one| known(&one.component));
    let mut notes = bath::window_notes(&check);
    notes.extend(coarse);
    let silent = profile.components.iter().filter(|one| !known(&one.name));
    notes.extend(silent.map(|one| Note {
        code: "not-analysed",
        text: format!(
            "{}: nothing was said of it, and it is left as it is",
            one.name
        ),
    }));
    let mut correction = bath::correct(&profile, args.volume, &held, &targets, &cupboard)?;
    correction.after.retain(|one| known(&one.component));
    write_down(args, &held)?;
    let said = (notes.as_slice(), bath::conductivity::conductivity(&held));
    if json {
        let done = view::json::bath_checked(args.volume, &check, said, &correction);
        print_json(&done);
    } else {
        let done = view::text::bath_checked(args.volume, &check, said, &correction);
        print_text(&done);
    }
    Ok(())
}

/// Writes the analysis down, if a bath is named.
fn write_down(args: &CheckArgs, held: &Held) -> Result<(), Failure> {
    let Some(name) = &args.bath else {
        return Ok(());
    };
    let path = ledger_path(args.ledger.as_deref())?;
    kept(Some(&path), name)?;
    let now = chrono::Local::now();
    let mut store = SqliteStore::open(&path, Batch::Each).map_err(unreadable)?;
    for (component, found) in held {
        let entry = TankEntry {
            at: label(&now),
            when: seconds(&now),
            kind: TankDeed::Analysed,
            substance: component.clone(),
            mass: None,
            volume: None,
            surface: None,
            held: Some(*found),
            profile_text: None,
        };
        store.bath_entry(name, &entry).map_err(unreadable)?;
    }
    Ok(())
}

type Held = Vec<(String, Concentration)>;

/// What the analysis says, and how coarse it is.
fn held(args: &CheckArgs, cupboard: &Cupboard) -> Result<(Held, Option<Note>), BathFault> {
    let copper_by = match args.copper_by.as_str() {
        "thiosulfate" => Titrated::CopperByThiosulfate,
        _ => Titrated::CopperByEdta,
    };
    let titrated = [
        (&args.copper_titration, copper_by),
        (&args.acid_titration, Titrated::Acid),
        (&args.chloride_titration, Titrated::Chloride),
    ];
    let mut held: Held = Vec::new();
    for (text, what) in titrated {
        if let Some(text) = text {
            let found = Titration::read(text)?.held(what);
            held.push((what.component().to_owned(), found));
        }
    }
    for text in &args.holds {
        let (name, found) = bath::read_share(text)?;
        if held.iter().any(|(known, _)| *known == name) {
            return Err(BathFault::Said {
                what: format!("{name} was both titrated and said: give one of them"),
            });
        }
        held.push((name, found));
    }
    let coarse = by_density(args, cupboard, &mut held)?;
    Ok((held, coarse))
}

/// Adds what density and colour tell.
fn by_density(
    args: &CheckArgs,
    cupboard: &Cupboard,
    held: &mut Held,
) -> Result<Option<Note>, BathFault> {
    let find = |held: &Held, name: &str| {
        let found = held.iter().find(|(known, _)| known == name);
        found.map(|(_, held)| *held)
    };
    let titrated = find(held, component::COPPER);
    let mut said = Vec::new();
    let mut doubt = 0.0;
    if let Some(colour) = args.copper_by_colour.filter(|_| titrated.is_none()) {
        held.push((component::COPPER.to_owned(), colour));
        doubt = COLOUR_DOUBT;
        said.push("copper by colour is good to about 15 %".to_owned());
    }
    if let Some(density) = args
        .density
        .filter(|_| find(held, component::ACID).is_none())
    {
        let Some(copper) = find(held, component::COPPER) else {
            return Err(BathFault::Said {
                what: "a density alone does not say how much of it is copper: give \
                       `--copper-by-colour` or a titration too"
                    .to_owned(),
            });
        };
        let acid = bath::acid_by_density(copper, density, cupboard.at)?;
        let grain = Density::from_g_per_cm3(0.001);
        let ends = [
            (1.0 + doubt, density - grain),
            (1.0 - doubt, density + grain),
        ];
        let [low, high] = ends.map(|(share, density)| {
            bath::acid_by_density(copper * share, density, cupboard.at)
                .map_or(0.0, Concentration::g_per_l)
        });
        said.push(format!(
            "acid by density is coarse: {low:.0} to {high:.0} g/L would fit as well; titrate it \
             before you add any"
        ));
        held.push((component::ACID.to_owned(), acid));
    }
    Ok((!said.is_empty()).then(|| Note {
        code: "coarse-reading",
        text: said.join("; "),
    }))
}
