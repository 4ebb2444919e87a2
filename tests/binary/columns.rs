//! Columns that a study file names: what fracture is set against, and the labels of groups.

use super::checking::{RUNS, check, codes, findings};
use super::study::Bench;
use serde_json::Value;

/// The column that fracture is set against, with a decimal comma, a word and a pressure that is none; and a column that no table has.
#[test]
fn what_fracture_is_set_against_is_checked_cell_by_cell() {
    let bench = Bench::new();
    let text = bench.read(RUNS).replace(',', ";");
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for (line, cell) in
        lines
            .iter_mut()
            .zip(["Planned_pressure_atm", "", "", "8,5", "nine", "-9,5"])
    {
        line.push(';');
        line.push_str(cell);
    }
    bench.write(RUNS, &(lines.join("\n") + "\n"));
    let key = "fracture_against = \"planned_pressure_atm\"\ntitle";
    bench.change("study/study.toml", "title", key);
    let told = findings(&bench);
    let of: Vec<(&str, u64, &str)> = told
        .iter()
        .filter(|finding| finding["column"] == "planned_pressure_atm")
        .map(|finding| {
            let text = |key: &str| finding[key].as_str().unwrap();
            (
                text("run_id"),
                finding["line"].as_u64().unwrap(),
                text("message"),
            )
        })
        .collect();
    assert_eq!(
        of,
        [
            (
                "fl2",
                5,
                "planned_pressure_atm of run fl2 is \"nine\"; a finite number was expected"
            ),
            (
                "fl3",
                6,
                "planned_pressure_atm of run fl3 is \"-9,5\"; a pressure above 0 was expected"
            ),
        ]
    );
    bench.change(
        "study/study.toml",
        "planned_pressure_atm",
        "planed_pressure_atm",
    );
    let ended = check(&bench, 1);
    assert!(
        ended.stdout.contains("fracture-against")
            && ended
                .stdout
                .contains("did you mean \"planned_pressure_atm\"?"),
        "{}",
        ended.stdout
    );
}

/// Two spellings of one arm and of one construction: both are named with their rows, at the rarer one.
#[test]
fn labels_that_differ_by_case_or_blanks_are_told_with_their_rows() {
    let bench = Bench::new();
    assert!(!codes(&bench).contains("label-spelling"));
    bench.change(
        RUNS,
        "fl2,frame,FL-FL2,HB-23,first,",
        "fl2,frame,FL-FL2,HB-23,First,",
    );
    bench.change(
        RUNS,
        "fl3,frame,FL-FL3,HB-23,first,",
        "fl3,frame,FL-FL3,HB-23,\"first \",",
    );
    let spelling = |bench: &Bench| -> Vec<Value> {
        let all = findings(bench).into_iter();
        all.filter(|finding| finding["code"] == "label-spelling")
            .collect()
    };
    let told = spelling(&bench);
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!(
        told[0]["message"],
        "the column arm holds \"first\" (runs.csv, lines 4, 6) and \"First\" (runs.csv, line 5)"
    );
    assert_eq!(
        (
            told[0]["file"].as_str(),
            told[0]["line"].as_u64(),
            told[0]["column"].as_str()
        ),
        (Some("runs.csv"), Some(5), Some("arm"))
    );
    // A column of another table that runs are grouped by.
    bench.change(
        "study/study.toml",
        "title",
        "group_by = [\"construction\"]\ntitle",
    );
    assert!(spelling(&bench).is_empty());
    bench.change(
        "study/frames.csv",
        "FL-FL3,stiff-base",
        "FL-FL3,Solid-Stent",
    );
    let told = spelling(&bench);
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!(
        (told[0]["file"].as_str(), told[0]["column"].as_str()),
        (Some("frames.csv"), Some("construction"))
    );
    // The groups of an analysis carry the finding too.
    let ended = bench.run(&["analyse", "study", "--out", "out", "--no-plots", "--quiet"]);
    assert!(ended.status < 2, "{}", ended.stderr);
    let results = bench.results();
    let all = results["findings"].as_array().unwrap();
    assert!(
        all.iter()
            .any(|finding| finding["code"] == "label-spelling")
    );
}
