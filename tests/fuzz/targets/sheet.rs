//! Any bytes as a workbook, or as a part of one: as a recording, as the tables of a study, and as `inspect` sees it.
#![no_main]

use hooptrace::read::{survey_from_bytes, tables_from_bytes, trace_from_bytes};
use hooptrace::rig::Rig;
use hooptrace_fuzz::{FILE, check_findings, check_inside, check_recording, rigs, wrapped};
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static AUTO: LazyLock<Option<Rig>> = LazyLock::new(|| rigs().into_iter().next());

const BOOK: &str = "study.xlsx";

fuzz_target!(|data: &[u8]| {
    let bytes = wrapped(data);
    if let Some(rig) = AUTO.as_ref() {
        match trace_from_bytes(bytes.clone(), FILE, rig) {
            Ok(recording) => {
                check_findings(&recording.findings, &[FILE], false);
                check_recording(&recording);
            }
            Err(findings) => check_findings(&findings, &[FILE], true),
        }
    }
    match survey_from_bytes(bytes.clone(), FILE, None) {
        Ok(survey) => check_findings(&survey.findings, &[FILE], false),
        Err(findings) => check_findings(&findings, &[FILE], true),
    }
    let files = [(BOOK.to_owned(), bytes)];
    match tables_from_bytes(&files, AUTO.as_ref()) {
        Ok((tables, findings, _)) => {
            check_findings(&findings, &[BOOK], false);
            for run in &tables.runs {
                run.trace
                    .iter()
                    .chain(&run.rig)
                    .for_each(|path| check_inside(path));
            }
        }
        Err(findings) => check_findings(&findings, &[BOOK, "runs.csv"], true),
    }
});
