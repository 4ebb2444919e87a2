//! What `inspect` shows of a file, and that the rig it proposes reads it.

use super::columns::blocks;
use super::dialects::{ROWS, check, dialects};
use super::support::rig;
use hooptrace::cli::inspect;
use hooptrace::read::read_trace;
use std::fmt::Write as _;

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

/// What `inspect` proposes for a file of this text.
fn proposal(text: &str) -> (tempfile::TempDir, std::path::PathBuf, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bare.csv");
    std::fs::write(&path, text).unwrap();
    let proposed = inspect(&path, None).unwrap().proposed.unwrap();
    // As it stands it is a rig file, whatever is still to be declared.
    rig(&proposed);
    (folder, path, proposed)
}

/// The proposal with the marks taken away below every `# declare:` line of its own, and these answers filled in.
fn declared(proposed: &str, answers: &[(&str, &str)]) -> String {
    let mut text = String::new();
    let mut open = false;
    for line in proposed.lines() {
        let remark = line.strip_prefix("# ");
        match remark {
            Some(remark) if remark.starts_with("declare:") => open = true,
            Some(remark) if open => {
                let _ = writeln!(text, "{remark}");
            }
            _ => {
                open = false;
                let _ = writeln!(text, "{line}");
            }
        }
    }
    for (from, to) in answers {
        assert!(text.contains(from), "no {from:?} in\n{text}");
        text = text.replacen(from, to, 1);
    }
    text
}

/// Steps of 100 over 3.9 s or 3900 s: only as milliseconds are they a run, and that is said, not hidden.
#[test]
fn a_proposal_for_a_file_without_names_says_what_the_clock_may_be() {
    let mut text = String::new();
    for at in 0..40 {
        let _ = writeln!(text, "{}.0;{}", at * 100, 7 - at % 3);
    }
    let (_folder, path, proposed) = proposal(&text);
    assert!(
        proposed.contains("unit = \"ms\" # declare: is it?"),
        "{proposed}"
    );
    let edited = declared(&proposed, &[("unit = \"...\"", "unit = \"bar\"")]);
    let recording = read_trace(&path, "bare.csv", &rig(&edited)).unwrap();
    assert!((recording.time_s[39] - 3.9).abs() < 1e-12);
    // Steps of 0.01 may be seconds or minutes: neither is written.
    let mut text = String::new();
    for at in 0..600 {
        let _ = writeln!(text, "{:.2};{}", f64::from(at) * 0.01, 7 - at % 3);
    }
    let (_folder, _, proposed) = proposal(&text);
    assert!(
        proposed.contains("# declare: the unit of time (\"s\", \"min\"?)"),
        "{proposed}"
    );
}

/// Sample numbers and bare rows need a rate, a turn its volume, counts their calibration: each is one thing to fill in.
#[test]
fn what_the_file_does_not_say_is_filled_in_at_its_place() {
    let mut index = "Sample,Pressure [atm],Volume [turns]\n".to_owned();
    let mut bare = String::new();
    let mut counts = "t [s];P1 [counts];V1 [mL]\n".to_owned();
    for at in 0..60 {
        let (p, v) = (f64::from(at % 20) * 0.5, f64::from(at) * 0.125);
        let _ = writeln!(index, "{at},{p},{v}");
        let _ = writeln!(bare, "{p},{}", v - 3.0 * f64::from(at % 2));
        let _ = writeln!(
            counts,
            "{};{};{v}",
            f64::from(at) * 0.25,
            1000 + at % 20 * 50
        );
    }
    let rate = ("rate_hz = ...", "rate_hz = 50.0");

    let (_folder, path, proposed) = proposal(&index);
    let edited = declared(
        &proposed,
        &[rate, ("ml_per_turn = ...", "ml_per_turn = 0.4")],
    );
    let recording = read_trace(&path, "bare.csv", &rig(&edited)).unwrap();
    assert_eq!((recording.time_s[50], recording.channels.len()), (1.0, 2));

    let (_folder, path, proposed) = proposal(&bare);
    let edited = declared(&proposed, &[rate, ("unit = \"...\"", "unit = \"kPa\"")]);
    let recording = read_trace(&path, "bare.csv", &rig(&edited)).unwrap();
    assert_eq!(
        (recording.time_s[50], recording.channels[0].values[3]),
        (1.0, 1.5)
    );

    let (_folder, path, proposed) = proposal(&counts);
    let edited = proposed
        .replace("unit = \"auto\" # declare", "unit = \"kPa\" # declared")
        .replace("# [channel.calibration]", "[channel.calibration]")
        .replace("# kind = \"gain", "kind = \"gain")
        .replace("# gain = ...", "gain = 0.01")
        .replace("# offset = ...", "offset = -10.0");
    let recording = read_trace(&path, "bare.csv", &rig(&edited)).unwrap();
    assert_eq!(recording.channels[0].values[3], 1150.0);
}

/// What a proposal says of the clock where the file leaves something open, and what it reads once that is declared.
#[test]
fn dates_and_day_serials_that_cannot_be_told_are_marked() {
    let mut days = "Time,pressure_kpa\n".to_owned();
    let mut dates = "time,pressure_kpa\n".to_owned();
    for at in 0..50 {
        let _ = writeln!(days, "{:.10},{at}", 45_720.5 + f64::from(at) / 86_400.0);
        let _ = writeln!(dates, "03/04/2025 10:00:{at:02},{at}");
    }
    let (_folder, path, proposed) = proposal(&days);
    let marks_away = proposed
        .replace("# [clock]", "[clock]")
        .replace("# kind = \"serial\"", "kind = \"serial\"")
        .replace("# column", "column");
    let recording = read_trace(&path, "bare.csv", &rig(&marks_away)).unwrap();
    assert!((recording.time_s[49] - 49.0).abs() < 1e-3);
    let (_folder, path, proposed) = proposal(&dates);
    assert!(
        proposed.contains("# declare: or the month first?"),
        "{proposed}"
    );
    for (format, started) in [("dd/mm", "2025-04-03"), ("mm/dd", "2025-03-04")] {
        let declared = rig(&proposed.replace("dd/mm", format));
        let recording = read_trace(&path, "bare.csv", &declared).unwrap();
        assert!(recording.started_at.unwrap().starts_with(started));
    }
}

/// The rig proposed for a file of any format reads it as it stands, packed or not, but for what it marks.
#[test]
fn the_rig_proposed_for_every_format_reads_it_unedited() {
    let folder = tempfile::tempdir().unwrap();
    for sample in super::formats::samples() {
        for bytes in [super::support::gzip(&sample.bytes), sample.bytes.clone()] {
            let path = folder.path().join("trace.dat");
            std::fs::write(&path, &bytes).unwrap();
            let seen = inspect(&path, None).unwrap();
            let proposed = rig(&seen.proposed.unwrap());
            let recording = read_trace(&path, "trace.dat", &proposed)
                .unwrap_or_else(|findings| panic!("{}: {findings:?}", sample.name));
            assert_eq!(
                recording.time_s.len(),
                seen.survey.summary.rows,
                "{}",
                sample.name
            );
            assert_eq!(recording.summary.format, sample.format);
            assert!(!recording.channels.is_empty(), "{}", sample.name);
            let clock = seen.survey.time.unwrap();
            assert_eq!(recording.clock, clock.spec, "{}", sample.name);
        }
    }
}

/// A vented gauge reads about nothing, a vented absolute transducer the air; anything else is not known.
#[test]
fn the_vented_reading_tells_gauge_from_absolute() {
    for (start, word, marked) in [
        (0.4, "gauge", false),
        (-12.0, "gauge", false),
        (99.8, "absolute", false),
        (350.0, "gauge", true),
    ] {
        let mut text = "time_s,pressure_kpa\n".to_owned();
        for at in 0..100 {
            let p = start + f64::from((at - 40_i32).max(0)) * 10.0;
            let _ = writeln!(text, "{},{p:.1}", f64::from(at) * 0.1);
        }
        let (_folder, _, proposed) = proposal(&text);
        let line = proposed
            .lines()
            .find(|line| line.starts_with("reference"))
            .unwrap();
        assert!(
            line.starts_with(&format!("reference = \"{word}\"")),
            "{line}"
        );
        assert_eq!(line.contains("declare:"), marked, "{line}");
        // Where nothing is left to declare, the word does not stand there at all.
        assert_eq!(proposed.contains("declare:"), marked, "{proposed}");
    }
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
