//! The `[[question]]` tables of a supply profile: what is asked, and what its reply says.

use super::read::{end, wire_text};
use super::{
    Carrier, Columns, End, Figure, Flag, Framing, Give, ModeIn, NumberIn, Question, TruthIn,
};
use crate::spec::Table;
use crate::spec::node::Value;

const FIGURES: [(&str, Figure); 6] = [
    ("current", Figure::Current),
    ("voltage", Figure::Voltage),
    ("set_current", Figure::SetCurrent),
    ("set_voltage", Figure::SetVoltage),
    ("over_voltage", Figure::OverVoltage),
    ("over_current", Figure::OverCurrent),
];

const FLAGS: [(&str, Flag); 3] = [
    ("output", Flag::Output),
    ("tripped", Flag::Tripped),
    ("channel", Flag::Channel),
];

/// All questions; `None` where one of them cannot be read.
pub(super) fn questions(root: &Table<'_>, framing: Option<&Framing>) -> Option<Vec<Question>> {
    let tables = root.tables("question");
    if tables.is_empty() {
        root.need("question", "what can be asked", "[[question]]");
    }
    let read: Vec<Option<Question>> = tables.iter().map(|t| question(t, framing)).collect();
    read.into_iter().collect()
}

fn question(table: &Table<'_>, framing: Option<&Framing>) -> Option<Question> {
    let ask = wire_text(table, "ask", table.required_text("ask"));
    let end = end(table);
    let count = match end.as_ref().or(framing.map(|f| &f.reply_end)) {
        Some(End::Count(count)) => Some(*count),
        Some(End::Byte(_) | End::Quiet(_)) | None => None,
    };
    let mut gives = Vec::new();
    for (key, figure) in FIGURES {
        let inner = table.table(key);
        gives.extend(
            inner
                .and_then(|t| number(&t, count))
                .map(|n| Give::Figure(figure, n)),
        );
    }
    for (key, flag) in FLAGS {
        let inner = table.table(key);
        gives.extend(
            inner
                .and_then(|t| truth(&t, count))
                .map(|n| Give::Truth(flag, n)),
        );
    }
    gives.extend(
        table
            .table("mode")
            .and_then(|t| mode(&t, count))
            .map(Give::Mode),
    );
    if gives.is_empty() {
        table.problem_at(
            "ask",
            "a question whose reply gives nothing",
            "one of current, voltage, output, mode, set_current, set_voltage, over_voltage, \
             over_current, tripped, channel",
            "say what the reply gives: current = {}",
        );
    }
    Some(Question {
        ask: ask?,
        end,
        gives,
    })
}

fn number(table: &Table<'_>, count: Option<usize>) -> Option<NumberIn> {
    let unit = table.text("unit");
    let scale = table.number("scale").unwrap_or(1.0);
    let no_reading = table.texts("no_reading");
    let columns = columns(table, count);
    if scale <= 0.0 {
        table.problem_at(
            "scale",
            "zero or less",
            "above zero, 0.01 for hundredths",
            "write it so",
        );
        return None;
    }
    Some(NumberIn {
        columns: columns?,
        unit,
        scale,
        no_reading,
    })
}

/// `columns = "1-6"`; without it the whole reply.
#[allow(clippy::option_option)] // the outer one is a problem, the inner one is "everywhere"
fn columns(table: &Table<'_>, count: Option<usize>) -> Option<Option<Columns>> {
    if !table.has("columns") {
        return Some(None);
    }
    let text = table.text("columns")?;
    let read = text.split_once('-').and_then(|(first, last)| {
        let (first, last) = (first.trim().parse().ok()?, last.trim().parse().ok()?);
        (1 <= first && first <= last).then_some(Columns { first, last })
    });
    let fits = |c: &Columns| count.is_none_or(|count| c.last <= count);
    match read.filter(fits) {
        Some(columns) => Some(Some(columns)),
        None => {
            let most = count.map_or(String::new(), |c| format!(", {c} at most"));
            table.problem_at(
                "columns",
                &format!("{text:?}"),
                &format!("first and last column, counted from one{most}"),
                "write columns = \"1-6\"",
            );
            None
        }
    }
}

/// `byte = 1` says a raw byte carries the bits; without it a whole number does.
fn carrier(table: &Table<'_>, count: Option<usize>) -> Option<Carrier> {
    if !table.has("byte") {
        return Some(Carrier::Number);
    }
    let Some(count) = count else {
        table.problem_at(
            "byte",
            "a raw byte of a reply of unknown length",
            "reply_bytes beside it, so that any byte can come",
            "add reply_bytes = N to the question",
        );
        return None;
    };
    let at = table.whole("byte", 1, u64::try_from(count).ok()?)?;
    usize::try_from(at).ok().map(Carrier::Byte)
}

fn truth(table: &Table<'_>, count: Option<usize>) -> Option<TruthIn> {
    if table.has("bits") || table.has("byte") {
        let carrier = carrier(table, count);
        let mask = bits(table, "bits");
        let when = table.one_of("yes_when", &["set", "clear"]).unwrap_or("set");
        if table.node("bits").is_none() {
            table.need("bits", "the bits that say it", "bits = [0]");
        }
        let yes_when_set = when == "set";
        return Some(TruthIn::Bits {
            carrier: carrier?,
            mask: mask?,
            yes_when_set,
        });
    }
    let columns = columns(table, count);
    let (yes, no) = (table.texts("yes"), table.texts("no"));
    if yes.is_empty() || no.is_empty() || yes.iter().any(|word| no.contains(word)) {
        table.problem_at(
            "yes",
            "no words for yes and no, or one word for both",
            "yes and no, lists of words, or bits",
            "write yes = [\"1\", \"ON\"] and no = [\"0\", \"OFF\"], or bits = [0]",
        );
    }
    Some(TruthIn::Words {
        columns: columns?,
        yes,
        no,
    })
}

fn mode(table: &Table<'_>, count: Option<usize>) -> Option<ModeIn> {
    if table.has("constant_current") || table.has("constant_voltage") {
        let columns = columns(table, count);
        let constant_current = table.texts("constant_current");
        let constant_voltage = table.texts("constant_voltage");
        return Some(ModeIn::Words {
            columns: columns?,
            constant_current,
            constant_voltage,
        });
    }
    let carrier = carrier(table, count);
    let bit = |key: &str| {
        table
            .whole(key, 0, 31)
            .and_then(|bit| u32::try_from(bit).ok())
    };
    let (constant_current, constant_voltage) =
        (bit("constant_current_bit"), bit("constant_voltage_bit"));
    if constant_current == constant_voltage {
        table.problem_at(
            "constant_current_bit",
            "no bit for either mode, or one bit for both",
            "constant_current_bit or constant_voltage_bit, or both, or lists of words",
            "say which bit means constant current",
        );
    }
    Some(ModeIn::Bits {
        carrier: carrier?,
        constant_current,
        constant_voltage,
    })
}

/// A list of bit numbers as a mask.
fn bits(table: &Table<'_>, key: &str) -> Option<u32> {
    let node = table.node(key)?;
    let bit = |value: &Value| match value {
        Value::Whole(Some(bit)) => u32::try_from(*bit)
            .ok()
            .and_then(|bit| 1_u32.checked_shl(bit)),
        Value::Whole(None)
        | Value::Text(_)
        | Value::Number(_)
        | Value::Flag(_)
        | Value::Date
        | Value::List(_)
        | Value::Table(_) => None,
    };
    let mask = match &node.value {
        Value::List(items) if !items.is_empty() => items
            .iter()
            .map(|item| bit(&item.value))
            .try_fold(0, |mask, b| Some(mask | b?)),
        other => bit(other),
    };
    if mask.is_none() {
        let found = "something that is no list of bits";
        table.problem_at(
            key,
            found,
            "bit numbers from 0 to 31",
            "write bits = [2, 3]",
        );
    }
    mask
}
