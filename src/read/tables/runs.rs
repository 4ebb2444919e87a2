//! `runs.csv`: what was done, with what, and where the recording is.

use super::super::part::split_part;
use super::row::Row;
use super::source::Table;
use crate::recording::{
    BalloonRow, Finding, FrameRow, Inspection, RunKind, RunRow, Severity, suggest,
};
use crate::rig::TRACE_COLUMN;
use std::collections::BTreeMap;
use std::path::Path;

const KINDS: &[(&str, RunKind)] = &[
    ("blank", RunKind::Blank),
    ("free", RunKind::Free),
    ("frame", RunKind::Frame),
];

const INSPECTIONS: &[(&str, Inspection)] = &[
    ("fractured", Inspection::Fractured),
    ("intact", Inspection::Intact),
    ("burst", Inspection::Burst),
    ("leak", Inspection::Leak),
    ("slip", Inspection::Slip),
    ("blank", Inspection::Blank),
];

const KNOWN: &[&str] = &[
    "run_id",
    "kind",
    "frame_id",
    "balloon_id",
    "arm",
    "trace",
    "rig",
    "operator",
    "started_at",
    "inspection",
    "inner_valve",
    "note",
];

/// Reads the runs.
///
/// # Errors
/// The error finding for columns without which no run can be read.
pub(super) fn runs(
    table: &Table,
    folder: &Path,
    findings: &mut Vec<Finding>,
) -> Result<Vec<RunRow>, Finding> {
    if let Some(error) = table.missing(&["run_id", "kind"]) {
        return Err(error);
    }
    findings.extend(table.ungrouped(KNOWN, &[TRACE_COLUMN]));
    if table.rows.len() == 0 {
        findings.push(
            table
                .at_header(Finding::error(
                    "no-runs",
                    format!("{} lists no run", table.file),
                ))
                .help("add one row a run: run_id, kind, frame_id, balloon_id, arm, trace, ..."),
        );
    }
    let mut runs: Vec<RunRow> = Vec::new();
    let mut lines: BTreeMap<String, u64> = BTreeMap::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some(run) = run(&mut row, folder, table) else {
            continue;
        };
        if let Some(first) = lines.get(&run.run_id) {
            row.report(
                Severity::Error,
                "run-twice",
                "run_id",
                format!(
                    "the run {} is listed twice, first on line {first}; this row was left out",
                    run.run_id
                ),
                Some("give every run a name of its own".to_owned()),
            );
            continue;
        }
        lines.insert(run.run_id.clone(), run.line);
        runs.push(run);
    }
    Ok(runs)
}

fn run(row: &mut Row<'_, '_>, folder: &Path, table: &Table) -> Option<RunRow> {
    let run_id = row.needed("run_id")?.to_owned();
    let kind = match row.word("kind", KINDS, Severity::Error) {
        Ok(Some(kind)) => kind,
        Ok(None) => {
            row.needed("kind");
            return None;
        }
        Err(()) => return None,
    };
    let inspection = row
        .word("inspection", INSPECTIONS, Severity::Doubt)
        .ok()
        .flatten();
    Some(RunRow {
        run_id,
        kind,
        frame_id: row.owned("frame_id"),
        balloon_id: row.owned("balloon_id"),
        arm: row.owned("arm"),
        trace: inner(row, folder, "trace"),
        rig: inner(row, folder, "rig"),
        further: table
            .columns
            .iter()
            .filter(|column| column.starts_with(TRACE_COLUMN))
            .filter_map(|column| Some((column.clone(), inner(row, folder, column)?)))
            .collect(),
        operator: row.owned("operator"),
        started_at: row.owned("started_at"),
        inspection,
        inner_valve: row.owned("inner_valve"),
        inner_valve_told: table.columns.iter().any(|column| column == "inner_valve"),
        note: row.owned("note"),
        file: table.file.clone(),
        line: row.line,
    })
}

/// A path that stays in the study; any other is an error of the run and never opened.
pub(super) fn inner(row: &mut Row<'_, '_>, folder: &Path, column: &str) -> Option<String> {
    let text = row.text(column)?;
    // What stands behind a # is a part of the file, unless the file itself is named so.
    let whole = column != "trace" || folder.join(text).exists();
    let file = if whole { text } else { split_part(text).0 };
    let part = text.get(file.len()..).unwrap_or_default();
    match crate::rig::inside(folder, file) {
        Ok(path) => Some(format!("{path}{part}")),
        Err(reason) => {
            row.report(
                Severity::Error,
                "path-outside",
                column,
                format!("{column} \"{text}\": {reason}"),
                Some(
                    "put the file into the study folder and name it relative to that folder"
                        .to_owned(),
                ),
            );
            None
        }
    }
}

/// Names of frames and balloons that no table lists.
pub(super) fn check_names(
    table: &Table,
    runs: &[RunRow],
    frames: &[FrameRow],
    balloons: &[BalloonRow],
    findings: &mut Vec<Finding>,
) {
    let frame_ids: Vec<&str> = frames.iter().map(|frame| frame.frame_id.as_str()).collect();
    let balloon_ids: Vec<&str> = balloons
        .iter()
        .map(|balloon| balloon.balloon_id.as_str())
        .collect();
    for run in runs {
        for (what, name, known) in [
            ("frame", &run.frame_id, &frame_ids),
            ("balloon", &run.balloon_id, &balloon_ids),
        ] {
            let Some(name) = name else { continue };
            if known.contains(&name.as_str()) {
                continue;
            }
            let mut finding = Finding::doubt(
                &format!("{what}-not-listed"),
                format!(
                    "the {what} {name} of run {} is not in {what}s.csv: nothing is known of it",
                    run.run_id
                ),
            )
            .at(crate::recording::Place::cell(
                &table.file,
                run.line,
                format!("{what}_id"),
            ))
            .run(&run.run_id);
            finding.help = Some(match suggest(name, known.iter().copied()) {
                Some(near) => format!("is {near} meant?"),
                None => format!("add a row for it to {what}s.csv"),
            });
            findings.push(finding);
        }
        if run.kind == RunKind::Frame && run.frame_id.is_none() {
            findings.push(
                Finding::doubt(
                    "frame-not-named",
                    format!("run {} is of kind frame, but names no frame_id", run.run_id),
                )
                .at(crate::recording::Place::cell(
                    &table.file,
                    run.line,
                    "frame_id",
                ))
                .run(&run.run_id),
            );
        }
    }
}
