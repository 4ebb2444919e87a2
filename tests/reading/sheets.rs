//! Workbooks: XLSX, XLS and ODS, which sheet, dates, hidden rows. `tests/data/read/make_workbooks.py` says what was written.

use super::support::{auto, codes, rig};
use hooptrace::read::{read_tables, read_trace, trace_from_bytes};
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

/// A ZIP archive with stored entries (PKWARE APPNOTE 4.3), enough for a workbook.
fn zip(entries: &[(&str, String)]) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for (name, data) in entries {
        let at = out.len() as u32;
        let mut crc = flate2::Crc::new();
        crc.update(data.as_bytes());
        let mut about = vec![20, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        about.extend(crc.sum().to_le_bytes());
        about.extend((data.len() as u32).to_le_bytes());
        about.extend((data.len() as u32).to_le_bytes());
        about.extend((name.len() as u16).to_le_bytes());
        about.extend([0, 0]);
        out.extend(b"PK\x03\x04");
        out.extend(&about);
        out.extend(name.as_bytes());
        out.extend(data.as_bytes());
        directory.extend(b"PK\x01\x02\x14\0");
        directory.extend(&about);
        directory.extend([0; 10]);
        directory.extend(at.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let start = out.len() as u32;
    out.extend(&directory);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend((entries.len() as u16).to_le_bytes());
    out.extend((entries.len() as u16).to_le_bytes());
    out.extend((directory.len() as u32).to_le_bytes());
    out.extend(start.to_le_bytes());
    out.extend([0, 0]);
    out
}

/// The smallest workbook with these cells.
fn workbook(cells: &str) -> Vec<u8> {
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    zip(&[
        ("_rels/.rels", "<Relationships></Relationships>".to_owned()),
        (
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"{main}\" xmlns:r=\"{office}\"><sheets><sheet name=\"a\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>"
            ),
        ),
        (
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"><Relationship Id=\"rId1\" Type=\"{office}/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/worksheets/sheet1.xml",
            format!("<worksheet xmlns=\"{main}\"><sheetData>{cells}</sheetData></worksheet>"),
        ),
    ])
}

#[test]
fn a_stray_cell_in_the_last_row_and_column_is_refused_before_memory_is_asked_for() {
    let cell = |name: &str| format!("<row><c r=\"{name}\"><v>1</v></c></row>");
    let small = workbook(&format!("{}{}", cell("A1"), cell("A2")));
    let findings = trace_from_bytes(small, "t.xlsx", &auto()).unwrap_err();
    assert!(
        findings
            .iter()
            .all(|f| f.code != "sheet-unreadable" && f.code != "sheet-too-large"),
        "{findings:?}"
    );
    let wide = workbook(&format!("{}{}", cell("A1"), cell("XFD1048576")));
    let findings = trace_from_bytes(wide, "t.xlsx", &auto()).unwrap_err();
    assert!(
        findings.iter().any(|f| f.code == "sheet-too-large"),
        "{findings:?}"
    );
}

#[test]
fn an_ods_row_repeated_to_the_end_is_refused_before_memory_is_asked_for() {
    let table = |repeats: u32| {
        zip(&[
            (
                "mimetype",
                "application/vnd.oasis.opendocument.spreadsheet".to_owned(),
            ),
            ("META-INF/manifest.xml", "<manifest/>".to_owned()),
            (
                "content.xml",
                format!(
                    "<office:document-content xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\"><office:body><office:spreadsheet><table:table table:name=\"a\"><table:table-row table:number-rows-repeated=\"{repeats}\"><table:table-cell table:number-columns-repeated=\"{repeats}\" office:value-type=\"float\" office:value=\"1\"></table:table-cell></table:table-row></table:table></office:spreadsheet></office:body></office:document-content>"
                ),
            ),
        ])
    };
    for (repeats, code) in [(2, "no-data-rows"), (16_000, "sheet-too-large")] {
        let findings = trace_from_bytes(table(repeats), "t.ods", &auto()).unwrap_err();
        assert!(
            findings.iter().any(|f| (f.code == code) == (repeats > 2)),
            "{findings:?}"
        );
    }
}
