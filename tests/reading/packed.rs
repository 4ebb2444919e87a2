//! Packed files: the same numbers, a cut that is told, and bounds.

use super::dialects::{check, dialects};
use super::support::{auto, codes, gzip};
use hooptrace::read::{read_trace, trace_from_bytes};

#[test]
fn every_dialect_reads_the_same_when_packed() {
    for dialect in dialects() {
        let recording = trace_from_bytes(gzip(&dialect.bytes), "traces/x.csv.gz", &auto())
            .unwrap_or_else(|findings| panic!("{}: {findings:?}", dialect.name));
        check(dialect.name, &recording);
    }
}

#[test]
fn a_packed_file_cut_at_any_byte_keeps_whole_lines_with_a_doubt() {
    let plain = &dialects()[0].bytes;
    let whole = trace_from_bytes(plain.clone(), "t.csv", &auto()).unwrap();
    let packed = gzip(plain);
    let mut partly = 0;
    for cut in 2..packed.len() {
        match trace_from_bytes(packed[..cut].to_vec(), "t.csv.gz", &auto()) {
            Ok(recording) => {
                let rows = recording.time_s.len();
                assert_eq!(recording.time_s[..], whole.time_s[..rows], "cut at {cut}");
                assert_eq!(
                    recording.channels[0].values[..],
                    whole.channels[0].values[..rows],
                    "cut at {cut}"
                );
                assert!(
                    codes(&recording).contains(&"file-truncated"),
                    "cut at {cut}"
                );
                partly += usize::from(rows < whole.time_s.len());
            }
            Err(findings) => assert!(!findings.is_empty()),
        }
    }
    assert!(partly > 10, "{partly}");
}

#[test]
fn a_workbook_may_be_packed_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("trace.xlsx.gz");
    let book = std::fs::read("tests/data/read/trace.xlsx").unwrap();
    std::fs::write(&path, gzip(&book)).unwrap();
    let recording = read_trace(&path, "traces/trace.xlsx.gz", &auto()).unwrap();
    assert_eq!(recording.time_s.len(), 20);
    // The fingerprint is that of the file as it lies there.
    let input = recording.input.unwrap();
    assert_eq!(input.bytes, std::fs::metadata(&path).unwrap().len());
}
