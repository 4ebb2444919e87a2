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
