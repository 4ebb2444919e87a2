//! Any text as a `study.toml`.
#![no_main]

use hooptrace::rig::study_from_text;
use hooptrace_fuzz::{check_findings, check_inside};
use libfuzzer_sys::fuzz_target;
use std::path::Path;

const STUDY: &str = "study.toml";

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    match study_from_text(text, Path::new("")) {
        Ok((study, findings)) => {
            check_findings(&findings, &[STUDY], false);
            study
                .rig
                .iter()
                .chain(&study.protocol)
                .for_each(|path| check_inside(path));
        }
        Err(findings) => check_findings(&findings, &[STUDY], true),
    }
});
