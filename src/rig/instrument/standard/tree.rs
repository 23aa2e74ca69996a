//! The command tree, and how a header finds its command in it.

use super::status::Slip;

/// Current or voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Of {
    Current,
    Voltage,
}

/// One of a status register's three faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Face {
    Event,
    Condition,
    Enable,
}

/// What a header means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Command {
    Identity,
    Reset,
    ClearStatus,
    EventEnable,
    EventStatus,
    Complete,
    RequestEnable,
    StatusByte,
    SelfTest,
    Wait,
    Level(Of),
    Protection(Of),
    ProtectionState(Of),
    ProtectionTripped(Of),
    ProtectionClear,
    Output,
    Measure(Of),
    MeasurePower,
    Select,
    SelectNumber,
    NextError,
    ErrorCount,
    Version,
    Remote,
    Local,
    LockRemote,
    KeyLock,
    Questionable(Face),
    Operation(Face),
    Preset,
}

/// Which forms of a header exist.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Forms {
    Set,
    Query,
    Both,
}

/// The whole table: SCPI-99 volume 2 for the standard ones; `SYSTem:REMote`, `:LOCal` and `:RWLock`
/// are a widespread addition for serial lines.
const TABLE: &[(&str, Forms, Command)] = &[
    (
        "MEASure[:SCALar]:CURRent[:DC]",
        Forms::Query,
        Command::Measure(Of::Current),
    ),
    (
        "MEASure[:SCALar]:VOLTage[:DC]",
        Forms::Query,
        Command::Measure(Of::Voltage),
    ),
    (
        "MEASure[:SCALar]:POWer[:DC]",
        Forms::Query,
        Command::MeasurePower,
    ),
    (
        "[SOURce]:CURRent[:LEVel][:IMMediate][:AMPLitude]",
        Forms::Both,
        Command::Level(Of::Current),
    ),
    (
        "[SOURce]:VOLTage[:LEVel][:IMMediate][:AMPLitude]",
        Forms::Both,
        Command::Level(Of::Voltage),
    ),
    ("OUTPut[:STATe]", Forms::Both, Command::Output),
    (
        "STATus:QUEStionable[:EVENt]",
        Forms::Query,
        Command::Questionable(Face::Event),
    ),
    (
        "STATus:QUEStionable:CONDition",
        Forms::Query,
        Command::Questionable(Face::Condition),
    ),
    (
        "STATus:QUEStionable:ENABle",
        Forms::Both,
        Command::Questionable(Face::Enable),
    ),
    (
        "STATus:OPERation[:EVENt]",
        Forms::Query,
        Command::Operation(Face::Event),
    ),
    (
        "STATus:OPERation:CONDition",
        Forms::Query,
        Command::Operation(Face::Condition),
    ),
    (
        "STATus:OPERation:ENABle",
        Forms::Both,
        Command::Operation(Face::Enable),
    ),
    ("STATus:PRESet", Forms::Set, Command::Preset),
    ("SYSTem:ERRor[:NEXT]", Forms::Query, Command::NextError),
    ("SYSTem:ERRor:COUNt", Forms::Query, Command::ErrorCount),
    ("SYSTem:VERSion", Forms::Query, Command::Version),
    ("SYSTem:REMote", Forms::Set, Command::Remote),
    ("SYSTem:LOCal", Forms::Set, Command::Local),
    ("SYSTem:RWLock", Forms::Set, Command::LockRemote),
    ("SYSTem:KLOCk", Forms::Both, Command::KeyLock),
    (
        "[SOURce]:CURRent:PROTection[:LEVel]",
        Forms::Both,
        Command::Protection(Of::Current),
    ),
    (
        "[SOURce]:VOLTage:PROTection[:LEVel]",
        Forms::Both,
        Command::Protection(Of::Voltage),
    ),
    (
        "[SOURce]:CURRent:PROTection:STATe",
        Forms::Both,
        Command::ProtectionState(Of::Current),
    ),
    (
        "[SOURce]:VOLTage:PROTection:STATe",
        Forms::Both,
        Command::ProtectionState(Of::Voltage),
    ),
    (
        "[SOURce]:CURRent:PROTection:TRIPped",
        Forms::Query,
        Command::ProtectionTripped(Of::Current),
    ),
    (
        "[SOURce]:VOLTage:PROTection:TRIPped",
        Forms::Query,
        Command::ProtectionTripped(Of::Voltage),
    ),
    (
        "[SOURce]:CURRent:PROTection:CLEar",
        Forms::Set,
        Command::ProtectionClear,
    ),
    (
        "[SOURce]:VOLTage:PROTection:CLEar",
        Forms::Set,
        Command::ProtectionClear,
    ),
    (
        "OUTPut:PROTection:CLEar",
        Forms::Set,
        Command::ProtectionClear,
    ),
    ("INSTrument[:SELect]", Forms::Both, Command::Select),
    ("INSTrument:NSELect", Forms::Both, Command::SelectNumber),
    ("*IDN", Forms::Query, Command::Identity),
    ("*RST", Forms::Set, Command::Reset),
    ("*CLS", Forms::Set, Command::ClearStatus),
    ("*ESE", Forms::Both, Command::EventEnable),
    ("*ESR", Forms::Query, Command::EventStatus),
    ("*OPC", Forms::Both, Command::Complete),
    ("*SRE", Forms::Both, Command::RequestEnable),
    ("*STB", Forms::Query, Command::StatusByte),
    ("*TST", Forms::Query, Command::SelfTest),
    ("*WAI", Forms::Set, Command::Wait),
];

/// One word of a header: exactly its short form or its long form, in any case.
#[derive(Clone, Copy, Debug)]
struct Node {
    long: &'static str,
    short_length: usize,
    optional: bool,
}

impl Node {
    fn is(self, word: &[u8]) -> bool {
        word.eq_ignore_ascii_case(self.long.as_bytes())
            || word.eq_ignore_ascii_case(&self.long.as_bytes()[..self.short_length])
    }
}

/// The table, taken apart once.
#[derive(Clone, Debug)]
pub(super) struct Tree {
    entries: Vec<(Vec<Node>, Forms, Command)>,
}

impl Tree {
    pub(super) fn new() -> Self {
        let entries = TABLE
            .iter()
            .map(|(pattern, forms, command)| (nodes(pattern), *forms, *command))
            .collect();
        Self { entries }
    }

    /// The command of a header that goes on from `path`, which becomes the path for the next
    /// header.
    pub(super) fn find<'a>(
        &self,
        header: &'a [u8],
        is_query: bool,
        path: &mut Vec<&'a [u8]>,
    ) -> Result<Command, Slip> {
        if header.first() == Some(&b'*') {
            return self.look_up(&[header], is_query);
        }
        let relative = match header.strip_prefix(b":") {
            Some(from_root) => {
                path.clear();
                from_root
            }
            None => header,
        };
        for word in relative.split(|byte| *byte == b':') {
            path.push(plain_word(word)?);
        }
        let found = self.look_up(path, is_query);
        path.pop();
        found
    }

    fn look_up(&self, words: &[&[u8]], is_query: bool) -> Result<Command, Slip> {
        self.entries
            .iter()
            .find(|(nodes, forms, _)| {
                let has_form = match forms {
                    Forms::Set => !is_query,
                    Forms::Query => is_query,
                    Forms::Both => true,
                };
                has_form && fits(nodes, words)
            })
            .map(|(_, _, command)| *command)
            .ok_or(Slip::UndefinedHeader)
    }
}

/// A header's word without a numeric suffix of one, which means the same; others do not exist here.
fn plain_word(word: &[u8]) -> Result<&[u8], Slip> {
    if word.is_empty() || !word.iter().all(u8::is_ascii_alphanumeric) {
        return Err(Slip::Syntax);
    }
    let letters = word
        .iter()
        .rposition(|byte| !byte.is_ascii_digit())
        .map_or(0, |at| at + 1);
    match &word[letters..] {
        b"" | b"1" => Ok(&word[..letters]),
        _ => Err(Slip::SuffixOutOfRange),
    }
}

/// True if the words are these nodes, with or without the optional ones.
fn fits(nodes: &[Node], words: &[&[u8]]) -> bool {
    match (nodes.split_first(), words.split_first()) {
        (None, None) => true,
        (None, Some(_)) => false,
        (Some((node, rest)), None) => node.optional && fits(rest, words),
        (Some((node, rest)), Some((word, further))) => {
            (node.is(word) && fits(rest, further)) || (node.optional && fits(rest, words))
        }
    }
}

/// Takes a pattern of the table apart: brackets mark optional nodes, capitals the short form.
fn nodes(pattern: &'static str) -> Vec<Node> {
    pattern
        .split([':', '['])
        .filter(|word| !word.is_empty())
        .map(|word| {
            let long = word.trim_end_matches(']');
            let short_length = long
                .find(|c: char| c.is_ascii_lowercase())
                .unwrap_or(long.len());
            Node {
                long,
                short_length,
                optional: word.ends_with(']'),
            }
        })
        .collect()
}
