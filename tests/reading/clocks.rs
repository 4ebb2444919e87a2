//! Clocks: a step in the preamble, day serials, summer time, hours beyond 24, AM and PM, dates that cannot be told.

use super::support::{auto, codes, read, rig};
use hooptrace::read::trace_from_bytes;
use hooptrace::recording::Severity;
use std::fmt::Write as _;

fn file(header: &str, rows: usize, cells: impl Fn(usize) -> String) -> String {
    (0..rows).fold(header.to_owned(), |mut text, k| {
        let _ = writeln!(text, "{}", cells(k));
        text
    })
}

/// `hh:mm:ss` of a second of the day or beyond.
fn hms(second: usize) -> String {
    format!(
        "{:02}:{:02}:{:02}",
        second / 3600,
        second / 60 % 60,
        second % 60
    )
}

#[test]
fn a_rate_or_a_step_in_the_preamble_is_the_clock_and_is_told() {
    for (preamble, step) in [
        ("Sample rate: 1000 Hz\n", 0.001),
        ("Interval;0.001 s\nOperator;a\n", 0.001),
        ("dt = 1 ms\n", 0.001),
        ("dt [ms] = 2\n", 0.002),
        ("Sampling interval: 500us\n", 0.0005),
        ("Abtastintervall: 0,25 s\n", 0.25),
        ("Sample rate: 1000 Hz\nInterval: 1 ms\n", 0.001),
    ] {
        let mark = if preamble.contains(',') { ',' } else { '.' };
        let text = file(&format!("{preamble}pressure_kpa;volume_ml\n"), 40, |k| {
            format!("{k}{mark}5;{}", k % 9)
        });
        let recording = read(&text, &auto());
        for (at, time) in recording.time_s.iter().enumerate() {
            assert!(
                (time - at as f64 * step).abs() < 1e-12,
                "{preamble}: {time} at {at}"
            );
        }
        let told = recording
            .findings
            .iter()
            .find(|f| f.code == "clock-from-preamble")
            .unwrap();
        assert_eq!(told.severity, Severity::Note);
    }
    // A step without its unit says nothing, and two rates contradict each other.
    for preamble in [
        "Interval;0.001\n",
        "Sample rate: 1000 Hz\nInterval: 0.01 s\n",
    ] {
        let text = file(&format!("{preamble}pressure_kpa;volume_ml\n"), 40, |k| {
            format!("{k}.5;{}", k % 9)
        });
        let findings = trace_from_bytes(text.into_bytes(), "t.csv", &auto()).unwrap_err();
        assert!(
            findings.iter().any(|f| f.code == "clock-unknown"),
            "{preamble}: {findings:?}"
        );
    }
}

#[test]
fn day_serials_are_read_where_the_header_speaks_of_a_date_and_never_guessed() {
    // 45720.9997106481 is 2025-03-04 23:59:35 in every spreadsheet program (45720 is 2025-03-04).
    let serial = |k: usize| format!("{:.10}", 45_720.0 + (86_375.0 + k as f64) / 86_400.0);
    let dated = file("Date,pressure_kpa\n", 60, |k| format!("{},{k}", serial(k)));
    let timed = file("Time,pressure_kpa\n", 60, |k| format!("{},{k}", serial(k)));
    let recording = read(&dated, &auto());
    assert!(codes(&recording).contains(&"clock-day-serial"));
    let declared = read(
        &timed,
        &rig(
            "[clock]\nkind = \"serial\"\ncolumn = \"Time\"\n[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n",
        ),
    );
    for recording in [recording, declared] {
        assert_eq!(
            recording.started_at.as_deref(),
            Some("2025-03-04T23:59:35.000")
        );
        for (at, time) in recording.time_s.iter().enumerate() {
            assert!((time - at as f64).abs() < 1e-4, "{time} at {at}");
        }
    }
    let findings = trace_from_bytes(timed.into_bytes(), "t.csv", &auto()).unwrap_err();
    let error = findings.iter().find(|f| f.code == "clock-unknown").unwrap();
    let help = error.help.as_deref().unwrap();
    assert!(
        help.contains("serial") && help.contains("relative"),
        "{error}"
    );
}

#[test]
fn a_jump_of_exactly_an_hour_is_continued_and_told() {
    let jump = |from: usize, back: bool| {
        move |k: usize| match (k >= 10, back) {
            (false, _) => from + k,
            (true, true) => from + k - 3600,
            (true, false) => from + k + 3600,
        }
    };
    for (back, from) in [(false, 7190), (true, 10_790)] {
        let second = jump(from, back);
        for (header, stamp) in [
            ("time;pressure_kpa\n", "30.03.2025 "),
            ("time;pressure_kpa\n", "2025-03-30T"),
            ("clock;pressure_kpa\n", ""),
        ] {
            let text = file(header, 40, |k| format!("{stamp}{};{k}", hms(second(k))));
            let recording = read(&text, &auto());
            for (at, time) in recording.time_s.iter().enumerate() {
                assert_eq!(*time, at as f64, "{stamp} {back} at {at}");
            }
            let told = recording
                .findings
                .iter()
                .find(|f| f.code == "clock-hour-jump")
                .unwrap();
            assert_eq!(
                (told.severity, told.line),
                (Severity::Doubt, Some(12)),
                "{told}"
            );
            assert!(
                told.message.contains(if back { "back" } else { "forward" }),
                "{told}"
            );
        }
    }
    // UTC does not jump, an elapsed time neither, and a pause of 61 minutes is a pause.
    let second = jump(7190, false);
    let utc = file("time;pressure_kpa\n", 40, |k| {
        format!("2025-03-30T{}Z;{k}", hms(second(k)))
    });
    let elapsed = file("time_s;pressure_kpa\n", 40, |k| {
        format!("{};{k}", second(k))
    });
    let pause = file("time;pressure_kpa\n", 40, |k| {
        format!(
            "30.03.2025 {};{k}",
            hms(7190 + k + if k >= 10 { 3660 } else { 0 })
        )
    });
    for text in [utc, elapsed, pause] {
        let recording = read(&text, &auto());
        assert!(!codes(&recording).contains(&"clock-hour-jump"));
        assert!(recording.time_s[39] > 3600.0);
    }
}

#[test]
fn clocks_of_the_day_go_over_noon_midnight_and_24_hours() {
    let half = |second: usize| {
        let hour = second / 3600 % 24;
        let twelve = if hour.is_multiple_of(12) {
            12
        } else {
            hour % 12
        };
        format!(
            "{twelve}:{:02}:{:02} {}",
            second / 60 % 60,
            second % 60,
            if hour < 12 { "AM" } else { "PM" }
        )
    };
    for from in [43_190, 86_390, 46_790] {
        let text = file("clock,pressure_kpa\n", 40, |k| {
            format!("{},{k}", half(from + k))
        });
        let recording = read(&text, &auto());
        assert_eq!(
            recording.time_s[..],
            (0..40).map(f64::from).collect::<Vec<_>>(),
            "{from}"
        );
    }
    let text = file("elapsed,pressure_kpa\n", 40, |k| {
        format!("{}.250,{k}", hms(86_390 + k))
    });
    assert_eq!(
        read(&text, &auto()).time_s[..],
        (0..40).map(f64::from).collect::<Vec<_>>()
    );
    let text = file("elapsed,pressure_kpa\n", 40, |k| {
        format!("{}.250,{k}", hms(359_990 + k))
    });
    assert_eq!(read(&text, &auto()).time_s[39], 39.0);
    let text = file("Time [min],pressure_kpa\n", 40, |k| {
        format!("{:.6},{k}", k as f64 / 60.0)
    });
    assert!((read(&text, &auto()).time_s[39] - 39.0).abs() < 1e-4);
}

#[test]
fn a_clock_that_begins_again_or_runs_backwards_is_left_as_the_file_has_it() {
    let text = file("time_s,pressure_kpa\n", 40, |k| format!("{},{k}", k % 20));
    let recording = read(&text, &auto());
    assert_eq!(recording.time_s[20], 0.0);
    assert!(codes(&recording).contains(&"several-acquisitions"));
    let text = file("time_s,pressure_kpa\n", 40, |k| format!("{},{k}", 40 - k));
    assert_eq!(read(&text, &auto()).time_s[39], -39.0);
}

#[test]
fn day_and_month_that_cannot_be_told_are_asked_for() {
    let text = file("time,pressure_kpa\n", 20, |k| {
        format!("0{}/04/2025 10:00:{k:02},{k}", if k < 10 { 3 } else { 5 })
    });
    let findings = trace_from_bytes(text.clone().into_bytes(), "t.csv", &auto()).unwrap_err();
    let error = findings.iter().find(|f| f.code == "clock-unknown").unwrap();
    let help = error.help.as_deref().unwrap();
    assert!(
        help.contains("dd/mm/yyyy") && help.contains("mm/dd/yyyy"),
        "{error}"
    );
    for (format, days) in [("dd/mm/yyyy hh:mm:ss", 2.0), ("mm/dd/yyyy hh:mm:ss", 61.0)] {
        let declared = rig(&format!(
            "[clock]\nkind = \"local\"\ncolumn = \"time\"\nformat = \"{format}\"\n[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n"
        ));
        // 3 April to 5 April, or 4 March to 4 May (27 + 30 + 4 days).
        assert_eq!(
            read(&text, &declared).time_s[10],
            days * 86_400.0 + 10.0,
            "{format}"
        );
    }
}
