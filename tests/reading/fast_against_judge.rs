//! The reader against the judge on tables made at random of awkward pieces: to the last bit the same.

use super::judge::Dialect;
use super::support::rig;
use super::verdict::{Verdict, compare, judged};
use hooptrace::read::{read_trace, sha256};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::cell::Cell;

/// Tables of awkward pieces, tables repeated to a few megabytes, and texts of any bytes.
const CASES: (u32, u32, u32) = (1200, 3, 1500);
/// Bytes up to which a table is repeated: several times the stretch a reader takes at once.
const LONG: usize = 2 << 20;
/// Bytes of a file that is not held in memory.
const LARGE: usize = 9 << 20;

/// Runs so many cases, the same every time.
fn runner(cases: u32) -> TestRunner {
    let config = Config {
        cases,
        failure_persistence: None,
        ..Config::default()
    };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

fn dialect() -> impl Strategy<Value = Dialect> {
    let columns = (
        prop::option::weighted(0.8, 0..3_usize),
        prop::collection::vec(0..5_usize, 1..4),
    );
    let layout = (
        0..3_usize,
        0..3_usize,
        prop::option::of(prop_oneof![Just("#"), Just("//")]),
    );
    let marks = (
        prop::sample::select(vec![',', ';', '\t', '|']),
        prop_oneof![Just('.'), Just(',')],
    );
    (columns, layout, marks).prop_filter_map(
        "a mark of two meanings",
        |(columns, layout, marks)| {
            let dialect = Dialect {
                delimiter: marks.0,
                decimal: marks.1,
                comment: layout.2,
                skip_lines: layout.0,
                header_rows: layout.1,
                time_column: columns.0,
                channels: columns.1,
            };
            (marks.0 != marks.1).then_some(dialect)
        },
    )
}

fn digits(most: usize) -> impl Strategy<Value = String> {
    prop::collection::vec(0..10_u8, 0..=most)
        .prop_map(|digits| digits.iter().map(u8::to_string).collect())
}

/// A number with a point as decimal mark.
fn number() -> impl Strategy<Value = String> {
    let sign = prop::sample::select(vec!["", "", "", "-", "+", "\u{2212}"]);
    let exponent = prop_oneof![
        8 => Just(String::new()),
        1 => (prop::sample::select(vec!["e", "E", "e-", "e+"]), 0..400_u32).prop_map(|(e, power)| format!("{e}{power}")),
    ];
    prop_oneof![
        6 => (-9999..9999_i32, 0..4_usize).prop_map(|(number, places)| format!("{:.places$}", f64::from(number) / 64.0)),
        3 => (sign, digits(20), prop::option::of(digits(20)), exponent).prop_map(|(sign, whole, fraction, exponent)| {
            let fraction = fraction.map_or(String::new(), |digits| format!(".{digits}"));
            format!("{sign}{whole}{fraction}{exponent}")
        }),
        1 => any::<f64>().prop_map(|number| format!("{number:?}")),
        1 => (1_600_000_000..1_700_000_000_u32, digits(9)).prop_map(|(whole, part)| format!("{whole}.{part}")),
    ]
}

fn cell() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "",
        " ",
        "NaN",
        "-inf",
        "OVL",
        "o.l.",
        "no data",
        "---",
        "#NUM!",
        "1.#QNAN",
        "text",
        "12 kPa",
        "1.000.000",
        "1.234.5",
        "1..2",
        "--5",
        "e5",
        ".",
        "-",
        "+",
        "1e",
        "0x10",
        "1_000",
        "\"1.5",
        "5\" pipe",
        "# no",
        "9007199254740993",
        "1e999",
    ]);
    let blank = prop::sample::select(vec!["", "", "", " ", "  ", "\u{a0}", "\u{2009}"]);
    let plain = prop_oneof![8 => number(), 2 => word.prop_map(str::to_owned)];
    (plain, blank.clone(), blank, prop::bool::weighted(0.05)).prop_map(
        |(text, before, after, quoted)| {
            let quote = if quoted { "\"" } else { "" };
            format!("{before}{quote}{text}{quote}{after}")
        },
    )
}

/// A line: cells, or text that stands alone. `{}` stands for the delimiter.
fn line() -> impl Strategy<Value = String> {
    let odd = prop::sample::select(vec![
        "",
        "   ",
        "# a remark",
        "// another",
        "time{}p{}v",
        "s{}kPa{}mL",
        "Stopped",
        "{}{}",
        "5\r6{}7",
    ]);
    prop_oneof![
        12 => prop::collection::vec(cell(), 3..=4).prop_map(|cells| cells.join("{}")),
        1 => prop::collection::vec(cell(), 1..=8).prop_map(|cells| cells.join("{}")),
        1 => odd.prop_map(str::to_owned),
    ]
}

/// A line that begins with a stamp of seconds since 1970.
fn stamped_line() -> impl Strategy<Value = String> {
    (
        1_700_000_000..1_700_000_100_u32,
        0..100_000_u32,
        0..=5_usize,
        line(),
    )
        .prop_map(|(whole, part, places, line)| {
            let part = format!("{part:05}");
            format!("{whole}.{}{{}}{line}", &part[..places])
        })
}

/// A table as text.
fn table(dialect: &Dialect) -> impl Strategy<Value = String> + use<> {
    let (delimiter, decimal) = (dialect.delimiter.to_string(), dialect.decimal.to_string());
    let ends = prop_oneof![
        4 => Just(vec!["\n"]),
        2 => Just(vec!["\r\n"]),
        1 => Just(vec!["\r"]),
        1 => Just(vec!["\n", "\r\n", "\n\r\n"]),
    ];
    let lines = prop_oneof![
        3 => prop::collection::vec(line(), 1..40),
        1 => prop::collection::vec(prop_oneof![6 => stamped_line(), 1 => line()], 1..40),
    ];
    let head = prop_oneof![3 => Just("time{}p{}v"), 1 => Just("a remark before all\ntime{}p{}v\ns{}kPa{}mL"), 1 => Just("")];
    (
        head,
        lines,
        ends,
        any::<u8>(),
        any::<bool>(),
        prop::bool::weighted(0.3),
    )
        .prop_map(move |(head, lines, ends, shift, last, quotes)| {
            let mut text = String::new();
            for (at, line) in head.lines().map(str::to_owned).chain(lines).enumerate() {
                text.push_str(&line);
                text.push_str(ends[(at * 7 + usize::from(shift)) % ends.len()]);
            }
            if !last {
                text.truncate(text.trim_end_matches(['\r', '\n']).len());
            }
            // A quote anywhere sends all rows around it the careful way.
            if !quotes {
                text = text.replace('"', "");
            }
            text.replace('.', &decimal).replace("{}", &delimiter)
        })
}

#[test]
fn tables_of_awkward_pieces_are_read_as_the_judge_reads_them() {
    let equal = Cell::new(0);
    let cases = dialect().prop_flat_map(|dialect| (table(&dialect), Just(dialect)));
    runner(CASES.0)
        .run(&cases, |(text, dialect)| {
            let rig = rig(&dialect.rig());
            equal.set(
                equal.get()
                    + u32::from(matches!(
                        compare(&dialect, &rig, text.as_bytes()),
                        Verdict::Equal(_)
                    )),
            );
            Ok(())
        })
        .unwrap();
    // Most are read, so the comparison says something.
    assert!(equal.get() > CASES.0 / 2, "{equal:?}");
}

/// A table over and over, up to about so many bytes.
fn repeated(text: &str, bytes: usize) -> String {
    let end = if text.contains('\n') { "\n" } else { "\r" };
    let piece = format!("{}{end}", text.trim_end_matches(['\r', '\n']));
    piece.repeat(bytes / piece.len() + 1) + text
}

#[test]
fn long_tables_are_read_as_the_judge_reads_them() {
    let rows = Cell::new(0);
    let cases = dialect().prop_flat_map(|dialect| (table(&dialect), Just(dialect)));
    runner(CASES.1)
        .run(&cases, |(text, dialect)| {
            let long = repeated(&text, LONG);
            if let Verdict::Equal(read) = compare(&dialect, &rig(&dialect.rig()), long.as_bytes()) {
                rows.set(rows.get() + read);
            }
            Ok(())
        })
        .unwrap();
    assert!(rows.get() > 30_000, "{rows:?}");
}

/// Files beyond a certain size are not held in memory: their rows come straight from the disk.
#[test]
fn large_files_are_read_as_the_judge_reads_them() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.csv");
    let dialect = Dialect {
        delimiter: ';',
        decimal: ',',
        comment: Some("#"),
        skip_lines: 1,
        header_rows: 1,
        time_column: Some(0),
        channels: vec![2, 1],
    };
    // Long notes keep the rows few.
    let note = "shield closed, balloon wet ".repeat(8);
    let text = format!(
        "Bench 7\nt;p;v;note\n0,01;5,25;-0,5;{note}\n1700000000,0625;1e3;OVL;{note}\n\n# remark {note}\n0,02;+7;0,30000000000000004;{note}\r\n\
         0,03;;2\n0,04;1;2;3;{note}\nStopped {note}\n"
    );
    let long = repeated(&text, LARGE);
    std::fs::write(&path, &long).unwrap();
    let read = read_trace(&path, "large.csv", &rig(&dialect.rig()));
    // The fingerprint is taken piece by piece beside the rows; that of the whole text is the same.
    let input = read.as_ref().ok().and_then(|read| read.input.clone());
    let input = input.unwrap();
    assert_eq!(input.bytes, long.len() as u64);
    assert_eq!(input.sha256, sha256(long.as_bytes()));
    let verdict = judged(&dialect, long.as_bytes(), read);
    assert!(
        matches!(verdict, Verdict::Equal(rows) if rows > 10_000),
        "{verdict:?}"
    );
}

#[test]
fn any_bytes_are_read_as_the_judge_reads_them() {
    let common: Vec<u8> = b"0123456789.,;|\t-+eE \"#\n\r".to_vec();
    let byte = prop_oneof![
        400 => prop::sample::select(common),
        40 => Just(b'\n'),
        1 => any::<u8>(),
    ];
    let equal = Cell::new(0);
    let cases = (dialect(), prop::collection::vec(byte, 0..400));
    runner(CASES.2)
        .run(&cases, |(dialect, bytes)| {
            let rig = rig(&dialect.rig());
            equal.set(
                equal.get()
                    + u32::from(matches!(compare(&dialect, &rig, &bytes), Verdict::Equal(_))),
            );
            Ok(())
        })
        .unwrap();
    assert!(equal.get() > CASES.2 / 20, "{equal:?}");
}

/// A header may stand below hundreds of blank lines and remarks.
#[test]
fn deep_headers_are_read_as_the_judge_reads_them() {
    for header_rows in [1, 2] {
        let dialect = Dialect {
            delimiter: ',',
            decimal: '.',
            comment: Some("#"),
            skip_lines: 0,
            header_rows,
            time_column: Some(0),
            channels: vec![1],
        };
        for above in [
            "\n".repeat(450),
            "# remark\n".repeat(399),
            "#\n".repeat(3000),
        ] {
            let head = ["t,p\n", "s,kPa\n"][..header_rows].concat();
            let rows: String = (0..400).map(|row| format!("{row},{}\n", row % 7)).collect();
            let text = format!("{above}{head}{rows}");
            let verdict = compare(&dialect, &rig(&dialect.rig()), text.as_bytes());
            assert!(
                matches!(verdict, Verdict::Equal(400)),
                "{header_rows} {verdict:?}"
            );
        }
    }
}
