//! A rig as plain values, checked while loading.

use crate::recording::{LineResistance, Place};
use crate::units::Unit;
use jiff::civil::Date;

/// What a channel measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ChannelQuantity {
    /// Pressure.
    Pressure,
    /// Injected volume.
    Volume,
    /// Turns of the inflator screw, a volume once `ml_per_turn` is known.
    Turns,
    /// Optical waist diameter.
    Diameter,
    /// Sound.
    Sound,
    /// Axial force.
    Force,
    /// Temperature.
    Temperature,
    /// Marker.
    Marker,
}

impl ChannelQuantity {
    /// Every quantity with the word of the rig file.
    pub const ALL: &'static [(Self, &'static str)] = &[
        (Self::Pressure, "pressure"),
        (Self::Volume, "volume"),
        (Self::Turns, "turns"),
        (Self::Diameter, "diameter"),
        (Self::Sound, "sound"),
        (Self::Force, "force"),
        (Self::Temperature, "temperature"),
        (Self::Marker, "marker"),
    ];

    /// The word of the rig file.
    pub fn word(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(quantity, _)| *quantity == self)
            .map_or("", |(_, word)| word)
    }
}

/// Where the pressure transducer sits; it decides what it can see of fill and switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// At the inflator.
    Inflator,
    /// At the balloon.
    Balloon,
}

/// Gauge or absolute pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reference {
    /// Zero at ambient.
    Gauge,
    /// Zero at vacuum.
    Absolute,
}

/// A column by name or by 0-based number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ColumnRef {
    /// Name as in the header.
    Name(String),
    /// Number from 0.
    Index(usize),
}

/// A sheet of a workbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SheetRef {
    /// By name, without regard to case.
    Name(String),
    /// By number, counted from 1.
    Number(usize),
}

/// The dialect of the text files; `None` fields are sniffed from the file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DialectSpec {
    /// Delimiter: `,` `;` `\t` `|`, or a blank for runs of blanks.
    pub delimiter: Option<char>,
    /// Decimal mark.
    pub decimal: Option<char>,
    /// Thousands mark; `Some(None)` says there is none.
    pub thousands: Option<Option<char>>,
    /// Encoding name.
    pub encoding: Option<String>,
    /// Lines before the header.
    pub skip_lines: Option<usize>,
    /// Header rows.
    pub header_rows: Option<usize>,
    /// Comment mark; `Some(None)` says there is none.
    pub comment: Option<Option<String>>,
    /// Sheet of a workbook, by name or by number counted from 1.
    pub sheet: Option<SheetRef>,
}

/// The clock of a recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum ClockSpec {
    /// Elapsed time in a column.
    Relative {
        /// Column.
        column: ColumnRef,
        /// Unit of time.
        unit: &'static Unit,
    },
    /// ISO 8601 stamps.
    Iso {
        /// Column.
        column: ColumnRef,
    },
    /// Local stamps in a declared format (`dd.mm.yyyy hh:mm:ss,fff`).
    Local {
        /// Column.
        column: ColumnRef,
        /// Format.
        format: String,
    },
    /// Time of day in a declared format (`hh:mm:ss.fff`).
    TimeOfDay {
        /// Column.
        column: ColumnRef,
        /// Format.
        format: String,
    },
    /// Days as spreadsheets count them, from 1899-12-30.
    Serial {
        /// Column.
        column: ColumnRef,
    },
    /// Seconds or milliseconds since 1970.
    Epoch {
        /// Column.
        column: ColumnRef,
        /// Unit of time.
        unit: &'static Unit,
    },
    /// Sample numbers in a column.
    Index {
        /// Column.
        column: ColumnRef,
        /// Rate, Hz.
        rate_hz: f64,
    },
    /// No time column, a rate.
    Rate {
        /// Rate, Hz.
        rate_hz: f64,
    },
    /// Sniffed from the file.
    #[default]
    Auto,
}

impl ClockSpec {
    /// The declared rate, Hz; none where the file tells it.
    pub fn rate_hz(&self) -> Option<f64> {
        match self {
            Self::Index { rate_hz, .. } | Self::Rate { rate_hz } => Some(*rate_hz),
            _ => None,
        }
    }
}

/// From a raw number to a value in the channel's unit.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Calibration {
    /// The number is the value.
    #[default]
    None,
    /// value = gain × raw + offset.
    GainOffset {
        /// Gain.
        gain: f64,
        /// Offset, in the channel's unit.
        offset: f64,
    },
    /// Straight lines between points, raw increasing; held beyond the ends with a finding.
    Table {
        /// Raw numbers, increasing.
        raw: Vec<f64>,
        /// Values in the channel's unit.
        value: Vec<f64>,
    },
    /// value = Σ coefficient × raw^k.
    Polynomial {
        /// Coefficients from the constant up.
        coefficients: Vec<f64>,
    },
}

/// One channel. Ranges, resolution and uncertainty are in bench units.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelSpec {
    /// What it measures.
    pub quantity: ChannelQuantity,
    /// Column; `None` means found by quantity words in the header (`auto`).
    pub column: Option<ColumnRef>,
    /// Other names the column may have.
    pub aliases: Vec<String>,
    /// Unit; `None` means from the header (`auto`).
    pub unit: Option<&'static Unit>,
    /// Gauge or absolute (pressure).
    pub reference: Reference,
    /// Limits of the sensor.
    pub range: Option<(f64, f64)>,
    /// Smallest step.
    pub resolution: Option<f64>,
    /// Standard uncertainty, constant part.
    pub u: Option<f64>,
    /// Standard uncertainty, relative part.
    pub u_rel: Option<f64>,
    /// Standard uncertainty of the drift of the zero of a pressure channel, kPa/min, if stated: for runs without a closing vent.
    pub u_drift_kpa_per_min: Option<f64>,
    /// Date of calibration.
    pub calibrated_on: Option<Date>,
    /// Date the next one is due.
    pub due_on: Option<Date>,
    /// The channel's clock runs late by so much, s.
    pub delay_s: f64,
    /// From raw to value.
    pub calibration: Calibration,
    /// mL for a turn (turns channels; else `line.ml_per_turn`).
    pub ml_per_turn: Option<f64>,
    /// Line of the channel in the rig file; 0 for a channel the rig does not list, which is looked for by itself.
    pub line: u64,
}

impl ChannelSpec {
    /// Where the channel stands in the rig file; the file alone where it does not list the channel.
    pub fn place(&self, file: &str) -> Place {
        if self.line == 0 {
            Place::file(file)
        } else {
            Place::line(file, self.line)
        }
    }
}

/// A rig, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// Name.
    pub name: String,
    /// File it came from, relative to the study folder where inside.
    pub file: String,
    /// Ambient pressure (absolute), kPa; `None` where not declared (101.325 is then assumed, with a finding).
    pub ambient_kpa: Option<f64>,
    /// Where the transducer sits; `None` where not declared.
    pub side: Option<Side>,
    /// Dialect.
    pub dialect: DialectSpec,
    /// Clock.
    pub clock: ClockSpec,
    /// Channels.
    pub channels: Vec<ChannelSpec>,
    /// Further recordings of a run, on clocks of their own.
    pub recordings: Vec<super::RecordingSpec>,
    /// Blank runs named by the rig; empty means every run of kind `blank`.
    pub blank_runs: Vec<String>,
    /// mL for a turn of the inflator.
    pub ml_per_turn: Option<f64>,
    /// Pressure lost in the line for a flow, at the temperature of the bench.
    pub resistance: Option<LineResistance>,
    /// Scale of images, mm for a pixel.
    pub mm_per_px: Option<f64>,
    /// Relative standard uncertainty of that scale.
    pub u_mm_per_px_rel: Option<f64>,
    /// Smallest step of the caliper, mm.
    pub caliper_resolution_mm: Option<f64>,
    /// Standard uncertainty of one caliper reading, mm.
    pub caliper_u_mm: Option<f64>,
    /// Density of the fluid, g/mL.
    pub density_g_per_ml: Option<f64>,
    /// What the flow loop is worth.
    pub flow: super::FlowSpec,
}

impl Rig {
    /// Ambient pressure used: the declared one, else the standard atmosphere, kPa.
    pub fn ambient(&self) -> f64 {
        self.ambient_kpa.unwrap_or(crate::units::KPA_PER_ATM)
    }

    /// The first channel of a quantity, with its position.
    pub fn channel(&self, quantity: ChannelQuantity) -> Option<(usize, &ChannelSpec)> {
        self.channels
            .iter()
            .enumerate()
            .find(|(_, channel)| channel.quantity == quantity)
    }
}
