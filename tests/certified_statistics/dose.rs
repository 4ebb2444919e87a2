//! Dose-response curves: maximum likelihood and bias-reduced, with profile intervals, and separated outcomes.

use hooptrace::stats::{
    DoseCurve, DoseEstimate, Level, Separation, StatsError, dose_fit, separation,
};

use super::thresholds::levels;
use super::{outside, printed, relative};

fn level(level: f64, n: usize, failures: usize) -> Level {
    Level { level, n, failures }
}

fn frames() -> Vec<Level> {
    [(8.0, 1), (9.0, 3), (10.0, 5), (11.0, 8), (12.0, 9)]
        .map(|(l, f)| level(l, 10, f))
        .to_vec()
}

fn apart() -> Vec<Level> {
    [(8.0, 0), (9.0, 0), (10.0, 5), (11.0, 5)]
        .map(|(l, f)| level(l, 5, f))
        .to_vec()
}

#[test]
fn curves_and_their_intervals() {
    for (name, data) in [
        ("beetle", levels("dose_bliss_beetle.csv")),
        ("budworm", levels("dose_budworm_male.csv")),
        ("frames", frames()),
    ] {
        for (curve, word) in [(DoseCurve::Probit, "Probit"), (DoseCurve::Logit, "Logit")] {
            let fit = dose_fit(&data, curve, DoseEstimate::MaximumLikelihood).unwrap();
            let library = |what: &str| outside(&format!("statsmodels/{name}/{word}/{what}"));
            relative(fit.ed50, library("ed50"), 1e-8);
            relative(fit.spread, library("spread"), 1e-7);
            relative(fit.deviance, library("deviance"), 1e-8);
            for (estimate, kind) in [
                (DoseEstimate::MaximumLikelihood, "ml"),
                (DoseEstimate::BiasReduced, "reduced"),
            ] {
                // Plain numerical maximisation of the (penalised) likelihood, profiles included.
                let expected = |what: &str| outside(&format!("dose/{name}/{word}/{kind}/{what}"));
                let fit = dose_fit(&data, curve, estimate).unwrap();
                relative(fit.ed50, expected("ed50"), 1e-6);
                relative(fit.spread, expected("spread"), 1e-6);
                for p in [0.5, 0.9] {
                    let limits = fit.level_limits(p, 0.95).unwrap().closed().unwrap();
                    relative(limits.lower, expected(&format!("{p}/lower")), 1e-6);
                    relative(limits.upper, expected(&format!("{p}/upper")), 1e-6);
                    let value = fit.level(p).unwrap();
                    assert!(limits.lower < value && value < limits.upper);
                }
            }
        }
    }
}

#[test]
fn published_curves() {
    // Bliss (1935) in Dobson's book: logit -60.72 (5.18), 34.27 (2.91), deviance 11.23; probit -34.94, 19.73, deviance 10.12.
    let beetle = levels("dose_bliss_beetle.csv");
    let logit = dose_fit(&beetle, DoseCurve::Logit, DoseEstimate::MaximumLikelihood).unwrap();
    printed(-logit.ed50 / logit.spread, -60.72, 2);
    printed(1.0 / logit.spread, 34.27, 2);
    printed(logit.deviance, 11.23, 2);
    // Standard error of the ED50 from the logit by two packages.
    relative(logit.u_level(0.5).unwrap(), 0.00385805531, 1e-6);
    assert_eq!(logit.dof, 6);
    // Upper tail of chi-squared, 11.23 with 6: 0.0815 (tables bracket it between 5 and 10 %).
    let p = logit.p_of_fit().unwrap();
    assert!(p > 0.05 && p < 0.10, "{p}");
    let probit = dose_fit(&beetle, DoseCurve::Probit, DoseEstimate::MaximumLikelihood).unwrap();
    printed(probit.deviance, 10.12, 2);
    // Frames: mean 9.891788, sd 1.534267, 90 % level 11.858030 (worked).
    let fit = dose_fit(
        &frames(),
        DoseCurve::Probit,
        DoseEstimate::MaximumLikelihood,
    )
    .unwrap();
    printed(fit.ed50, 9.891788, 6);
    printed(fit.spread, 1.534267, 6);
    printed(fit.level(0.9).unwrap(), 11.858030, 6);
    printed(fit.ln_likelihood, -24.62474, 5);
    // Two parameters for two levels leave nothing to test.
    let two = [level(8.0, 5, 1), level(9.0, 5, 3)];
    let fit = dose_fit(&two, DoseCurve::Logit, DoseEstimate::MaximumLikelihood).unwrap();
    assert_eq!(fit.p_of_fit(), None);
    assert!(fit.deviance < 1e-9);
}

#[test]
fn separated_outcomes() {
    assert_eq!(separation(&frames()), None);
    assert_eq!(
        separation(&apart()),
        Some(Separation {
            highest_pass: 9.0,
            lowest_failure: 10.0
        })
    );
    // One level with both outcomes between all passes and all failures: no finite spread either.
    let touching = [level(8.0, 5, 0), level(9.0, 5, 2), level(10.0, 5, 5)];
    let found = separation(&touching).unwrap();
    assert_eq!(found.highest_pass, found.lowest_failure);
    for data in [apart(), touching.to_vec()] {
        for curve in [DoseCurve::Probit, DoseCurve::Logit] {
            assert!(matches!(
                dose_fit(&data, curve, DoseEstimate::MaximumLikelihood),
                Err(StatsError::NoMaximum { .. })
            ));
            let fit = dose_fit(&data, curve, DoseEstimate::BiasReduced).unwrap();
            assert!(fit.spread > 0.0 && fit.spread.is_finite());
        }
    }
    for (curve, word) in [(DoseCurve::Probit, "Probit"), (DoseCurve::Logit, "Logit")] {
        let fit = dose_fit(&apart(), curve, DoseEstimate::BiasReduced).unwrap();
        // By symmetry half way.
        printed(fit.ed50, 9.5, 8);
        let expected = outside(&format!("dose/apart/{word}/reduced/spread"));
        relative(fit.spread, expected, 1e-6);
        let limits = fit.level_limits(0.5, 0.95).unwrap().closed().unwrap();
        let expected = outside(&format!("dose/apart/{word}/reduced/0.5/lower"));
        relative(limits.lower, expected, 1e-5);
        printed(limits.lower + limits.upper, 19.0, 6);
    }
    let falling = [level(8.0, 5, 4), level(9.0, 5, 1)];
    for estimate in [DoseEstimate::MaximumLikelihood, DoseEstimate::BiasReduced] {
        let fit = |data: &[Level]| dose_fit(data, DoseCurve::Logit, estimate);
        assert!(fit(&falling).is_err());
        assert!(fit(&[]).is_err());
        assert!(fit(&[level(8.0, 1, 2)]).is_err());
        assert!(fit(&[level(8.0, 5, 5), level(9.0, 5, 5)]).is_err());
        assert!(fit(&[level(8.0, 5, 2)]).is_err());
    }
    assert_eq!(separation(&[level(8.0, 5, 0)]), None);
}

#[test]
fn a_weak_rise_leaves_an_end_open() {
    // Two of five, then three of five: no slope shown, so that the level of half may lie anywhere.
    let weak = [level(8.0, 5, 2), level(9.0, 5, 3)];
    for estimate in [DoseEstimate::MaximumLikelihood, DoseEstimate::BiasReduced] {
        let fit = dose_fit(&weak, DoseCurve::Logit, estimate).unwrap();
        assert_eq!(fit.level_limits(0.5, 0.95).unwrap().closed(), None);
    }
}
