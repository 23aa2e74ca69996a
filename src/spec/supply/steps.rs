//! The `[steps]` and `[numbers]` tables of a supply profile.

use super::read::wire_text;
use super::{NumberOut, Numbers, Ratings, Slot, Steps, Template, checks};
use crate::spec::Table;
use crate::spec::node::Value;

pub(super) fn numbers(table: &Table<'_>, ratings: Option<&Ratings>) -> Option<Numbers> {
    let steps = ratings.map(|r| (r.set_current.step, r.set_voltage.step));
    let current = table
        .required_table("current")
        .and_then(|t| number(&t, steps.map(|s| s.0)));
    let voltage = table
        .required_table("voltage")
        .and_then(|t| number(&t, steps.map(|s| s.1)));
    let other = |key: &str, default: Option<NumberOut>| match table.table(key) {
        Some(inner) => number(&inner, default.map(|number| number.step)),
        None => default,
    };
    let over_current = other("over_current", current);
    let over_voltage = other("over_voltage", voltage);
    Some(Numbers {
        current: current?,
        voltage: voltage?,
        over_current: over_current?,
        over_voltage: over_voltage?,
    })
}

fn number(table: &Table<'_>, step: Option<f64>) -> Option<NumberOut> {
    let decimals = table.required_whole("decimals", 0, 9);
    let width = table
        .whole("width", 1, 16)
        .and_then(|w| u8::try_from(w).ok());
    let scale = table.number("scale").unwrap_or(1.0);
    if scale <= 0.0 {
        table.problem_at(
            "scale",
            "zero or less",
            "above zero, 1000 for mA",
            "write it so",
        );
        return None;
    }
    let number = NumberOut {
        decimals: u8::try_from(decimals?).ok()?,
        width,
        scale,
        step: step?,
    };
    checks::grid(table, &number);
    Some(number)
}

pub(super) fn steps(table: &Table<'_>) -> (Option<Steps>, Option<Template>) {
    let select = match step(table, "select", None) {
        list if list.len() > 1 => {
            table.problem_at("select", "several messages", "one message", "keep one");
            None
        }
        mut list => list.pop(),
    };
    let steps = Steps {
        prepare: step(table, "prepare", None),
        set_current: required_step(table, "set_current", Some(Slot::Current)),
        set_voltage: required_step(table, "set_voltage", Some(Slot::Voltage)),
        set_over_voltage: step(table, "set_over_voltage", Some(Slot::Voltage)),
        set_over_current: step(table, "set_over_current", Some(Slot::Current)),
        on: required_step(table, "on", None),
        off: required_step(table, "off", None),
        clear_trip: step(table, "clear_trip", None),
        release: step(table, "release", None),
    };
    (Some(steps), select)
}

pub(super) fn required_step(table: &Table<'_>, key: &str, slot: Option<Slot>) -> Vec<Template> {
    table.need(
        key,
        "a message or a list of messages",
        &format!("{key} = \"…\""),
    );
    let step = step(table, key, slot);
    if step.is_empty() && table.has(key) {
        table.problem_at(key, "an empty step", "a message", "say what is sent");
    }
    step
}

/// One message or a list of them, with the number it must carry.
fn step(table: &Table<'_>, key: &str, slot: Option<Slot>) -> Vec<Template> {
    let Some(node) = table.node(key) else {
        return Vec::new();
    };
    let texts = match &node.value {
        Value::Text(text) => vec![text.clone()],
        Value::List(_) => table.texts(key),
        Value::Whole(_) | Value::Number(_) | Value::Flag(_) | Value::Date | Value::Table(_) => {
            table.wrong::<()>(
                node,
                "a message or a list of messages",
                "write it as a text",
            );
            return Vec::new();
        }
    };
    let templates: Vec<Template> = texts
        .into_iter()
        .filter_map(|text| template(table, key, text, slot))
        .collect();
    let carried = templates.iter().filter(|t| t.slot.is_some()).count();
    if slot.is_some() && carried != 1 && !templates.is_empty() {
        table.problem_at(
            key,
            &format!("{carried} messages with a number"),
            "exactly one message that carries the number",
            &format!("put {} where the number goes", slot_name(slot)),
        );
    }
    templates
}

fn slot_name(slot: Option<Slot>) -> &'static str {
    match slot {
        Some(Slot::Current) => "{current}",
        Some(Slot::Voltage) => "{voltage}",
        None => "no placeholder",
    }
}

fn template(table: &Table<'_>, key: &str, text: String, slot: Option<Slot>) -> Option<Template> {
    let text = wire_text(table, key, Some(text))?;
    let allowed = slot_name(slot);
    let wrong = |found: &str| {
        table.problem_at(key, found, allowed, &format!("use {allowed} here"));
    };
    if text.is_empty() {
        table.problem_at(key, "an empty message", "a message", "take it out");
        return None;
    }
    match Template::parse(&text) {
        Ok(template) if template.slot.is_some() && template.slot != slot => {
            wrong(&format!("the placeholder in `{text}`"));
            None
        }
        Ok(template) => Some(template),
        Err(found) => {
            wrong(&found);
            None
        }
    }
}
