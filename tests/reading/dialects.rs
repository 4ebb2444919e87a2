//! The recording, the dialects it is written in, and that each reads as the same numbers.

use super::support::auto;
use hooptrace::read::trace_from_bytes;
use hooptrace::recording::{RawRecording, Severity};
use hooptrace::rig::ChannelQuantity;
use std::fmt::Write as _;

/// Rows of the recording.
pub const ROWS: usize = 240;

/// Time s, pressure kPa, volume mL of a row: pressures beyond 1000 and negative ones, so that thousands marks and signs occur.
fn row(at: usize) -> (f64, f64, f64) {
    let t = at as f64;
    let p = if at % 7 == 3 { -0.25 } else { 10.5 * t };
    (t / 100.0, p, 0.0125 * t)
}

/// A dialect: its name and the bytes of the recording in it.
pub struct Dialect {
    pub name: &'static str,
    pub bytes: Vec<u8>,
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

pub fn dialects() -> Vec<Dialect> {
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
        text("tabs in line", "time_s\tp_kpa\tv_ml\n", |t, p, v| {
            // Every other number is short and takes one more to the next column.
            let short = ((t * 100.0).round() as usize).is_multiple_of(2);
            let more = if short { "\t" } else { "" };
            format!("{t:.3}\t{p:.2}\t{more}{v:.4}\n")
        }),
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
pub fn check(name: &str, recording: &RawRecording) {
    assert_eq!(recording.time_s.len(), ROWS, "{name}");
    assert_eq!(recording.line.len(), ROWS, "{name}");
    assert!(
        (1..recording.line.len()).all(|at| recording.line.at(at - 1) < recording.line.at(at)),
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
