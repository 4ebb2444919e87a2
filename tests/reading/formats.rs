//! Which format a file is, and workbooks.

use super::support::auto;
use hooptrace::read::{FORMATS, format_of, read_trace};

#[test]
fn every_format_says_why_and_the_name_of_the_file_plays_no_part() {
    for format in FORMATS {
        let sniffed = format.sniff(b"time_s,pressure_kpa\n0,1\n");
        assert!(
            (0.0..=1.0).contains(&sniffed.confidence) && !sniffed.reason.is_empty(),
            "{}",
            format.name()
        );
    }
    assert_eq!(format_of(b"1\t2\n").name(), "delimited text");
    let book = std::fs::read("tests/data/read/trace.xlsx").unwrap();
    assert_eq!(format_of(&book).name(), "spreadsheet");
    // Tab text called .xls, a workbook called .csv.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.xls");
    std::fs::write(
        &path,
        "t [s]\tP [kPa]\tV [mL]\n0\t1\t2\n1\t2\t3\n2\t3\t4\n3\t4\t5\n",
    )
    .unwrap();
    assert_eq!(
        read_trace(&path, "log.xls", &auto()).unwrap().time_s,
        [0.0, 1.0, 2.0, 3.0]
    );
}

#[test]
fn a_sheet_is_read_with_its_dates_and_row_numbers() {
    // Written with the serials of 2025-03-04 23:59:59 and the 19 seconds behind it.
    let recording =
        read_trace("tests/data/read/trace.xlsx".as_ref(), "trace.xlsx", &auto()).unwrap();
    assert_eq!(recording.time_s.len(), 20);
    assert_eq!((recording.line.at(0), recording.line.at(19)), (5, 24));
    for (at, time) in recording.time_s.iter().enumerate() {
        assert!((time - at as f64).abs() < 0.002, "{time} at {at}");
    }
    assert_eq!(recording.channels[0].unit.symbol, "bar");
    // The eighth reading is text with a decimal comma in the sheet.
    assert_eq!(recording.channels[0].values[6..9], [3.0, 3.5, 4.0]);
    assert_eq!(
        recording.started_at.as_deref(),
        Some("2025-03-04T23:59:59.000")
    );
}
