//! The `[[recording]]` tables of a rig file: further files of one run, on clocks of their own.

use super::channel::{channels, same_column};
use super::clock::clock;
use super::dialect::dialect;
use super::document::Section;
use super::{ChannelQuantity, ChannelSpec, ClockSpec, DialectSpec, Rig};
use std::ops::Range;

/// What the columns of runs.csv that name further files begin with.
pub const TRACE_COLUMN: &str = "trace_";

/// How the clock of a further recording is put on that of the main one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SyncKind {
    /// Cross-correlation of what both recordings saw of the run.
    Correlate {
        /// Channel of the further recording.
        quantity: ChannelQuantity,
        /// Channel of the main recording that moves with it.
        with: ChannelQuantity,
    },
    /// Pulses that were given to a marker channel of both.
    Marker,
    /// Known beforehand.
    Declared {
        /// Main clock less clock of the further recording, s; `None` takes it from the absolute times both files state.
        offset_s: Option<f64>,
        /// Its standard uncertainty, s.
        u_s: f64,
    },
}

/// The `[recording.sync]` of a further recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SyncSpec {
    /// How.
    pub kind: SyncKind,
    /// Farthest offset looked for, s, on both sides of the one the absolute times give, or of none.
    pub max_offset_s: Option<f64>,
    /// Whether the clocks may run at different rates.
    pub drift: bool,
}

/// A further recording of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordingSpec {
    /// Name, as findings show it.
    pub name: String,
    /// Column of runs.csv that names its file, in lower case.
    pub trace_column: String,
    /// Dialect of its files.
    pub dialect: DialectSpec,
    /// Its clock.
    pub clock: ClockSpec,
    /// Its channels.
    pub channels: Vec<ChannelSpec>,
    /// How its clock is put on that of the main recording.
    pub sync: SyncSpec,
    /// Line of the table in the rig file.
    pub line: u64,
}

impl RecordingSpec {
    /// The rig as this recording sees it: the same bench with the dialect, clock and channels of this recording.
    pub fn rig(&self, bench: &Rig) -> Rig {
        Rig {
            dialect: self.dialect.clone(),
            clock: self.clock.clone(),
            channels: self.channels.clone(),
            recordings: Vec::new(),
            ..bench.clone()
        }
    }
}

/// Reads every `[[recording]]`.
pub(super) fn recordings(
    top: &Section<'_, '_>,
    main: &[ChannelSpec],
    ml_per_turn: Option<f64>,
    shown_as: &str,
) -> Vec<RecordingSpec> {
    let mut read: Vec<RecordingSpec> = Vec::new();
    for section in top.sections("recording") {
        let spec = recording(&section, main, ml_per_turn);
        let Some(spec) = spec else {
            section.finish();
            continue;
        };
        for finding in same_column(&spec.channels, shown_as) {
            top.doc.push(finding);
        }
        if let Some(other) = read
            .iter()
            .find(|other| other.name == spec.name || other.trace_column == spec.trace_column)
        {
            section.doc.error(
                &section.span,
                "rig-recording-twice",
                format!(
                    "[[recording]] \"{}\" has the name or the `trace_column` of the one on line {}",
                    spec.name, other.line
                ),
                Some("give every recording a name and a column of its own".to_owned()),
            );
        }
        section.finish();
        read.push(spec);
    }
    read
}

fn recording(
    section: &Section<'_, '_>,
    main: &[ChannelSpec],
    ml_per_turn: Option<f64>,
) -> Option<RecordingSpec> {
    let name = section.text("name").map(|(name, _)| name.trim().to_owned());
    if name.as_deref().unwrap_or_default().is_empty() {
        missing(section, "name", "name = \"camera\"");
    }
    let trace_column = trace_column(section, name.as_deref().unwrap_or_default());
    let dialect = dialect(section.section("dialect"));
    let clock = clock(section.section("clock"));
    let listed = section.get("channel").is_some();
    if !listed {
        missing(
            section,
            "channel",
            "a [[recording.channel]] with quantity, column and unit",
        );
    }
    let channels = channels(section, ml_per_turn);
    let sync = sync(section, &channels, main);
    listed.then_some(())?;
    Some(RecordingSpec {
        name: name?,
        trace_column,
        dialect,
        clock,
        channels,
        sync: sync?,
        line: section.doc.position(section.span.start).0,
    })
}

fn missing(section: &Section<'_, '_>, key: &str, example: &str) {
    section.doc.error(
        &section.span,
        "toml-missing-key",
        format!("{} has no `{key}`", section.name),
        Some(format!("add {example}")),
    );
}

/// The column of runs.csv: as declared, else after the name.
fn trace_column(section: &Section<'_, '_>, name: &str) -> String {
    let Some((text, span)) = section.text("trace_column") else {
        return format!("{TRACE_COLUMN}{}", name.to_lowercase());
    };
    let column = text.trim().to_lowercase();
    if column.strip_prefix(TRACE_COLUMN).is_none_or(str::is_empty) {
        section.doc.error(
            &span,
            "rig-trace-column",
            format!("[[recording]] `trace_column` is \"{text}\"; columns of runs.csv that name further files begin with \"{TRACE_COLUMN}\""),
            Some(format!("name it \"{TRACE_COLUMN}{}\" here and in runs.csv", name.to_lowercase())),
        );
    }
    column
}

#[derive(Clone, Copy)]
enum Kind {
    Correlate,
    Marker,
    Declared,
}

const KINDS: &[(&str, Kind)] = &[
    ("correlate", Kind::Correlate),
    ("marker", Kind::Marker),
    ("declared", Kind::Declared),
];

/// Reads `[recording.sync]`; `channels` are those of the recording, `main` those of the main one.
fn sync(
    parent: &Section<'_, '_>,
    channels: &[ChannelSpec],
    main: &[ChannelSpec],
) -> Option<SyncSpec> {
    let section = parent.section("sync");
    let kind = section.word("kind", KINDS);
    if section.get("kind").is_none() {
        section.doc.error(
            &section.span,
            "toml-missing-key",
            format!("{} has no `kind`: how its clock is put on that of the main recording is not guessed", section.name),
            Some("add kind = \"correlate\", \"marker\" or \"declared\"".to_owned()),
        );
    }
    let max_offset_s = section.positive("max_offset_s");
    let drift = section.flag("drift").unwrap_or(false);
    let kind = match kind {
        Some(Kind::Correlate) => correlate(&section, channels, main),
        Some(Kind::Marker) => {
            let span = section.span.clone();
            let both = has(&section, &span, channels, ChannelQuantity::Marker, "this")
                & has(&section, &span, main, ChannelQuantity::Marker, "the main");
            both.then_some(SyncKind::Marker)
        }
        Some(Kind::Declared) => declared(&section),
        None => {
            for key in ["quantity", "with", "offset_s", "u_s"] {
                section.get(key);
            }
            None
        }
    };
    section.finish();
    Some(SyncSpec {
        kind: kind?,
        max_offset_s,
        drift,
    })
}

fn correlate(
    section: &Section<'_, '_>,
    channels: &[ChannelSpec],
    main: &[ChannelSpec],
) -> Option<SyncKind> {
    let words: Vec<(&str, ChannelQuantity)> = ChannelQuantity::ALL
        .iter()
        .filter(|(quantity, _)| *quantity != ChannelQuantity::Marker)
        .map(|(quantity, word)| (*word, *quantity))
        .collect();
    let quantity = section.word("quantity", &words);
    if section.get("quantity").is_none() {
        missing(
            section,
            "quantity",
            "quantity = \"pressure\" (or whatever both recordings hold)",
        );
    }
    let with = section.word("with", &words);
    let quantity = quantity?;
    let span = |key: &str| {
        section
            .get(key)
            .map_or_else(|| section.span.clone(), |(_, value)| value.span())
    };
    let (own, other) = (span("quantity"), span("with"));
    if section.get("with").is_some() && with.is_none() {
        return None;
    }
    let other = if with.is_some() { other } else { own.clone() };
    let with = with.unwrap_or(quantity);
    let both = has(section, &own, channels, quantity, "this")
        & has(section, &other, main, with, "the main");
    both.then_some(SyncKind::Correlate { quantity, with })
}

/// True where the channels hold the quantity; otherwise an error. A rig without channels has them sniffed (line 0).
fn has(
    section: &Section<'_, '_>,
    span: &Range<usize>,
    channels: &[ChannelSpec],
    quantity: ChannelQuantity,
    whose: &str,
) -> bool {
    let same = |channel: &ChannelSpec| {
        let volume = |q| matches!(q, ChannelQuantity::Volume | ChannelQuantity::Turns);
        channel.quantity == quantity || volume(channel.quantity) && volume(quantity)
    };
    if channels.iter().any(same) {
        return true;
    }
    let held: Vec<&str> = channels
        .iter()
        .map(|channel| channel.quantity.word())
        .collect();
    section.doc.error(
        span,
        "rig-sync-channel",
        format!(
            "{} needs a {} channel in both recordings, and {whose} recording has none",
            section.name,
            quantity.word()
        ),
        Some(format!(
            "{whose} recording holds {}; two quantities that move together are named by `quantity` (here) and `with` (main recording)",
            held.join(", ")
        )),
    );
    false
}

fn declared(section: &Section<'_, '_>) -> Option<SyncKind> {
    let offset_s = section.number("offset_s").map(|(offset, _)| offset);
    let u_s = section.positive("u_s");
    if section.get("u_s").is_none() {
        missing(
            section,
            "u_s",
            "u_s = 0.02 (standard uncertainty of the offset, s)",
        );
    }
    Some(SyncKind::Declared {
        offset_s,
        u_s: u_s?,
    })
}
