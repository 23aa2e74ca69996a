//! One screen that answers, in this order: is it all right, how thick is it, when is it done, what
//! do I do.

use super::layout::{Side, Table, fit, labelled};
use crate::control::{State, limit};
use crate::run::{PieceState, Snapshot};
use crate::units::{Moment, Span};
use crate::view::cards;
use crate::view::words::{Bounds, ah, amperes, cm2, g, hung, lasting, percent, um, volts};

/// How wide the bar of the progress is.
const BAR: usize = 24;

/// The status of a station; `label` gives a moment its time of day.
#[must_use]
pub fn status(of: &Snapshot, label: &dyn Fn(Moment) -> String) -> String {
    let mut out = title(of);
    out.push('\n');
    out.push_str(&labelled(&of.state.word().to_uppercase(), &all_right(of)));
    out.push_str(&labelled("", &electric(of, label)));
    for alarm in &of.alarms {
        let said = format!(
            "{} since {}: {}",
            alarm.fault.code(),
            label(alarm.since),
            alarm.text
        );
        out.push_str(&labelled("Alarm", &said));
    }
    if of.run.is_some() {
        out.push('\n');
        out.push_str(&labelled("Thick", &thick(of)));
        out.push_str(&labelled("", &charge(of)));
        out.push_str(&labelled("Done", &done(of, label)));
    }
    out.push_str(&labelled("To do", &to_do(of)));
    if !of.pieces.is_empty() {
        out.push('\n');
        out.push_str(&pieces(of));
    }
    out
}

fn title(of: &Snapshot) -> String {
    let run = of
        .run
        .map(|run| format!(" · run {run}"))
        .unwrap_or_default();
    let job = of
        .job
        .as_ref()
        .map(|job| format!(" · {job}"))
        .unwrap_or_default();
    format!(
        "{}\n",
        fit(&format!("{}{run}{job}", of.station), super::WIDTH)
    )
}

/// Is it all right?
pub(in crate::view) fn all_right(of: &Snapshot) -> String {
    if of.state == State::Unconfirmed && of.cut {
        return "DANGER: THE OUTPUT IS NOT CONFIRMED OFF. THE RELAY HAS CUT ITS LEAD, WHICH IS NO \
                PROOF. TREAT IT AS ON."
            .to_owned();
    }
    if of.state == State::Unconfirmed {
        return "DANGER: THE OUTPUT IS NOT CONFIRMED OFF. TREAT IT AS ON.".to_owned();
    }
    if of.output_on == Some(true) && rests(of.state) {
        return "LOOK: the supply says its output is ON, and nothing should flow.".to_owned();
    }
    if let Some(age) = old_age(of) {
        return format!("LOOK: the last usable reading is {} old.", lasting(age));
    }
    if flows(of.state) && !of.alarms.is_empty() {
        return "LOOK: a guard speaks. The run goes on.".to_owned();
    }
    match of.state_since.filter(|_| of.state == State::Paused) {
        Some(since) => format!(
            "All is well: paused for {}, with the output off.",
            lasting(of.now.since(since))
        ),
        None => sentence(of.state).to_owned(),
    }
}

/// The age of the last reading, if that is more than it may be in this state.
fn old_age(of: &Snapshot) -> Option<Span> {
    age(of).filter(|age| stale_s(of.state).is_some_and(|limit| age.s() > limit))
}

/// A reading older than this, s, is worth a word.
fn stale_s(state: State) -> Option<f64> {
    match state {
        State::Paused => Some(limit::PAUSE_STALE_S),
        state => flows(state).then_some(limit::STALE_S),
    }
}

const fn sentence(state: State) -> &'static str {
    match state {
        State::Idle => "All is well: nothing runs.",
        State::Proving => "So far all is well: supply and cell are checked before much flows.",
        State::Striking => "All is well: the gentle start.",
        State::Ramping => "All is well: the current rises.",
        State::Building => "All is well: full density.",
        State::Holding => {
            "All is well: the target is reached, and a small current keeps the pieces from \
             dissolving."
        }
        State::Finished => "All is well: done as asked, and the output is confirmed off.",
        State::Paused => "All is well: paused, with the output off.",
        State::Stopping => "Off is on its way, and not confirmed yet.",
        State::Stopped => "All is well: stopped by a person, and the output is confirmed off.",
        State::Tripped => "NOT ALL RIGHT: a guard turned the output off. It is confirmed off.",
        State::Interrupted => "NOT ALL RIGHT: the run was cut short. The output is confirmed off.",
        State::Unconfirmed => "DANGER: THE OUTPUT IS NOT CONFIRMED OFF. TREAT IT AS ON.",
    }
}

/// Current may flow, and readings must come.
const fn flows(state: State) -> bool {
    matches!(state, State::Proving) || state.is_live()
}

/// Nothing may flow.
const fn rests(state: State) -> bool {
    state.is_over() || matches!(state, State::Idle | State::Paused)
}

/// Output, current and voltage, and how old that is. What was read long ago is told as past:
/// nothing says that it is still so.
pub(in crate::view) fn electric(of: &Snapshot, label: &dyn Fn(Moment) -> String) -> String {
    let output = match (of.output_on, of.long_ago()) {
        (Some(true), None) => "Output on".to_owned(),
        (Some(false), None) => "Output off".to_owned(),
        (Some(true), Some(at)) => format!("When last read, {}: output on", label(at)),
        (Some(false), Some(at)) => format!("When last read, {}: output off", label(at)),
        (None, _) => "Output not known".to_owned(),
    };
    let measured = of.current.map(|current| format!(", {}", amperes(current)));
    let set = of.setpoint.map(|set| format!(" of {} set", amperes(set)));
    let set = set.filter(|_| measured.is_some() && flows(of.state));
    let volts = of.voltage.map(|voltage| format!(", {}", volts(voltage)));
    let age = match age(of) {
        Some(age) => format!("; last reading {} ago", lasting(age)),
        None => "; no reading yet".to_owned(),
    };
    let parts = [Some(output), measured, set, volts, Some(age)];
    format!("{}.", parts.into_iter().flatten().collect::<String>())
}

fn age(of: &Snapshot) -> Option<Span> {
    of.last_reply.map(|last| of.now.since(last))
}

/// How thick is it?
fn thick(of: &Snapshot) -> String {
    let asked = of
        .target
        .map(|target| format!(" of {} µm", um(target)))
        .unwrap_or_default();
    let bar = bar(of.progress);
    format!(
        "{} µm{asked}  {bar}  {}",
        um(of.thickness),
        percent(of.progress)
    )
}

fn bar(progress: f64) -> String {
    let filled = (0..BAR)
        .filter(|cell| (*cell as f64 + 0.5) / BAR as f64 <= progress)
        .count();
    format!("[{}{}]", "#".repeat(filled), "-".repeat(BAR - filled))
}

pub(in crate::view) fn charge(of: &Snapshot) -> String {
    let charge = Bounds::of(of.charge);
    format!(
        "{} Ah ({} to {}), output on for {}",
        charge.best,
        charge.low,
        charge.high,
        lasting(of.time_on)
    )
}

/// When is it done?
pub(in crate::view) fn done(of: &Snapshot, label: &dyn Fn(Moment) -> String) -> String {
    match (of.state, of.time_left) {
        (State::Finished, _) => format!("as asked, after {}", lasting(of.elapsed)),
        (state, _) if state.is_over() => format!("over, after {}", lasting(of.elapsed)),
        (State::Holding, _) => "the target is reached; the hold ends by itself".to_owned(),
        (_, Some(left)) => format!("{}, in {}", label(of.now + left), lasting(left)),
        (State::Paused, None) => "not while it is paused".to_owned(),
        (State::Stopping | State::Unconfirmed, None) => "when off is confirmed".to_owned(),
        (_, None) => "not known before the current flows".to_owned(),
    }
}

/// What do I do?
pub(in crate::view) fn to_do(of: &Snapshot) -> String {
    let explain = |instead: &str| match of.alarms.last() {
        Some(alarm) => format!(
            "`nightvat explain {}` says what to check.",
            alarm.fault.code()
        ),
        None => instead.to_owned(),
    };
    match of.state {
        State::Idle => "`nightvat start JOB` begins a run.".to_owned(),
        State::Proving => "Nothing yet.".to_owned(),
        State::Striking | State::Ramping | State::Building => {
            explain("Nothing. `nightvat stop` ends it at any time.")
        }
        State::Holding => {
            "When you like: `nightvat stop`, then lift and rinse the pieces.".to_owned()
        }
        State::Finished => cards::short(&cards::MORNING),
        State::Stopped => {
            "Lift the pieces, rinse, neutralise, dry; weigh them when dry. Gloves and goggles."
                .to_owned()
        }
        State::Paused if old_age(of).is_some() => {
            "Look at the supply before you reach into the bath: nobody reads it any more. Is its \
             plug in, and its output off?"
                .to_owned()
        }
        State::Paused => {
            "Look, turn, trim, with gloves and goggles; then `nightvat resume`. A thin deposit \
             dissolves slowly without current."
                .to_owned()
        }
        State::Stopping => "Wait. If it lasts, look at the supply itself.".to_owned(),
        State::Tripped => {
            let look = explain("Look at the bench.");
            format!("{look} Then `nightvat clear`; nothing starts before.")
        }
        State::Interrupted => {
            "See what is said below. `nightvat resume` goes on, `nightvat clear` gives it up; \
             nothing starts before."
                .to_owned()
        }
        State::Unconfirmed => {
            "Go to the bench now and switch the supply off by hand. Then `nightvat explain \
             unconfirmed`."
                .to_owned()
        }
    }
}

fn pieces(of: &Snapshot) -> String {
    let mut table = Table::new(&[
        ("piece", Side::Name),
        ("µm", Side::Figure),
        ("95 %", Side::Figure),
        ("Ah", Side::Figure),
        ("g", Side::Figure),
        ("cm²", Side::Figure),
    ]);
    for piece in of.pieces.iter().chain(&of.hangers) {
        table.row(piece_cells(piece));
    }
    table.text()
}

fn piece_cells(piece: &PieceState) -> [String; 6] {
    let thickness = piece.thickness;
    [
        hung(&piece.name, piece.hangs),
        um(thickness.best),
        format!("{} to {}", um(thickness.low), um(thickness.high)),
        ah(piece.charge.best),
        g(piece.mass),
        cm2(piece.area),
    ]
}
