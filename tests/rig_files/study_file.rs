//! The study file, and paths that must stay inside the folder of the study.

use super::support::{FULL, study};
use hooptrace::rig::{Settings, inside, load_rig, load_study};

#[test]
fn a_study_file_names_its_rig_inside_the_folder() {
    let folder = study(&[
        ("study.toml", "title = \"T\"\nrig = \"rigs/x.toml\"\n"),
        ("rigs/x.toml", FULL),
    ]);
    let (file, findings) = load_study(folder.path()).unwrap();
    assert!(findings.is_empty());
    assert_eq!(
        (file.title.as_str(), file.rig.as_deref()),
        ("T", Some("rigs/x.toml"))
    );
    assert_eq!(file.settings, Settings::default());
    assert!(load_rig(&folder.path().join("rigs/x.toml"), "rigs/x.toml").is_ok());
    assert_eq!(
        load_rig(&folder.path().join("rigs/y.toml"), "rigs/y.toml").unwrap_err()[0].code,
        "file-unreadable"
    );
    for (text, code, line, mention) in [
        (
            "title = \"T\"\nrig = \"rigs/x.toml\n",
            "toml-syntax",
            2,
            "TOML",
        ),
        ("rig = \"../x.toml\"\n", "path-outside", 1, "leaves"),
        ("rig = \"/etc/hosts\"\n", "path-outside", 1, "absolute"),
        ("tilte = \"T\"\n", "toml-unknown-key", 1, "title"),
    ] {
        let folder = study(&[("study.toml", text)]);
        let findings = load_study(folder.path()).expect_err(text);
        assert_eq!(findings.len(), 1, "{text}: {findings:?}");
        let finding = &findings[0];
        assert_eq!(
            (finding.code.as_str(), finding.line),
            (code, Some(line)),
            "{text}: {finding}"
        );
        assert_eq!(finding.file.as_deref(), Some("study.toml"));
        assert!(finding.to_string().contains(mention), "{text}: {finding}");
    }
    let bare = tempfile::tempdir().unwrap();
    assert!(
        load_study(bare.path()).unwrap_err()[0]
            .message
            .contains("study.toml")
    );
}

#[test]
fn paths_of_a_study_stay_inside() {
    let folder = study(&[("traces/a.csv", "x")]);
    assert_eq!(
        inside(folder.path(), "traces\\a.csv").unwrap(),
        "traces/a.csv"
    );
    assert_eq!(
        inside(folder.path(), "traces/../traces/a.csv").unwrap(),
        "traces/../traces/a.csv"
    );
    for path in [
        "",
        "../a.csv",
        "traces/../../a.csv",
        "/etc/hosts",
        "C:\\a.csv",
        "a\0b",
    ] {
        assert!(inside(folder.path(), path).is_err(), "{path}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/hosts", folder.path().join("traces/link.csv")).unwrap();
        assert!(
            inside(folder.path(), "traces/link.csv")
                .unwrap_err()
                .contains("link")
        );
    }
}

/// What a study says of the series of its runs; every fault with its line, and a suggestion for a slip of the pen.
#[test]
fn a_study_says_how_its_runs_are_put_together() {
    use hooptrace::recording::PressureDefinition;
    use hooptrace::rig::{Series, study_from_text};
    let of = |text: &str| study_from_text(text, std::path::Path::new("study"));
    let (bare, _) = of("title = \"T\"\n").unwrap();
    assert_eq!(bare.series, Series::default());
    assert_eq!(bare.series.group_by.words(), "arm");
    let (study, findings) = of(
        "group_by = [\"construction\", \"balloon\"]\nfracture_pressure_definition = \"last completed step\"\n\
         equivalence_mm = 0.2\nup_and_down = { start_atm = 10, step_atm = 1 }\nfracture_against = \"Planned_Pressure_atm\"\n",
    )
    .unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(study.series.group_by.words(), "construction, balloon");
    assert_eq!(
        study.series.definition,
        PressureDefinition::LastCompletedStep
    );
    assert_eq!(study.series.equivalence_mm, Some(0.2));
    let against = study.series.fracture_against.unwrap();
    assert_eq!(
        (
            against.column.as_str(),
            against.name.as_str(),
            against.unit.symbol,
            against.at.line
        ),
        ("planned_pressure_atm", "planned pressure", "atm", Some(5))
    );
    let plan = study.series.up_and_down.unwrap();
    assert!((plan.start_kpa - 1013.25).abs() < 1e-9 && (plan.step_kpa - 101.325).abs() < 1e-9);
    for (text, code, mention) in [
        ("group_by = \"arm\"\n", "", "a list of texts"),
        (
            "fracture_pressure_definition = \"onzet\"\n",
            "toml-word",
            "did you mean \"onset\"?",
        ),
        (
            "up_and_down = { start_atm = 10 }\n",
            "toml-missing-key",
            "step_atm",
        ),
        ("equivalence_mm = -1\n", "", "equivalence_mm"),
        (
            "fracture_against = \"planned_pressure\"\n",
            "fracture-against",
            "a column whose name ends in its unit",
        ),
    ] {
        let findings = of(text).expect_err(text);
        assert_eq!(findings.len(), 1, "{text}: {findings:?}");
        assert!(
            code.is_empty() || findings[0].code == code,
            "{text}: {}",
            findings[0].code
        );
        assert!(
            findings[0].to_string().contains(mention),
            "{text}: {}",
            findings[0]
        );
        assert_eq!(findings[0].line, Some(1), "{text}");
    }
}
