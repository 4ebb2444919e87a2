//! A study from its folder: study file, rigs, tables and protocol, with every fault of all of them at once.

use super::Study;
use super::checks::table_file;
use super::setup::ids;
use super::spellings::spellings;
use crate::judge::{Protocol, load_protocol};
use crate::measure;
use crate::read;
use crate::recording::{
    Finding, GROUPINGS, GaugeMethod, GroupBy, Input, Place, RunKind, StudyTables, suggest,
};
use crate::rig::{Rig, StudyFile, load_rig, load_study, rig_from_text};
use std::collections::BTreeMap;
use std::path::Path;

/// Reads study file, rigs, tables and protocol.
///
/// # Errors
///
/// The findings of all of them, where at least one leaves nothing to analyse: no study file, a faulty rig of the study, no runs
/// table, a faulty protocol.
pub fn open_study(folder: &Path) -> Result<Study, Vec<Finding>> {
    let mut parts = Parts::default();
    let Some(mut file) = parts.keep(load_study(folder)) else {
        // Without its names neither rig nor protocol can be had, but the tables can; a folder without the file is no study at all.
        if folder.join("study.toml").exists() {
            parts.tables(folder, None);
        }
        return Err(parts.findings);
    };
    parts
        .inputs
        .extend(read::fingerprint(&folder.join("study.toml"), "study.toml"));
    let rig = parts.rig(folder, &file);
    let mut tables = parts.tables(folder, rig.as_ref());
    let rigs = tables
        .as_ref()
        .map_or_else(BTreeMap::new, |tables| parts.rigs_of_runs(folder, tables));
    if let Some(tables) = &mut tables {
        let steps = rig.iter().chain(rigs.values());
        let step_mm = steps
            .filter_map(|rig| rig.caliper_resolution_mm)
            .reduce(f64::max);
        parts.slips(tables, step_mm);
    }
    if let Some(tables) = &tables {
        parts.group_by(&mut file, tables);
        parts.fracture_against(&mut file, tables);
        parts
            .findings
            .extend(spellings(tables, &file.series.group_by));
    }
    let protocol = parts.protocol(folder, &file);
    match (rig, tables, protocol) {
        (Some(rig), Some(tables), Some(protocol)) => Ok(Study {
            folder: folder.to_owned(),
            file,
            rig,
            rigs,
            repeatability: measure::repeatability(&tables.calipers, GaugeMethod::Caliper),
            tables,
            protocol,
            inputs: parts.inputs,
            findings_of: by_run(&parts.findings),
            findings: parts.findings,
        }),
        _ => Err(parts.findings),
    }
}

/// The positions of the findings about each run.
fn by_run(findings: &[Finding]) -> BTreeMap<String, Vec<usize>> {
    let mut places: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (at, finding) in findings.iter().enumerate() {
        if let Some(run_id) = &finding.run_id {
            places.entry(run_id.clone()).or_default().push(at);
        }
    }
    places
}

/// What was read of a study so far, and what was doubtful or wrong in it.
#[derive(Default)]
struct Parts {
    inputs: Vec<Input>,
    findings: Vec<Finding>,
}

impl Parts {
    /// The thing loaded; its findings are kept either way.
    fn keep<T>(&mut self, loaded: Result<(T, Vec<Finding>), Vec<Finding>>) -> Option<T> {
        match loaded {
            Ok((thing, findings)) => {
                self.findings.extend(findings);
                Some(thing)
            }
            Err(findings) => {
                self.findings.extend(findings);
                None
            }
        }
    }

    /// The rig of the study; one of which nothing is declared where the study names none.
    fn rig(&mut self, folder: &Path, file: &StudyFile) -> Option<Rig> {
        match &file.rig {
            None => self.keep(rig_from_text("", "study.toml")),
            Some(path) => {
                self.inputs
                    .extend(read::fingerprint(&folder.join(path), path));
                self.keep(load_rig(&folder.join(path), path))
            }
        }
    }

    fn tables(&mut self, folder: &Path, rig: Option<&Rig>) -> Option<StudyTables> {
        let read = read::read_tables(folder, rig).map(|(tables, findings, inputs)| {
            self.inputs.extend(inputs);
            (tables, findings)
        });
        self.keep(read)
    }

    /// What runs are grouped by must be a column of a table, or one that is known; a study that names another is grouped by arm.
    fn group_by(&mut self, file: &mut StudyFile, tables: &StudyTables) {
        let series = &mut file.series;
        let listed = |name: &str| tables.listed.columns().any(|column| column == name);
        let Some(wrong) = series.group_by.listed().find(|name| !listed(name)) else {
            return;
        };
        let known: Vec<&str> = GROUPINGS.iter().map(|column| column.name).collect();
        let near = suggest(wrong, known.iter().copied().chain(tables.listed.columns()));
        let mut finding = Finding::error(
            "group-by",
            format!(
                "`group_by` names \"{wrong}\"; expected a column of the tables of runs, frames or balloons, or any of {}",
                known.join(", ")
            ),
        )
        .at(series.group_by_at.clone().unwrap_or_else(|| Place::file("study.toml")));
        finding.effect = Some("the runs are grouped by arm".to_owned());
        finding.help = near.map(|near| format!("did you mean \"{near}\"?"));
        self.findings.push(finding);
        series.group_by = GroupBy::default();
    }

    /// What fracture is set against must be a column of a table, and of frame runs a number.
    fn fracture_against(&mut self, file: &mut StudyFile, tables: &StudyTables) {
        let Some(against) = &file.series.fracture_against else {
            return;
        };
        let column = against.column.as_str();
        if !tables.listed.columns().any(|known| known == column) {
            let near = suggest(column, tables.listed.columns());
            let mut finding = Finding::error(
                "fracture-against",
                format!("`fracture_against` names \"{column}\"; expected a column of the tables of runs, frames or balloons"),
            )
            .at(against.at.clone())
            .effect("fracture is set against nothing planned");
            finding.help = near.map(|near| format!("did you mean \"{near}\"?"));
            self.findings.push(finding);
            file.series.fracture_against = None;
            return;
        }
        let frames = tables.runs.iter().filter(|run| run.kind == RunKind::Frame);
        for run in frames {
            let Some(cell) = tables.listed.cell(column, ids(run)) else {
                continue;
            };
            if let Err(expected) = against.level(&cell) {
                self.findings.push(
                    Finding::doubt(
                        "not-a-number",
                        format!(
                            "{column} of run {} is \"{}\"; {expected} was expected",
                            run.run_id, cell.text
                        ),
                    )
                    .at(cell.at)
                    .run(&run.run_id)
                    .effect(format!(
                        "the run is left out of the curve of fracture against the {}",
                        against.name
                    )),
                );
            }
        }
    }

    /// Marks the readings that stand off, each with its row.
    fn slips(&mut self, tables: &mut StudyTables, step_mm: Option<f64>) {
        let file = table_file(&self.inputs, "calipers");
        let slips = measure::mark_slips(&mut tables.calipers, step_mm);
        self.findings.extend(
            slips
                .into_iter()
                .map(|(line, slip)| slip.at(Place::cell(&file, line, "value"))),
        );
    }

    /// Rigs that single runs name. A faulty one is the trouble of its runs only.
    fn rigs_of_runs(&mut self, folder: &Path, tables: &StudyTables) -> BTreeMap<String, Rig> {
        let mut rigs = BTreeMap::new();
        let mut seen: Vec<&String> = Vec::new();
        for path in tables.runs.iter().filter_map(|run| run.rig.as_ref()) {
            if seen.contains(&path) {
                continue;
            }
            seen.push(path);
            if let Some(rig) = self.keep(load_rig(&folder.join(path), path)) {
                rigs.insert(path.clone(), rig);
            }
            self.inputs
                .extend(read::fingerprint(&folder.join(path), path));
        }
        rigs
    }

    /// The protocol: `Some(None)` where the study names none, `None` where it is faulty.
    #[allow(clippy::option_option)]
    fn protocol(&mut self, folder: &Path, file: &StudyFile) -> Option<Option<Protocol>> {
        let Some(path) = &file.protocol else {
            return Some(None);
        };
        self.inputs
            .extend(read::fingerprint(&folder.join(path), path));
        let loaded = load_protocol(&folder.join(path), path).map(|p| (Some(p), Vec::new()));
        self.keep(loaded)
    }
}
