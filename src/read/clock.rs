//! The clock of a recording: from stamps of any kind to seconds since the first one.

use super::clock_sniff::sniff;
use super::columns::{Picked, find, named};
use super::layout::Layout;
use super::stamp::StampFormat;
use super::ticker::DAY_S;
use crate::recording::{Finding, Place};
use crate::rig::{ClockSpec, ColumnRef};
use crate::units::{Dimension, Unit};

/// A clock that can read cells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Clock {
    /// The clock as the rig would declare it.
    pub spec: ClockSpec,
    /// Its column.
    pub column: Option<Picked>,
    pub(super) kind: Kind,
}

/// How a cell becomes a time.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    /// Numbers that are this many to a second (or so many seconds each).
    Number(Scale),
    Iso,
    Stamp(StampFormat),
    OfDay(StampFormat),
    Rate(f64),
}

/// Whole numbers divide exactly where a factor would not: 30 ms are 0.03 s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Scale {
    Divide(f64),
    Multiply(f64),
}

impl Scale {
    fn of(unit: &Unit) -> Self {
        if unit.factor < 1.0 {
            Self::Divide((1.0 / unit.factor).round())
        } else {
            Self::Multiply(unit.factor)
        }
    }

    /// Seconds of a number.
    pub fn seconds(self, value: f64) -> f64 {
        match self {
            Self::Divide(by) => value / by,
            Self::Multiply(by) => value * by,
        }
    }
}

impl Clock {
    /// A clock that only counts rows.
    pub fn rate(rate_hz: f64) -> Self {
        Self {
            spec: ClockSpec::Rate { rate_hz },
            column: None,
            kind: Kind::Rate(rate_hz),
        }
    }

    /// What a cell of the clock's column should look like, in words.
    pub fn expects(&self) -> String {
        match &self.spec {
            ClockSpec::Relative { unit, .. } | ClockSpec::Epoch { unit, .. } => {
                format!("a number of {}", unit.symbol)
            }
            ClockSpec::Iso { .. } => "an ISO 8601 stamp".to_owned(),
            ClockSpec::Local { format, .. } | ClockSpec::TimeOfDay { format, .. } => format.clone(),
            ClockSpec::Serial { .. } => "a number of days".to_owned(),
            ClockSpec::Index { .. } | ClockSpec::Rate { .. } | ClockSpec::Auto => {
                "a number".to_owned()
            }
        }
    }

    /// The clock a rig declares, or the one the file itself tells.
    ///
    /// # Errors
    /// An error finding that says what to declare.
    pub fn resolve(
        spec: &ClockSpec,
        layout: &Layout,
        text: &str,
        taken: &[usize],
        shown_as: &str,
        findings: &mut Vec<Finding>,
    ) -> Result<Self, Finding> {
        let column = |column: &ColumnRef| find(layout, column, &[], taken, "time", shown_as);
        let stamps = |format: &str| {
            StampFormat::parse(format, &[]).map_err(|reason| {
                Finding::error("clock-format", format!("the format \"{format}\": {reason}"))
            })
        };
        let (column, kind) = match spec {
            ClockSpec::Relative { column: at, unit } | ClockSpec::Epoch { column: at, unit } => {
                let picked = column(at)?;
                check_unit(layout, &picked, unit, shown_as, findings);
                (Some(picked), Kind::Number(Scale::of(unit)))
            }
            ClockSpec::Serial { column: at } => {
                (Some(column(at)?), Kind::Number(Scale::Multiply(DAY_S)))
            }
            ClockSpec::Iso { column: at } => (Some(column(at)?), Kind::Iso),
            ClockSpec::Local { column: at, format } => {
                (Some(column(at)?), Kind::Stamp(stamps(format)?))
            }
            ClockSpec::TimeOfDay { column: at, format } => {
                (Some(column(at)?), Kind::OfDay(stamps(format)?))
            }
            ClockSpec::Index {
                column: at,
                rate_hz,
            } => (Some(column(at)?), Kind::Number(Scale::Divide(*rate_hz))),
            ClockSpec::Rate { rate_hz } => (None, Kind::Rate(*rate_hz)),
            ClockSpec::Auto => {
                let found = sniff(layout, text, taken, shown_as, findings)?;
                return Self::resolve(&found, layout, text, taken, shown_as, findings);
            }
        };
        Ok(Self {
            spec: spec.clone(),
            column,
            kind,
        })
    }
}

/// A time unit in the header that is not the declared one is worth a word.
fn check_unit(
    layout: &Layout,
    picked: &Picked,
    unit: &Unit,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) {
    let (_, stated) = named(layout, picked.at);
    if let Some(stated) = stated
        && stated.dimension == Dimension::Time
        && stated.factor != unit.factor
    {
        findings.push(
            Finding::doubt(
                "unit-differs",
                format!(
                    "the rig declares the time in {}, but the header of the file says {}; the rig was followed",
                    unit.symbol, stated.symbol
                ),
            )
            .at(Place {
                file: Some(shown_as.to_owned()),
                line: layout.names_line,
                column: Some(picked.name.clone()),
            }),
        );
    }
}
