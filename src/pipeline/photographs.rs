//! Photographs of a run: read, measured and let go one after the other, so that only one is held at a time.

use super::Study;
use crate::measure::photograph;
use crate::read;
use crate::recording::{
    Finding, Input, LeafletResult, LeafletRow, PhotographResult, Place, RunRow,
};

/// What the photographs of a run say.
#[derive(Default)]
pub(super) struct Photographed {
    /// One a picture that could be measured.
    pub results: Vec<PhotographResult>,
    /// Free edges, by stage.
    pub leaflets: Vec<LeafletResult>,
    /// Doubts.
    pub findings: Vec<Finding>,
    /// The files read.
    pub inputs: Vec<Input>,
}

/// Measures every photograph listed for a run; `draw` keeps a small copy of each.
pub(super) fn measure(study: &Study, run: &RunRow, draw: bool) -> Photographed {
    let mut photographed = Photographed::default();
    let of_run = |row: &&crate::recording::PhotographRow| row.run_id == run.run_id;
    for row in study.tables.photographs.iter().filter(of_run) {
        match read::read_picture(&study.folder.join(&row.file), &row.file) {
            Ok((picture, input)) => {
                photographed.inputs.push(input);
                let (result, findings) = photograph::photograph(picture, row, draw);
                photographed.results.extend(result);
                photographed.findings.extend(findings);
            }
            Err((mut finding, input)) => {
                photographed.inputs.extend(input);
                // The picture itself is named in the message; the place is the row that lists it.
                finding = finding.at(Place::cell(&row.table, row.line, "file"));
                photographed.findings.push(finding.run(&run.run_id));
            }
        }
    }
    let of_run = |row: &&LeafletRow| row.run_id == run.run_id;
    let edges: Vec<&LeafletRow> = study.tables.leaflets.iter().filter(of_run).collect();
    let (leaflets, findings) = photograph::leaflets(&edges);
    photographed.leaflets = leaflets;
    photographed.findings.extend(findings);
    photographed
}
