//! What stands beside one run of readings: summary rows, several acquisitions in one file.

use super::support::{auto, codes, read, rig};
use hooptrace::read::{read_tables, read_trace, trace_from_bytes};
use hooptrace::recording::Severity;
use std::fmt::Write as _;

const HEADER: &str = "time_s;pressure_kpa;volume_ml\n";

/// Rows 0 to 29 at 10 Hz, pressure `first + k`.
fn rows(first: i32) -> String {
    (0..30).fold(String::new(), |mut text, k| {
        let _ = writeln!(text, "{:.1};{}.5;{}", f64::from(k) / 10.0, first + k, k % 7);
        text
    })
}

#[test]
fn summary_rows_at_the_end_are_no_readings() {
    for (footer, count) in [
        ("Min;0.5;0\nMax;29.5;6\nMean;15;3\n", 3),
        (
            "\nStatistics\nChannel;Min;Max\nPressure;0.5;29.5\nVolume;0;6\n",
            4,
        ),
        (";;\nMittelwert:;15;3\nmax.;29.5;6", 2),
        ("\nTotal;450;90\nEnd of file\n", 2),
    ] {
        for clock in ["", "[clock]\nkind = \"rate\"\nrate_hz = 10.0\n"] {
            let declared = rig(&format!(
                "{clock}[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n[[channel]]\nquantity = \"volume\"\nunit = \"auto\"\n"
            ));
            let recording = read(&format!("{HEADER}{}{footer}", rows(0)), &declared);
            assert_eq!(recording.time_s.len(), 30, "{footer}");
            assert!(recording.channels[0].values.iter().all(|p| p.is_finite()));
            assert!(!codes(&recording).contains(&"time-unreadable"), "{footer}");
            let told = recording
                .findings
                .iter()
                .find(|f| f.code == "footer-left-out")
                .unwrap();
            assert!(
                told.message.starts_with(&format!("{count} summary")),
                "{footer}: {told}"
            );
            // The first line of the footer that is not blank.
            let blank = footer
                .lines()
                .take_while(|l| l.trim_matches(';').is_empty())
                .count();
            let first = if footer.starts_with(";;") {
                33
            } else {
                32 + blank as u64
            };
            assert_eq!(told.line, Some(first), "{footer}");
        }
    }
}

#[test]
fn words_that_stand_in_every_row_make_no_footer() {
    let mut text = "state;time_s;pressure_kpa\n".to_owned();
    for k in 0..30 {
        let _ = writeln!(text, "{};{k};{k}.5", if k > 27 { "Peak" } else { "fill" });
    }
    let recording = read(&text, &auto());
    assert_eq!(recording.time_s.len(), 30);
    // A remark in the last column, a word for no reading, and a file without a footer.
    let text = format!(
        "{}3.0;31;5;max\nNaN;32;6;\n",
        (HEADER.trim_end().to_owned() + ";note\n") + &rows(0).replace('\n', ";\n")
    );
    let recording = read(&text, &auto());
    assert_eq!(recording.time_s.len(), 32);
    assert!(!codes(&recording).contains(&"footer-left-out"));
}

#[test]
fn several_acquisitions_are_told_and_one_can_be_chosen() {
    let folder = tempfile::tempdir().unwrap();
    for (name, between) in [
        ("blank", "\n".to_owned()),
        ("header", HEADER.to_owned()),
        ("preamble", format!("\nRun no. 2\n{HEADER}")),
        ("nothing", String::new()),
    ] {
        let text = format!(
            "{HEADER}{}{between}{}{between}{}",
            rows(0),
            rows(100),
            rows(200)
        );
        let whole = read(&text, &auto());
        assert_eq!(whole.time_s.len(), 90, "{name}");
        let told = whole
            .findings
            .iter()
            .find(|f| f.code == "several-acquisitions")
            .unwrap();
        assert_eq!(told.severity, Severity::Doubt, "{name}");
        let gap = between.lines().count() as u64;
        let lines = format!("lines 2, {}, {};", 32 + gap, 62 + 2 * gap);
        assert!(
            told.message.contains("3 acquisitions") && told.message.contains(&lines),
            "{name}: {told}"
        );
        assert!(
            told.help.as_deref().unwrap().contains("t.csv#1 to t.csv#3"),
            "{told}"
        );
        let path = folder.path().join("day.csv");
        std::fs::write(&path, &text).unwrap();
        for number in 1..=3_u32 {
            let one = read_trace(
                &folder.path().join(format!("day.csv#{number}")),
                &format!("traces/day.csv#{number}"),
                &auto(),
            )
            .unwrap();
            let first = f64::from(number - 1) * 100.0 + 0.5;
            assert_eq!(
                one.channels[0].values[..],
                (0..30).map(|k| first + f64::from(k)).collect::<Vec<_>>(),
                "{name}"
            );
            assert_eq!((one.time_s[0], one.time_s.len()), (0.0, 30), "{name}");
            assert_eq!(one.file, "traces/day.csv", "{name}");
            assert_eq!(one.input.as_ref().unwrap().path, "traces/day.csv", "{name}");
            let grave: Vec<_> = one
                .findings
                .iter()
                .filter(|f| f.severity > Severity::Note)
                .collect();
            assert!(grave.is_empty(), "{name} {number}: {grave:?}");
        }
        let findings = read_trace(
            &folder.path().join("day.csv#4"),
            "traces/day.csv#4",
            &auto(),
        )
        .unwrap_err();
        let error = findings
            .iter()
            .find(|f| f.code == "acquisition-missing")
            .unwrap();
        assert!(error.message.contains("holds 3"), "{error}");
    }
}

#[test]
fn a_later_header_with_other_columns_is_never_read_by_the_first() {
    let other = "time_s;volume_ml;pressure_kpa\n";
    let text = format!("{HEADER}{}\n{other}{}", rows(0), rows(100));
    let recording = read(&text, &auto());
    assert_eq!(recording.time_s.len(), 30);
    let told = recording
        .findings
        .iter()
        .find(|f| f.code == "header-differs")
        .unwrap();
    assert_eq!((told.severity, told.line), (Severity::Doubt, Some(33)));
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("a.csv"), &text).unwrap();
    let findings = read_trace(&folder.path().join("a.csv#2"), "a.csv#2", &auto()).unwrap_err();
    assert!(
        findings
            .iter()
            .any(|f| f.code == "header-differs" && f.severity == Severity::Error)
    );
    assert!(read_trace(&folder.path().join("a.csv#1"), "a.csv#1", &auto()).is_ok());
}

#[test]
fn rows_out_of_order_and_clocks_that_run_backwards_are_no_acquisitions() {
    let mut lines: Vec<String> = rows(0).lines().map(str::to_owned).collect();
    lines.swap(20, 24);
    let backwards: Vec<String> = rows(0).lines().rev().map(str::to_owned).collect();
    for lines in [lines, backwards] {
        let text = format!("{HEADER}{}\n", lines.join("\n"));
        assert!(!codes(&read(&text, &auto())).contains(&"several-acquisitions"));
    }
}

#[test]
fn a_part_does_not_open_what_lies_outside_the_study() {
    let folder = tempfile::tempdir().unwrap();
    let study = folder.path().join("study");
    std::fs::create_dir(&study).unwrap();
    std::fs::write(folder.path().join("secret.csv"), HEADER).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(folder.path().join("secret.csv"), study.join("link.csv")).unwrap();
    std::fs::write(
        study.join("runs.csv"),
        "run_id,kind,trace\na,frame,../secret.csv#2\nb,frame,link.csv#1\nc,frame,in.csv#1\n",
    )
    .unwrap();
    std::fs::write(study.join("in.csv"), format!("{HEADER}{}", rows(0))).unwrap();
    let (tables, findings, _) = read_tables(&study, None).unwrap();
    assert_eq!(tables.runs[0].trace, None);
    #[cfg(unix)]
    assert_eq!(tables.runs[1].trace, None);
    assert_eq!(tables.runs[2].trace.as_deref(), Some("in.csv#1"));
    assert!(findings.iter().any(|f| f.code == "path-outside"));
}

#[test]
fn a_file_whose_name_holds_the_sign_is_read_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run#2");
    std::fs::write(&path, format!("{HEADER}{}", rows(0))).unwrap();
    assert_eq!(
        read_trace(&path, "run#2", &auto()).unwrap().time_s.len(),
        30
    );
    assert!(trace_from_bytes(Vec::new(), "run#2", &auto()).is_err());
}

/// A file too large to be held is read stretch by stretch, and says the same of footers, hours and acquisitions as one that is held.
#[test]
fn large_files_tell_of_footers_hours_and_acquisitions_like_small_ones() {
    const ROWS: usize = 300_000;
    let stamped = |jump: usize| {
        let mut text = "time;pressure_kpa;volume_ml\n".to_owned();
        for k in 0..ROWS {
            let s = k / 10 + if k >= jump { 3600 } else { 0 };
            let _ = writeln!(
                text,
                "30.03.2025 {:02}:{:02}:{:02}.{};{}.5;{}",
                s / 3600,
                s / 60 % 60,
                s % 60,
                k % 10,
                k % 1000,
                k % 7
            );
        }
        text
    };
    let counted = |header: &str, from: usize| {
        (0..ROWS).fold(header.to_owned(), |mut text, k| {
            let _ = writeln!(
                text,
                "{:.3};{}.5;{}",
                k as f64 / 1000.0,
                from + k % 1000,
                k % 7
            );
            text
        })
    };
    let other = "time_s;volume_ml;pressure_kpa\n";
    let footer = "\n;;\nMittel\u{e4}r;\u{b5};\nMin;0.5;0\nMax;999.5;6\nMean;15;";
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.csv");
    for (what, text, code, rows) in [
        ("hour", stamped(72_000), "clock-hour-jump", ROWS),
        (
            "footer",
            stamped(usize::MAX) + footer,
            "footer-left-out",
            ROWS,
        ),
        (
            "again",
            counted(HEADER, 0) + &counted(HEADER, 5),
            "several-acquisitions",
            2 * ROWS,
        ),
        (
            "other",
            counted(HEADER, 0) + &counted(other, 5),
            "header-differs",
            ROWS,
        ),
    ] {
        // A byte a letter as well as two, where there are such letters.
        let narrow: Vec<u8> = text.chars().map(|c| c as u8).collect();
        for bytes in [text.clone().into_bytes(), narrow] {
            assert!(bytes.len() > 8 << 20, "{what}: {}", bytes.len());
            std::fs::write(&path, &bytes).unwrap();
            let mut large = read_trace(&path, "t.csv", &auto()).unwrap();
            large.input = None;
            let small = trace_from_bytes(bytes, "t.csv", &auto()).unwrap();
            assert!(
                codes(&small).contains(&code),
                "{what}: {:?}",
                small.findings
            );
            assert_eq!(small.time_s.len(), rows, "{what}");
            assert_eq!(large.findings, small.findings, "{what}");
            assert!(large == small, "{what}");
        }
    }
}

/// Room for the rows of a large file is taken from a look at a few stretches of it. Where lines are shorter in all others, there are more rows
/// than that, and nothing is lost.
#[test]
fn large_files_may_hold_more_rows_than_a_look_at_them_tells() {
    // A stretch has 2^18 bytes, and every fourth of so many is looked at.
    const BYTES: usize = 9 << 20;
    let note = "shield closed, balloon wet ".repeat(8);
    let mut text = "time_s;pressure_kpa;volume_ml;note\n".to_owned();
    let mut rows = 0;
    while text.len() < BYTES {
        let looked_at = (text.len() >> 18).is_multiple_of(4);
        let note = if looked_at { note.as_str() } else { "" };
        let _ = writeln!(
            text,
            "{:.3};{}.5;{};{note}",
            rows as f64 / 1000.0,
            rows % 1000,
            rows % 7
        );
        rows += 1;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.csv");
    std::fs::write(&path, &text).unwrap();
    let mut large = read_trace(&path, "t.csv", &auto()).unwrap();
    large.input = None;
    let small = trace_from_bytes(text.into_bytes(), "t.csv", &auto()).unwrap();
    assert_eq!(large.time_s.len(), rows);
    assert!(large == small);
}
