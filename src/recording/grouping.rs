//! What the runs of a study are grouped by.

use super::RunResult;
use std::collections::BTreeMap;

/// A column runs can be grouped by.
#[derive(Debug)]
pub struct Grouping {
    /// Its name in `group_by`.
    pub name: &'static str,
    /// The words of a run; `None` where nothing is known.
    pub of: fn(&RunResult) -> Option<String>,
    /// Name of the group of runs without it, where others have it.
    pub without: &'static str,
    /// Place on an ordered scale, for tests of a trend; `None` for columns without an order.
    pub score: Option<fn(&RunResult) -> Option<f64>>,
}

/// The columns that are known: by these a run is grouped whatever its tables call them. A newcomer is a line here.
pub const GROUPINGS: &[Grouping] = &[
    Grouping {
        name: "arm",
        of: |run| words(run.arm.as_deref()),
        without: "no arm",
        score: None,
    },
    Grouping {
        name: "construction",
        of: |run| words(run.setup.construction.as_deref()),
        without: "no construction",
        score: None,
    },
    Grouping {
        name: "label_size",
        of: |run| run.setup.label_size_mm.map(|mm| format!("label {mm}")),
        without: "no label size",
        score: Some(|run| run.setup.label_size_mm),
    },
    Grouping {
        name: "balloon",
        of: |run| words(run.balloon_id.as_deref()),
        without: "no balloon",
        score: None,
    },
    Grouping {
        name: "balloon_model",
        of: |run| words(run.setup.balloon_model.as_deref()),
        without: "unknown balloon model",
        score: None,
    },
    Grouping {
        name: "operator",
        of: |run| words(run.operator.as_deref()),
        without: "no operator",
        score: None,
    },
    Grouping {
        name: "oversize",
        of: |run| oversize_class(run).map(|mm| format!("oversize {mm} to {} mm", mm + 1.0)),
        without: "unknown oversize",
        score: Some(|run| oversize_class(run).map(|mm| mm + 0.5)),
    },
    Grouping {
        name: "inner_valve",
        of: |run| words(run.inner_valve.as_deref()),
        without: "no inner valve",
        score: None,
    },
];

fn words(text: Option<&str>) -> Option<String> {
    let text = text.map(str::trim).filter(|text| !text.is_empty());
    text.map(str::to_owned)
}

/// Oversize against the true inner diameter, rounded down to whole mm.
fn oversize_class(run: &RunResult) -> Option<f64> {
    let mm = run.frame.as_ref()?.oversize_true_id.value?;
    // Never -0.
    mm.is_finite().then(|| mm.floor() + 0.0)
}

/// A column that the runs of a study are grouped by.
#[derive(Debug, Clone)]
pub enum GroupColumn {
    /// One that is known.
    Known(&'static Grouping),
    /// Any other of the tables of runs, frames and balloons, by its name: `surface` makes the groups `surface rough` and `surface smooth`.
    Listed(String),
}

impl PartialEq for GroupColumn {
    fn eq(&self, other: &Self) -> bool {
        self.name() == other.name()
    }
}

impl GroupColumn {
    /// Its name in `group_by`.
    pub fn name(&self) -> &str {
        match self {
            Self::Known(column) => column.name,
            Self::Listed(name) => name,
        }
    }

    /// The words of a run; `None` where nothing is known.
    pub fn of(&self, run: &RunResult) -> Option<String> {
        match self {
            Self::Known(column) => (column.of)(run),
            Self::Listed(name) => {
                let cell = run.setup.listed.get(name)?;
                Some(format!("{name} {cell}"))
            }
        }
    }

    /// Name of the group of runs without it, where others have it.
    pub fn without(&self) -> String {
        match self {
            Self::Known(column) => column.without.to_owned(),
            Self::Listed(name) => format!("no {name}"),
        }
    }

    /// Place of a run on an ordered scale; `None` for columns without an order, and for cells that are no numbers.
    pub fn score(&self, run: &RunResult) -> Option<f64> {
        match self {
            Self::Known(column) => column.score.and_then(|score| score(run)),
            Self::Listed(name) => {
                let number = run.setup.listed.get(name)?.parse::<f64>().ok();
                number.filter(|number| number.is_finite())
            }
        }
    }
}

/// Columns the runs of a study are grouped by, in order; none of them puts all runs into one group.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupBy {
    columns: Vec<GroupColumn>,
}

impl Default for GroupBy {
    /// By arm.
    fn default() -> Self {
        Self {
            columns: GROUPINGS
                .first()
                .map(GroupColumn::Known)
                .into_iter()
                .collect(),
        }
    }
}

impl GroupBy {
    /// Name of the only group where the columns tell no run from another.
    const ALL: &'static str = "all";

    /// The columns of these names, in lower case as those of the tables; what is none of [`GROUPINGS`] is looked for in the tables.
    pub fn of(names: &[String]) -> Self {
        let mut columns: Vec<GroupColumn> = Vec::new();
        for name in names {
            let wanted = name.trim().to_lowercase();
            let known = GROUPINGS.iter().find(|column| column.name == wanted);
            let column = known.map_or(GroupColumn::Listed(wanted), GroupColumn::Known);
            if !columns.contains(&column) {
                columns.push(column);
            }
        }
        Self { columns }
    }

    /// The columns.
    pub fn columns(&self) -> impl Iterator<Item = &GroupColumn> {
        self.columns.iter()
    }

    /// Names of those that are looked for in the tables.
    pub fn listed(&self) -> impl Iterator<Item = &str> {
        self.columns.iter().filter_map(|column| match column {
            GroupColumn::Known(_) => None,
            GroupColumn::Listed(name) => Some(name.as_str()),
        })
    }

    /// Their names, as results carry them: `construction, balloon`.
    pub fn words(&self) -> String {
        let names: Vec<&str> = self.columns().map(GroupColumn::name).collect();
        names.join(", ")
    }

    /// True where a column of this name is among them.
    pub fn has(&self, name: &str) -> bool {
        self.columns().any(|column| column.name() == name)
    }

    /// The name of the group of each run: `moulded / B-22`. A column that no run has is left out of the names.
    pub fn names(&self, runs: &[&RunResult]) -> Vec<String> {
        let mut names = vec![Vec::new(); runs.len()];
        for column in self.columns() {
            let values: Vec<Option<String>> = runs.iter().map(|run| column.of(run)).collect();
            if values.iter().all(Option::is_none) {
                continue;
            }
            for (name, value) in names.iter_mut().zip(values) {
                name.push(value.unwrap_or_else(|| column.without()));
            }
        }
        names
            .into_iter()
            .map(|parts| {
                if parts.is_empty() {
                    Self::ALL.to_owned()
                } else {
                    parts.join(" / ")
                }
            })
            .collect()
    }
}

/// What a run was done with and how, as far as groups are made of it or should not mix it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Setup {
    /// Construction class of the frame as listed.
    pub construction: Option<String>,
    /// Label size of the frame, mm.
    pub label_size_mm: Option<f64>,
    /// True where the runs table has the column `inner_valve`, so that an empty cell says that none was in the ring.
    pub inner_valve_told: bool,
    /// Labelled diameter and length of the balloon: `24 × 40 mm`.
    pub balloon_model: Option<String>,
    /// Nominal and rated burst pressure of the balloon as labelled: `nominal 5 and rated 16 atm`.
    pub balloon_label: Option<String>,
    /// Mean rise of pressure while volume went in, kPa/s.
    pub rise_kpa_s: Option<f64>,
    /// Mean temperature, °C, where a channel tells it.
    pub temperature_degc: Option<f64>,
    /// What its fracture is set against, as planned before the run, in bench units (kPa, mm); `None` where the study names no such column, or
    /// the run has no number there.
    pub planned_dose: Option<f64>,
    /// What the tables list of it in the other columns that the study groups by.
    pub listed: BTreeMap<String, String>,
}
