//! JSON in its shapes: one object a line, arrays of records, an object of columns.

use super::support::{auto, codes, read, rig};
use hooptrace::read::trace_from_bytes;
use hooptrace::recording::RawRecording;
use std::fmt::Write as _;

const ROWS: usize = 40;

/// Time s, pressure kPa and volume mL of a row, as they are written.
fn row(at: usize) -> (f64, f64, f64) {
    let k = at as f64;
    (k / 100.0, 2.5 * k - 10.0, 0.125 * k)
}

fn check(name: &str, recording: &RawRecording) {
    assert_eq!(recording.summary.format, "JSON", "{name}");
    assert_eq!(recording.time_s.len(), ROWS, "{name}");
    assert_eq!(recording.channels.len(), 2, "{name}");
    for at in 0..ROWS {
        let (t, p, v) = row(at);
        assert!((recording.time_s[at] - t).abs() < 1e-12, "{name} {at}");
        assert_eq!(recording.channels[0].values[at], p, "{name} {at}");
        assert_eq!(recording.channels[1].values[at], v, "{name} {at}");
    }
    assert_eq!(recording.channels[0].unit.symbol, "kPa", "{name}");
}

fn list(of: impl Fn((f64, f64, f64)) -> f64) -> String {
    let values: Vec<String> = (0..ROWS).map(|at| of(row(at)).to_string()).collect();
    format!("[{}]", values.join(", "))
}

fn each(between: &str, record: impl Fn(f64, f64, f64) -> String) -> String {
    let records: Vec<String> = (0..ROWS)
        .map(|at| {
            let (t, p, v) = row(at);
            record(t, p, v)
        })
        .collect();
    records.join(between)
}

pub fn lines() -> String {
    each("\n", |t, p, v| {
        format!("{{\"time_s\": {t}, \"volume_ml\": {v}, \"pressure_kpa\": {p}}}")
    }) + "\n"
}

#[test]
fn every_shape_reads_as_the_same_numbers() {
    let object = |t, p, v| format!("{{\"time_s\":{t},\"pressure_kpa\":{p},\"volume_ml\":{v}}}");
    let array = |t, p, v| format!("[{t},{p},{v}]");
    for (name, text) in [
        ("lines", lines()),
        ("array of objects", format!("[{}]", each(",", object))),
        (
            "array of objects, lines",
            format!("[\n{}\n]\n", each(",\n", object)),
        ),
        (
            "lines of arrays",
            format!(
                "[\"time_s\",\"pressure_kpa\",\"volume_ml\"]\n{}",
                each("\n", array)
            ),
        ),
        (
            "array of arrays",
            format!(
                "[[\"time_s\",\"pressure_kpa\",\"volume_ml\"],{}]",
                each(",", array)
            ),
        ),
        (
            "columns beside records",
            format!(
                "{{\"bench\":\"north\",\"columns\":[\"time\",\"pressure\",\"volume\"],\"units\":[\"s\",\"kPa\",\"mL\"],\"data\":[{}]}}",
                each(",", array)
            ),
        ),
        (
            "object of columns",
            format!(
                "{{\"time_s\":{},\"pressure_kpa\":{},\n\"volume_ml\":{}}}",
                list(|r| r.0),
                list(|r| r.1),
                list(|r| r.2)
            ),
        ),
        (
            "columns deeper, units and rate beside",
            format!(
                "{{\"meta\":{{\"sample rate\":\"100 Hz\"}},\"units\":{{\"pressure\":\"kPa\",\"volume\":\"mL\"}},\"data\":{{\"pressure\":{},\"volume\":{}}}}}",
                list(|r| r.1),
                list(|r| r.2)
            ),
        ),
        (
            "numbers as text with a decimal comma",
            each("\n", |t, p, v| {
                format!("{{\"time_s\":{t},\"pressure_kpa\":\"{p:.1}\",\"volume_ml\":{v}}}")
                    .replace(".0\"", ",0\"")
                    .replace(".5\"", ",5\"")
            }),
        ),
    ] {
        let recording = trace_from_bytes(text.into_bytes(), "t.json", &auto())
            .unwrap_or_else(|findings| panic!("{name}: {findings:?}"));
        check(name, &recording);
    }
}

#[test]
fn nested_keys_are_joined_and_lines_are_those_of_the_file() {
    let mut text = String::new();
    for at in 0..10 {
        let _ = writeln!(
            text,
            "{{\"t\":{{\"s\":{at}}},\"line\":{{\"p_kpa\":{at}.5,\"v\":[{at},7]}}}}"
        );
        text.push('\n');
    }
    let declared = rig(
        "[clock]\nkind = \"relative\"\ncolumn = \"t.s\"\nunit = \"s\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"line.p_kpa\"\nunit = \"kPa\"\n\
         [[channel]]\nquantity = \"volume\"\ncolumn = \"line.v.0\"\nunit = \"mL\"\n",
    );
    let recording = read(&text, &declared);
    assert_eq!(recording.channels[0].values[3], 3.5);
    assert_eq!(recording.channels[1].values[3], 3.0);
    assert_eq!(recording.line.iter().take(3).collect::<Vec<_>>(), [1, 3, 5]);
}

#[test]
fn a_bad_record_and_a_cut_one_are_left_out_and_told() {
    let mut lines: Vec<String> = lines().lines().map(str::to_owned).collect();
    lines[4] = "{\"time_s\": 0.04, oops".to_owned();
    let text = lines.join("\n");
    let recording = read(&text[..text.len() - 6], &auto());
    assert_eq!(recording.time_s.len(), ROWS - 2);
    let bad = recording
        .findings
        .iter()
        .find(|f| f.code == "json-record-bad")
        .unwrap();
    assert_eq!(bad.line, Some(5));
    assert!(codes(&recording).contains(&"last-line-cut"));
    let document = format!("[{}]", lines[..4].join(","));
    let cut = read(&document[..document.len() - 10], &auto());
    assert_eq!(cut.time_s.len(), 3);
    assert!(codes(&cut).contains(&"file-truncated"));
}

#[test]
fn what_is_no_table_is_refused() {
    for (name, text) in [
        (
            "unequal columns",
            "{\"time_s\":[0,1,2,3],\"pressure_kpa\":[1,2,3]}".to_owned(),
        ),
        (
            "two lists of records",
            "{\"a\":[{\"t\":1},{\"t\":2}],\"b\":[{\"t\":1},{\"t\":2}]}".to_owned(),
        ),
        ("no list", "{\"a\":{\"b\":[]},\"c\":[1]}".to_owned()),
        ("mixed records", "{\"time_s\":0}\n[1,2]\n".to_owned()),
        (
            "nothing sound",
            "{\"time_s\" 0}\n{\"time_s\" 1}\n".to_owned(),
        ),
        ("deep", "[".repeat(200_000)),
        ("deep objects", "{\"a\":".repeat(100_000)),
        (
            "many keys",
            (0..300)
                .map(|at| {
                    let keys: Vec<String> = (0..20).map(|k| format!("\"k{at}_{k}\":1")).collect();
                    format!("{{{}}}\n", keys.join(","))
                })
                .collect(),
        ),
    ] {
        let findings = trace_from_bytes(text.into_bytes(), "t.json", &auto()).expect_err(name);
        let error = findings.last().unwrap();
        assert!(error.help.is_some(), "{name}: {error}");
    }
}
