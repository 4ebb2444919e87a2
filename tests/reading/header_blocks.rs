//! Measurement text with header blocks.

use super::support::{auto, codes, rig};
use hooptrace::read::trace_from_bytes;
use hooptrace::recording::RawRecording;

const ROWS: usize = 30;

/// How one such file is written.
#[derive(Clone, Copy)]
pub struct Way {
    pub separator: char,
    pub decimal: char,
    /// "No", "One" or "Multi".
    pub x_columns: &'static str,
    /// Seconds since 1904 in place of seconds since the start.
    pub absolute: bool,
}

pub const USUAL: Way = Way {
    separator: '\t',
    decimal: '.',
    x_columns: "One",
    absolute: false,
};

/// The header of the file.
fn file_header(way: Way) -> String {
    let name = match way.separator {
        ',' => "Comma",
        _ => "Tab",
    };
    let pref = if way.absolute { "Absolute" } else { "Relative" };
    [
        ["Bench Measurement", ""],
        ["Writer_Version", "2"],
        ["Separator", name],
        [
            "Decimal_Separator",
            if way.decimal == ',' { "," } else { "." },
        ],
        ["Multi_Headings", "Yes"],
        ["X_Columns", way.x_columns],
        ["Time_Pref", pref],
        ["Operator", "op-a"],
        ["Date", "2025/03/04"],
        ["Time", "12:00:00.5"],
        ["***End_of_Header***", ""],
        ["", ""],
    ]
    .iter()
    .map(|[key, value]| format!("{key}{}{value}\r\n", way.separator))
    .collect()
}

/// A packet: its header and rows at 50 Hz, pressure 2.5 k kPa, volume 0.125 k mL.
fn packet(way: Way, delta: [&str; 2]) -> String {
    let dot = |text: &str| text.replace('.', &way.decimal.to_string());
    let s = way.separator.to_string();
    let mut text: String = [
        ["Channels", "2", ""],
        ["Samples", "30", "30"],
        ["Date", "2025/03/04", "2025/03/04"],
        ["Time", "12:00:00.5", "12:00:00.5"],
        ["Y_Unit_Label", "kPa", "mL"],
        ["X_Dimension", "Time", "Time"],
        ["X0", "0.0", "0.0"],
        ["Delta_X", delta[0], delta[1]],
    ]
    .iter()
    .map(|cells| dot(&cells.join(&s)) + &s + "\r\n")
    .collect();
    text += &format!("***End_of_Header***{s}{s}{s}\r\n");
    let multi = way.x_columns == "Multi";
    let x = if multi {
        format!("{s}X_Value")
    } else {
        String::new()
    };
    text += &format!("X_Value{s}Pressure{x}{s}Volume{s}Comment\r\n");
    for at in 0..ROWS {
        let k = at as f64;
        let time = match (way.x_columns, way.absolute) {
            ("No", _) => String::new(),
            (_, true) => format!("{:.6}", 3_823_977_575.0 + k / 50.0),
            _ => format!("{:.6}", k / 50.0),
        };
        let again = if multi {
            format!("{s}{time}")
        } else {
            String::new()
        };
        let note = if at == 3 { "valve shut" } else { "" };
        text += &(dot(&format!(
            "{time}{s}{:.6}{again}{s}{:.6}{s}",
            2.5 * k,
            0.125 * k
        )) + note
            + "\r\n");
    }
    text
}

pub fn file(way: Way) -> String {
    file_header(way) + &packet(way, ["0.020000", "0.020000"])
}

fn check(name: &str, recording: &RawRecording, packets: usize) {
    assert_eq!(
        recording.summary.format, "text with header blocks",
        "{name}"
    );
    assert_eq!(recording.time_s.len(), packets * ROWS, "{name}");
    for at in 0..ROWS {
        let k = at as f64;
        assert!(
            (recording.time_s[at] - k / 50.0).abs() < 1e-9,
            "{name}: {}",
            recording.time_s[at]
        );
        assert_eq!(recording.channels[0].values[at], 2.5 * k, "{name}");
        assert_eq!(recording.channels[1].values[at], 0.125 * k, "{name}");
    }
    // Units come from the second header.
    assert_eq!(recording.channels[0].unit.symbol, "kPa", "{name}");
    assert_eq!(recording.channels[1].unit.symbol, "mL", "{name}");
    // Lines are those of the file: 12 of the first header, 9 of the second, one of names.
    assert_eq!(recording.line.at(0), 23, "{name}");
}

#[test]
fn every_way_to_write_the_time_reads_as_the_same_numbers() {
    for (separator, decimal) in [('\t', '.'), ('\t', ','), (',', '.')] {
        for x_columns in ["No", "One", "Multi"] {
            let way = Way {
                separator,
                decimal,
                x_columns,
                absolute: false,
            };
            let name = format!("{separator:?} {decimal:?} {x_columns}");
            let recording = trace_from_bytes(file(way).into_bytes(), "t.txt", &auto())
                .unwrap_or_else(|findings| panic!("{name}: {findings:?}"));
            check(&name, &recording, 1);
            assert_eq!(
                codes(&recording).contains(&"clock-from-preamble"),
                x_columns == "No",
                "{name}"
            );
        }
    }
}

#[test]
fn absolute_times_count_from_1904() {
    let way = Way {
        absolute: true,
        ..USUAL
    };
    let recording = trace_from_bytes(file(way).into_bytes(), "t.txt", &auto()).unwrap();
    check("absolute", &recording, 1);
    // 3823977575 s after 1904-01-01 UTC is 1741132775 s after 1970-01-01 (POSIX `date -u -d @1741132775`).
    assert_eq!(
        recording.started_at.as_deref(),
        Some("2025-03-04T23:59:35.000Z")
    );
}

#[test]
fn a_new_packet_is_a_restart_and_its_header_no_reading() {
    let text = file(USUAL) + &packet(USUAL, ["0.020000", "0.020000"]);
    let recording = trace_from_bytes(text.clone().into_bytes(), "t.txt", &auto()).unwrap();
    check("two packets", &recording, 2);
    assert_eq!(recording.restarts, [ROWS]);
    let told = recording
        .findings
        .iter()
        .find(|f| f.code == "several-acquisitions")
        .unwrap();
    assert!(told.message.contains("lines 23, 63"), "{told}");
    // A whole new file behind the first one.
    let text = file(USUAL) + &file(USUAL);
    let recording = trace_from_bytes(text.into_bytes(), "t.txt", &auto()).unwrap();
    check("two files", &recording, 2);
}

#[test]
fn a_unit_in_the_name_goes_before_the_unit_of_the_header() {
    let text = file(USUAL)
        .replace("Pressure\t", "Pressure [bar]\t")
        .replace("\tkPa\t", "\tVolts\t");
    let recording = trace_from_bytes(text.into_bytes(), "t.txt", &auto()).unwrap();
    assert_eq!(recording.channels[0].unit.symbol, "bar");
    let declared =
        rig("[[channel]]\nquantity = \"pressure\"\ncolumn = \"Pressure\"\nunit = \"kPa\"\n");
    let recording = trace_from_bytes(file(USUAL).into_bytes(), "t.txt", &declared).unwrap();
    assert_eq!(recording.channels[0].values[4], 10.0);
}

#[test]
fn channels_with_clocks_of_their_own_are_refused() {
    let no_time = Way {
        x_columns: "No",
        ..USUAL
    };
    let uneven = file_header(no_time) + &packet(no_time, ["0.020000", "0.010000"]);
    let multi = Way {
        x_columns: "Multi",
        ..USUAL
    };
    let shifted = file(multi).replace(
        "0.100000\t12.500000\t0.100000",
        "0.100000\t12.500000\t0.110000",
    );
    for text in [uneven, shifted] {
        let findings = trace_from_bytes(text.into_bytes(), "t.txt", &auto()).unwrap_err();
        assert!(
            findings
                .iter()
                .any(|f| f.code == "clocks-differ" && f.line.is_some()),
            "{findings:?}"
        );
    }
}
