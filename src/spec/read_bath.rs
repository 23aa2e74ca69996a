//! Reads a bath profile.

use super::problem::Problems;
use super::read_job::{density, name};
use super::sheet::Sheet;
use super::shelf::{Shelf, Sort};
use super::table::Table;
use crate::bath::{Additive, AnodeKind, BathProfile, Component};
use crate::deposit::Metal;
use crate::units::{
    Concentration, CurrentDensity, Density, Dilution, Dosage, Fraction, Temperature,
};

/// Finds a bath profile by its name or path and reads it.
///
/// # Errors
/// The one problem of a file that is not there, or every problem of one that is.
pub fn open(name: &str, shelf: &Shelf) -> Result<BathProfile, Problems> {
    let found = shelf.find(Sort::Bath, name, None)?;
    read(&found.path, &found.text)
}

/// The same for a bath that was made by it. A file that is gone is read from the text that was kept
/// of it then, and the second part is true.
///
/// # Errors
/// As [`open`]; a file that is there and wrong is not passed over.
pub fn open_kept(
    name: &str,
    kept: Option<&str>,
    shelf: &Shelf,
) -> Result<(BathProfile, bool), Problems> {
    match (shelf.find(Sort::Bath, name, None), kept) {
        (Ok(found), _) => Ok((read(&found.path, &found.text)?, false)),
        (Err(_), Some(text)) => Ok((read(name, text)?, true)),
        (Err(problems), None) => Err(problems),
    }
}

/// Reads the text of a bath profile.
///
/// # Errors
/// Every problem of the text, in its order.
pub fn read(path: &str, text: &str) -> Result<BathProfile, Problems> {
    let sheet = Sheet::parse(path, text);
    let root = sheet.root();
    let bath = draft(&root);
    root.end();
    sheet.finish(bath)
}

fn draft(root: &Table<'_>) -> Option<BathProfile> {
    let name = name(root);
    let metal = root
        .required_one_of("metal", &["copper", "nickel", "silver"])
        .and_then(Metal::by_name);
    let deposit_density = deposit_density(root, metal);
    let efficiency = share(root, "efficiency", 10.0, 100.0);
    let efficiency_uncertainty = share(root, "efficiency_uncertainty", 0.0, 50.0);
    let window = root.required_table("window");
    let still = window.as_ref().and_then(|table| window_of(table, "still"));
    let stirred = window
        .as_ref()
        .and_then(|table| window_of(table, "stirred"));
    let temperature = root
        .required_table("temperature")
        .and_then(|table| temperature(&table));
    let components = root
        .tables("component")
        .into_iter()
        .filter_map(component)
        .collect();
    let additives = root
        .tables("additive")
        .into_iter()
        .filter_map(additive)
        .collect();
    let anode = root.table("anode").and_then(|table| anode(&table));
    let agitation = root.text("agitation");
    let sources = root.texts("sources");
    root.need(
        "sources",
        "where the figures come from, a line each",
        "sources = [\"…\"]",
    );
    Some(BathProfile {
        name: name?,
        metal: metal?,
        deposit_density: deposit_density?,
        efficiency: efficiency?,
        efficiency_uncertainty: efficiency_uncertainty?,
        window_still: still?,
        window_stirred: stirred?,
        temperature: temperature?,
        components,
        additives,
        anode,
        agitation,
        sources,
    })
}

/// The deposit's density, or the pure metal's where the file says none.
fn deposit_density(root: &Table<'_>, metal: Option<Metal>) -> Option<Density> {
    if !root.has("deposit_density") {
        return metal.map(|metal| metal.density);
    }
    let density = root.quantity::<Density>("deposit_density")?;
    let (low, high) = (Density::from_g_per_cm3(1.0), Density::from_g_per_cm3(25.0));
    root.in_range(
        "deposit_density",
        density,
        low,
        high,
        "the density of a metal,",
    )
}

fn share(table: &Table<'_>, key: &str, low: f64, high: f64) -> Option<f64> {
    let share = table.required_quantity::<Fraction>(key)?;
    let (low, high) = (Fraction::from_percent(low), Fraction::from_percent(high));
    table
        .in_range(key, share, low, high, "a share")
        .map(Fraction::share)
}

fn window_of(table: &Table<'_>, key: &str) -> Option<[CurrentDensity; 2]> {
    let inner = table.required_table(key)?;
    let (low, high) = (density(&inner, "low"), density(&inner, "high"));
    rising(&inner, low?, high?)
}

fn temperature(table: &Table<'_>) -> Option<[Temperature; 2]> {
    let read = |key| {
        let found = table.required_quantity::<Temperature>(key)?;
        let (low, high) = (Temperature::from_c(-5.0), Temperature::from_c(110.0));
        table.in_range(key, found, low, high, "the temperature of a bath,")
    };
    let (low, high) = (read("low"), read("high"));
    rising(table, low?, high?)
}

fn component(table: Table<'_>) -> Option<Component> {
    let read = |key| {
        let found = table.required_quantity::<Concentration>(key)?;
        let (low, high) = (Concentration::ZERO, Concentration::from_g_per_l(1500.0));
        table.in_range(key, found, low, high, "a concentration")
    };
    let (name, low, high) = (name(&table), read("low"), read("high"));
    let [low, high] = rising(&table, low?, high?)?;
    let target = match table.has("target") {
        true => table
            .quantity::<Concentration>("target")
            .and_then(|target| table.in_range("target", target, low, high, "what is made up,"))?,
        false => (low + high) / 2.0,
    };
    Some(Component {
        name: name?,
        low,
        high,
        target,
    })
}

fn additive(table: Table<'_>) -> Option<Additive> {
    let read = |key| {
        let found = table.required_quantity::<Dilution>(key)?;
        let (low, high) = (Dilution::ZERO, Dilution::from_ml_per_l(500.0));
        table.in_range(key, found, low, high, "an additive in a litre")
    };
    let (name, low, full, most) = (name(&table), read("low"), read("full"), read("most"));
    let per_day = read("per_day");
    let per_charge = table
        .required_quantity::<Dosage>("per_charge")
        .and_then(|dose| {
            let high = Dosage::from_ml_per_ah(1000.0);
            table.in_range(
                "per_charge",
                dose,
                Dosage::ZERO,
                high,
                "an additive for a charge",
            )
        });
    let (low, full, most) = (low?, full?, most?);
    if !(low < full && full < most) {
        let allowed = "`low` below `full` below `most`";
        table.problem_at(
            "full",
            "an additive without room",
            allowed,
            "look at the three",
        );
        return None;
    }
    Some(Additive {
        name: name?,
        low,
        full,
        most,
        per_charge: per_charge?,
        per_day: per_day?,
    })
}

fn anode(table: &Table<'_>) -> Option<AnodeKind> {
    let kind = table.required_text("kind");
    let read = |key| {
        let found = table.required_number(key)?;
        table.in_range(
            key,
            Fraction::from_share(found),
            Fraction::from_share(0.05),
            Fraction::from_share(20.0),
            "anode area over cathode area,",
        )
    };
    let (low, high) = (read("ratio_low"), read("ratio_high"));
    let [low, high] = rising(table, low?, high?)?;
    Some(AnodeKind {
        kind: kind?,
        ratio: [low.share(), high.share()],
    })
}

/// A low and a high end, in that order.
fn rising<T: Copy + PartialOrd>(table: &Table<'_>, low: T, high: T) -> Option<[T; 2]> {
    if low < high {
        return Some([low, high]);
    }
    let allowed = "a `high` that is above `low`";
    table.problem_at(
        "high",
        "a window without a width",
        allowed,
        "look at `low` and `high`",
    );
    None
}
