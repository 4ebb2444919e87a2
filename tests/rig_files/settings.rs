//! Settings: every one has a reason and can be set, and what makes no sense is told at its place.

use super::support::study;
use hooptrace::rig::load_study;
use hooptrace::rig::settings::{Setting, Settings, read_text};

/// Another value that makes sense.
fn other(setting: &Setting) -> f64 {
    if setting.whole {
        setting.value + 1.0
    } else {
        0.9 * setting.value
    }
}

#[test]
fn every_setting_has_a_reason_and_is_read_back() {
    let defaults = Settings::default().list();
    assert!(defaults.len() > 150, "{}", defaults.len());
    for (at, setting) in defaults.iter().enumerate() {
        let name = setting.name();
        assert!(setting.reason.len() > 20, "{name}: {}", setting.reason);
        assert!(setting.reason.ends_with('.'), "{name}: {}", setting.reason);
        // A key of a time, pressure or volume says so in its reason too.
        for (ending, unit) in [("_s", ", s"), ("_kpa", "kPa"), ("_ml", "mL")] {
            if name.ends_with(ending) && !name.ends_with("_per_s") {
                assert!(setting.reason.contains(unit), "{name}: {}", setting.reason);
            }
        }
        let text = format!("{name} = {}", other(setting));
        let read = read_text(&text).expect(&name).list();
        for (k, (read, default)) in read.iter().zip(&defaults).enumerate() {
            let expected = if k == at {
                other(setting)
            } else {
                default.value
            };
            assert!((read.value - expected).abs() < 1e-12, "{text}: {read:?}");
        }
    }
    for (group, about) in Settings::GROUPS {
        assert!(about.len() > 10 && defaults.iter().any(|s| s.group == *group));
    }
}

#[test]
fn settings_are_written_as_tables_or_with_dots_and_kept_nested() {
    let texts = [
        "[settings]\ndrop_share = 0.01\n[settings.leak]\nshortest_s = 0.3\n",
        "[settings]\nleak.shortest_s = 0.3\ndrop_share = 0.01\n",
    ];
    for text in texts {
        let folder = study(&[("study.toml", text)]);
        let (file, _) = load_study(folder.path()).unwrap();
        let mut expected = Settings {
            drop_share: 0.01,
            ..Settings::default()
        };
        expected.leak.shortest_s = 0.3;
        assert_eq!(file.settings, expected);
        let json = serde_json::to_value(&file.settings).unwrap();
        assert_eq!(json["leak"]["shortest_s"], 0.3);
        assert_eq!(serde_json::from_value::<Settings>(json).unwrap(), expected);
    }
}

#[test]
fn what_makes_no_sense_is_told_at_its_place() {
    for (line, says) in [
        ("leak.shortest_s = -1", "`leak.shortest_s` is -1"),
        ("leak.shortest_s = 0", "above 0"),
        ("leak.shortest_s = nan", "`leak.shortest_s` is nan"),
        ("leak.shortest_s = inf", "a finite number"),
        ("leak.shortest_s = 1e300", "at most 3600"),
        ("leak.shortest_s = \"long\"", "a finite number"),
        ("leak = 3", "a table [settings.leak]"),
        ("leak.shortes_s = 1", "did you mean `shortest_s`?"),
        ("leek.shortest_s = 1", "did you mean `leak`?"),
        (
            "hold_shortest_s = 1",
            "did you mean `phases.hold_shortest_s`?",
        ),
        ("volume_share = 1.5", "at most 1"),
        ("confidence = 1", "below 1"),
        ("confidence = 0.4", "at least 0.5"),
        ("balloon.rated_coverage_share = 0.4", "at least 0.5"),
        ("outcome.seen_confidence = 1.2", "below 1"),
        ("fewest_samples = 2.5", "a whole number"),
        ("fewest_samples = -2", "a whole number"),
        ("held_samples = 0", "above 0"),
        ("leak.relaxes_fastest_s = 30", "must be the smaller"),
        ("falls.gap_slip_s = 0.1", "must be the smaller"),
    ] {
        let folder = study(&[("study.toml", &format!("[settings]\n{line}\n"))]);
        let findings = load_study(folder.path()).expect_err(line);
        assert_eq!(findings.len(), 1, "{line}: {findings:?}");
        assert_eq!(
            (findings[0].code.as_str(), findings[0].line),
            ("settings", Some(2))
        );
        let told = findings[0].to_string();
        assert!(told.contains(says), "{line}: {told}");
    }
    // Both ends moved together are in order.
    assert!(read_text("leak.relaxes_fastest_s = 30\nleak.relaxes_slowest_s = 60").is_ok());
}
