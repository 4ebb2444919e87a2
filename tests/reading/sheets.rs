//! Workbooks: XLSX, XLS and ODS, which sheet, dates, hidden rows. `tests/data/read/make_workbooks.py` says what was written.

use super::support::{auto, codes, rig};
use hooptrace::read::{read_tables, read_trace};
use hooptrace::recording::{RawRecording, Severity};

fn open(file: &str, declared: &str) -> Result<RawRecording, Vec<hooptrace::recording::Finding>> {
    let base = "[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n[[channel]]\nquantity = \"volume\"\nunit = \"auto\"\n";
    let path = format!("tests/data/read/{file}");
    read_trace(
        path.as_ref(),
        &format!("traces/{file}"),
        &rig(&format!("{declared}\n{base}")),
    )
}

#[test]
fn the_rig_or_the_trace_column_chooses_the_sheet() {
    let second = |recording: &RawRecording| {
        (0..20).all(|k| recording.channels[0].values[k] == 10.0 + 0.25 * k as f64)
    };
    for book in ["two_runs.xls", "two_runs.ods"] {
        let number = if book.ends_with("xls") { 3 } else { 2 };
        for declared in [
            "[dialect]\nsheet = \"run 2\"".to_owned(),
            "[dialect]\nsheet = \"RUN 2\"".to_owned(),
            format!("[dialect]\nsheet = {number}"),
        ] {
            let recording = open(book, &declared).unwrap();
            // The eighth pressure of the XLS is text with a decimal comma: 11,75.
            assert!(
                second(&recording),
                "{book} {declared}: {:?}",
                recording.channels[0].values
            );
            assert!(
                !codes(&recording).contains(&"sheet-chosen"),
                "{book} {declared}"
            );
        }
        assert!(
            second(&open(&format!("{book}#run 2"), "").unwrap()),
            "{book}"
        );
        let chosen = open(book, "").unwrap();
        assert_eq!(chosen.channels[0].values[4], 2.0, "{book}");
        // Another sheet is as full: that is a doubt.
        let told = chosen
            .findings
            .iter()
            .find(|f| f.code == "sheet-chosen")
            .unwrap();
        assert_eq!(told.severity, Severity::Doubt);
        assert!(
            told.message.contains("\"run 1\"") && told.message.contains("\"run 2\""),
            "{told}"
        );
    }
    let findings = open("two_runs.xls", "[dialect]\nsheet = \"run2\"").unwrap_err();
    let error = findings.last().unwrap();
    assert_eq!(error.code, "sheet-missing");
    assert_eq!(
        error.help.as_deref(),
        Some("did you mean sheet = \"run 2\"?")
    );
    assert!(open("two_runs.xls", "[dialect]\nsheet = 4").is_err());
}

#[test]
fn dates_of_1900_and_1904_and_hidden_rows() {
    for book in ["stamps_1904.xls", "stamps_1904.xlsx"] {
        let recording = open(book, "").unwrap();
        assert_eq!(
            recording.started_at.as_deref(),
            Some("2025-03-04T23:59:50.000"),
            "{book}"
        );
        for (at, time) in recording.time_s.iter().enumerate() {
            assert!((time - at as f64).abs() < 0.002, "{book}: {time} at {at}");
        }
        assert_eq!(recording.channels[0].values[6], 3.0, "{book}");
    }
    // The fuller sheet is hidden; rows 10 and 11 of the other are.
    let recording = open("stamps_1904.xlsx", "").unwrap();
    assert_eq!(recording.time_s.len(), 20);
    assert!((recording.channels[1].values[19] - 1.9).abs() < 1e-12);
    let hidden = recording
        .findings
        .iter()
        .find(|f| f.code == "rows-hidden")
        .unwrap();
    assert_eq!((hidden.severity, hidden.line), (Severity::Note, Some(10)));
    assert!(hidden.message.starts_with("2 row(s)"), "{hidden}");
}

#[test]
fn elapsed_times_go_on_beyond_a_day() {
    // Cells of the format [h]:mm:ss from 23:59:50 on, and ODS durations from half a second on.
    for (book, count) in [("elapsed.xlsx", 1), ("two_runs.ods", 2)] {
        let recording = open(book, "").unwrap();
        assert_eq!(recording.channels.len(), count, "{book}");
        for (at, time) in recording.time_s.iter().enumerate() {
            assert!((time - at as f64).abs() < 0.002, "{book}: {time} at {at}");
        }
    }
}

#[test]
fn a_workbook_of_the_old_kind_holds_tables_too() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(
        "tests/data/read/tables.xls",
        folder.path().join("study.xls"),
    )
    .unwrap();
    let (tables, findings, inputs) = read_tables(folder.path(), Some(&auto())).unwrap();
    assert!(
        findings.iter().all(|f| f.severity < Severity::Error),
        "{findings:?}"
    );
    assert_eq!(inputs.len(), 1);
    assert_eq!(tables.runs.len(), 2);
    assert_eq!(tables.runs[1].trace.as_deref(), Some("traces/day.csv#2"));
    // 20,25 typed as text with a decimal comma.
    assert_eq!(tables.frames[0].true_id_mm, Some(20.25));
}

#[test]
fn a_sheet_that_spans_too_much_is_refused_before_memory_is_asked_for() {
    // A stray cell in the last row and column; a damaged list of cells that the parser reads as one (found by fuzzing); a row of 16000
    // cells repeated 16000 times; an old workbook of some kilobytes whose sheets claim to be full (found by fuzzing).
    for book in [
        "stray_cell.xlsx",
        "damaged_cells.xlsx",
        "repeated.ods",
        "spanning.xls",
    ] {
        let findings = open(book, "").unwrap_err();
        let error = findings.last().unwrap();
        assert_eq!(error.code, "sheet-too-large", "{book}: {findings:?}");
        assert!(error.help.is_some(), "{book}");
    }
}

/// A table whose end is missing, for which the parser would wait for ever (found by fuzzing).
#[test]
fn a_workbook_whose_tables_do_not_end_is_refused() {
    let findings = open("unended.ods", "").unwrap_err();
    let error = findings.last().unwrap();
    assert_eq!(error.code, "sheet-unreadable", "{findings:?}");
    assert!(error.message.contains("does not end"), "{findings:?}");
    assert!(open("two_runs.ods", "").is_ok());
}
