//! Any bytes as one of the tables of a study.
#![no_main]

use hooptrace::read::tables_from_bytes;
use hooptrace::rig::Rig;
use hooptrace_fuzz::{check_findings, check_inside, rigs};
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static RIG: LazyLock<Option<Rig>> = LazyLock::new(|| rigs().into_iter().nth(1));

const RUNS: &str = "run_id,kind,frame_id,balloon_id,trace,inspection\nx,frame,F,B,traces/x.csv,fractured\ny,free,,B,traces/y.csv,\n";
const TABLES: &[&str] = &[
    "runs.csv",
    "calipers.csv",
    "contours.csv",
    "flow.csv",
    "frames.csv",
    "balloons.csv",
    "charts.csv",
    "observations.csv",
];

fuzz_target!(|data: &[u8]| {
    let Some((which, bytes)) = data.split_first() else {
        return;
    };
    let name = TABLES[usize::from(*which) % TABLES.len()];
    let mut files = vec![(name.to_owned(), bytes.to_vec())];
    if name != "runs.csv" {
        files.push(("runs.csv".to_owned(), RUNS.into()));
    }
    match tables_from_bytes(&files, RIG.as_ref()) {
        Ok((tables, findings, inputs)) => {
            check_findings(&findings, &[name, "runs.csv"], false);
            assert_eq!(inputs.len(), files.len());
            for run in &tables.runs {
                assert!(!run.run_id.is_empty());
                run.trace
                    .iter()
                    .chain(&run.rig)
                    .for_each(|path| check_inside(path));
            }
        }
        Err(findings) => check_findings(&findings, &[name, "runs.csv"], true),
    }
});
