//! What else was seen: kinds and units of known and unknown observations, each broken row told at its cell, the other rows kept.

use super::support::{RUNS, tables};
use hooptrace::recording::{Finding, ObservationKind, ObservationRow, Severity, Stage};

const HEAD: &str = "run_id,stage,what,value,unit,observer,u\n";

fn read(rows: &str) -> (Vec<ObservationRow>, Vec<Finding>) {
    let text = format!("{HEAD}{rows}");
    let (tables, mut findings) = tables(&[("runs.csv", RUNS), ("observations.csv", &text)]);
    // The frame of the run is not listed here, which is told too.
    findings.retain(|f| f.file.as_deref() == Some("observations.csv"));
    (tables.observations, findings)
}

#[test]
fn known_observations_have_kinds_and_bench_units() {
    let (rows, findings) = read(
        "r2,after,shift of the inner valve,-0.4,mm,ada,0.05\n\
         r2,after,Inner_valve shift,0.1,cm,ada,\n\
         r2,after,post splay,0.1,rad,ada,\n\
         r2,after,clearance to a wall,0.8 mm,,ben,\n\
         r2,after,leaflet grade,Mild,,ben,\n\
         r2,after,leaflet grade,3,grade,ben,\n\
         r2,before,debris,12,ug,ada,\n\
         r2,after,captured debris,7,count,ada,\n\
         r2,after,captured debris,none,,ada,\n\
         r2,after,captured debris,YES,,ada,\n\
         r2,after,ring gap,6.25,mm,ada,\n\
         r2,after,paravalvular leak,12,%,ada,\n\
         r2,after,after measured,next day,,ada,\n",
    );
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(rows.len(), 13);
    let number = |at: usize| {
        let row: &ObservationRow = &rows[at];
        assert_eq!(row.kind, Some(ObservationKind::Number), "{row:?}");
        let q = row.quantity.clone().unwrap();
        (
            row.name.clone(),
            row.number.unwrap(),
            q.value.unwrap(),
            q.unit,
            q.u,
        )
    };
    let shift = "shift of the inner valve".to_owned();
    assert_eq!(
        number(0),
        (shift.clone(), -0.4, -0.4, "mm".to_owned(), Some(0.05))
    );
    assert_eq!(number(1), (shift, 0.1, 1.0, "mm".to_owned(), None));
    let (name, written, degrees, unit, _) = number(2);
    assert_eq!(
        (name.as_str(), written, unit.as_str()),
        ("splay of the posts", 0.1, "deg")
    );
    assert!(
        (degrees - 5.729_577_951_308_232).abs() < 1e-12,
        "180/π tenths"
    );
    assert_eq!(number(3).2, 0.8);
    assert_eq!(
        (rows[4].grade.as_deref(), rows[4].grade_rank),
        (Some("mild"), Some(2))
    );
    assert_eq!(
        (rows[5].grade.as_deref(), rows[5].grade_rank),
        (Some("3"), Some(3))
    );
    let (name, _, mass, unit, _) = number(6);
    assert_eq!((name.as_str(), unit.as_str()), ("captured debris", "mg"));
    assert!((mass - 0.012).abs() < 1e-15);
    assert_eq!(number(7).3, "counts");
    assert_eq!((rows[8].yes, rows[9].yes), (Some(false), Some(true)));
    assert_eq!(number(11).3, "%");
    assert_eq!(rows[12].kind, Some(ObservationKind::Text));
    assert_eq!(rows[6].stage, Some(Stage::Before));
    // Without a column u there is no uncertainty, and that is said.
    let reason = rows[1].quantity.as_ref().unwrap().reason.clone();
    assert!(reason.is_some_and(|r| r.contains("column u")));
}

/// Code, column, and what finding and help must name.
#[test]
fn a_broken_observation_is_told_at_its_cell_and_the_others_stay() {
    for (row, code, column, found, expected, help) in [
        (
            "wall clearance,0.8,kg",
            "observation-unit",
            "unit",
            "in kg, a mass",
            "a length",
            "mm",
        ),
        (
            "wall clearance,0.8,mmm",
            "unknown-unit",
            "unit",
            "\"mmm\"",
            "a length",
            "did you mean",
        ),
        (
            "wall clearance,0.8,",
            "observation-no-unit",
            "unit",
            "0.8 without a unit",
            "a length",
            "um",
        ),
        (
            "wall clearance,mild,",
            "observation-kind",
            "value",
            "\"mild\", a grade",
            "a length",
            "mm",
        ),
        (
            "wall clearance,wide,mm",
            "observation-kind",
            "value",
            "\"wide\"",
            "a length",
            "mm",
        ),
        (
            "wall clearance,-0.8,mm",
            "value-out-of-range",
            "value",
            "-0.8",
            "below 0",
            "",
        ),
        (
            "leaflet grade,5,",
            "observation-no-unit",
            "unit",
            "5",
            "a grade",
            "severe",
        ),
        (
            "leaflet grade,2,mm",
            "observation-unit",
            "unit",
            "in mm",
            "a grade",
            "0 to 4",
        ),
        (
            "leaflet grade,milld,",
            "observation-kind",
            "value",
            "\"milld\"",
            "a grade",
            "mild",
        ),
        (
            "captured debris,2.5,count",
            "value-out-of-range",
            "value",
            "2.5",
            "whole",
            "",
        ),
        (
            "captured debris,perhaps,",
            "observation-kind",
            "value",
            "perhaps",
            "yes or no",
            "yes or no",
        ),
        (
            "dial,9.5,mm",
            "observation-unit",
            "unit",
            "in mm",
            "a pressure",
            "kPa",
        ),
    ] {
        let (rows, findings) = read(&format!(
            "r2,after,ring gap,6.2,mm,ada,\nr2,after,{row},ada,\nr2,after,leaflet grade,none,,ada,\n"
        ));
        assert_eq!(rows.len(), 3, "{row}");
        assert_eq!(rows[0].number, Some(6.2));
        assert_eq!(rows[2].grade_rank, Some(0));
        assert_eq!(findings.len(), 1, "{row}: {findings:?}");
        let finding = &findings[0];
        assert_eq!(finding.code, code, "{row}: {finding:?}");
        assert_eq!(finding.severity, Severity::Error, "{row}");
        assert_eq!(finding.file.as_deref(), Some("observations.csv"));
        assert_eq!(finding.line, Some(3), "{row}");
        assert_eq!(finding.column.as_deref(), Some(column), "{row}");
        assert_eq!(finding.run_id.as_deref(), Some("r2"));
        assert!(
            finding.message.contains(found),
            "{row}: {}",
            finding.message
        );
        assert!(
            finding.message.contains(expected),
            "{row}: {}",
            finding.message
        );
        let said = finding.help.clone().unwrap_or_default();
        assert!(said.contains(help), "{row}: {said}");
        // It stays as written, and says why it counts for nothing.
        assert_eq!((rows[1].kind, rows[1].number), (None, None), "{row}");
        assert!(
            rows[1].reason.is_some() && !rows[1].value.is_empty(),
            "{row}"
        );
    }
}

#[test]
fn doubts_of_an_observation_leave_its_value() {
    let (rows, findings) = read(
        "r2,after,leaflet grade,mild,mm,ada,\n\
         r2,after,wall clearance,0.8,mm,ada,-0.1\n\
         r2,after,wall clearance,,mm,ada,\n\
         r2,aftr,wall clearance,0.7,mm,ada,\n\
         ,after,wall clearance,0.7,mm,ada,\n",
    );
    assert_eq!(rows.len(), 4);
    let told: Vec<(&str, Option<u64>)> =
        findings.iter().map(|f| (f.code.as_str(), f.line)).collect();
    assert_eq!(
        told,
        [
            ("observation-unit-unused", Some(2)),
            ("value-out-of-range", Some(3)),
            ("cell-empty", Some(4)),
            ("unknown-word", Some(5)),
            ("cell-empty", Some(6)),
            ("run-not-listed", Some(6)),
        ]
    );
    assert_eq!(rows[0].grade_rank, Some(2));
    assert_eq!(rows[1].number, Some(0.8));
    assert_eq!(rows[1].quantity.as_ref().unwrap().u, None);
    assert_eq!(rows[2].kind, None);
    assert_eq!((rows[3].stage, rows[3].number), (None, Some(0.7)));
}

/// An observation nobody foresaw is carried with the kind of most of its values; one of another kind is told.
#[test]
fn unknown_observations_take_the_kind_of_most_of_their_values() {
    use ObservationKind::{Grade, Number, Text, YesNo};
    let (rows, findings) = read(
        "r2,after,suture slack,0.2,mm,ada,\n\
         r2,after,Suture Slack,300,um,ben,\n\
         r2,after,suture slack,some,,ben,\n\
         r2,after,colour,grey,,ben,\n\
         r2,after,colour,7,,ben,\n\
         r2,after,polished,yes,,ben,\n\
         r2,after,wear,moderate,,ben,\n\
         r2,after,heat,4,,ben,\n\
         r2,after,wall clearence,0.3,mm,ben,\n",
    );
    let kinds: Vec<_> = rows.iter().map(|row| row.kind).collect();
    assert_eq!(
        kinds,
        [
            Some(Number),
            Some(Number),
            None,
            Some(Text),
            Some(Text),
            Some(YesNo),
            Some(Grade),
            Some(Text),
            Some(Number)
        ]
    );
    assert_eq!(rows[1].name, "suture slack");
    assert_eq!(rows[1].quantity.as_ref().unwrap().value, Some(0.3));
    let notes: Vec<&Finding> = findings
        .iter()
        .filter(|f| f.code == "observation-unknown")
        .collect();
    assert_eq!(notes.len(), 6, "{findings:?}");
    assert!(notes.iter().all(|f| f.severity == Severity::Note));
    let near = notes
        .iter()
        .find(|f| f.message.contains("clearence"))
        .unwrap();
    assert_eq!(near.line, Some(10));
    assert!(near.help.as_ref().unwrap().contains("wall clearance"));
    let odd = findings
        .iter()
        .find(|f| f.code == "observation-kind")
        .unwrap();
    assert_eq!((odd.line, odd.column.as_deref()), (Some(4), Some("value")));
    assert!(odd.message.contains("\"some\"") && odd.message.contains("a length"));
}

/// A decimal comma is that of the table.
#[test]
fn numbers_follow_the_marks_of_the_table() {
    let text = "run_id;what;value;unit;u\nr2;ring gap;6,25;mm;0,05\n";
    let (tables, findings) = tables(&[("runs.csv", RUNS), ("observations.csv", text)]);
    assert!(
        findings
            .iter()
            .all(|f| f.file.as_deref() == Some("runs.csv"))
    );
    let row = &tables.observations[0];
    assert_eq!(row.number, Some(6.25));
    assert_eq!(row.quantity.as_ref().unwrap().u, Some(0.05));
}
