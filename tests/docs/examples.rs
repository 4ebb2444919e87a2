//! The examples of files in the README are read as they stand.

use crate::{blocks, page};
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
