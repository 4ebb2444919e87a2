//! The tables of a study as typed rows in bench units.

mod cells;
mod charts;
mod diameters;
mod flow;
mod images;
mod items;
mod known_observations;
mod listed;
mod observations;
mod row;
mod runs;
mod source;

use crate::recording::{Finding, Input, Place, Severity, StudyTables};
use crate::rig::Rig;
use source::{Sources, Table};
use std::path::Path;

/// What [`read_tables`] gives: the tables, what was doubtful, and the files read.
pub type TablesRead = (StudyTables, Vec<Finding>, Vec<Input>);

/// Reads every table of a study folder. Outlines in pixels without a scale of their own use the rig's.
///
/// A bad row is a finding and left out; the study goes on. Paths of recordings and rigs that leave the study folder are error
/// findings (`path-outside`) with the run's name, and the run keeps no such path.
///
/// # Errors
/// The findings where `runs.csv` (or the sheet `runs`) is missing or lacks `run_id` or `kind`.
pub fn read_tables(folder: &Path, rig: Option<&Rig>) -> Result<TablesRead, Vec<Finding>> {
    let sources = Sources::read(folder).map_err(|finding| vec![finding])?;
    tables_of(sources, folder, rig)
}

/// Reads tables from files that are in memory, each with its name (`runs.csv`, `study.xlsx`); no file is touched.
///
/// # Errors
/// As [`read_tables`].
pub fn tables_from_bytes(
    files: &[(String, Vec<u8>)],
    rig: Option<&Rig>,
) -> Result<TablesRead, Vec<Finding>> {
    // A folder that is nowhere: there are no links to follow.
    tables_of(Sources::of(files), Path::new(""), rig)
}

fn tables_of(
    mut sources: Sources,
    folder: &Path,
    rig: Option<&Rig>,
) -> Result<TablesRead, Vec<Finding>> {
    let mut findings = std::mem::take(&mut sources.findings);
    let Some(runs_table) = sources.table("runs") else {
        // A runs.csv that is there but cannot be read was told already.
        let told = findings.iter().any(|finding| {
            let file = finding.file.as_deref().unwrap_or_default();
            finding.severity == Severity::Error && file.to_lowercase().starts_with("runs.")
        });
        if told {
            return Err(findings);
        }
        findings.push(
            Finding::error("no-runs-table", "the study has no runs.csv, and no workbook with a sheet \"runs\"")
                .at(Place::file("runs.csv"))
                .help("add runs.csv with the columns run_id, kind, frame_id, balloon_id, arm, trace, operator, started_at, inspection, note"),
        );
        return Err(findings);
    };
    let first = findings.len();
    let runs = runs::runs(runs_table, folder, &mut findings);
    let runs = match runs {
        Ok(runs) => runs,
        Err(finding) => {
            findings.push(finding);
            runs_table.name_sheet(&mut findings[first..]);
            return Err(findings);
        }
    };
    runs_table.name_sheet(&mut findings[first..]);
    let tables = StudyTables {
        frames: rows(sources.table("frames"), &mut findings, items::frames),
        balloons: rows(sources.table("balloons"), &mut findings, items::balloons),
        charts: rows(sources.table("charts"), &mut findings, charts::charts),
        calipers: rows(
            sources.table("calipers"),
            &mut findings,
            diameters::calipers,
        ),
        contours: rows(
            sources.table("contours"),
            &mut findings,
            |table, findings| diameters::contours(table, rig, findings),
        ),
        photographs: rows(sources.table("images"), &mut findings, |table, findings| {
            images::images(table, folder, rig, findings)
        }),
        leaflets: rows(sources.table("leaflets"), &mut findings, images::leaflets),
        flows: rows(sources.table("flow"), &mut findings, flow::flows),
        observations: rows(
            sources.table("observations"),
            &mut findings,
            observations::observations,
        ),
        listed: listed::listed(&sources),
        runs,
    };
    let first = findings.len();
    runs::check_names(
        runs_table,
        &tables.runs,
        &tables.frames,
        &tables.balloons,
        &mut findings,
    );
    runs_table.name_sheet(&mut findings[first..]);
    check_runs(&sources, &tables, &mut findings);
    Ok((tables, findings, sources.inputs))
}

/// The rows of a table that may be missing.
fn rows<T>(
    table: Option<&Table>,
    findings: &mut Vec<Finding>,
    read: impl Fn(&Table, &mut Vec<Finding>) -> Vec<T>,
) -> Vec<T> {
    let Some(table) = table else {
        return Vec::new();
    };
    let first = findings.len();
    let rows = read(table, findings);
    table.name_sheet(&mut findings[first..]);
    rows
}

/// Rows about runs that nobody listed, once for each name and table.
fn check_runs(sources: &Sources, tables: &StudyTables, findings: &mut Vec<Finding>) {
    let known: std::collections::BTreeSet<&str> =
        tables.runs.iter().map(|run| run.run_id.as_str()).collect();
    for table in &sources.tables {
        let Some(column) = table.column("run_id").filter(|_| table.name != "runs") else {
            continue;
        };
        let mut told = std::collections::BTreeSet::new();
        let mut last = "";
        for row in table.rows.iter() {
            let name = row.get(column);
            // Rows of a run mostly follow each other.
            if name == last || known.contains(name) || told.contains(name) {
                last = name;
                continue;
            }
            told.insert(name);
            let mut finding = Finding::doubt(
                "run-not-listed",
                format!("the run {name} of {} is not listed in runs.csv", table.file),
            )
            .at(Place::cell(&table.file, row.line, "run_id"));
            finding.help = crate::recording::suggest(name, known.iter().copied())
                .map(|near| format!("is {near} meant?"));
            table.name_sheet(std::slice::from_mut(&mut finding));
            findings.push(finding);
        }
    }
}
