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
