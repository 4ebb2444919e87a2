//! Any bytes as a recording, with one of several rigs: read, then calibrated.
#![no_main]

use hooptrace::calibrate::calibrate;
use hooptrace::read::trace_from_bytes;
use hooptrace::rig::{Rig, Settings};
use hooptrace_fuzz::{FILE, check_findings, check_recording, check_trace, rigs, run};
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static RIGS: LazyLock<Vec<Rig>> = LazyLock::new(rigs);

fuzz_target!(|data: &[u8]| {
    let Some((which, bytes)) = data.split_first() else {
        return;
    };
    let rig = &RIGS[usize::from(*which) % RIGS.len()];
    let recording = match trace_from_bytes(bytes.to_vec(), FILE, rig) {
        Ok(recording) => recording,
        Err(findings) => return check_findings(&findings, &[FILE], true),
    };
    check_findings(&recording.findings, &[FILE], false);
    check_recording(&recording);
    // Whether the calibration was in date is a matter of the row in runs.csv.
    let files = [FILE, &rig.file, "runs.csv"];
    match calibrate(recording.clone(), rig, &run(), &Settings::default(), None) {
        Ok((trace, findings)) => {
            check_findings(&findings, &files, false);
            check_trace(&trace, &recording);
        }
        Err(findings) => check_findings(&findings, &files, true),
    }
});
