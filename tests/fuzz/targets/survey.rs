//! Any bytes as `inspect` sees them; the rig it proposes must be a rig file.
#![no_main]

use hooptrace::cli::Inspection;
use hooptrace::read::survey_from_bytes;
use hooptrace::rig::rig_from_text;
use hooptrace_fuzz::{FILE, check_findings};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let survey = match survey_from_bytes(data.to_vec(), FILE, None) {
        Ok(survey) => survey,
        Err(findings) => return check_findings(&findings, &[FILE], true),
    };
    check_findings(&survey.findings, &[FILE], false);
    let rig = Inspection::of(survey, None).to_text();
    if let Err(findings) = rig_from_text(&rig, "proposed.toml") {
        panic!("proposed no rig file:\n{rig}\n{findings:?}");
    }
});
