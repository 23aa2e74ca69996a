//! Reads a station.

use super::problem::Problems;
use super::read_job::{name, profile};
use super::read_notices::notices;
use super::read_relay::relay;
use super::read_sensors::{brightener, level, link_allowance, sensors};
use super::sheet::Sheet;
use super::shelf::{Shelf, Sort};
use super::station::{Anode, Page, Resume, Station, Tank};
use super::supply::{self, SupplyProfile};
use super::table::Table;
use crate::units::{Area, Current, Length, Mass, Span, Voltage, Volume};

/// Finds a station by its name or path and reads it.
///
/// # Errors
/// The one problem of a file that is not there, or every problem of one that is.
pub fn open(name: &str, shelf: &Shelf) -> Result<Station, Problems> {
    let found = shelf.find(Sort::Station, name, None)?;
    read(&found.path, &found.text, shelf)
}

/// Finds a supply profile by its name or path, as a station gives it, and reads it.
///
/// # Errors
/// The one problem of a file that is not there, or every problem of one that is.
pub fn open_supply(name: &str, shelf: &Shelf) -> Result<SupplyProfile, Problems> {
    let found = shelf.find(Sort::Supply, name, None)?;
    supply::read(&found.path, &found.text)
}

/// Reads the text of a station. Files it names are looked for beside `path`.
///
/// # Errors
/// Every problem of the text, in its order.
pub fn read(path: &str, text: &str, shelf: &Shelf) -> Result<Station, Problems> {
    let sheet = Sheet::parse(path, text);
    let root = sheet.root();
    let station = draft(&root, shelf, path);
    root.end();
    sheet.finish(station)
}

/// A port is a device of this computer, wherever the command is given.
pub(super) fn absolute(root: &Table<'_>, port: String) -> Option<String> {
    if port.starts_with('/') {
        return Some(port);
    }
    root.problem_at(
        "port",
        &format!("`{port}`"),
        "the whole path of a serial port, from `/` on",
        "`nightvat supply ports` lists the ports; write one of them",
    );
    None
}

fn draft(root: &Table<'_>, shelf: &Shelf, path: &str) -> Option<Station> {
    let name = name(root);
    let supply = profile(root, "supply", Sort::Supply, shelf, path);
    let port = root
        .required_text("port")
        .and_then(|port| absolute(root, port));
    let limits = root.required_table("limits");
    let current = limits.as_ref().and_then(max_current);
    let voltage = limits.as_ref().and_then(max_voltage);
    let tank = root.required_table("tank").and_then(|table| tank(&table));
    let resume = root.table("resume").and_then(|table| resume(&table));
    let page = root.table("page").and_then(|table| page(&table));
    let notices = notices(root);
    let link_allowance = link_allowance(root);
    let sensors = sensors(root);
    let relay = relay(root, port.as_deref());
    Some(Station {
        name: name?,
        supply: supply?,
        port: port?,
        max_current: current?,
        max_voltage: voltage?,
        tank: tank?,
        resume,
        page,
        notices: notices?,
        link_allowance: link_allowance?,
        sensors: sensors?,
        relay: relay?,
    })
}

fn max_current(table: &Table<'_>) -> Option<Current> {
    let current = table.required_quantity::<Current>("current")?;
    let (low, high) = (Current::from_ma(1.0), Current::from_a(100.0));
    table.in_range(
        "current",
        current,
        low,
        high,
        "the most this station may carry,",
    )
}

fn max_voltage(table: &Table<'_>) -> Option<Voltage> {
    let voltage = table.required_quantity::<Voltage>("voltage")?;
    let (low, high) = (Voltage::from_v(0.1), Voltage::from_v(60.0));
    table.in_range(
        "voltage",
        voltage,
        low,
        high,
        "the voltage ceiling of this station,",
    )
}

fn tank(table: &Table<'_>) -> Option<Tank> {
    let volume = table
        .required_quantity::<Volume>("volume")
        .and_then(|volume| {
            let (low, high) = (Volume::from_cm3(10.0), Volume::from_l(5000.0));
            table.in_range("volume", volume, low, high, "the volume of a tank,")
        });
    let bath_ledger = table.text("bath_ledger");
    // Without a word the bath is still: its window is the narrower one.
    let stirred = table.flag("stirred").unwrap_or(false);
    let surface = area(table, "surface", "the surface of the liquid,");
    let gap = table.quantity::<Length>("gap").and_then(|gap| {
        let (low, high) = (Length::from_mm(2.0), Length::from_m(2.0));
        table.in_range("gap", gap, low, high, "the gap from anode to cathode,")
    });
    let anode = table.table("anode").and_then(|table| anode(&table));
    let level = table.table("level").and_then(|table| level(&table));
    let brightener = table
        .table("brightener")
        .and_then(|table| brightener(&table));
    Some(Tank {
        volume: volume?,
        bath_ledger,
        stirred,
        surface,
        gap,
        anode,
        level,
        brightener,
    })
}

fn area(table: &Table<'_>, key: &str, what: &str) -> Option<Area> {
    let area = table.quantity::<Area>(key)?;
    table.in_range(key, area, Area::from_cm2(0.1), Area::from_m2(20.0), what)
}

fn anode(table: &Table<'_>) -> Option<Anode> {
    table.need(
        "area",
        "the area that faces the cathode",
        "area = \"180 cm2\"",
    );
    let area = area(table, "area", "the area of an anode,");
    let mass = table.quantity::<Mass>("mass").and_then(|mass| {
        let (low, high) = (Mass::from_mg(100.0), Mass::from_kg(500.0));
        table.in_range("mass", mass, low, high, "the mass of an anode,")
    });
    Some(Anode { area: area?, mass })
}

fn resume(table: &Table<'_>) -> Option<Resume> {
    let within = table.required_quantity::<Span>("within")?;
    let (low, high) = (Span::from_s(1.0), Span::from_h(24.0));
    let within = table.in_range(
        "within",
        within,
        low,
        high,
        "a time after the interruption,",
    )?;
    Some(Resume { within })
}

fn page(table: &Table<'_>) -> Option<Page> {
    let text = table.required_text("listen")?;
    let Ok(listen) = text.parse() else {
        let allowed = "an address and a port: \"127.0.0.1:8737\", or \"[::1]:8737\"";
        let remedy = "write listen = \"127.0.0.1:8737\" for this computer alone";
        table.problem_at("listen", &format!("{text:?}"), allowed, remedy);
        return None;
    };
    let names = table.texts("names");
    Some(Page { listen, names })
}
