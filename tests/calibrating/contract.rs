//! What every check of quality keeps.

use crate::staircase::Staircase;
use crate::support::{in_a_hold, named, pressure, runs, see};
use hooptrace::calibrate::QUALITY;
use hooptrace::recording::Severity;
use std::collections::BTreeSet;

#[test]
fn names_and_codes_are_unique_and_in_the_readme() {
    let readme =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let (mut names, mut codes) = (BTreeSet::new(), BTreeSet::new());
    for quality in QUALITY {
        assert!(names.insert(quality.name), "{} twice", quality.name);
        assert!(!quality.codes.is_empty());
        for code in quality.codes {
            assert!(codes.insert(*code), "{code} twice");
            assert!(
                readme.contains(&format!("`{code}`")),
                "README.md tells nothing of {code}"
            );
        }
    }
    assert!(names.len() >= 10);
}

/// A sound run of any rate and noise: nothing is doubted and nothing left out.
#[test]
fn a_sound_run_has_no_doubt() {
    for run in runs() {
        let (trace, findings) = see(&run.make().raw);
        let doubts: Vec<_> = findings
            .iter()
            .filter(|f| f.severity != Severity::Note)
            .collect();
        assert!(doubts.is_empty(), "{}: {doubts:#?}", named(&run));
        let notes: Vec<&str> = findings.iter().map(|f| f.code.as_str()).collect();
        let expected = ["counter-handover"];
        assert!(
            notes.iter().all(|code| expected.contains(code)),
            "{notes:?}"
        );
        assert!(trace.pressure_kpa.iter().all(|p| p.is_finite()));
        assert!(!trace.clipped.contains(&true));
    }
}

/// Whatever is left out is told, sample for sample: the numbers of the findings add up to the samples without a pressure.
#[test]
fn what_is_left_out_is_counted() {
    for run in runs() {
        let mut raw = run.make().raw;
        let at = in_a_hold(&run);
        let p = pressure(&mut raw);
        p[at] += 300.0;
        p[at / 2] = -9999.0;
        p[at / 3..at / 3 + 3].fill(-9999.0);
        let n = p.len();
        let (trace, findings) = see(&raw);
        let gone = trace.pressure_kpa.iter().filter(|p| !p.is_finite()).count();
        let told: usize = findings
            .iter()
            .filter(|f| ["spikes", "missing-code"].contains(&f.code.as_str()))
            .filter_map(|f| f.count)
            .sum();
        assert_eq!((gone, told), (5, 5), "{}: {findings:#?}", named(&run));
        for finding in findings.iter().filter(|f| f.severity == Severity::Doubt) {
            let effect = finding.effect.as_deref().unwrap_or_default();
            assert!(!effect.is_empty(), "{finding:?}");
            assert!(finding.line.is_some() || finding.file.is_some());
        }
        assert_eq!(trace.len(), n);
    }
}

/// The same recording with more rows has the same findings: excerpts see what the whole column shows.
#[test]
fn a_long_recording_is_judged_like_a_short_one() {
    let codes = |rate_hz: f64| {
        let run = Staircase {
            rate_hz,
            ..Staircase::default()
        };
        let (_, findings) = see(&run.make().raw);
        findings.into_iter().map(|f| f.code).collect::<Vec<_>>()
    };
    assert_eq!(codes(100.0), codes(4000.0));
}
