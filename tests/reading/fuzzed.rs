//! Inputs that a fuzz target (`tests/fuzz/`) once found to break a rule, each cut down to what breaks it.

use hooptrace::calibrate::calibrate;
use hooptrace::cli::Inspection;
use hooptrace::read::{survey_from_bytes, tables_from_bytes, trace_from_bytes};
use hooptrace::recording::RunRow;
use hooptrace::rig::{Settings, rig_from_text};
use std::fmt::Write as _;

/// What is shown of a text with the rig proposed for it, which must load.
fn proposed(text: String) -> String {
    let survey = survey_from_bytes(text.into_bytes(), "t.csv", None).unwrap();
    let rig = Inspection::of(survey, None).to_text();
    rig_from_text(&rig, "proposed.toml").unwrap();
    rig
}

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
        let _ = writeln!(text, "{at},{}", at * at);
    }
    let recording = trace_from_bytes(text.into_bytes(), "t.csv", &rig).unwrap();
    let (_, findings) = calibrate(recording, &rig, &run(), &Settings::default(), None).unwrap();
    let finding = findings
        .iter()
        .find(|finding| finding.code == "no-pressure-uncertainty")
        .unwrap();
    assert_eq!(
        (finding.file.as_deref(), finding.line),
        (Some("rig.toml"), None)
    );
}

/// A stamp with a control character in it is shown in a remark of the proposed rig, where TOML allows none.
#[test]
fn the_rig_proposed_for_a_file_with_control_characters_is_one() {
    let mut text = "time,p [kPa]\n".to_owned();
    for at in 10..50 {
        let mark = if at == 20 { "\u{8}" } else { "" };
        let _ = writeln!(text, "2025-04-08T23:59:{at}{mark}Z,{}", at * at);
    }
    let rig = proposed(text);
    assert!(rig.contains("23:59:20?Z"), "{rig}");
}

/// A column of turns whose unit the file does not tell: the channel is left to be declared, and the rig loads without it.
#[test]
fn a_rig_proposed_for_turns_without_a_unit_loads() {
    let mut text = "t [s],p [kPa],turns\n".to_owned();
    for at in 0..40 {
        let _ = writeln!(text, "{at},{},{}", at * at, at / 4);
    }
    let rig = proposed(text);
    assert!(rig.contains("# ml_per_turn = ..."), "{rig}");
}

/// Nothing stands before a later header with other columns: there is no recording to keep.
#[test]
fn a_header_that_differs_before_any_row_is_an_error() {
    let (rig, _) = rig_from_text("", "rig.toml").unwrap();
    let text = b"t,p,Time[s],P[Pa]\n,1.\n5\n0,\nt,p,\n,,8,8".to_vec();
    let findings = trace_from_bytes(text, "t.csv", &rig).unwrap_err();
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "header-differs"),
        "{findings:?}"
    );
}

/// A carriage return inside a line of a file whose lines end with line feeds: the cell is a word, so the line is no row.
#[test]
fn a_carriage_return_inside_a_line_ends_no_cell() {
    let (rig, _) = rig_from_text(
        "[dialect]\nmode = \"given\"\ndelimiter = \",\"\ndecimal = \".\"\nskip_lines = 0\nheader_rows = 0\n[clock]\nkind = \"rate\"\nrate_hz = 10\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = 0\nunit = \"kPa\"\n",
        "rig.toml",
    )
    .unwrap();
    let text = b"1,2\n5\r6,7\n3,4\r\n8,9\n5\r6\n".to_vec();
    let recording = trace_from_bytes(text, "t.csv", &rig).unwrap();
    assert_eq!(recording.channels[0].values[..], [1.0, 3.0, 8.0]);
    assert_eq!(recording.line.iter().collect::<Vec<_>>(), [1, 3, 4]);
}

/// A recording with pressures that rise, at these times.
fn at_times(
    times: &[&str],
) -> Result<hooptrace::recording::Trace, Vec<hooptrace::recording::Finding>> {
    let (rig, _) = rig_from_text("", "rig.toml").unwrap();
    let mut text = "time [s],pressure [kPa]\n".to_owned();
    for (at, time) in times.iter().enumerate() {
        let _ = writeln!(text, "{time},{}", at * at);
    }
    let recording = trace_from_bytes(text.into_bytes(), "t.csv", &rig).unwrap();
    calibrate(recording, &rig, &run(), &Settings::default(), None).map(|(trace, _)| trace)
}

/// One stamp that lost its first digit lies so far back that, counted from it, others fall together; time rises all the same.
#[test]
fn time_rises_strictly_from_a_stamp_far_away() {
    let mut times: Vec<String> = (0..40)
        .map(|at| format!("{}", 1.0 + f64::from(at) * 1e-9))
        .collect();
    times.insert(5, "-170000000000".to_owned());
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    // All but two of the rows have one time now: too few are left.
    let findings = at_times(&times).unwrap_err();
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "rows-repeated"),
        "{findings:?}"
    );

    let mut times: Vec<String> = (0..40)
        .map(|at| format!("{}.{at:02}", 100 + at / 10))
        .collect();
    times.insert(20, "1e300".to_owned());
    times.insert(10, "-1e300".to_owned());
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    let trace = at_times(&times).unwrap();
    assert_eq!(trace.len(), 40);
    assert!(trace.time_s.windows(2).all(|pair| pair[0] < pair[1]));
    assert!((trace.time_s[39] - 3.39).abs() < 1e-9);
}

/// Times that never rise from row to row, but are not mostly backwards either, still have a usual step.
#[test]
fn a_clock_that_never_rises_has_a_step() {
    let mut times = vec!["9".to_owned(); 60];
    times.extend((0..50).map(|at| format!("{}", f64::from(50 - at) / 8.0)));
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    match at_times(&times) {
        Ok(trace) => assert!(trace.step_s > 0.0, "{}", trace.step_s),
        Err(findings) => panic!("{findings:?}"),
    }
}

/// Stamps without seconds are no clock: no rig file may name such a format, so none is proposed.
#[test]
fn stamps_without_seconds_are_refused_with_what_to_do() {
    let mut text = "t,p [kPa]\n".to_owned();
    for at in 0..120 {
        let _ = writeln!(text, "08.04.2025 10:0{},{}", at / 20, at * 3);
    }
    let survey = survey_from_bytes(text.clone().into_bytes(), "t.csv", None).unwrap();
    let rig = Inspection::of(survey, None).to_text();
    rig_from_text(&rig, "proposed.toml").unwrap();
    let (rig, _) = rig_from_text("", "rig.toml").unwrap();
    let findings = trace_from_bytes(text.into_bytes(), "t.csv", &rig).unwrap_err();
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "clock-unknown"
                && finding.message.contains("no seconds")
                && finding.help.is_some()),
        "{findings:?}"
    );
}
