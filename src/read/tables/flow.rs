//! `flow.csv`: the pulse duplicator.

use super::row::{Places, Row, STAGES};
use super::source::Table;
use crate::recording::{Finding, FlowRecord, Place, Severity};
use crate::units::{Dimension, find};

/// Reads the flow recordings.
pub(super) fn flows(table: &Table, findings: &mut Vec<Finding>) -> Vec<FlowRecord> {
    if let Some(error) = table.missing(&["run_id", "stage"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(&["run_id", "stage"], &["time", "flow", "dp"]));
    let time = table.unit_column("time", Dimension::Time);
    let flow = table.unit_column("flow", Dimension::Flow);
    let dp = table.unit_column("dp", Dimension::Pressure);
    let (Some(time), Some(flow), Some(dp)) = (time, flow, dp) else {
        let missing: Vec<&str> = [
            ("time_s", time.is_none()),
            ("flow_<unit> (flow_ml_s, flow_l_min)", flow.is_none()),
            (
                "dp_<unit> (the gradient over the valve: dp_mmhg, dp_kpa)",
                dp.is_none(),
            ),
        ]
        .into_iter()
        .filter_map(|(name, missing)| missing.then_some(name))
        .collect();
        findings.push(
            table
                .at_header(Finding::doubt(
                    "flow-column-missing",
                    format!(
                        "{} has no column {}; no effective orifice area can be had from flow. It has {}",
                        table.file,
                        missing.join(", "),
                        table.columns.join(", ")
                    ),
                ))
                .help("export time, flow and pressure difference with the unit in the name of the column"),
        );
        return Vec::new();
    };
    // kPa to mmHg through the table of units, so that there is one factor.
    let mmhg = find("mmHg").map_or(0.133_322_387_415, |unit| unit.factor);
    let mut records: Vec<FlowRecord> = Vec::new();
    let mut places = Places::default();
    let mut lost: (usize, u64) = (0, 0);
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some((run_id, stage)) = row.run_and_stage() else {
            continue;
        };
        let mut read = |at: usize, name: &str| {
            row.number_at(Some(at), name, Severity::Doubt)
                .ok()
                .flatten()
        };
        let values = (
            read(time.at, "time"),
            read(flow.at, "flow"),
            read(dp.at, "dp"),
        );
        let line = row.line;
        let (Some(t), Some(q), Some(p)) = values else {
            lost = (lost.0 + 1, if lost.0 == 0 { line } else { lost.1 });
            continue;
        };
        let at = places.of((run_id, stage), records.len());
        if at == records.len() {
            records.push(FlowRecord {
                run_id: run_id.to_owned(),
                stage,
                time_s: Vec::new(),
                flow_ml_s: Vec::new(),
                dp_mmhg: Vec::new(),
                line,
            });
        }
        if let Some(record) = records.get_mut(at) {
            record.time_s.push(time.unit.to_bench(t));
            record.flow_ml_s.push(flow.unit.to_bench(q));
            record.dp_mmhg.push(dp.unit.to_bench(p) / mmhg);
        }
    }
    if lost.0 > 0 {
        findings.push(
            Finding::doubt(
                "flow-rows-lost",
                format!(
                    "{} rows of {} lack time, flow or gradient and were left out",
                    lost.0, table.file
                ),
            )
            .at(Place::line(&table.file, lost.1)),
        );
    }
    records.retain(|record| has_gradient(record, table, findings));
    records
}

/// A gradient that never leaves 0 was not measured.
fn has_gradient(record: &FlowRecord, table: &Table, findings: &mut Vec<Finding>) -> bool {
    let measured = record.dp_mmhg.iter().any(|dp| *dp != 0.0);
    if !measured {
        let stage = STAGES
            .iter()
            .find(|(_, stage)| *stage == record.stage)
            .map_or("", |(word, _)| word);
        findings.push(
            Finding::doubt(
                "flow-no-gradient",
                format!(
                    "the gradient dp of {} {stage} is 0 in all {} rows: no effective orifice area can be had from this flow record",
                    record.run_id,
                    record.dp_mmhg.len()
                ),
            )
            .at(Place::cell(&table.file, record.line, "dp"))
            .run(&record.run_id)
            .help("check that the pressure taps were connected, and export the gradient"),
        );
    }
    measured
}
