//! Broken files, files that are no table, and tables that do not say enough: a finding each, with its place and what to do.

use super::dialects::dialects;
use super::support::{auto, rig};
use hooptrace::read::trace_from_bytes;
use hooptrace::recording::Severity;
use std::fmt::Write as _;

#[test]
fn a_file_cut_at_any_byte_is_read_or_refused() {
    let auto = auto();
    let declared = rig(
        "[dialect]\nmode = \"given\"\ndelimiter = \",\"\ndecimal = \".\"\nskip_lines = 0\nheader_rows = 1\n\
         [clock]\nkind = \"relative\"\ncolumn = \"time_s\"\nunit = \"s\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"pressure_kpa\"\nunit = \"kPa\"\n",
    );
    for dialect in dialects() {
        let end = dialect.bytes.len().min(420);
        for cut in 0..end {
            for rig in [&auto, &declared] {
                if let Ok(recording) =
                    trace_from_bytes(dialect.bytes[..cut].to_vec(), "trace.csv", rig)
                {
                    assert_eq!(recording.time_s.len(), recording.line.len());
                }
            }
        }
    }
}

#[test]
fn bytes_changed_at_random_are_read_or_refused() {
    let auto = auto();
    // A linear congruential generator (Numerical Recipes, 1664525 and 1013904223) keeps the test the same every time.
    let mut state = 20_250_304_u32;
    let mut next = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as usize
    };
    for dialect in dialects() {
        for _ in 0..60 {
            let mut bytes = dialect.bytes[..dialect.bytes.len().min(3000)].to_vec();
            for _ in 0..=next() % 20 {
                let at = next() % bytes.len();
                match next() % 3 {
                    0 => bytes[at] = (next() % 256) as u8,
                    1 => bytes.insert(at, b"\",;\t\n\r.0e\0"[next() % 10]),
                    _ => {
                        bytes.remove(at);
                    }
                }
            }
            if let Ok(recording) = trace_from_bytes(bytes, "trace.csv", &auto) {
                assert!(
                    recording
                        .channels
                        .iter()
                        .all(|channel| channel.values.len() == recording.line.len())
                );
            }
        }
    }
}

#[test]
fn what_is_no_table_is_refused_with_the_name_of_the_file() {
    let noise: Vec<u8> = (0..4000_u32)
        .map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    for (what, bytes) in [
        ("empty", Vec::new()),
        ("blank", b"  \n\n \r\n".to_vec()),
        ("zeros", vec![0; 100]),
        ("gzip", [b"\x1f\x8b\x08\x00".as_slice(), &noise].concat()),
        ("png", [b"\x89PNG\r\n\x1a\n".as_slice(), &noise].concat()),
        (
            "zip that is no workbook",
            [b"PK\x03\x04".as_slice(), &noise].concat(),
        ),
        (
            "damaged workbook",
            [b"PK\x03\x04".as_slice(), &noise, b"xl/workbook.xml"].concat(),
        ),
        (
            "ole",
            [b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1".as_slice(), &noise].concat(),
        ),
        ("noise", noise),
        ("header only", b"time_s,pressure_kpa,volume_ml\n".to_vec()),
        (
            "prose",
            b"The bench was cleaned on Monday.\nNothing was recorded.\nSee the log.\n".to_vec(),
        ),
        ("one line without end", vec![b'7'; 3 << 20]),
    ] {
        let findings = trace_from_bytes(bytes, "traces/x7.csv", &auto()).expect_err(what);
        let error = findings
            .iter()
            .find(|f| f.severity == Severity::Error)
            .expect(what);
        assert_eq!(
            error.file.as_deref(),
            Some("traces/x7.csv"),
            "{what}: {error}"
        );
        assert!(error.help.is_some(), "{what}: {error}");
    }
}

#[test]
fn what_cannot_be_told_is_an_error_that_says_what_to_declare() {
    for (text, code, help) in [
        (
            "Sample,p_kpa\n0,1\n1,2\n2,3\n3,4\n",
            "clock-unknown",
            "rate_hz",
        ),
        ("Time,p_kpa\n0,1\n1,2\n2,3\n3,4\n", "clock-unknown", "unit"),
        (
            "Date,p_kpa\n19-Sep-03,1\n20-Sep-03,2\n21-Sep-03,3\n",
            "clock-unknown",
            "mmm",
        ),
        ("p_kpa,v_ml\n0,1\n1,2\n2,3\n3,4\n", "clock-unknown", "kind"),
        (
            "time_s,Pressure\n0,1\n1,2\n2,3\n3,4\n",
            "unit-unknown",
            "unit",
        ),
        (
            "time_s,P [counts]\n0,1\n1,2\n2,3\n3,4\n",
            "unit-unknown",
            "calibration",
        ),
        (
            "time_s,volume_ml\n0,1\n1,2\n2,3\n3,4\n",
            "column-missing",
            "column",
        ),
        (
            "time_s,p1_kpa,p2_kpa\n0,1,1\n1,2,2\n2,3,3\n3,4,4\n",
            "column-unclear",
            "column",
        ),
        (
            "time,p_kpa\n03/04/2025 10:00:00,1\n03/04/2025 10:00:01,2\n06/07/2025 10:00:02,3\n06/07/2025 10:00:03,4\n",
            "clock-unknown",
            "format",
        ),
    ] {
        let findings =
            trace_from_bytes(text.as_bytes().to_vec(), "t.csv", &auto()).expect_err(text);
        let finding = findings
            .iter()
            .find(|f| f.code == code)
            .unwrap_or_else(|| panic!("{text}: {findings:?}"));
        assert_eq!(finding.line, Some(1), "{text}");
        assert!(
            finding.help.as_deref().unwrap_or("").contains(help),
            "{text}: {finding}"
        );
    }
}

#[test]
fn a_stamp_that_is_none_of_the_clock_is_shown_beside_what_was_expected() {
    let mut text = "Uhrzeit;Druck [kPa]\n".to_owned();
    for at in 0..20 {
        let _ = writeln!(text, "08:00:{at:02},250;{at},5");
    }
    let declared = rig(
        "[clock]\nkind = \"time_of_day\"\ncolumn = \"Uhrzeit\"\nformat = \"hh:mm:ss\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"Druck [kPa]\"\nunit = \"kPa\"\n",
    );
    let findings = trace_from_bytes(text.into_bytes(), "t.csv", &declared).unwrap_err();
    // One fault, told once.
    let clock: Vec<_> = findings
        .iter()
        .filter(|finding| finding.code.starts_with("clock") || finding.code.starts_with("time"))
        .collect();
    assert_eq!(clock.len(), 1, "{findings:?}");
    assert!(
        clock[0].message.contains("\"08:00:00,250\"") && clock[0].message.contains("hh:mm:ss"),
        "{}",
        clock[0]
    );
}
