//! One recording written in many dialects must read as the same numbers, and no broken file may do worse than a finding.
//!
//! The numbers compared with are the ones the writers of this file put in, never numbers of the reader.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::cli::inspect;
use hooptrace::read::{FORMATS, format_of, read_trace, trace_from_bytes};
use hooptrace::recording::{RawRecording, Severity};
use hooptrace::rig::{ChannelQuantity, Rig, rig_from_text};
use std::fmt::Write as _;

/// Rows of the recording.
const ROWS: usize = 240;

/// Time s, pressure kPa, volume mL of a row: pressures beyond 1000 and negative ones, so that thousands marks and signs occur.
fn row(at: usize) -> (f64, f64, f64) {
    let t = at as f64;
    let p = if at % 7 == 3 { -0.25 } else { 10.5 * t };
    (t / 100.0, p, 0.0125 * t)
}

/// A rig that says nothing but which quantities there are.
fn auto() -> Rig {
    rig(
        "[dialect]\nmode = \"auto\"\n[clock]\nkind = \"auto\"\n[line]\nml_per_turn = 0.5\n\
         [[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n[[channel]]\nquantity = \"volume\"\nunit = \"auto\"\n",
    )
}

fn rig(text: &str) -> Rig {
    match rig_from_text(text, "rig.toml") {
        Ok((rig, _)) => rig,
        Err(findings) => panic!("{findings:?}"),
    }
}

/// A dialect: its name and the bytes of the recording in it.
struct Dialect {
    name: &'static str,
    bytes: Vec<u8>,
}

fn text(name: &'static str, header: &str, line: impl Fn(f64, f64, f64) -> String) -> Dialect {
    let mut text = header.to_owned();
    for at in 0..ROWS {
        let (t, p, v) = row(at);
        text.push_str(&line(t, p, v));
    }
    Dialect {
        name,
        bytes: text.into_bytes(),
    }
}

/// A number with a decimal comma.
fn comma(value: f64, digits: usize) -> String {
    format!("{value:.digits$}").replace('.', ",")
}

/// A number with groups of three.
fn grouped(value: f64, digits: usize, mark: char, decimal: char) -> String {
    let plain = format!("{:.digits$}", value.abs());
    let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
    let mut text = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at) % 3 == 0 {
            text.push(mark);
        }
        text.push(digit);
    }
    let sign = if value < 0.0 { "-" } else { "" };
    format!("{sign}{text}{decimal}{fraction}")
}

/// Hours, minutes, seconds and milliseconds of a clock that starts at 23:59:59.
fn clock(t: f64) -> (u32, u32, u32, u32, bool) {
    let ms = (86_399_000.0 + t * 1000.0).round() as u32;
    let of_day = ms % 86_400_000;
    (
        of_day / 3_600_000,
        of_day / 60_000 % 60,
        of_day / 1000 % 60,
        of_day % 1000,
        ms >= 86_400_000,
    )
}

fn dialects() -> Vec<Dialect> {
    let mut all = vec![
        text("plain", "time_s,pressure_kpa,volume_ml\n", |t, p, v| {
            format!("{t:.4},{p:.2},{v:.4}\n")
        }),
        text(
            "semicolon and decimal comma",
            "Zeit [s];Druck [bar];Volumen [mL]\r\n",
            |t, p, v| {
                format!(
                    "{};{};{}\r\n",
                    comma(t, 3),
                    comma(p / 100.0, 4),
                    comma(v, 4)
                )
            },
        ),
        text(
            "german thousands",
            "Zeit [ms];Druck [kPa];Volumen [uL]\r\n",
            |t, p, v| {
                format!(
                    "{};{};{}\r\n",
                    grouped(t * 1000.0, 1, '.', ','),
                    grouped(p, 2, '.', ','),
                    grouped(v * 1000.0, 1, '.', ',')
                )
            },
        ),
        text(
            "quoted thousands",
            "Time [ms],Pressure [kPa],Volume [uL]\n",
            |t, p, v| {
                format!(
                    "\"{:.0}\",\"{}\",\"{}\"\n",
                    1_741_132_775_000.0 + t * 1000.0,
                    grouped(p, 2, ',', '.'),
                    grouped(v * 1000.0, 1, ',', '.')
                )
            },
        ),
        text(
            "tab and scientific",
            "t [s]\tP1 [MPa]\tV1 [mL]\t\n",
            |t, p, v| format!("{t:.7E}\t{:.8E}\t{v:.7E}\t\n", p / 1000.0),
        ),
        text(
            "pipe with a preamble",
            "Recorder|unit 7\nSerial|00731\n\nSample rate|100\nRange|0.0 to 3000.0\n\"Time (s)\"|\"Pressure (kPa)\"|\"Volume (cc)\"\n",
            |t, p, v| format!("\"{t:.4}\"|\"{p:.3}\"|\"{v:.4}\"\n"),
        ),
        text(
            "units row",
            "Temps;Pression;Volume injecte\ns;bar;mL\n",
            |t, p, v| format!("{};{};{}\n", comma(t, 2), comma(p / 100.0, 4), comma(v, 4)),
        ),
        text(
            "two header rows",
            "clock,inflator,inflator\ntime_s,pressure_kpa,volume_ml\n",
            |t, p, v| format!("{t:.3},{p:.2},{v:.4}\n"),
        ),
        text(
            "iso with offset",
            "\"time\";\"pressure_kpa\";\"volume_ml\"\n",
            |t, p, v| {
                let (h, m, s, ms, next) = clock(t);
                let day = if next { 5 } else { 4 };
                format!(
                    "2025-03-{day:02}T{h:02}:{m:02}:{s:02}.{ms:03}-05:00;{};{}\n",
                    comma(p, 2),
                    comma(v, 4)
                )
            },
        ),
        text(
            "local stamps over midnight",
            "Zeit;Druck;Volumen\n;[bar];[mL]\n",
            |t, p, v| {
                let (h, m, s, ms, next) = clock(t);
                let day = if next { 5 } else { 4 };
                format!(
                    "{day:02}.03.2025 {h:02}:{m:02}:{s:02},{ms:03};{};{}\n",
                    comma(p / 100.0, 4),
                    comma(v, 4)
                )
            },
        ),
        text(
            "american stamps",
            "Timestamp,Pressure (kPa),Volume (mL)\n",
            |t, p, v| {
                let (h, m, s, ms, next) = clock(t);
                let (day, half) = if next { (15, "AM") } else { (14, "PM") };
                let h12 = if h % 12 == 0 { 12 } else { h % 12 };
                format!("03/{day}/2025 {h12}:{m:02}:{s:02}.{ms:03} {half},{p:.2},{v:.4}\n")
            },
        ),
        text("time of day", "Date,Uhrzeit,p_bar,V_mL\n", |t, p, v| {
            let (h, m, s, ms, _) = clock(t);
            format!(
                "04.03.2025,{h:02}:{m:02}:{s:02}.{ms:03},{:.4},{v:.4}\n",
                p / 100.0
            )
        }),
        text(
            "whitespace",
            "   Time [s]     P [kPa]    V [mL]\n",
            |t, p, v| format!("{t:>10.3}   {p:>10.2}  {v:>9.4}\n"),
        ),
        text(
            "index and rate",
            "Sample rate: 100 Hz\nSample,Pressure [kPa],Volume [mL]\n",
            |t, p, v| format!("{:.0},{p:.2},{v:.4}\n", t * 100.0),
        ),
        text(
            "rate only",
            "# Sample rate: 0.1 kHz\nPressure [kPa];Volume [mL]\n",
            |_, p, v| format!("{p:.2};{v:.4}\n"),
        ),
        text(
            "remarks and words",
            "volume_ml,status,pressure_kpa,time_s,note\n",
            |t, p, v| {
                let mut line = String::new();
                if (t * 100.0).round() as usize == 50 {
                    line.push_str("# mark 1\n\n");
                }
                let _ = writeln!(line, "{v:.4},RUN,{p:.2},{t:.4},");
                line
            },
        ),
        text(
            "names behind the comment mark",
            "# made by a script\n# time_s, pressure_kpa, volume_ml\n",
            |t, p, v| format!("{t:.4}, {p:.2}, {v:.4}\n"),
        ),
        text(
            "number sign over the counter",
            "#;Zeit [s];Druck [kPa];Volumen [mL]\n",
            |t, p, v| {
                format!(
                    "{:.0};{};{};{}\n",
                    t * 100.0,
                    comma(t, 2),
                    comma(p, 2),
                    comma(v, 4)
                )
            },
        ),
        text(
            "two headers each closed by a line of stars",
            "Measurement\t\nSeparator\tTab\nDecimal_Separator\t.\n***End_of_Header***\t\n\t\nChannels\t2\t\t\nX0\t0.0\t0.0\t\n***End_of_Header***\t\t\t\nX_Value [s]\tPressure [kPa]\tVolume [mL]\tComment\n",
            |t, p, v| format!("{t:.6}\t{p:.6}\t{v:.6}\t\n"),
        ),
        text(
            "padded preamble",
            "Bench,unit 7,,\nOperator,op-a,,\n,,,\nTime,Pressure,Volume,State\ns,bar,mL,\n",
            |t, p, v| format!("{t:.3},{:.4},{v:.4},OK\n", p / 100.0),
        ),
        text(
            "blanks as thousands",
            "Temps (ms);Pression (kPa);Volume (ml)\n",
            |t, p, v| {
                format!(
                    "{};{};{}\n",
                    grouped(t * 1000.0, 1, ' ', ','),
                    grouped(p, 2, ' ', ','),
                    comma(v, 4)
                )
            },
        ),
        text("elapsed clock", "elapsed,p [psi],v [cc]\n", |t, p, v| {
            let ms = (t * 1000.0).round() as u32;
            format!(
                "{:02}:{:02}:{:02}.{:03},{:.6},{v:.4}\n",
                ms / 3_600_000,
                ms / 60_000 % 60,
                ms / 1000 % 60,
                ms % 1000,
                p / 6.894_757_293_168
            )
        }),
        text(
            "carriage returns",
            "time_s,pressure_kpa,volume_ml\r",
            |t, p, v| format!("{t:.4},{p:.2},{v:.4}\r"),
        ),
        text(
            "seconds since 1970",
            "time,pressure_kpa,volume_ml\n",
            |t, p, v| format!("{:.3},{p:.2},{v:.4}\n", 1_741_132_775.0 + t),
        ),
        text(
            "minutes in pieces",
            "Time [min],Pressure [kPa],Volume [mL]\n",
            |t, p, v| format!("{:.9},{p:.2},{v:.4}\n", t / 60.0),
        ),
        text(
            "turns",
            "time_s,pressure_kpa,Volume [turns]\n",
            |t, p, v| format!("{t:.4},{p:.2},{:.4}\n", v / 0.5),
        ),
    ];
    // The same text in other encodings.
    let accented = text(
        "",
        "Temps [s];Pression réglée [kPa];Volume injecté [µL]\r\n",
        |t, p, v| {
            format!(
                "{};{};{}\r\n",
                comma(t, 3),
                comma(p, 2),
                comma(v * 1000.0, 1)
            )
        },
    );
    let string = String::from_utf8(accented.bytes).unwrap();
    let utf16: Vec<u16> = string.encode_utf16().collect();
    let latin: Vec<u8> = string
        .chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap())
        .collect();
    let le: Vec<u8> = utf16.iter().flat_map(|unit| unit.to_le_bytes()).collect();
    let be: Vec<u8> = utf16.iter().flat_map(|unit| unit.to_be_bytes()).collect();
    for (name, bytes) in [
        (
            "utf-8 with mark",
            [b"\xef\xbb\xbf".as_slice(), string.as_bytes()].concat(),
        ),
        ("latin-1", latin),
        (
            "utf-16 le with mark",
            [b"\xff\xfe".as_slice(), &le].concat(),
        ),
        (
            "utf-16 be with mark",
            [b"\xfe\xff".as_slice(), &be].concat(),
        ),
        ("utf-16 le without mark", le),
        ("utf-16 be without mark", be),
        ("zero padding", [string.as_bytes(), &[0; 4096]].concat()),
    ] {
        all.push(Dialect { name, bytes });
    }
    all
}

/// The recording has the numbers that were written, in bench units.
fn check(name: &str, recording: &RawRecording) {
    assert_eq!(recording.time_s.len(), ROWS, "{name}");
    assert_eq!(recording.line.len(), ROWS, "{name}");
    assert!(
        recording.line.windows(2).all(|pair| pair[0] < pair[1]),
        "{name}"
    );
    for at in 0..ROWS {
        let (t, p, v) = row(at);
        assert!(
            (recording.time_s[at] - t).abs() < 1e-6,
            "{name}: time {} at {at}, not {t}",
            recording.time_s[at]
        );
        for channel in &recording.channels {
            let (value, allowed) = match channel.quantity {
                ChannelQuantity::Pressure => (p, 0.0051),
                _ => (v, 0.000_051),
            };
            let factor = if channel.unit.symbol == "turns" {
                0.5
            } else {
                channel.unit.factor
            };
            let read = channel.values[at] * factor;
            assert!(
                (read - value).abs() <= allowed,
                "{name}: {} {read} at {at}, not {value}",
                channel.column
            );
        }
    }
    assert_eq!(recording.channels.len(), 2, "{name}");
}

#[test]
fn every_dialect_reads_as_the_same_numbers_without_a_declaration() {
    for dialect in dialects() {
        match trace_from_bytes(dialect.bytes, "trace.csv", &auto()) {
            Ok(recording) => {
                check(dialect.name, &recording);
                let grave: Vec<_> = recording
                    .findings
                    .iter()
                    .filter(|f| f.severity > Severity::Note)
                    .collect();
                assert!(grave.is_empty(), "{}: {grave:?}", dialect.name);
            }
            Err(findings) => panic!("{}: {findings:?}", dialect.name),
        }
    }
}

#[test]
fn the_rig_that_inspect_proposes_reads_the_file() {
    let folder = tempfile::tempdir().unwrap();
    for dialect in dialects() {
        let path = folder.path().join("trace.dat");
        std::fs::write(&path, &dialect.bytes).unwrap();
        let inspection = inspect(&path, None)
            .unwrap_or_else(|findings| panic!("{}: {findings:?}", dialect.name));
        let screen = inspection.to_text();
        assert!(
            screen.lines().all(|line| line.chars().count() <= 80),
            "{}:\n{screen}",
            dialect.name
        );
        assert!(screen.lines().count() <= 45, "{}:\n{screen}", dialect.name);
        let proposed = rig(&inspection.proposed.unwrap());
        if dialect.name == "turns" {
            // What a turn is stands in no file.
            continue;
        }
        let recording = read_trace(&path, "trace.dat", &proposed)
            .unwrap_or_else(|findings| panic!("{}: {findings:?}\n{screen}", dialect.name));
        check(dialect.name, &recording);
        let again = inspect(&path, Some(&proposed)).unwrap();
        assert_eq!(again.with_rig.unwrap().unwrap(), ROWS, "{}", dialect.name);
    }
}

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
    assert_eq!((recording.line[0], recording.line[19]), (5, 24));
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

fn read(text: &str, rig: &Rig) -> RawRecording {
    trace_from_bytes(text.as_bytes().to_vec(), "t.csv", rig)
        .unwrap_or_else(|findings| panic!("{findings:?}"))
}

fn codes(recording: &RawRecording) -> Vec<&str> {
    recording
        .findings
        .iter()
        .map(|finding| finding.code.as_str())
        .collect()
}

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
    assert_eq!(recording.time_s, [0.0, 1.0, 2.0, 0.0, 1.0, 2.0, 3.0]);
    assert_eq!(recording.line[3], 8);
}

#[test]
fn repeats_and_steps_back_keep_the_order_of_the_file() {
    let recording = read("time_s,p_kpa\n0,1\n1,2\n1,2\n0.5,3\n2,4\n", &auto());
    assert_eq!(recording.time_s, [0.0, 1.0, 1.0, 0.5, 2.0]);
}

#[test]
fn a_line_cut_by_the_logger_keeps_what_is_sound() {
    let rows = "time_s,volume_ml,pressure_kpa\n0,1,5\n1,2,6\n2,3,7\n3,4,8\n";
    assert_eq!(read(&format!("{rows}4,4.5"), &auto()).time_s.len(), 4);
    let whole = read(&format!("{rows}4,4.5,9"), &auto());
    assert_eq!(whole.channels[0].values, [5.0, 6.0, 7.0, 8.0, 9.0]);
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
fn what_cannot_be_told_is_an_error_that_says_what_to_declare() {
    for (text, code, help) in [
        (
            "Sample,p_kpa\n0,1\n1,2\n2,3\n3,4\n",
            "clock-unknown",
            "rate_hz",
        ),
        ("Time,p_kpa\n0,1\n1,2\n2,3\n3,4\n", "clock-unknown", "unit"),
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
fn where_rig_and_header_differ_the_rig_wins_with_a_doubt() {
    let declared = rig(
        "[clock]\nkind = \"relative\"\ncolumn = \"t\"\nunit = \"ms\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"p [bar]\"\nunit = \"atm\"\n",
    );
    let recording = read("t;p [bar]\n0;1,5\n10;2,5\n20;3,5\n30;4,5\n", &declared);
    assert_eq!(recording.channels[0].unit.symbol, "atm");
    assert_eq!(recording.time_s, [0.0, 0.01, 0.02, 0.03]);
    assert!(codes(&recording).contains(&"unit-differs"));
}

#[test]
fn a_column_is_found_by_alias_case_and_number() {
    let text = "TIME_S , Line Pressure [kPa] ,V\n0,1,2\n1,2,2\n2,3,2\n3,4,2\n";
    for channel in [
        "column = \"line pressure [kpa]\"",
        "column = \"Line Pressure\"",
        "column = 1",
        "column = \"p\"\naliases = [\"P2\", \"Line Pressure [kPa]\"]",
    ] {
        let declared = rig(&format!(
            "[clock]\nkind = \"relative\"\ncolumn = \"time_s\"\nunit = \"s\"\n[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\n{channel}\n"
        ));
        assert_eq!(
            read(text, &declared).channels[0].values,
            [1.0, 2.0, 3.0, 4.0],
            "{channel}"
        );
    }
    let declared = rig(
        "[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\ncolumn = \"Line Presure [kPa]\"\n",
    );
    let findings = trace_from_bytes(text.as_bytes().to_vec(), "t.csv", &declared).unwrap_err();
    assert!(
        findings[0]
            .help
            .as_deref()
            .unwrap()
            .contains("Line Pressure [kPa]"),
        "{findings:?}"
    );
}

#[test]
fn blocks_side_by_side_are_reached_by_number() {
    let mut text =
        "Force,Distance,Time,Event,,,,\nN,mm,min,,,,,\nSample 1,,,,Sample 2,,,\n\n".to_owned();
    for at in 0..10 {
        let _ = writeln!(
            text,
            "{at},0,{:.4},0,{},0,{:.4},0",
            f64::from(at) / 60.0,
            at * 2,
            f64::from(at) / 60.0
        );
    }
    let declared = rig("[clock]\nkind = \"relative\"\ncolumn = 6\nunit = \"min\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = 4\nunit = \"kPa\"\n");
    let recording = read(&text, &declared);
    assert_eq!(recording.channels[0].values[3], 6.0);
    assert_eq!(recording.line[0], 5);
    assert!((recording.time_s[9] - 9.0).abs() < 0.01);
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

/// Two specimens side by side, names and units over the first only; time in min, rounded to 0.6 ms at 1 kHz.
fn blocks() -> String {
    let mut text =
        "Force,Distance,Time,Event,,,,\nN,mm,min,,,,,\nSample 1,,,,Sample 2,,,\n\n".to_owned();
    for at in 0..200 {
        let time = (f64::from(at) / 60_000.0 * 1e5).round() / 1e5;
        let force = if at < 100 { at } else { 200 - at };
        let _ = writeln!(
            text,
            "{force},{at},{time:.5},0,{},{},{time:.5},0",
            force * 2,
            at * 3
        );
    }
    text
}

#[test]
fn a_later_block_has_the_names_of_the_first() {
    // The bare names beside a pressure of the second block mean that block.
    let declared = rig(
        "[clock]\nkind = \"relative\"\ncolumn = \"Time\"\nunit = \"min\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"Sample 2 Force\"\nunit = \"kPa\"\n\
         [[channel]]\nquantity = \"volume\"\ncolumn = \"distance\"\nunit = \"mL\"\n",
    );
    let recording = read(&blocks(), &declared);
    assert_eq!(recording.channels[0].column, "Sample 2 Force");
    assert_eq!(recording.channels[0].values[3], 6.0);
    assert_eq!(recording.channels[1].column, "Sample 2 Distance");
    assert_eq!(recording.channels[1].values[3], 9.0);
    // A bare name with nothing beside it is the first block.
    let first = rig("[[channel]]\nquantity = \"pressure\"\ncolumn = \"Force\"\nunit = \"kPa\"\n");
    assert_eq!(read(&blocks(), &first).channels[0].values[3], 3.0);
    // Groups, names and units in three rows are read likewise.
    let grouped = blocks()
        .replacen("Sample 1,,,,Sample 2,,,\n\n", "", 1)
        .replacen("Force,", "Sample 1,,,,Sample 2,,,\nForce,", 1);
    assert_eq!(read(&grouped, &declared).channels[0].values[3], 6.0);
}

#[test]
fn inspect_shows_blocks_by_their_labels_and_the_mean_step_of_a_rounded_clock() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("blocks.csv");
    std::fs::write(&path, blocks()).unwrap();
    let inspection = inspect(&path, None).unwrap();
    let screen = inspection.to_text();
    let time = inspection.survey.time.unwrap();
    assert!((time.step_s - 0.001).abs() < 1e-5, "{time:?}");
    assert!(
        screen.contains("steps are 6.000e-4 to 0.0012 s"),
        "{screen}"
    );
    let proposed = inspection.proposed.unwrap();
    assert!(
        proposed.contains("column = \"Sample 1 Time\""),
        "{proposed}"
    );
    // A force is the next of kin of a pressure; a distance and a column that never changes are not.
    let marks_away = proposed
        .replace("# [[channel]]", "[[channel]]")
        .replace("# quantity", "quantity")
        .replace("# column", "column")
        .replace("# unit = \"...\"", "unit = \"kPa\"");
    let recording = read_trace(&path, "blocks.csv", &rig(&marks_away)).unwrap();
    assert_eq!(recording.channels[0].column, "Sample 1 Force");
}

#[test]
fn a_proposal_for_a_file_without_names_says_what_the_clock_may_be() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bare.csv");
    let mut text = String::new();
    for at in 0..40 {
        let _ = writeln!(text, "{}.0;{}", at * 100, 7 - at % 3);
    }
    std::fs::write(&path, text).unwrap();
    let proposed = inspect(&path, None).unwrap().proposed.unwrap();
    let edited = proposed
        .replace("kind = \"auto\"", "kind = \"relative\"")
        .replace("# column = 0", "column = 0")
        .replace("# unit = \"s\" or \"ms\" or \"min\"", "unit = \"ms\"")
        .replace("# [[channel]]", "[[channel]]")
        .replace("# quantity", "quantity")
        .replace("# column = 1", "column = 1")
        .replace("# unit = \"...\"", "unit = \"bar\"");
    let recording = read_trace(&path, "bare.csv", &rig(&edited)).unwrap();
    assert!((recording.time_s[39] - 3.9).abs() < 1e-12);
}

#[test]
fn a_size_in_a_name_is_no_unit() {
    let header = "time_s;Printer 0.1 mm;Pressure 1 kPa\n";
    let text = format!("{header}{}", "0,0;1;5\n0,1;2;6\n0,2;3;7\n0,3;3;8\n");
    // A whole number counts channels: that unit holds.
    let recording = read(&text, &auto());
    assert_eq!(recording.channels[0].column, "Pressure 1 kPa");
    let diameter = rig("[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n\
         [[channel]]\nquantity = \"diameter\"\ncolumn = 1\nunit = \"auto\"\n");
    let recording = read(&text, &diameter);
    assert_eq!(recording.channels.len(), 1);
    assert!(codes(&recording).contains(&"unit-unknown"));
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

#[test]
fn part_of_a_name_suggests_the_whole() {
    let text = "time_s,Druck abs [psi],Kurbel\n0,1,2\n1,1,2\n2,1,2\n3,1,2\n";
    let declared =
        rig("[[channel]]\nquantity = \"pressure\"\ncolumn = \"Druck\"\nunit = \"psi\"\n");
    // "Druck" differs from the name by its unit and a word.
    let findings = trace_from_bytes(text.as_bytes().to_vec(), "t.csv", &declared).unwrap_err();
    assert_eq!(
        findings[0].help.as_deref(),
        Some("did you mean column = \"Druck abs [psi]\"?")
    );
}

#[test]
fn a_rig_that_does_not_fit_bends_neither_the_screen_nor_the_proposal() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("t.csv");
    let mut text = "time_s,pressure_kpa\n".to_owned();
    for at in 0..50 {
        let _ = writeln!(text, "{at},{}.5", at % 5);
    }
    std::fs::write(&path, text).unwrap();
    let wrong = rig(
        "[dialect]\nmode = \"given\"\ndelimiter = \";\"\ndecimal = \",\"\nskip_lines = 4\nheader_rows = 2\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"Druck\"\nunit = \"bar\"\n",
    );
    let inspection = inspect(&path, Some(&wrong)).unwrap();
    assert!(inspection.with_rig.as_ref().unwrap().is_err());
    assert_eq!(inspection.survey.columns.len(), 2);
    let proposed = rig(inspection.proposed.as_deref().unwrap());
    assert_eq!(
        read_trace(&path, "t.csv", &proposed).unwrap().time_s.len(),
        50
    );
}
