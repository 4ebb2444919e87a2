//! Faults of study tables: a finding with its table and line, and the other rows stay.

use super::support::{RUNS, study, tables};
use hooptrace::read::read_tables;
use hooptrace::recording::Severity;
use std::path::Path;

#[test]
fn a_bad_row_is_a_finding_with_its_line_and_the_others_stay() {
    let calipers = "run_id,stage,method,value,unit\nr2,before,caliper,21.5,mm\n";
    for (name, text, code, line, mention) in [
        (
            "calipers.csv",
            format!("{calipers}r2,befor,caliper,21.6,mm\n"),
            "unknown-word",
            3,
            "before",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,wide,mm\n"),
            "not-a-number",
            3,
            "wide",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,calliper,21.6,mm\n"),
            "unknown-word",
            3,
            "caliper",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,21.6,mmm\n"),
            "unknown-unit",
            3,
            "mm",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,-3,mm\n"),
            "value-out-of-range",
            3,
            "above 0",
        ),
        (
            "calipers.csv",
            format!("{calipers}r9,after,caliper,21.6,mm\n"),
            "run-not-listed",
            3,
            "r9",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,21,6,mm\n"),
            "row-too-long",
            3,
            "quotes",
        ),
        (
            "runs.csv",
            format!("{RUNS}r2,frame,F1,B1,A,traces/r3.csv,,,,\n"),
            "run-twice",
            5,
            "line 3",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frame,F1,B1,A,../out.csv,,,,\n"),
            "path-outside",
            5,
            "leaves",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frme,F1,B1,A,traces/r3.csv,,,,\n"),
            "unknown-word",
            5,
            "frame",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frame,F7,B1,A,traces/r3.csv,,,,\n"),
            "frame-not-listed",
            5,
            "F7",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frame,F1,B1,A,traces/r3.csv,,,fracture,\n"),
            "unknown-word",
            5,
            "fractured",
        ),
        (
            "contours.csv",
            "run_id,stage,x,y,unit\nr2,before,0,0,px\nr2,before,9,0,px\nr2,before,0,9,px\n"
                .to_owned(),
            "contour-no-scale",
            2,
            "mm_per_px",
        ),
        (
            "flow.csv",
            "run_id,stage,time_s,flow_ml_s\nr2,after,0,1\n".to_owned(),
            "flow-column-missing",
            1,
            "dp_",
        ),
        (
            "flow.csv",
            "run_id,stage,time_s,flow_ml_s,dp_mmhg\nr2,after,0,1,0\nr2,after,1,2,0.0\n".to_owned(),
            "flow-no-gradient",
            2,
            "gradient",
        ),
        (
            "charts.csv",
            "balloon_id,pressure_atm,diameter_mm\nB1,9,23\nB1,8,22.8\nB1,9,23.4\n".to_owned(),
            "chart-two-diameters",
            4,
            "23.4 mm at 9 atm, and 23 mm in line 2",
        ),
        (
            "charts.csv",
            "balloon_id,pressure_atm,diameter_mm\nB1,10,23.2\nB1,9,32\nB1,8,22.8\n".to_owned(),
            "chart-falls",
            2,
            "from 32 mm at 9 atm (line 3) to 23.2 mm at 10 atm",
        ),
        (
            "frames.csv",
            "frame,true_id_mm\nF1,21\n".to_owned(),
            "table-column-missing",
            1,
            "frame_id",
        ),
    ] {
        let mut files = vec![
            ("runs.csv", RUNS),
            ("frames.csv", "frame_id\nF1\n"),
            ("balloons.csv", "balloon_id\nB1\n"),
        ];
        files.retain(|(other, _)| *other != name);
        files.push((name, &text));
        let (tables, findings) = tables(&files);
        let finding = findings
            .iter()
            .find(|f| f.code == code)
            .unwrap_or_else(|| panic!("{name} {code}: {findings:?}"));
        assert_eq!(
            (finding.file.as_deref(), finding.line),
            (Some(name), Some(line)),
            "{finding}"
        );
        assert!(finding.to_string().contains(mention), "{finding}");
        assert!(finding.severity > Severity::Note);
        assert!(tables.runs.len() >= 2);
        if code == "path-outside" {
            assert_eq!(
                (finding.run_id.as_deref(), tables.runs[2].trace.as_deref()),
                (Some("r3"), None)
            );
        }
    }
}

/// Charts of two balloons beside each other, a plateau, a row written twice and rows in any order contradict nothing.
#[test]
fn a_sound_chart_has_no_finding() {
    let chart = "balloon_id,pressure_atm,diameter_mm\nB1,9,23\nB2,9,25\nB1,8,23\nB2,8,24.8\nB1,9,23\nB1,10,23.01\n";
    let (tables, findings) = tables(&[
        ("runs.csv", RUNS),
        ("frames.csv", "frame_id\nF1\n"),
        ("balloons.csv", "balloon_id\nB1\nB2\n"),
        ("charts.csv", chart),
    ]);
    assert_eq!(tables.charts.len(), 6);
    assert!(
        findings.iter().all(|f| !f.code.starts_with("chart-")),
        "{findings:?}"
    );
}

#[test]
fn without_runs_there_is_no_study() {
    let fatal = |files: &[(&str, &str)]| read_tables(study(files).path(), None).unwrap_err();
    let none = fatal(&[("frames.csv", "frame_id\nF1\n")]);
    assert_eq!(none[0].file.as_deref(), Some("runs.csv"));
    let kindless = fatal(&[("runs.csv", "run_id,frame_id\nr1,F1\n")]);
    assert!(kindless[0].message.contains("kind"));
    let (tables, findings) = tables(&[("runs.csv", "run_id,kind\n")]);
    assert!(tables.runs.is_empty());
    assert_eq!(findings[0].code, "no-runs");
    assert!(read_tables(Path::new("tests/data/no such folder"), None).is_err());
}

#[test]
fn a_fault_in_a_workbook_names_its_sheet() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(
        "tests/data/read/faulty.xlsx",
        folder.path().join("bench.xlsx"),
    )
    .unwrap();
    let (tables, findings, _) = read_tables(folder.path(), None).unwrap();
    assert_eq!(tables.runs.len(), 1);
    let word = findings
        .iter()
        .find(|finding| finding.code == "unknown-word")
        .unwrap();
    assert!(
        word.message.starts_with("sheet \"Runs\": kind \"fram\""),
        "{word}"
    );
    assert_eq!(
        (word.file.as_deref(), word.line),
        (Some("bench.xlsx"), Some(3))
    );
    let misnamed = findings
        .iter()
        .find(|finding| finding.code == "table-misnamed")
        .unwrap();
    assert!(
        misnamed.message.contains("\"Caliper\" of bench.xlsx"),
        "{misnamed}"
    );
    assert!(misnamed.help.as_deref().unwrap().contains("\"calipers\""));
}

#[test]
fn a_table_whose_name_is_nearly_right_is_told() {
    let folder = study(&[
        ("runs.csv", RUNS),
        ("frame.csv", "frame_id\nF1\n"),
        ("readme.txt", "words"),
    ]);
    let (_, findings, inputs) = read_tables(folder.path(), None).unwrap();
    assert_eq!(inputs.len(), 1);
    let told: Vec<_> = findings
        .iter()
        .filter(|finding| finding.code == "table-misnamed")
        .collect();
    assert_eq!(told.len(), 1, "{findings:?}");
    assert_eq!(told[0].file.as_deref(), Some("frame.csv"));
}

#[test]
fn a_header_that_stands_again_is_no_run() {
    let text = format!("{RUNS}{}", RUNS.lines().next().unwrap());
    let (tables, findings) = tables(&[("runs.csv", &text)]);
    assert_eq!(tables.runs.len(), 2);
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "header-again"),
        "{findings:?}"
    );
    assert!(
        findings
            .iter()
            .all(|finding| finding.code != "unknown-word"),
        "{findings:?}"
    );
}

#[test]
fn an_empty_runs_table_is_told_once() {
    let folder = study(&[("runs.csv", "")]);
    let findings = read_tables(folder.path(), None).unwrap_err();
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!(findings[0].code, "file-empty");
}

/// A frame is no wider inside than outside, and a balloon is not rated below its nominal pressure; numbers of different units are compared.
#[test]
fn listed_numbers_that_contradict_each_other_are_told() {
    let (listed, findings) = tables(&[
        ("runs.csv", RUNS),
        (
            "frames.csv",
            "frame_id,true_id_mm,stent_id_mm,outer_diameter_mm\nF1,20.5,21.4,23.1\nF2,23.1,,20.5\nF3,21,21,23\n",
        ),
        (
            "balloons.csv",
            "balloon_id,nominal_pressure_kpa,rated_burst_pressure_atm\nB1,506,16\nB2,2026,8\n",
        ),
    ]);
    assert_eq!((listed.frames.len(), listed.balloons.len()), (3, 2));
    let told: Vec<(&str, Option<u64>, Option<&str>)> = findings
        .iter()
        .filter(|f| f.code.ends_with("-contradict"))
        .map(|f| (f.code.as_str(), f.line, f.column.as_deref()))
        .collect();
    assert_eq!(
        told,
        [
            ("sizes-contradict", Some(3), Some("outer_diameter")),
            (
                "pressures-contradict",
                Some(3),
                Some("rated_burst_pressure")
            ),
        ]
    );
}
