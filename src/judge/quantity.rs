//! Quantities of a run that a criterion may name, by their path in the results.

use super::limit::Side;
use super::sample::Sample;
use crate::recording::{FlowResult, ObservationRow, RunResult, Stage, suggest};
use crate::stats::describe;
use crate::uncertain::Quantity;
use crate::units::{Dimension, Unit, find_any};
use std::collections::BTreeMap;

/// Before the name of an observation.
const OBSERVATIONS: &str = "observations.";
/// Unit of pieces.
const COUNTS: &str = "counts";
/// Unit of a pure number.
const PURE: &str = "1";
/// Stages of a flow record.
const FLOW_STAGES: [Stage; 2] = [Stage::Before, Stage::After];

/// A quantity of the results.
pub(super) struct Named {
    /// Its path in a run; `*` stands for a stage.
    pub path: &'static str,
    /// Its unit there.
    pub unit: &'static str,
    pick: fn(&RunResult, &str) -> Option<Quantity>,
}

macro_rules! named {
    ($($path:literal $unit:literal $run:ident => $pick:expr;)*) => {
        &[$(Named { path: $path, unit: $unit, pick: |$run, _| Some($pick.clone()) },)*]
    };
}

/// Every quantity that stands in a run once.
const NAMED: &[Named] = named! {
    "highest_pressure" "kPa" run => run.highest_pressure;
    "diameters.before" "mm" run => run.diameters.as_ref()?.before;
    "diameters.loaded" "mm" run => run.diameters.as_ref()?.loaded;
    "diameters.after" "mm" run => run.diameters.as_ref()?.after;
    "diameters.at_event" "mm" run => run.diameters.as_ref()?.at_event;
    "diameters.set" "mm" run => run.diameters.as_ref()?.set;
    "diameters.set_ratio" "1" run => run.diameters.as_ref()?.set_ratio;
    "diameters.recoil" "1" run => run.diameters.as_ref()?.recoil;
    "diameters.recovery" "1" run => run.diameters.as_ref()?.recovery;
    "diameters.expansion" "1" run => run.diameters.as_ref()?.expansion;
    "areas.before" "mm2" run => run.areas.as_ref()?.before;
    "areas.loaded" "mm2" run => run.areas.as_ref()?.loaded;
    "areas.after" "mm2" run => run.areas.as_ref()?.after;
    "areas.gain" "1" run => run.areas.as_ref()?.gain;
    "frame.peak_pressure" "kPa" run => run.frame.as_ref()?.peak_pressure;
    "frame.peak_over_rated" "1" run => run.frame.as_ref()?.peak_over_rated;
    "frame.peak_load" "kPa" run => run.frame.as_ref()?.peak_load;
    "frame.fracture_load" "kPa" run => run.frame.as_ref()?.fracture_load;
    "frame.fracture_tension" "N/mm" run => run.frame.as_ref()?.fracture_tension;
    "frame.peak_tension" "N/mm" run => run.frame.as_ref()?.peak_tension;
    "frame.peak_force" "N" run => run.frame.as_ref()?.peak_force;
    "frame.compliance" "mm/kPa" run => run.frame.as_ref()?.compliance;
    "frame.yield_load" "kPa" run => run.frame.as_ref()?.yield_load;
    "frame.yield_diameter" "mm" run => run.frame.as_ref()?.yield_diameter;
    "frame.offset_yield_load" "kPa" run => run.frame.as_ref()?.offset_yield_load;
    "frame.work" "mJ" run => run.frame.as_ref()?.work;
    "frame.energy_stored" "mJ" run => run.frame.as_ref()?.energy_stored;
    "frame.energy_released" "mJ" run => run.frame.as_ref()?.energy_released;
    "frame.loop_work" "mJ" run => run.frame.as_ref()?.loop_work;
    "frame.residual_load" "kPa" run => run.frame.as_ref()?.residual_load;
    "frame.residual_share" "1" run => run.frame.as_ref()?.residual_share;
    "frame.residual_diameter" "mm" run => run.frame.as_ref()?.residual_diameter;
    "frame.oversize_true_id" "mm" run => run.frame.as_ref()?.oversize_true_id;
    "frame.oversize_true_id_ratio" "1" run => run.frame.as_ref()?.oversize_true_id_ratio;
    "frame.oversize_stent_id" "mm" run => run.frame.as_ref()?.oversize_stent_id;
    "frame.oversize_stent_id_ratio" "1" run => run.frame.as_ref()?.oversize_stent_id_ratio;
};

macro_rules! flow {
    ($($path:literal $unit:literal $field:ident;)*) => {
        &[$(Named {
            path: concat!("flow.*.", $path),
            unit: $unit,
            pick: |run, stage| run.flow.get(stage).map(|f: &FlowResult| f.$field.clone()),
        },)*]
    };
}

/// Every quantity of a flow record.
const FLOW: &[Named] = flow! {
    "effective_orifice_area" "cm2" effective_orifice_area;
    "mean_gradient" "mmHg" mean_gradient;
    "rms_flow" "mL/s" rms_flow;
    "discharge_coefficient" "1" discharge_coefficient;
    "stroke_volume" "mL" stroke_volume;
    "closing_volume" "mL" closing_volume;
    "leakage_volume" "mL" leakage_volume;
    "regurgitant_fraction" "%" regurgitant_fraction;
};

/// What a criterion is about.
#[derive(Clone)]
pub enum Target {
    /// A quantity of the results.
    Result {
        /// Its path.
        path: String,
        /// Its unit.
        unit: &'static str,
        /// Its stage, empty where it has none.
        stage: &'static str,
        /// Takes it out of a run.
        pick: fn(&RunResult, &str) -> Option<Quantity>,
    },
    /// Something seen.
    Seen {
        /// What, in small letters.
        name: String,
        /// Its stage; `None` for any, as long as a run has only one.
        stage: Option<Stage>,
    },
}

impl std::fmt::Debug for Target {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.path())
    }
}

impl PartialEq for Target {
    fn eq(&self, other: &Self) -> bool {
        self.path() == other.path()
    }
}

/// What a run has of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A number in a unit with its standard uncertainty, where that is known.
    Number {
        /// The value.
        value: f64,
        /// Its standard uncertainty.
        u: Option<f64>,
        /// Unit of both.
        unit: String,
    },
    /// A grade: place in its order, from 0, and as written.
    Grade(u8, String),
    /// Yes or no.
    YesNo(bool),
}

impl Target {
    /// The target of a path.
    ///
    /// # Errors
    /// Help where no quantity has this path.
    pub(super) fn of(path: &str) -> Result<Self, String> {
        let path = path.trim();
        if let Some(name) = path.strip_prefix(OBSERVATIONS) {
            let stage = [Stage::Before, Stage::Loaded, Stage::After]
                .into_iter()
                .find_map(|stage| {
                    Some((stage, name.strip_prefix(stage.word())?.strip_prefix('.')?))
                });
            let (stage, name) = stage.map_or((None, name), |(stage, rest)| (Some(stage), rest));
            let name = plain(name);
            return if name.is_empty() {
                Err("name the observation, as in \"observations.wall clearance\"".to_owned())
            } else {
                Ok(Self::Seen { name, stage })
            };
        }
        let all = all();
        match all.iter().find(|(known, _, _)| known == path) {
            Some((_, stage, named)) => Ok(Self::Result {
                path: path.to_owned(),
                unit: named.unit,
                stage,
                pick: named.pick,
            }),
            None => Err(
                match suggest(path, all.iter().map(|(path, _, _)| path.as_str())) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => "a quantity is named by its path in results.json, as \"diameters.after\" or \"flow.after.effective_orifice_area\", or is an observation, as \"observations.wall clearance\"".to_owned(),
                },
            ),
        }
    }

    /// Its path in the results.
    pub fn path(&self) -> String {
        match self {
            Self::Result { path, .. } => path.clone(),
            Self::Seen { name, stage: None } => format!("{OBSERVATIONS}{name}"),
            Self::Seen {
                name,
                stage: Some(stage),
            } => format!("{OBSERVATIONS}{}.{name}", stage.word()),
        }
    }

    /// Its unit; `None` for an observation, which has that of its rows.
    pub(super) fn unit(&self) -> Option<&'static str> {
        match self {
            Self::Result { unit, .. } => Some(unit),
            Self::Seen { .. } => None,
        }
    }

    /// What a run has of it; `None` where nothing.
    pub(super) fn value(&self, run: &RunResult) -> Option<Value> {
        match self {
            Self::Result { stage, pick, .. } => {
                let quantity = pick(run, stage)?;
                Some(Value::Number {
                    value: quantity.value.filter(|v| v.is_finite()).map(kept)?,
                    u: quantity.u,
                    unit: quantity.unit,
                })
            }
            Self::Seen { name, stage } => {
                let rows = run.observations.iter();
                let rows: Vec<&ObservationRow> = rows
                    .filter(|row| plain(&row.name) == *name)
                    .filter(|row| row.kind.is_some())
                    .filter(|row| stage.is_none() || row.stage == *stage)
                    .collect();
                // Values of different stages are different things.
                let first = rows.first()?;
                if rows.iter().any(|row| row.stage != first.stage) {
                    return None;
                }
                seen(&rows)
            }
        }
    }
}

/// A value to twelve digits. A mean of readings that are the same as others in another order differs in the sixteenth; judged to the last bit
/// such a value would lie beyond a limit that it equals.
pub(super) fn kept(value: f64) -> f64 {
    /// Readings have six at most, and sums of a thousand of them lose three of sixteen.
    const DIGITS: f64 = 12.0;
    /// Powers of ten are exact up to the 22nd; values whose digits need others stay as they are.
    const EXACT: std::ops::Range<f64> = 1e-9..1e9;
    if !EXACT.contains(&value.abs()) {
        return value;
    }
    let decimals = (DIGITS - 1.0 - value.abs().log10().floor()).max(0.0);
    let scale = 10_f64.powi(decimals as i32);
    (value * scale).round() / scale
}

/// The numbers of a sample, in one unit.
pub(super) struct Numbers<'a> {
    /// Runs that have one, with value and standard uncertainty.
    pub values: Vec<(&'a RunResult, f64, Option<f64>)>,
    /// Unit of all.
    pub unit: String,
}

impl<'a> Numbers<'a> {
    /// Those of a quantity that stands in a run.
    pub fn of_results(
        sample: &Sample<'a>,
        unit: &str,
        pick: impl Fn(&'a RunResult) -> Option<&'a Quantity>,
    ) -> Self {
        let values = sample.runs.iter().filter_map(|run| {
            let quantity = pick(run)?;
            let value = quantity.value.filter(|v| v.is_finite()).map(kept)?;
            Some((*run, value, quantity.u))
        });
        Self {
            values: values.collect(),
            unit: unit.to_owned(),
        }
    }

    /// Those of a target.
    ///
    /// # Errors
    /// Why they are no numbers in one unit.
    pub fn of(sample: &Sample<'a>, target: &Target) -> Result<Self, String> {
        let mut numbers = Self {
            values: Vec::new(),
            unit: target.unit().unwrap_or_default().to_owned(),
        };
        for run in &sample.runs {
            match target.value(run) {
                Some(Value::Number { value, u, unit }) => {
                    if numbers.unit.is_empty() {
                        numbers.unit.clone_from(&unit);
                    }
                    if unit != numbers.unit {
                        return Err(format!(
                            "{} is in {} and in {unit}",
                            target.path(),
                            numbers.unit
                        ));
                    }
                    numbers.values.push((run, value, u));
                }
                Some(Value::Grade(..) | Value::YesNo(_)) => {
                    return Err(format!(
                        "{} of {} is no number; `each_within` judges grades, yes and no",
                        target.path(),
                        run.run_id
                    ));
                }
                None => {}
            }
        }
        Ok(numbers)
    }

    /// The bare values.
    pub fn bare(&self) -> Vec<f64> {
        self.values.iter().map(|(_, value, _)| *value).collect()
    }

    /// Runs with their standard uncertainties.
    pub fn us(&self) -> Vec<(&'a RunResult, Option<f64>)> {
        self.values.iter().map(|(run, _, u)| (*run, *u)).collect()
    }

    /// Runs whose value lies on the bad side of a limit in their unit.
    pub fn beyond(&self, side: Side, limit: f64) -> Vec<&'a RunResult> {
        let beyond = self.values.iter();
        beyond
            .filter(|(_, value, _)| side.sign() * (value - limit) < 0.0)
            .map(|(run, _, _)| *run)
            .collect()
    }
}

/// Every path with its stage.
fn all() -> Vec<(String, &'static str, &'static Named)> {
    let once = NAMED.iter().map(|named| (named.path.to_owned(), "", named));
    let staged = FLOW_STAGES.iter().flat_map(|stage| {
        FLOW.iter()
            .map(|named| (named.path.replace('*', stage.word()), stage.word(), named))
    });
    once.chain(staged).collect()
}

/// Rows of one run as one value, as the statistics of observations take them: numbers averaged, pieces added up (of several observers the
/// highest sum), the highest grade, yes where any row says yes.
fn seen(rows: &[&ObservationRow]) -> Option<Value> {
    if rows.iter().any(|row| row.yes.is_some()) {
        return Some(Value::YesNo(rows.iter().any(|row| row.yes == Some(true))));
    }
    let grades = rows.iter();
    let grades = grades.filter_map(|row| Some((row.grade_rank?, row.grade.clone()?)));
    if let Some((rank, grade)) = grades.max() {
        return Some(Value::Grade(rank, grade));
    }
    let numbers: Vec<&Quantity> = rows
        .iter()
        .filter_map(|row| row.quantity.as_ref())
        .collect();
    let unit = numbers.first()?.unit.clone();
    if numbers.iter().any(|q| q.unit != unit) {
        return None;
    }
    let value = if unit == COUNTS {
        let mut sums: BTreeMap<Option<&str>, f64> = BTreeMap::new();
        for row in rows {
            let pieces = row.quantity.as_ref().and_then(|q| q.value);
            *sums.entry(row.observer.as_deref()).or_default() += pieces.unwrap_or(0.0);
        }
        sums.into_values().fold(0.0, f64::max)
    } else {
        let values: Vec<f64> = numbers.iter().filter_map(|q| q.value).collect();
        describe(&values).ok()?.mean
    };
    // Repeats by one hand share most of their error: the largest counts, not the largest over a root.
    let u = numbers.iter().map(|q| q.u).collect::<Option<Vec<f64>>>();
    Some(Value::Number {
        value,
        // Pieces are counted, not measured: without a stated uncertainty they have none.
        u: u.map(|u| u.into_iter().fold(0.0, f64::max))
            .filter(|u| *u > 0.0)
            .or((unit == COUNTS).then_some(0.0)),
        unit,
    })
}

/// Name of an observation as it is compared.
pub(super) fn plain(name: &str) -> String {
    let name = name.to_lowercase().replace(['_', '-'], " ");
    name.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// How a unit stands at the end of a key: `mm`, `cm2`, `n_per_mm`; empty for a pure number.
pub(super) fn ending(unit: &str) -> String {
    match unit {
        PURE => String::new(),
        "%" => "percent".to_owned(),
        "mL/s" => "ml_s".to_owned(),
        unit => unit.to_lowercase().replace('/', "_per_"),
    }
}

/// Factor from the unit of an ending to the unit of a quantity; `None` where they are of different kinds.
pub(super) fn factor(end: &str, unit: &str) -> Option<f64> {
    if end == ending(unit) {
        return Some(1.0);
    }
    let (from, to): (&Unit, &Unit) = (find_any(end)?, find_any(unit)?);
    // Raw readings have no common measure.
    let alike = from.dimension == to.dimension
        && (from.dimension != Dimension::Raw || from.symbol == to.symbol)
        && from.offset == to.offset;
    alike.then(|| from.factor / to.factor)
}
