//! Inputs that a fuzz target (`tests/fuzz/`) once found to break a rule, each cut down to what breaks it.

use hooptrace::calibrate::calibrate;
use hooptrace::read::{tables_from_bytes, trace_from_bytes};
use hooptrace::recording::RunRow;
use hooptrace::rig::{Settings, rig_from_text};

/// A run with nothing but a name.
fn run() -> RunRow {
    let table = b"run_id,kind,trace\nx,frame,traces/x.csv\n".to_vec();
    let (tables, ..) = tables_from_bytes(&[("runs.csv".to_owned(), table)], None).unwrap();
    tables.runs.into_iter().next().unwrap()
}

/// A channel that was looked for stands on no line of the rig file; lines count from 1.
#[test]
fn a_channel_the_rig_does_not_list_has_no_line() {
    let (rig, _) = rig_from_text("", "rig.toml").unwrap();
    let mut text = "time [s],pressure [kPa]\n".to_owned();
    for at in 0..40 {
        text.push_str(&format!("{at},{}\n", at * at));
    }
    let recording = trace_from_bytes(text.into_bytes(), "t.csv", &rig).unwrap();
    let (_, findings) = calibrate(recording, &rig, &run(), &Settings::default()).unwrap();
    let finding = findings
        .iter()
        .find(|finding| finding.code == "no-pressure-uncertainty")
        .unwrap();
    assert_eq!(
        (finding.file.as_deref(), finding.line),
        (Some("rig.toml"), None)
    );
}
