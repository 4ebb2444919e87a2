//! Rows with gaps, restarts, repeats and cuts, and numbers that are hard to read.

use super::support::{auto, codes, read, rig};
use hooptrace::recording::Severity;
use std::fmt::Write as _;

#[test]
fn missing_readings_are_gaps_with_count_and_first_line() {
    let mut text = "time_s,pressure_kpa,volume_ml\n".to_owned();
    for (at, cell) in [
        "1", "NaN", "", "OVL", "#NUM!", "---", "wide", "2", "-999", "3",
    ]
    .iter()
    .enumerate()
    {
        let _ = writeln!(text, "{at},{cell},0.5");
    }
    let recording = read(&text, &auto());
    let pressure = &recording.channels[0].values;
    assert_eq!(pressure.iter().filter(|value| value.is_nan()).count(), 6);
    // A sentinel is a number here; whether it is one is for calibration to judge.
    assert_eq!(pressure[8], -999.0);
    let finding = recording
        .findings
        .iter()
        .find(|f| f.code == "readings-missing")
        .unwrap();
    assert_eq!(finding.line, Some(3));
    assert_eq!(finding.severity, Severity::Doubt);
    assert!(finding.message.contains("6 of 10"), "{}", finding.message);
}

#[test]
fn a_logger_restart_is_marked_where_the_header_stands_again() {
    let text = "Log|7\ntime_s|pressure_kpa|volume_ml\n0|1|0\n1|2|0\n2|3|0\nLog|7\ntime_s|pressure_kpa|volume_ml\n0|4|0\n1|5|0\n2|6|0\n3|7|0\n";
    let recording = read(text, &auto());
    assert_eq!(recording.restarts, [3]);
    assert_eq!(recording.time_s[..], [0.0, 1.0, 2.0, 0.0, 1.0, 2.0, 3.0]);
    assert_eq!(recording.line.at(3), 8);
}

#[test]
fn repeats_and_steps_back_keep_the_order_of_the_file() {
    let recording = read("time_s,p_kpa\n0,1\n1,2\n1,2\n0.5,3\n2,4\n", &auto());
    assert_eq!(recording.time_s[..], [0.0, 1.0, 1.0, 0.5, 2.0]);
}

#[test]
fn a_line_cut_by_the_logger_keeps_what_is_sound() {
    let rows = "time_s,volume_ml,pressure_kpa\n0,1,5\n1,2,6\n2,3,7\n3,4,8\n";
    assert_eq!(read(&format!("{rows}4,4.5"), &auto()).time_s.len(), 4);
    let whole = read(&format!("{rows}4,4.5,9"), &auto());
    assert_eq!(whole.channels[0].values[..], [5.0, 6.0, 7.0, 8.0, 9.0]);
    let cut = read(
        "time_s,pressure_kpa,volume_ml\n0,5,1\n1,6,2\n2,7,3\n3,8,4\n4,9,",
        &auto(),
    );
    assert_eq!(cut.channels[0].values.last(), Some(&9.0));
    let short = read(
        "time_s,pressure_kpa,volume_ml,d_mm\n0,5,1,2\n1,6,2,2\n2,7,3,2\n3,8,4,2\n4,9,1",
        &auto(),
    );
    assert_eq!(short.channels[0].values.last(), Some(&9.0));
    assert!(short.channels[1].values.last().unwrap().is_nan());
    assert!(codes(&short).contains(&"last-line-cut"));
}

#[test]
fn stamps_since_1970_keep_their_microseconds() {
    let text = "time,p_kpa\n1741132775.000001,1\n1741132775.000002,2\n1741132775.000004,3\n1741132775.000008,4\n";
    let recording = read(text, &auto());
    for (read, written) in recording.time_s.iter().zip([0.0, 1e-6, 3e-6, 7e-6]) {
        assert!((read - written).abs() < 1e-12, "{read} is not {written}");
    }
}

#[test]
fn a_mark_for_decimals_and_thousands_alike_is_read_and_told() {
    let mut text = String::new();
    for at in 0..20 {
        let ms = at * 100;
        let time = if ms >= 1000 {
            format!("{}.{:03}.000", ms / 1000, ms % 1000)
        } else {
            format!("{ms}.000")
        };
        let _ = writeln!(text, "{time};3.{:03};7.{:03}", 800 + at, 600 + at);
    }
    let declared = rig("[clock]\nkind = \"relative\"\ncolumn = 0\nunit = \"ms\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = 2\nunit = \"bar\"\n");
    let recording = read(&text, &declared);
    for (at, time) in recording.time_s.iter().enumerate() {
        assert!((time - at as f64 / 10.0).abs() < 1e-12, "{time} at {at}");
    }
    assert!(codes(&recording).contains(&"mark-doubled"));
}

/// The first column is of no use here, so a remark in it looks like a row of readings.
#[test]
fn a_remark_before_an_unread_column_is_no_row() {
    let declared = rig(
        "[dialect]\nmode = \"given\"\ndelimiter = \";\"\ncomment = \"#\"\nskip_lines = 0\nheader_rows = 1\n\
         [clock]\nkind = \"rate\"\nrate_hz = 1.0\n[[channel]]\nquantity = \"pressure\"\ncolumn = \"p\"\nunit = \"kPa\"\n",
    );
    let recording = read("state;p\nfill;1\n# no;7\n\u{a0}# no;8\nhold;2\n", &declared);
    assert_eq!(recording.channels[0].values[..], [1.0, 2.0]);
}
