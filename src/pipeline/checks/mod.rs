//! What is doubtful about a study as a whole, seen from its tables, rigs and files alone. Each check is a function from plain
//! data to findings, in a file of its own, and one line of [`CHECKS`].

mod arms;
mod gauge;
mod inspected;
mod recordings;
mod reference_runs;
mod rig_says;
mod sizes;
mod stages;
mod started;
mod unused;

use crate::judge::Protocol;
use crate::recording::{Finding, Input, Place, RunRow, StudyTables};
use crate::rig::Rig;
use std::collections::BTreeMap;

/// What the checks look at.
pub struct Facts<'s> {
    /// The tables.
    pub tables: &'s StudyTables,
    /// The rig of the study.
    pub rig: &'s Rig,
    /// Rigs that single runs name, by their path.
    pub rigs: &'s BTreeMap<String, Rig>,
    /// The protocol, if there is one.
    pub protocol: Option<&'s Protocol>,
    /// True where the groups that a protocol speaks of are the arms.
    pub by_arm: bool,
    /// Files read besides recordings.
    pub inputs: &'s [Input],
    /// The recordings of each run, in the order of the runs.
    pub recordings: &'s [Recorded],
    /// Files in the folder of recordings.
    pub files: &'s [String],
}

/// The files recorded of a run, as far as they could be opened.
#[derive(Debug, Clone, Default)]
pub struct Recorded {
    /// The main recording.
    pub main: Option<Input>,
    /// Further recordings, each with the column of the runs table that names it.
    pub further: Vec<(String, Input)>,
}

impl Facts<'_> {
    /// The rig of a run; `None` where it could not be loaded.
    fn rig_of(&self, run: &RunRow) -> Option<&Rig> {
        match &run.rig {
            None => Some(self.rig),
            Some(path) => self.rigs.get(path),
        }
    }

    /// The file a table was read from.
    fn table(&self, name: &str) -> Place {
        Place::file(table_file(self.inputs, name))
    }
}

/// The file a table was read from: its own, else the workbook.
pub(super) fn table_file(inputs: &[Input], name: &str) -> String {
    let stem = |path: &str| {
        let lower = path.to_lowercase();
        lower.rsplit_once('.').map(|(stem, _)| stem.to_owned())
    };
    let book = |path: &str| {
        let lower = path.to_lowercase();
        [".xlsx", ".xlsm", ".xls", ".ods"]
            .iter()
            .any(|ending| lower.ends_with(ending))
    };
    let paths = || inputs.iter().map(|input| input.path.as_str());
    let file = paths()
        .find(|path| stem(path).as_deref() == Some(name))
        .or_else(|| paths().find(|path| book(path)));
    file.map_or_else(|| format!("{name}.csv"), str::to_owned)
}

/// A finding at a cell of the runs table, about that run.
fn at_run(finding: Finding, run: &RunRow, column: &str) -> Finding {
    finding
        .at(Place::cell(&run.file, run.line, column))
        .run(&run.run_id)
}

/// One question about a study.
pub struct Check {
    /// Its name, in kebab-case.
    pub name: &'static str,
    /// The answer: a finding for everything doubtful.
    pub look: fn(&Facts<'_>) -> Vec<Finding>,
}

/// Every check, in the order of the report.
pub const CHECKS: &[Check] = &[
    Check {
        name: "reference-runs",
        look: reference_runs::look,
    },
    Check {
        name: "rig-says",
        look: rig_says::look,
    },
    Check {
        name: "gauge",
        look: gauge::look,
    },
    Check {
        name: "unused",
        look: unused::look,
    },
    Check {
        name: "sizes",
        look: sizes::look,
    },
    Check {
        name: "arms",
        look: arms::look,
    },
    Check {
        name: "recordings",
        look: recordings::look,
    },
    Check {
        name: "stages",
        look: stages::look,
    },
    Check {
        name: "inspected",
        look: inspected::look,
    },
    Check {
        name: "started",
        look: started::look,
    },
];
