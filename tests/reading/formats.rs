//! The contract every format keeps: what is cut, garbled, padded, packed or misnamed is read rightly or refused.

use super::dialects::dialects;
use super::header_blocks::{USUAL, Way, file};
use super::json;
use super::support::{gzip, rig};
use hooptrace::read::{FORMATS, format_of, read_trace, trace_from_bytes};
use hooptrace::recording::{RawRecording, Severity};
use hooptrace::rig::Rig;

/// A small file of a format.
pub struct Sample {
    pub format: &'static str,
    pub name: &'static str,
    pub bytes: Vec<u8>,
    /// True for text, whose lines may end otherwise.
    text: bool,
}

/// At least one file of every format.
pub fn samples() -> Vec<Sample> {
    let text = |format, name, text: String| Sample {
        format,
        name,
        bytes: text.into_bytes(),
        text: true,
    };
    let book = |name: &'static str| Sample {
        format: "spreadsheet",
        name,
        bytes: std::fs::read(format!("tests/data/read/{name}")).unwrap(),
        text: false,
    };
    let plain = String::from_utf8(dialects().swap_remove(0).bytes).unwrap();
    let plain: String = plain.split_inclusive('\n').take(40).collect();
    let no_time = Way {
        x_columns: "No",
        decimal: ',',
        ..USUAL
    };
    let columns = "{\"time_s\": [0, 1, 2, 3.5, 4], \"pressure_kpa\": [1, 2, 3, 4, 5.25],\n\"volume_ml\": [0, 1, null, 3, 4]}\n";
    vec![
        text("delimited text", "plain", plain),
        text("text with header blocks", "one time column", file(USUAL)),
        text("text with header blocks", "no time column", file(no_time)),
        text("JSON", "lines", json::lines()),
        text(
            "JSON",
            "document",
            format!("[\n{}]\n", json::lines().trim_end().replace('\n', ",\n")),
        ),
        text("JSON", "columns", columns.to_owned()),
        book("trace.xlsx"),
        book("two_runs.xls"),
        book("two_runs.ods"),
    ]
}

/// A rig that reads every sample, whatever its columns are called.
fn lenient() -> Rig {
    rig(
        "[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n[[channel]]\nquantity = \"volume\"\nunit = \"auto\"\n",
    )
}

fn read(sample: &Sample, bytes: Vec<u8>) -> RawRecording {
    trace_from_bytes(bytes, "traces/t.dat", &lenient())
        .unwrap_or_else(|findings| panic!("{} {}: {findings:?}", sample.format, sample.name))
}

/// True where two numbers are the same, or both are missing.
fn same(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len()
        && a.iter()
            .zip(b)
            .all(|(a, b)| a == b || a.is_nan() && b.is_nan())
}

fn assert_same(what: &str, sample: &Sample, read: &RawRecording, whole: &RawRecording) {
    let about = format!("{} {}: {what}", sample.format, sample.name);
    assert!(
        same(&read.time_s, &whole.time_s),
        "{about}: {:?}",
        read.time_s
    );
    assert_eq!(read.channels.len(), whole.channels.len(), "{about}");
    for (a, b) in read.channels.iter().zip(&whole.channels) {
        assert!(same(&a.values, &b.values), "{about}: {}", a.column);
    }
    assert_eq!(read.line, whole.line, "{about}");
}

#[test]
fn every_format_has_samples_and_knows_them() {
    for format in FORMATS {
        let of: Vec<Sample> = samples()
            .into_iter()
            .filter(|s| s.format == format.name())
            .collect();
        assert!(!of.is_empty(), "{} has no sample", format.name());
        for sample in samples() {
            let sniffed = format.sniff(&sample.bytes);
            assert!(
                (0.0..=1.0).contains(&sniffed.confidence) && !sniffed.reason.is_empty(),
                "{}",
                format.name()
            );
        }
        for sample in of {
            assert_eq!(
                format_of(&sample.bytes).name(),
                sample.format,
                "{}",
                sample.name
            );
            assert_eq!(
                read(&sample, sample.bytes.clone()).summary.format,
                sample.format
            );
        }
    }
    assert_eq!(format_of(b"1\t2\n").name(), "delimited text");
    assert_eq!(format_of(b"[settings]\nrate=5\n").name(), "delimited text");
}

#[test]
fn the_name_of_the_file_plays_no_part() {
    let folder = tempfile::tempdir().unwrap();
    for (at, sample) in samples().iter().enumerate() {
        let whole = read(sample, sample.bytes.clone());
        for ending in ["csv", "xlsx", "json", "gz", "png", ""] {
            let path = folder.path().join(format!("{at}.{ending}"));
            std::fs::write(&path, &sample.bytes).unwrap();
            let again = read_trace(&path, "t.csv", &lenient()).unwrap();
            assert_same(ending, sample, &again, &whole);
        }
    }
}

#[test]
fn packing_padding_marks_and_line_ends_change_no_number() {
    for sample in &samples() {
        let whole = read(sample, sample.bytes.clone());
        assert!(whole.time_s.len() >= 5, "{}", sample.name);
        assert_same("gzip", sample, &read(sample, gzip(&sample.bytes)), &whole);
        if !sample.text {
            continue;
        }
        let text = String::from_utf8(sample.bytes.clone())
            .unwrap()
            .replace("\r\n", "\n");
        let utf16: Vec<u16> = text.encode_utf16().collect();
        let le: Vec<u8> = utf16.iter().flat_map(|unit| unit.to_le_bytes()).collect();
        let be: Vec<u8> = utf16.iter().flat_map(|unit| unit.to_be_bytes()).collect();
        let joined = |mark: &[u8], body: &[u8]| [mark, body].concat();
        for (what, bytes) in [
            ("line feeds", text.clone().into_bytes()),
            ("both", text.replace('\n', "\r\n").into_bytes()),
            ("carriage returns", text.replace('\n', "\r").into_bytes()),
            ("padding", joined(text.as_bytes(), &[0; 3000])),
            ("mark", joined(b"\xef\xbb\xbf", text.as_bytes())),
            ("utf-16 le", joined(b"\xff\xfe", &le)),
            ("utf-16 be", joined(b"\xfe\xff", &be)),
            ("utf-16 le without mark", le.clone()),
            ("utf-16 be without mark", be.clone()),
            ("packed utf-16", gzip(&le)),
        ] {
            assert_same(what, sample, &read(sample, bytes), &whole);
        }
    }
}

#[test]
fn what_is_cut_is_the_front_of_the_whole_or_refused() {
    for sample in &samples() {
        let whole = read(sample, sample.bytes.clone());
        // The old workbook is 10 kB, nearly all of it padding.
        let step = if sample.bytes.len() > 8000 { 13 } else { 1 };
        for cut in (0..sample.bytes.len()).step_by(step) {
            let about = format!("{} {} cut at {cut}", sample.format, sample.name);
            let bytes = sample.bytes[..cut].to_vec();
            // The last number of a line that was cut may have lost digits.
            let mid_line = sample.text && bytes.last() != Some(&b'\n');
            match trace_from_bytes(bytes, "t.dat", &lenient()) {
                Ok(recording) => {
                    let rows = recording.time_s.len();
                    let sure = rows - usize::from(mid_line && rows > 0);
                    assert!(rows <= whole.time_s.len(), "{about}");
                    assert!(
                        same(&recording.time_s[..sure], &whole.time_s[..sure]),
                        "{about}"
                    );
                    for channel in &recording.channels {
                        let of = whole
                            .channels
                            .iter()
                            .find(|c| c.quantity == channel.quantity)
                            .unwrap();
                        assert!(same(&channel.values[..sure], &of.values[..sure]), "{about}");
                    }
                }
                Err(findings) => {
                    let error = findings
                        .iter()
                        .find(|f| f.severity == Severity::Error)
                        .expect(&about);
                    assert_eq!(error.file.as_deref(), Some("t.dat"), "{about}: {error}");
                    assert!(error.help.is_some(), "{about}: {error}");
                }
            }
        }
    }
}

#[test]
fn a_header_alone_is_refused() {
    for (name, bytes) in [
        ("delimited text", b"time_s,pressure_kpa\n".to_vec()),
        (
            "text with header blocks",
            file(USUAL)
                .split_inclusive("Comment\r\n")
                .next()
                .unwrap()
                .into(),
        ),
        ("JSON", b"{\"time_s\":[],\"pressure_kpa\":[]}".to_vec()),
        ("JSON", b"[[\"time_s\",\"pressure_kpa\"]]".to_vec()),
        ("JSON", b"[]".to_vec()),
        ("JSON", b"{}".to_vec()),
    ] {
        for bytes in [bytes.clone(), gzip(&bytes)] {
            let findings = trace_from_bytes(bytes, "t.dat", &lenient()).expect_err(name);
            assert!(
                findings.last().unwrap().severity == Severity::Error,
                "{name}: {findings:?}"
            );
        }
    }
    assert!(trace_from_bytes(gzip(b""), "t.dat", &lenient()).is_err());
}

#[test]
fn single_bytes_garbled_are_read_or_refused() {
    // A linear congruential generator (Numerical Recipes, 1664525 and 1013904223) keeps the test the same every time.
    let mut state = 20_250_304_u32;
    let mut next = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as usize
    };
    for sample in &samples() {
        let packed = gzip(&sample.bytes);
        for bytes in [&sample.bytes, &packed] {
            for _ in 0..250 {
                let mut bytes = bytes.clone();
                let at = next() % bytes.len();
                bytes[at] = if next() % 2 == 0 {
                    (next() % 256) as u8
                } else {
                    b"\"[]{},:;\t\n\r\0-.e*"[next() % 16]
                };
                if let Ok(recording) = trace_from_bytes(bytes, "t.dat", &lenient()) {
                    let rows = recording.time_s.len();
                    assert_eq!(recording.line.len(), rows, "{} byte {at}", sample.name);
                    assert!(
                        recording.channels.iter().all(|c| c.values.len() == rows),
                        "{} byte {at}",
                        sample.name
                    );
                }
            }
        }
    }
}

#[test]
fn a_sheet_is_read_with_its_dates_and_row_numbers() {
    // Written with the serials of 2025-03-04 23:59:59 and the 19 seconds behind it.
    let recording = read_trace(
        "tests/data/read/trace.xlsx".as_ref(),
        "trace.xlsx",
        &lenient(),
    )
    .unwrap();
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
