//! The examples of files in the README are read as they stand.

use crate::{blocks, page};
use hooptrace::judge::{RULES, STEPS, protocol_from_text};
use hooptrace::rig::{load_study, rig_from_text};
use std::fs;

/// The example of a study file is one.
#[test]
fn the_study_file_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let readme = page("README.md");
    let example = &blocks(&readme, "toml")[0];
    fs::write(folder.path().join("study.toml"), example).unwrap();
    let (study, findings) =
        load_study(folder.path()).unwrap_or_else(|findings| panic!("{findings:?}"));
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(
        (study.title.as_str(), study.rig.as_deref()),
        ("Ring study", Some("rigs/mine.toml"))
    );
    assert!((study.settings.set_ratio_least - 0.01).abs() < 1e-12);
}

/// The example of a hypothetical patient is one, and every key of the table of `[flow]` is read.
#[test]
fn the_flow_loop_and_the_patient_are_read() {
    let readme = page("README.md");
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("study.toml"),
        &blocks(&readme, "toml")[1],
    )
    .unwrap();
    let (study, _) = load_study(folder.path()).unwrap_or_else(|findings| panic!("{findings:?}"));
    let patient = study.hypothetical_patient.unwrap();
    assert!(patient.height_cm > 0.0 && patient.aorta_diameter_mm.is_some());

    let table = readme.split("| key of `[flow]` |").nth(1).unwrap();
    let rows = table
        .lines()
        .skip(2)
        .take_while(|line| line.starts_with('|'));
    let mut seen = 0;
    for row in rows {
        let mut keys: Vec<&str> = row
            .split('|')
            .nth(1)
            .unwrap()
            .split('`')
            .skip(1)
            .step_by(2)
            .collect();
        for key in keys.drain(..) {
            let text = format!("[flow]\n{key} = 6.0\n");
            let (rig, _) = rig_from_text(&text, "r.toml").unwrap_or_else(|f| panic!("{f:?}"));
            assert!(rig.flow != hooptrace::rig::FlowSpec::default(), "{key}");
            seen += 1;
        }
    }
    assert_eq!(seen, 8);
}

/// The example of a further recording is one, beside a main recording with a volume.
#[test]
fn the_further_recording_is_read() {
    let readme = page("README.md");
    let example = &blocks(&readme, "toml")[2];
    let main = "[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\n[[channel]]\nquantity = \"volume\"\nunit = \"mL\"\n";
    let (rig, _) = rig_from_text(&format!("{main}{example}"), "rigs/mine.toml")
        .unwrap_or_else(|findings| panic!("{findings:?}"));
    assert_eq!(rig.recordings.len(), 1);
    assert_eq!(rig.recordings[0].trace_column, "trace_camera");
    assert!(rig.recordings[0].sync.drift);
}

/// The example of a protocol is one, and its tables tell every step and rule with every key, no more and no less.
#[test]
fn the_protocol_is_read() {
    let readme = page("README.md");
    let examples = blocks(&readme, "toml");
    let example = examples
        .iter()
        .find(|text| text.contains("[[step]]"))
        .unwrap();
    let protocol = protocol_from_text(example, "p.toml").unwrap_or_else(|f| panic!("{f:?}"));
    assert!(!protocol.steps.is_empty() && !protocol.criteria.is_empty());
    let steps = STEPS.iter().map(|step| (step.name(), step.keys()));
    let rules = RULES.iter().map(|rule| (rule.name(), rule.keys()));
    for (head, known) in [
        ("| step |", steps.collect::<Vec<_>>()),
        ("| rule |", rules.collect::<Vec<_>>()),
    ] {
        let table = readme.split(head).nth(1).unwrap();
        let rows = table
            .lines()
            .skip(2)
            .take_while(|line| line.starts_with("| `"));
        let rows: Vec<&str> = rows.collect();
        assert_eq!(rows.len(), known.len(), "{head}");
        for (name, keys) in known {
            let row = rows
                .iter()
                .find(|row| row.starts_with(&format!("| `{name}` |")));
            let row = row.unwrap_or_else(|| panic!("{head} has no {name}"));
            for key in keys.iter().filter(|key| {
                key.name != "limit"
                    || name != "tolerance" && name != "mean" && name != "each_within"
            }) {
                assert!(
                    row.contains(&format!("`{}", key.name)),
                    "{name}: {}",
                    key.name
                );
            }
        }
    }
}

/// The example of `[report]` holds every item.
#[test]
fn the_items_of_a_report_are_those_that_are_read() {
    let readme = page("README.md");
    for item in hooptrace::rig::REPORT_ITEMS {
        assert!(readme.contains(&format!("`{}`", item.key)), "{}", item.key);
    }
    let folder = tempfile::tempdir().unwrap();
    let text = "[report]\nlaboratory = \"Bench house\"\ncustomer = \"\"\n";
    fs::write(folder.path().join("study.toml"), text).unwrap();
    let (study, _) = load_study(folder.path()).unwrap_or_else(|findings| panic!("{findings:?}"));
    assert_eq!(study.report["laboratory"].as_deref(), Some("Bench house"));
    assert_eq!(study.report["customer"], None);
}
