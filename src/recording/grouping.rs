//! What the runs of a study are grouped by.

use super::{RunResult, suggest};

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

/// Every column runs can be grouped by. A newcomer is a line here.
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

/// Columns the runs of a study are grouped by, in order; none of them puts all runs into one group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GroupBy {
    places: Vec<usize>,
}

impl Default for GroupBy {
    /// By arm.
    fn default() -> Self {
        Self { places: vec![0] }
    }
}

impl GroupBy {
    /// Name of the only group where the columns tell no run from another.
    const ALL: &'static str = "all";

    /// The columns of these names.
    ///
    /// # Errors
    /// The first name that is none of [`GROUPINGS`], with the name it may have been meant for.
    pub fn of(names: &[String]) -> Result<Self, (String, Option<&'static str>)> {
        let mut places: Vec<usize> = Vec::new();
        for name in names {
            let wanted = name.trim();
            let Some(place) = GROUPINGS.iter().position(|column| column.name == wanted) else {
                let near = suggest(wanted, GROUPINGS.iter().map(|column| column.name));
                return Err((name.clone(), near));
            };
            if !places.contains(&place) {
                places.push(place);
            }
        }
        Ok(Self { places })
    }

    /// The columns.
    pub fn columns(&self) -> impl Iterator<Item = &'static Grouping> {
        self.places.iter().filter_map(|place| GROUPINGS.get(*place))
    }

    /// Their names, as results carry them: `construction, balloon`.
    pub fn words(&self) -> String {
        let names: Vec<&str> = self.columns().map(|column| column.name).collect();
        names.join(", ")
    }

    /// True where a column of this name is among them.
    pub fn has(&self, name: &str) -> bool {
        self.columns().any(|column| column.name == name)
    }

    /// The name of the group of each run: `moulded / B-22`. A column that no run has is left out of the names.
    pub fn names(&self, runs: &[&RunResult]) -> Vec<String> {
        let mut names = vec![Vec::new(); runs.len()];
        for column in self.columns() {
            let values: Vec<Option<String>> = runs.iter().map(|run| (column.of)(run)).collect();
            if values.iter().all(Option::is_none) {
                continue;
            }
            for (name, value) in names.iter_mut().zip(values) {
                name.push(value.unwrap_or_else(|| column.without.to_owned()));
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
    /// Mean rise of pressure while volume went in, kPa/s.
    pub rise_kpa_s: Option<f64>,
    /// Mean temperature, °C, where a channel tells it.
    pub temperature_degc: Option<f64>,
}
